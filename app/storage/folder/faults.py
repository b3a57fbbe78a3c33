"""What is wrong with a garden folder, said so that it can be put right."""

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches

from app.language import _

MOST_FAULTS = 200
MOST_LETTERS = 60
MOST_CANDIDATES = 500


class FolderError(Exception):
    """A garden folder cannot be read or written; the message says why."""


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One thing that is wrong, where it stands, and what would be right.

    Attributes:
        file: Name of the file.
        row: Row as a spreadsheet counts it, the header being row 1; line in a settings file.
        column: Name of the column, or of the setting.
        found: What stands there; None where nothing does.
        right: What would be right, as the end of a sentence.
    """

    file: str
    row: int | None = None
    column: str | None = None
    found: str | None = None
    right: str

    def __str__(self) -> str:
        """Say it in one sentence."""
        place = [self.file]
        if self.row is not None:
            place.append(f"{'line' if self.file.endswith('.toml') else 'row'} {self.row}")
        if self.column is not None:
            place.append(self.column)
        found = "" if self.found is None else f"found {quoted(self.found)}; "
        end = "" if self.right.endswith(('."', ".")) else "."
        return f"{', '.join(place)}: {found}{self.right}{end}"


class FaultyFolderError(FolderError):
    """A garden folder has faults, so that nothing was loaded.

    Attributes:
        faults: The faults, at most the first 200.
        count: How many there are in all.
    """

    def __init__(self, faults: tuple[Fault, ...], count: int) -> None:
        """Keep the faults and say each on a line of its own."""
        lines = [str(fault) for fault in faults]
        if count > len(faults):
            lines.append(f"... and {count - len(faults):,} more.")
        lines.append("1 fault; nothing was loaded." if count == 1 else f"{count:,} faults; nothing was loaded.")
        super().__init__("\n".join(lines))
        self.faults = faults
        self.count = count


class Faults:
    """Gathers faults; past the first 200 it only counts."""

    def __init__(self) -> None:
        self._kept: list[Fault] = []
        self._count = 0

    def add(self, fault: Fault) -> None:
        """Take in a fault."""
        self._count += 1
        if len(self._kept) < MOST_FAULTS:
            self._kept.append(fault)

    def count(self, more: int) -> None:
        """Count faults without their words, which nobody would see."""
        self._count += more

    @property
    def total(self) -> int:
        """How many faults there are so far."""
        return self._count

    @property
    def room(self) -> int:
        """How many more faults will be kept."""
        return MOST_FAULTS - len(self._kept)

    def raise_if_any(self) -> None:
        """Raise FaultyFolderError if there is a fault; they are told file by file, from the top down."""
        if self._count:
            files = list(dict.fromkeys(fault.file for fault in self._kept))
            ordered = sorted(self._kept, key=lambda fault: (files.index(fault.file), fault.row or 0))
            raise FaultyFolderError(tuple(ordered), self._count)


def quoted(text: str) -> str:
    """Return a text in quotes, cut short, with characters that do not print written out."""
    shown = "".join(
        char.encode("unicode_escape").decode() if unicodedata.category(char) in {"Cc", "Cf", "Zl", "Zp"} else char
        for char in text[:MOST_LETTERS]
    )
    return f'"{shown}{"…" if len(text) > MOST_LETTERS else ""}"'


def nearest(found: str, names: Iterable[str]) -> str:
    """Return the name most like what was found as ` Nearest: "Tomato"`, or nothing where none is like it."""
    candidates = list(names)
    if len(candidates) > MOST_CANDIDATES:  # comparing with each would take minutes
        start = found[:1].casefold()
        candidates = [name for name in candidates if name[:1].casefold() == start][:MOST_CANDIDATES]
    folded = {name.casefold(): name for name in reversed(candidates)}
    close = get_close_matches(found.strip().casefold()[:MOST_LETTERS], folded, n=1)
    return f" {_('Nearest: %(name)s', name=quoted(folded[close[0]]))}" if close else ""
