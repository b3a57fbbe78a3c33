"""Which cells of a tray a sowing gets: side by side, and where it had them before if it can."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from app.core.dealing.deal import Deal, stays_unplanned
from app.core.plan import Plan
from app.core.space.dealt import NOT_DEALT, Dealt
from app.core.space.grid import Cell, Grid, grid_of, walk
from app.core.words import CellState

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

NOBODY = -1


@dataclass(frozen=True, kw_only=True)
class Cells:
    """Cells of trays, free ones too, by tray; `row`, `column` and `lot` of the shape of `tray`, (n_cells,).

    Attributes:
        tray: Index of the tray.
        row: Its row, counted from 1.
        column: Its column, counted from 1.
        lot: Index of the sowing; -1 where it is free.
        state: What is in it. Length n_cells.
    """

    tray: Ints
    row: Ints
    column: Ints
    lot: Ints
    state: tuple[CellState, ...]


def lay_out(plan: Plan, deal: Deal, stored: Cells) -> Cells:
    """Return all cells of the trays of a deal that are new or changed.

    Each sowing has its cells of a tray side by side, in the order of the walk through the grid. In a tray that was
    dealt before, whoever has as many cells as before keeps them, unless another sowing then had to be
    scattered and the tray is neither sown nor pinned, nor has cells kept for what is sown elsewhere.

    Args:
        plan: The plan.
        deal: What is dealt.
        stored: The cells of those of its trays that were dealt before, by index of the dealt tray.

    Returns:
        Cells by index into the trays of the deal.
    """
    parts, unplanned = _parts(plan, deal), _unplanned(plan)
    firm = _firm(plan.garden.dealt)
    had = _by_tray(stored)
    kept: dict[int, dict[Cell, tuple[int, CellState]]] = {}
    fresh = np.zeros(len(deal.tray), dtype=bool)
    for row in np.flatnonzero(deal.is_changed).tolist():
        before = int(deal.stored[row])
        order = _walked(plan, int(plan.trays.container[deal.tray[row]]))
        laid = None
        if before != NOT_DEALT and before in had:
            wanted = unplanned.get(before, []) + parts.get(row, [])
            laid = rearrange(had[before], wanted, order, is_firm=bool(firm[before]))
        if laid is None:
            fresh[row] = True
        else:
            kept[row] = laid
    return _joined(_kept_cells(kept), _fresh_cells(plan, deal, np.flatnonzero(fresh), parts))


def _firm(dealt: Dealt) -> Flags:
    """Return which dealt trays are never laid out afresh: sown or pinned, or with cells kept for what is sown.

    Shape (n_trays,).
    """
    firm: Flags = dealt.is_filled | dealt.is_pinned
    lot = 2 * dealt.part_lot + dealt.is_potted_on[dealt.part_tray]
    firm[dealt.part_tray[np.isin(lot, lot[dealt.part_filled > 0])]] = True
    return firm


def _unplanned(plan: Plan) -> dict[int, list[tuple[int, int]]]:
    """Return (sowing, cells) of what is sown in dealt trays, though the plan gives it no tray any more."""
    dealt, found = plan.garden.dealt, dict[int, list[tuple[int, int]]]()
    for part in np.flatnonzero(stays_unplanned(plan)).tolist():
        found.setdefault(int(dealt.part_tray[part]), []).append(
            (int(dealt.part_lot[part]), int(dealt.part_cells[part]))
        )
    return found


def _parts(plan: Plan, deal: Deal) -> dict[int, list[tuple[int, int]]]:
    """Return (sowing, cells) of each changed tray, the sowings of one grower one after another."""
    trays, sowings = plan.trays, plan.garden.sowings
    row_of = np.full(len(trays.group), -1)
    row_of[deal.tray[deal.is_changed]] = np.flatnonzero(deal.is_changed)
    mine = np.flatnonzero(row_of[trays.part_tray] >= 0)
    lot = trays.part_lot[mine]
    row = row_of[trays.part_tray[mine]]
    order = np.lexsort((lot, sowings.crop[lot], sowings.grower[lot], row))
    columns = zip(row[order].tolist(), lot[order].tolist(), trays.part_cells[mine][order].tolist(), strict=True)
    return {row: [(lot, n) for _, lot, n in group] for row, group in groupby(columns, key=lambda part: part[0])}


def _by_tray(stored: Cells) -> dict[int, dict[Cell, tuple[int, CellState]]]:
    found: dict[int, dict[Cell, tuple[int, CellState]]] = {}
    columns = (column.tolist() for column in (stored.tray, stored.row, stored.column, stored.lot))
    for tray, row, column, lot, state in zip(*columns, stored.state, strict=True):
        found.setdefault(tray, {})[Cell(row, column)] = (lot, state)
    return found


def _walked(plan: Plan, container: int) -> list[Cell]:
    box = plan.garden.containers[container]
    return in_order(grid_of(box.cells_per_tray, box.rows, box.columns))


def in_order(grid: Grid) -> list[Cell]:
    """Return the cells of a grid in the order of the walk."""
    rows, columns = walk(grid)
    return [Cell(row, column) for row, column in zip(rows.tolist(), columns.tolist(), strict=True)]


def rearrange(
    had: dict[Cell, tuple[int, CellState]], parts: list[tuple[int, int]], order: list[Cell], *, is_firm: bool
) -> dict[Cell, tuple[int, CellState]] | None:
    """Return a tray's cells with those kept that can be; None where it had better be laid out afresh.

    Args:
        had: Index or id of the sowing and the content of each cell; -1 for no sowing.
        parts: Sowings that are to be in it, and the cells of each. [1]
        order: Its cells in the order of the walk.
        is_firm: Whether it must not be laid out afresh.
    """
    counts = Counter(lot for lot, _ in had.values())
    stays = {lot for lot, n in parts if counts[lot] == n}
    laid = {cell: (lot, state) for cell, (lot, state) in had.items() if lot in stays}
    if not is_firm and not set(had) <= set(order):
        return None  # the container has another grid now
    for lot, n in parts:
        if lot in stays:
            continue
        free = [number for number, cell in enumerate(order) if cell not in laid]
        run = next((run for run in _runs(free) if len(run) >= n), None)
        if run is None and not is_firm:
            return None
        laid |= {order[number]: (lot, CellState.EMPTY) for number in (free if run is None else run)[:n]}
    return dict.fromkeys([*order, *had], (NOBODY, CellState.EMPTY)) | laid


def _runs(numbers: list[int]) -> Iterator[list[int]]:
    """Yield the stretches of numbers that follow one another, the shortest first."""
    stretches = [[n for _, n in group] for _, group in groupby(enumerate(numbers), key=lambda pair: pair[1] - pair[0])]
    yield from sorted(stretches, key=len)


def _kept_cells(kept: dict[int, dict[Cell, tuple[int, CellState]]]) -> Cells:
    rows = [(tray, *cell, lot, state) for tray, cells in kept.items() for cell, (lot, state) in cells.items()]
    tray, row, column, lot = (np.array([row[n] for row in rows], dtype=np.int64) for n in range(4))
    return Cells(tray=tray, row=row, column=column, lot=lot, state=tuple(row[4] for row in rows))


def _fresh_cells(plan: Plan, deal: Deal, trays: Ints, parts: dict[int, list[tuple[int, int]]]) -> Cells:
    """Return the cells of trays that are laid out afresh: one sowing after another along the walk."""
    container = plan.trays.container[deal.tray[trays]]
    found = [Cells(tray=trays[:0], row=trays[:0], column=trays[:0], lot=trays[:0], state=())]
    for box in np.unique(container).tolist():
        mine = trays[container == box]
        card = plan.garden.containers[box]
        rows, columns = walk(grid_of(card.cells_per_tray, card.rows, card.columns))
        flat = [part for tray in mine.tolist() for part in [*parts[tray], (NOBODY, _free(parts[tray], len(rows)))]]
        lot = np.repeat(*(np.array([part[n] for part in flat], dtype=np.int64) for n in range(2)))
        found.append(
            Cells(
                tray=np.repeat(mine, len(rows)),
                row=np.tile(rows, len(mine)),
                column=np.tile(columns, len(mine)),
                lot=lot,
                state=(CellState.EMPTY,) * len(lot),
            )
        )
    return _joined(*found)


def _free(parts: list[tuple[int, int]], cells: int) -> int:
    return cells - sum(n for _, n in parts)


def _joined(*cells: Cells) -> Cells:
    return Cells(
        tray=np.concatenate([part.tray for part in cells]),
        row=np.concatenate([part.row for part in cells]),
        column=np.concatenate([part.column for part in cells]),
        lot=np.concatenate([part.lot for part in cells]),
        state=tuple(state for part in cells for state in part.state),
    )
