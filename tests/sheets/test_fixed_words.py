"""Every fixed word of the method can be said in other languages."""

from enum import StrEnum

from app.core import words
from app.sheets.fixed_words import SAID

# They stand in no text: numbers' kinds, links, ticks and the security of a connection have words of their own.
NEVER_SAID = {"NumberKind", "SlipKind", "Tick", "MailSecurity"}


def test_every_fixed_word_is_marked():
    kinds = [kind for kind in vars(words).values() if isinstance(kind, type) and issubclass(kind, StrEnum)]
    values = {word.value for kind in kinds if kind is not StrEnum and kind.__name__ not in NEVER_SAID for word in kind}
    assert values - set(SAID) == set()
