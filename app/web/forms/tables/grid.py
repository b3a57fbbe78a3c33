"""The cells of a pasted text or a file, whatever set them apart."""

import codecs
import csv
import io
from collections.abc import Callable
from dataclasses import dataclass

from app.language import _

MARKS = "\t;,"
EMPTY = frozenset({"", "-", "–", "—"})
MOST_ROWS = 1000


class NoTableError(Exception):
    """A text is no table; the message says why, and what would be right."""


@dataclass(frozen=True, kw_only=True)
class Grid:
    """A table as it was cut up.

    Attributes:
        head: The cells of its first row.
        rows: The cells of the rows below that have any.
        numbers: Their numbers as a spreadsheet counts them, the first row being 1.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: tuple[int, ...]


def text_of_file(data: bytes) -> str:
    """Return the text of a file: UTF-8 or UTF-16 with or without a mark, else Windows-1252 as older programs save it.

    Raises:
        NoTableError: It is no text.
    """
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return data.decode("utf-16", "replace")
    if b"\0" in data:
        raise NoTableError(_("This file is no text. In the spreadsheet, choose “Save as”, and there CSV."))
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace")


def cut_up(text: str, is_known: Callable[[str], bool]) -> Grid:
    """Return the cells of a text that are set apart by tabs, semicolons or commas.

    The mark is the one by which the most cells of the first row are names of columns: what stands in the rows below,
    such as decimal commas, tells less.

    Args:
        text: The table; its first row names the columns.
        is_known: Whether a cell is the name of a column.

    Raises:
        NoTableError: There is none in it.
    """
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    first = next((line for line in text.split("\n") if line.strip()), "")
    if not first:
        raise NoTableError(_("Paste the rows, or choose the file."))
    mark = max(MARKS, key=lambda one: (sum(map(is_known, _cells(first, one))), first.count(one), -MARKS.index(one)))
    rows, numbers, number = [], [], 1
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    try:
        for row in reader:
            cells = tuple(cell.strip(" \u00a0\t") for cell in row)
            if any(cells):
                rows.append(cells)
                numbers.append(number)
            number += 1
    except csv.Error:
        raise NoTableError(
            _(
                "Row %(row)s: quotation marks do not go together. A cell that begins with one needs one at its end.",
                row=number,
            )
        ) from None
    if len(rows) - 1 > MOST_ROWS:
        raise NoTableError(
            _(
                "There are %(count)s rows; at most %(most)s can be taken in at a time.",
                count=f"{len(rows) - 1:,}",
                most=f"{MOST_ROWS:,}",
            )
        )
    width = len(_without_empty_end(rows[0]))
    return Grid(
        head=rows[0][:width],
        rows=tuple(_as_wide(row, width) for row in rows[1:]),
        numbers=tuple(numbers[1:]),
    )


def _cells(line: str, mark: str) -> list[str]:
    return next(csv.reader([line], delimiter=mark), [])


def _as_wide(row: tuple[str, ...], width: int) -> tuple[str, ...]:
    """Return a row as wide as the first one, or with what it has too much."""
    row = _without_empty_end(row)
    return row + ("",) * (width - len(row))


def _without_empty_end(row: tuple[str, ...]) -> tuple[str, ...]:
    width = len(row)
    while width and not row[width - 1]:
        width -= 1
    return row[:width]
