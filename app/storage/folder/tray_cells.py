"""The cells of dealt trays: a folder names those that belong to a sowing, the database keeps all."""

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from app.core.space.grid import Grid, grid_of
from app.core.words import CellState
from app.storage.folder.columns import WRONG, Values
from app.storage.folder.layout import CELLS_FILE, TRAYS_FILE


def grids_of_trays(trays: Values, containers: Values) -> list[Grid | None]:
    """Return the grid of each tray, None where its container or that one's cells cannot be known."""
    wanted = ("cells_per_tray", "rows", "columns")
    grids = [_grid(*sizes) for sizes in zip(*(containers.columns[name] for name in wanted), strict=True)]
    return [None if position is WRONG else grids[position - 1] for position in trays.columns["container"]]


def _grid(cells: Any, rows: Any, columns: Any) -> Grid | None:  # noqa: ANN401 - each a number or WRONG, two may be None
    if WRONG in (cells, rows, columns):
        return None
    if rows is None and columns is None:
        return grid_of(cells)
    is_sound = rows is not None and columns is not None and rows * columns == cells
    return Grid(rows, columns) if is_sound else None


def all_cells(values: Mapping[str, Values]) -> dict[str, list[Any]]:
    """Return the columns of the cell table: every cell of every tray, free where no row of the folder has it.

    Args:
        values: The values of each file of a folder without faults.
    """
    tray_id: list[int] = []
    row_number: list[int] = []
    column_number: list[int] = []
    first, across = [], []  # of each tray: where its cells begin, how many columns it has
    grids = grids_of_trays(values[TRAYS_FILE], values["containers.csv"]) if TRAYS_FILE in values else []
    for tray, grid in enumerate(filter(None, grids), 1):
        rows, columns = _cells_of(grid)
        first.append(len(tray_id))
        across.append(grid.columns)
        tray_id += [tray] * len(rows)
        row_number += rows
        column_number += columns
    sowing_id: list[int | None] = [None] * len(tray_id)
    state = [CellState.EMPTY] * len(tray_id)
    if CELLS_FILE in values:
        for tray, row, column, *content in zip(*values[CELLS_FILE].columns.values(), strict=True):
            at = first[tray - 1] + (row - 1) * across[tray - 1] + column - 1
            sowing_id[at], state[at] = content
    return {
        "tray_id": tray_id,
        "row_number": row_number,
        "column_number": column_number,
        "sowing_id": sowing_id,
        "state": state,
    }


@lru_cache(maxsize=256)
def _cells_of(grid: Grid) -> tuple[list[int], list[int]]:
    """Return the row and the column of each cell of a grid, row by row."""
    rows, columns = range(1, grid.rows + 1), range(1, grid.columns + 1)
    return [row for row in rows for _ in columns], [*columns] * grid.rows
