"""How one cell of a garden folder is read and written, a class for each kind of value."""

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Any, Protocol

from app.core.limits import CELLS_PER_TRAY, Bounds, find_hidden_letter
from app.core.space.grid import row_letters, row_of_letters
from app.core.words import Weekday
from app.language import N_, _, grouped
from app.storage.folder.faults import nearest, quoted

# A spreadsheet takes a text that begins like this for a formula (OWASP, CSV injection).
_FORMULA = re.compile(r"'*[=+\-@\t\r\n\0]")
_WHOLE = re.compile(r"-?[0-9]{1,18}(?:\.0+)?")
_DECIMAL = re.compile(r"-?(?:[0-9]{1,18}(?:\.[0-9]{0,400})?|\.[0-9]{1,400})")
_DECIMAL_COMMA = re.compile(r"-?[0-9]+,[0-9]+")
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_LINE_BREAKS = re.compile("[\u2028\u2029]")
_ROW = re.compile(r"[A-Za-z]{1,3}")
_CELL_OF_TRAY = re.compile(r"([A-Za-z]{1,3})([0-9]{1,4})")
_IN_TEXT = "\t\n\r"
_CELL_CHARACTERS = {"\0": N_("a NUL character"), "\t": N_("a tab"), "\n": N_("a line break"), "\r": N_("a line break")}


def text_to_cell(text: str) -> str:
    """Return a text as it stands in a cell: one that looks like a formula gets a quote in front."""
    return f"'{text}" if _FORMULA.match(text) else text


def cell_to_text(cell: str) -> str:
    """Return the text of a cell; the inverse of `text_to_cell`."""
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell


def _not_in_name(text: str) -> str | None:
    """Return the first letter that may not stand in a name, None for none."""
    found = _LINE_BREAKS.search(text)
    return find_hidden_letter(text) or (found[0] if found else None)


def _said(letter: str) -> str:
    if letter in _CELL_CHARACTERS:
        return _(_CELL_CHARACTERS[letter])
    if unicodedata.category(letter) == "Cc":
        return _("a control character")
    return _("a hidden character (%(code)s)", code=f"U+{ord(letter):04X}")


class Kind(Protocol):
    """How the cells of a column are read, judged and written. Empty cells never come here."""

    def parse(self, cell: str) -> Any:  # noqa: ANN401 - each kind has a type of its own
        """Return the value of a cell, or raise ValueError."""

    def right(self, cell: str) -> str:
        """Say what would be right in place of a cell that does not parse."""

    def write(self, value: Any) -> str:  # noqa: ANN401 - each kind has a type of its own
        """Return the cell of a value."""


@dataclass(frozen=True)
class Name:
    """A name on one line, without spaces at its ends."""

    letters: int

    def parse(self, cell: str) -> str:
        """Return the name."""
        text = cell_to_text(cell.strip(" \u00a0"))
        if not text.strip() or len(text) > self.letters or _not_in_name(text):
            raise ValueError
        return text

    def right(self, cell: str) -> str:
        """Say what a name must be."""
        character = _not_in_name(cell)
        if character:
            return f"there is {_said(character)} in it; give a name on one line"
        if len(cell) > self.letters:
            return f"it has {len(cell):,} characters; give a name of at most {self.letters}"
        return "give a name"

    def write(self, value: str) -> str:
        """Return the cell."""
        return text_to_cell(value)


@dataclass(frozen=True)
class Text:
    """Free text, over several lines if need be."""

    letters: int

    def parse(self, cell: str) -> str:
        """Return the text."""
        text = cell_to_text(cell)
        if len(text) > self.letters or find_hidden_letter(text, allowed=_IN_TEXT):
            raise ValueError
        return text

    def right(self, cell: str) -> str:
        """Say what a text must be."""
        character = find_hidden_letter(cell, allowed=_IN_TEXT)
        if character:
            return _("there is %(character)s in it; take it out", character=_said(character))
        return _(
            "it has %(count)s characters; give at most %(most)s", count=grouped(len(cell)), most=grouped(self.letters)
        )

    def write(self, value: str) -> str:
        """Return the cell."""
        return text_to_cell(value)


@dataclass(frozen=True)
class Whole:
    """A whole number."""

    bounds: Bounds

    def parse(self, cell: str) -> int:
        """Return the number."""
        number = int(cell.partition(".")[0]) if _WHOLE.fullmatch(cell.strip()) else None
        if number is None or number not in self.bounds:
            raise ValueError
        return number

    def right(self, _cell: str) -> str:
        """Say which numbers are allowed."""
        return f"give a whole number from {self.bounds.low:,g} to {self.bounds.high:,g}"

    def write(self, value: int) -> str:
        """Return the cell."""
        return str(value)


@dataclass(frozen=True)
class RowLetters:
    """The letters of a row of a tray, as on its label; kept as the number of the row."""

    def parse(self, cell: str) -> int:
        """Return the row, counted from 1; capital letters do not matter."""
        row = row_of_letters(cell.strip()) if _ROW.fullmatch(cell.strip()) else None
        if row is None or row not in CELLS_PER_TRAY:
            raise ValueError
        return row

    def right(self, _cell: str) -> str:
        """Say how a row is written."""
        return "give the letters of a row: A for the first, AA for the one after Z"

    def write(self, value: int) -> str:
        """Return the cell."""
        return row_letters(value)


@dataclass(frozen=True)
class CellLabels:
    """Cells of a tray as on its label, separated by spaces; kept as row-column, such as `1-1 1-2`."""

    letters: int

    def parse(self, cell: str) -> str:
        """Return row and column of each, counted from 1, in the order in which they stand."""
        found = []
        for label in cell.split():
            match = _CELL_OF_TRAY.fullmatch(label)
            row = row_of_letters(match[1]) if match else None
            column = int(match[2]) if match else 0
            if row is None or row not in CELLS_PER_TRAY or column not in CELLS_PER_TRAY:
                raise ValueError
            found.append(f"{row}-{column}")
        text = " ".join(found)
        if len(set(found)) < len(found) or len(text) > self.letters:
            raise ValueError
        return text

    def right(self, _cell: str) -> str:
        """Say how cells are written."""
        return "give cells as on the label, each once, separated by spaces, such as A1 A2"

    def write(self, value: str) -> str:
        """Return the cell."""
        places = (place.split("-") for place in value.split())
        return " ".join(f"{row_letters(int(row))}{column}" for row, column in places)


@dataclass(frozen=True)
class Number:
    """A number with a decimal point."""

    bounds: Bounds

    def parse(self, cell: str) -> float:
        """Return the number."""
        number = float(cell) if _DECIMAL.fullmatch(cell.strip()) else None
        if number is None or number not in self.bounds:
            raise ValueError
        return number

    def right(self, cell: str) -> str:
        """Say which numbers are allowed."""
        if _DECIMAL_COMMA.fullmatch(cell.strip()):
            return _("write it with a decimal point: %(figure)s", figure=cell.strip().replace(",", "."))
        return self.wanted()

    def wanted(self) -> str:
        """Say which numbers are allowed, where one does not look like another that is."""
        return f"give a number from {self.bounds.low:,g} to {self.bounds.high:,g}"

    def write(self, value: float) -> str:
        """Return the cell, as short as can be."""
        return number_to_cell(value)


@dataclass(frozen=True)
class Day:
    """A date."""

    def parse(self, cell: str) -> date:
        """Return the date."""
        if not _DAY.fullmatch(cell.strip()):
            raise ValueError
        return date.fromisoformat(cell.strip())

    def right(self, cell: str) -> str:
        """Say how a date is written."""
        if _DAY.fullmatch(cell.strip()):
            return _("there is no such day in the calendar")
        return _("give a date as year-month-day, such as 2027-04-10")

    def write(self, value: date) -> str:
        """Return the cell."""
        return value.isoformat()


@dataclass(frozen=True)
class Word:
    """One of a few fixed words."""

    words: type[StrEnum]

    def parse(self, cell: str) -> StrEnum:
        """Return the word; capital letters do not matter."""
        return self.words(cell.strip().lower())

    def right(self, _cell: str) -> str:
        """List the words."""
        return f"give one of: {', '.join(self.words)}"

    def write(self, value: StrEnum) -> str:
        """Return the cell."""
        return value.value


@dataclass(frozen=True)
class YesNo:
    """Yes or no."""

    def parse(self, cell: str) -> bool:
        """Return whether it is yes."""
        word = cell.strip().lower()
        if word not in {"yes", "no"}:
            raise ValueError
        return word == "yes"

    def right(self, _cell: str) -> str:
        """Name the two words."""
        return "give one of: yes, no"

    def write(self, value: bool) -> str:  # noqa: FBT001 - the value of the cell
        """Return the cell."""
        return "yes" if value else "no"


@dataclass(frozen=True)
class Weekdays:
    """Weekdays separated by spaces; kept Monday first."""

    def parse(self, cell: str) -> str:
        """Return the days, each once, Monday first."""
        days = {Weekday(word) for word in cell.lower().split()}
        return " ".join(day for day in Weekday if day in days)

    def right(self, cell: str) -> str:
        """Point at the word that is no weekday."""
        wrong = next(word for word in cell.split() if word.lower() not in list(Weekday))
        return f"{quoted(wrong)} is no weekday; give weekdays separated by spaces.{nearest(wrong, Weekday)}"

    def write(self, value: str) -> str:
        """Return the cell."""
        return value


@dataclass(frozen=True)
class Reference:
    """The name of a row of another file, or of a published table.

    Attributes:
        file: The file that has the names.
        noun: What the names are names of.
    """

    file: str
    noun: str

    def parse(self, cell: str) -> Any:  # noqa: ANN401 - a text, or a number where rows have numbers
        """Return the name."""
        return cell_to_text(cell.strip(" \u00a0"))

    def right(self, _cell: str) -> str:
        """Say what to give."""
        return f"give the name of a {self.noun} in {self.file}"

    def unknown(self, cell: str, names: Sequence[Any]) -> str:
        """Say that the name in a cell is unknown, and which is most like it."""
        return f"there is no {self.noun} of that name in {self.file}.{nearest(self.parse(cell), names)}"

    def write(self, value: Any) -> str:  # noqa: ANN401 - each kind has a type of its own
        """Return the cell."""
        return text_to_cell(value)


@dataclass(frozen=True)
class NumberReference(Reference):
    """The number of a row of another file, whose rows have numbers for names.

    Attributes:
        numbers: What its cells hold.
    """

    numbers: Whole

    def parse(self, cell: str) -> int:
        """Return the number."""
        return self.numbers.parse(cell)

    def right(self, _cell: str) -> str:
        """Say what to give."""
        return f"give the number of a {self.noun} in {self.file}"

    def unknown(self, _cell: str, _numbers: Sequence[Any]) -> str:
        """Say that the number in a cell is unknown."""
        return f"there is no {self.noun} of that number in {self.file}"

    def write(self, value: int) -> str:
        """Return the cell."""
        return self.numbers.write(value)


def number_to_cell(value: float) -> str:
    """Return a number as short as can be and without an exponent, as `4` or `2.5`."""
    if value == int(value):
        return str(int(value))
    return format(Decimal(repr(float(value))), "f")
