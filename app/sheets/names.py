"""Names of crops and containers as they are said to people."""

from collections.abc import Iterable

from app.core.folded import fold
from app.language import ENGLISH, language
from app.storage.published import names_in


def name_words(name: str) -> str:
    """Return a name in the language that is being spoken if it is one that comes with the program, else as it is."""
    return names_in(language()).get(name, name)


def choice_words(choices: Iterable[tuple[int, str]]) -> list[tuple[int, str]]:
    """Return numbers and names to choose from, said as `name_words` does, in the order of what is said."""
    if language() == ENGLISH:
        return list(choices)
    return sorted(((number, name_words(name)) for number, name in choices), key=lambda choice: fold(choice[1]))
