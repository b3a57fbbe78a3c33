"""Where a sowing can go that is not sown yet: free cells of other trays, or the cells of others in exchange."""

from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from app.core.dealing.apart import why_apart
from app.core.plan import Plan

Ints = NDArray[np.int64]

NOBODY = -1


@dataclass(frozen=True, kw_only=True)
class Offer:
    """A way for a sowing to change trays.

    Attributes:
        tray: Index of the dealt tray to which it can go.
        lot: Index of the sowing that comes from there in exchange; -1 where there are free cells enough.
        cells: Cells of that sowing in it, or its free cells. [1]
    """

    tray: int
    lot: int
    cells: int


@dataclass(frozen=True)
class _Part:
    """What a sowing has of a tray: cells, and how many of them hold something."""

    lot: int
    cells: int
    filled: int


def list_offers(plan: Plan, tray: int, lot: int) -> tuple[Offer, ...]:
    """Return where a sowing of a dealt tray can go, by number of the tray; none for one that is sown.

    Args:
        plan: The plan, which knows what has been dealt.
        tray: Index of the dealt tray.
        lot: Index of the sowing.
    """
    dealt = plan.garden.dealt
    potted_on = bool(dealt.is_potted_on[tray])
    box = int((plan.pot_container if potted_on else plan.container)[lot])
    fits = np.flatnonzero((dealt.container == box) & (dealt.is_potted_on == potted_on))
    parts = _parts(plan, np.append(fits, tray))
    here = parts.get(tray, ())
    mine = next((part for part in here if part.lot == lot), None)
    if mine is None or mine.filled:
        return ()
    alike = _alike_with(plan, lot, potted_on=potted_on)
    capacity = plan.garden.containers[box].cells_per_tray
    can_take = int(dealt.container[tray]) == box and all(part.lot in alike for part in here)
    free_here = capacity - sum(part.cells for part in here)
    found = []
    for other in fits.tolist():
        there = parts.get(other, ())
        free = capacity - sum(part.cells for part in there)
        if other == tray or any(part.lot not in alike or (part.lot == lot and part.filled) for part in there):
            continue
        if mine.cells <= free:
            found.append(Offer(tray=other, lot=NOBODY, cells=free))
        if can_take:
            sown_here = {part.lot for part in here if part.filled}
            found.extend(
                Offer(tray=other, lot=part.lot, cells=part.cells)
                for part in there
                if part.lot != lot
                and not part.filled
                and part.lot not in sown_here
                and mine.cells <= free + part.cells
                and part.cells <= free_here + mine.cells
            )
    return tuple(found)


def _parts(plan: Plan, trays: Ints) -> dict[int, tuple[_Part, ...]]:
    dealt = plan.garden.dealt
    rows = np.flatnonzero(np.isin(dealt.part_tray, trays))
    columns = (
        column[rows].tolist() for column in (dealt.part_tray, dealt.part_lot, dealt.part_cells, dealt.part_filled)
    )
    return {
        tray: tuple(_Part(*row) for _, *row in group)
        for tray, group in groupby(zip(*columns, strict=True), key=lambda row: row[0])
    }


def _alike_with(plan: Plan, lot: int, *, potted_on: bool) -> frozenset[int]:
    """Return the sowings that can share a tray with one, itself included."""
    trays = plan.trays
    kind = trays.is_potted_on[trays.part_tray] == potted_on
    groups = trays.group[trays.part_tray[kind & (trays.part_lot == lot)]]
    others = np.unique(trays.part_lot[kind & np.isin(trays.group[trays.part_tray], groups)]).tolist()
    return frozenset(other for other in others if other == lot or not why_apart(plan, lot, other, potted_on=potted_on))
