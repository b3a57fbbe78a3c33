"""What must hold for dealt trays, their cells and their stays.

Only what the database can never hold is a fault. A card or a shelf may be changed after trays were dealt, so a
tray may hold a crop that would start in another container today, and stand on a shelf that is now another
kind of place or has fewer levels.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from app.core.limits import SEASON_YEARS
from app.core.space.grid import row_letters
from app.core.words import CellState
from app.storage.folder.columns import WRONG, Values
from app.storage.folder.faults import Faults
from app.storage.folder.layout import CELLS_FILE, STAYS_FILE, TRAYS_FILE
from app.storage.folder.rules import check_days, given, report
from app.storage.folder.tray_cells import grids_of_trays

_POSITION = ("shelf", "level", "slot")
_ALL_OR_NONE = "give shelf, level and slot, or none of the three where a tray waits for a position"


def check_trays(values: Mapping[str, Values], season: int | None, faults: Faults) -> None:
    """Report what does not fit together in trays.csv, cells.csv and stays.csv.

    Args:
        values: The values of each file of a folder.
        season: The growing year, if it can be known.
        faults: Takes the faults.
    """
    trays, cells, stays = (values.get(file) for file in (TRAYS_FILE, CELLS_FILE, STAYS_FILE))
    if cells is not None:
        _check_contents(cells, faults)
        if trays is not None and "containers.csv" in values:
            _check_grids(cells, trays, values["containers.csv"], faults)
    if stays is not None:
        _check_positions(stays, faults)
        _check_order(stays, faults)
        _check_clashes(stays, faults)
    if season is not None:
        for file, columns in ((trays, ("sow_on",)), (stays, ("from", "to"))):
            if file is not None:
                check_days(file, columns, season, SEASON_YEARS, faults)


def _check_contents(cells: Values, faults: Faults) -> None:
    """Report cells that hold something of no sowing."""
    for index, (sowing, state) in enumerate(zip(cells.columns["sowing"], cells.columns["state"], strict=True)):
        if sowing is None and state is not CellState.EMPTY and state is not WRONG:
            report(
                cells, faults, index, "sowing", f'a cell that is "{state}" has a sowing; give it, or the state empty'
            )


def _check_grids(cells: Values, trays: Values, containers: Values, faults: Faults) -> None:
    """Report cells that their tray does not have."""
    grids = grids_of_trays(trays, containers)
    places = zip(*(cells.columns[name] for name in ("tray", "row", "column")), strict=True)
    for index, (tray, row, column) in enumerate(places):
        grid = None if tray is WRONG else grids[tray - 1]
        if grid is None:
            continue
        if row > grid.rows:
            span = "row A alone" if grid.rows == 1 else f"rows A to {row_letters(grid.rows)}"
            report(cells, faults, index, "row", f"this tray has {span}")
        if column > grid.columns:
            span = "column 1 alone" if grid.columns == 1 else f"columns 1 to {grid.columns}"
            report(cells, faults, index, "column", f"this tray has {span}")


def _check_positions(stays: Values, faults: Faults) -> None:
    """Report positions that are not whole, and pins without one."""
    columns = zip(*(stays.columns[name] for name in (*_POSITION, "pinned")), strict=True)
    for index, (*position, pinned) in enumerate(columns):
        if None not in position:
            continue
        if any(value is not None for value in position):
            report(stays, faults, index, _POSITION[position.index(None)], _ALL_OR_NONE)
        elif pinned is True:
            report(stays, faults, index, "pinned", "only a position can be pinned; give shelf, level and slot, or no")


def _check_order(stays: Values, faults: Faults) -> None:
    """Report trays that leave no later than they come."""
    for index, (begin, end) in enumerate(zip(stays.columns["from"], stays.columns["to"], strict=True)):
        if given(begin, end) and end <= begin:
            report(stays, faults, index, "to", f"give the day on which the tray leaves, after {begin}")


def _check_clashes(stays: Values, faults: Faults) -> None:
    """Report trays that stand in two places on a day, and then positions with two trays on a day."""
    told = set()
    for index, other in _clashes(stays, ("tray",)):
        told.add((index, other))
        until, row = stays.columns["to"][other], stays.sheet.row_numbers[other]
        right = f"row {row} has this tray too until {until}; a tray stands in one place a day"
        report(stays, faults, index, "from", right)
    for index, other in _clashes(stays, _POSITION):
        if (index, other) not in told:
            begin, end = stays.columns["from"][other], stays.columns["to"][other]
            right = f"row {stays.sheet.row_numbers[other]} has a tray in this position from {begin} to {end}"
            report(stays, faults, index, "slot", f"{right}; a position holds one tray a day")


def _clashes(stays: Values, shared: Iterable[str]) -> list[tuple[int, int]]:
    """Return pairs of rows that share some values and a day: the one that comes later, the one that is there."""
    owners = zip(*(stays.columns[name] for name in shared), strict=True)
    stretches: dict[Any, list[Any]] = {}
    for index, (owner, begin, end) in enumerate(zip(owners, stays.columns["from"], stays.columns["to"], strict=True)):
        if given(*owner, begin, end) and begin < end and index not in stays.sheet.broken:
            stretches.setdefault(owner, []).append((begin, index, end))
    pairs = []
    for together in stretches.values():
        _, last, until = min(together)
        for begin, index, end in sorted(together)[1:]:
            if begin < until:
                pairs.append((index, last))
            if end > until:
                last, until = index, end
    return sorted(pairs)
