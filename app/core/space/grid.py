"""The cells of a tray as rows and columns: rows have letters, columns numbers."""

from collections.abc import Iterable
from functools import lru_cache
from math import log
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from app.core.errors import OutOfRangeError

Ints = NDArray[np.int64]

LETTERS = 26
# A standard tray is about twice as long as wide; a container that gives no grid is laid out like that.
LONG_BY_WIDE = 2.0


class Cell(NamedTuple):
    """A cell of a tray, counted from 1."""

    row: int
    column: int


class Grid(NamedTuple):
    """How many rows and columns of cells a tray has. [1]"""

    rows: int
    columns: int


@lru_cache(maxsize=256)
def grid_of(cells: int, rows: int | None = None, columns: int | None = None) -> Grid:
    """Return the grid of a container: its own, or else the one most like a tray seen from its long side.

    Args:
        cells: Cells of a tray. [1, 1 or more]
        rows: Rows, where the container gives them. [1]
        columns: Columns, likewise. [1]

    Raises:
        OutOfRangeError: The tray has no cells.
    """
    if cells < 1:
        raise OutOfRangeError("cells", cells, "1 or more")
    if rows is not None and columns is not None:
        return Grid(rows, columns)
    pairs = [(down, cells // down) for down in range(1, cells + 1) if cells % down == 0]
    return Grid(*min(pairs, key=lambda pair: (abs(log(pair[1] / pair[0] / LONG_BY_WIDE)), pair)))


def row_letters(row: int) -> str:
    """Return the letters of a row: A for 1, Z for 26, AA for 27.

    Raises:
        OutOfRangeError: The row is below 1.
    """
    if row < 1:
        raise OutOfRangeError("row", row, "1 or more")
    letters = ""
    while row:
        row, last = divmod(row - 1, LETTERS)
        letters = chr(ord("A") + last) + letters
    return letters


def row_of_letters(letters: str) -> int:
    """Return the row that has these letters, small or capital.

    Raises:
        OutOfRangeError: They are not letters from A to Z.
    """
    if not (letters.isascii() and letters.isalpha()):
        raise OutOfRangeError("row", letters, "letters from A on")
    row = 0
    for letter in letters.upper():
        row = row * LETTERS + ord(letter) - ord("A") + 1
    return row


@lru_cache(maxsize=256)
def walk(grid: Grid) -> tuple[Ints, Ints]:
    """Return rows and columns of all cells in an order in which each cell lies beside the next.

    The walk goes up and down the short side, so that a few cells one after another make a block.

    Args:
        grid: Rows and columns. [1]

    Returns:
        Rows and columns, counted from 1, each of shape (n_cells,).
    """
    by_column = grid.rows <= grid.columns
    long, short = (grid.columns, grid.rows) if by_column else (grid.rows, grid.columns)
    outer = np.repeat(np.arange(1, long + 1), short)
    there = np.arange(1, short + 1)
    inner = np.concatenate([there if number % 2 == 0 else there[::-1] for number in range(long)])
    return (inner, outer) if by_column else (outer, inner)


def straight_runs(cells: Iterable[Cell]) -> list[tuple[Cell, Cell]]:
    """Return the first and last cell of straight runs that together are these cells, few and in reading order.

    Runs go along rows or along columns, whichever gives fewer.
    """
    wanted = sorted(set(cells))
    along_rows = _runs(wanted)
    along_columns = [
        (Cell(first.column, first.row), Cell(last.column, last.row))
        for first, last in _runs(sorted(Cell(cell.column, cell.row) for cell in wanted))
    ]
    return along_rows if len(along_rows) <= len(along_columns) else along_columns


def _runs(cells: list[Cell]) -> list[tuple[Cell, Cell]]:
    runs: list[tuple[Cell, Cell]] = []
    for cell in cells:
        if runs and runs[-1][1] == (cell.row, cell.column - 1):
            runs[-1] = (runs[-1][0], cell)
        else:
            runs.append((cell, cell))
    return runs
