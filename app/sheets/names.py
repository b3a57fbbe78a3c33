"""Names of crops and containers as they are said to people."""

from collections.abc import Callable, Iterable
from typing import TypeVar

from app.core.folded import fold
from app.language import ENGLISH, language
from app.storage.published import names_in

Row = TypeVar("Row")


def name_words(name: str) -> str:
    """Return a name in the language that is being spoken if it is one that comes with the program, else as it is."""
    return names_in(language()).get(name, name)


def choice_words(choices: Iterable[tuple[int, str]]) -> list[tuple[int, str]]:
    """Return numbers and names to choose from, said as `name_words` does, in the order of what is said."""
    return as_said([(number, name_words(name)) for number, name in choices], lambda choice: choice[1])


def as_said(rows: Iterable[Row], said: Callable[[Row], str]) -> list[Row]:
    """Return rows that come by a name in the order of the name as it is said.

    Args:
        rows: In the order of the names that are kept, which are English where they came with the program.
        said: Returns what is said of a row; in English that is the name by which it stands already.
    """
    return list(rows) if language() == ENGLISH else sorted(rows, key=lambda row: fold(said(row)))
