"""Sentences that are kept as they were said in English, such as why a backup failed, said in the language of now."""

import re
from functools import cache

from app.language import ENGLISH, _, language
from app.services.backups import FAULTS as OF_BACKUPS
from app.services.mail import FAULTS as OF_MAIL
from app.storage.backup import FAULTS as OF_COPIES
from app.storage.trouble import FAULTS as OF_DATABASES

_VALUE = re.compile(r"%\((\w+)\)s")
# The first that fits counts.
KNOWN = (*OF_BACKUPS, *OF_MAIL, *OF_COPIES, *OF_DATABASES)


def say_again(kept: str) -> str:
    """Return a sentence in the language that is being spoken; one that is not known stays as it is.

    Args:
        kept: The sentence as it was kept, with its full stop or without.
    """
    if language() == ENGLISH:
        return kept
    for words in KNOWN:
        match = _pattern(words).fullmatch(kept)
        if match is not None:
            said = _(words, **{name: say_again(value) for name, value in match.groupdict().items()})
            return said.rstrip(".") if words.endswith(".") and not kept.endswith(".") else said
    return kept


@cache
def _pattern(words: str) -> re.Pattern[str]:
    """Return what finds the values in words that are marked."""
    parts = _VALUE.split(words.rstrip("."))
    made = [f"(?P<{part}>.+?)" if at % 2 else re.escape(part.replace("%%", "%")) for at, part in enumerate(parts)]
    return re.compile("".join(made) + (r"\.?" if words.endswith(".") else ""), re.DOTALL)
