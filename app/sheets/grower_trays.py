"""Where a grower's cells are: tray by tray, where it stands, and when it moves on."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

import numpy as np

from app.core.calendar import NO_DAY
from app.core.grid import Cell
from app.core.plan import Plan
from app.core.words import CellState
from app.sheets.tray_words import PLACE_WORDS, STATE_WORDS, cells_words, leaving_words, position_words
from app.sheets.words import count_words, day_words, list_words
from app.storage.queries.trays import CellRow, StayRow

NOWHERE = "no place is known"


@dataclass(frozen=True, kw_only=True)
class CellsInTray:
    """The cells that one sowing has of one tray.

    Attributes:
        tray: Number of the tray.
        crop: Name of the crop.
        variety: Its variety, empty where none is given.
        cells: The cells, as `A1–F1, A2–C2`.
        count: How many, and what is in them, as `9 sown`.
        stands: Where the tray stands on the day.
        moves: When it moves next, and where; empty after it has left.
    """

    tray: int
    crop: str
    variety: str
    cells: str
    count: str
    stands: str
    moves: str


def cells_in_trays(
    plan: Plan, cells: Sequence[CellRow], stays: Sequence[StayRow], today: date
) -> tuple[CellsInTray, ...]:
    """Return where cells are, by number of the tray and cell.

    Args:
        plan: The garden's plan.
        cells: The cells, by tray, row and column.
        stays: Where their trays stand, by day.
        today: The day on which they are looked for.
    """
    dealt = plan.garden.dealt
    number_of = dict(zip(dealt.ids.tolist(), dealt.number.tolist(), strict=True))
    found = []
    for (tray, sowing), lot in groupby(
        sorted(cells, key=lambda cell: (number_of[cell.tray_id], cell.sowing_id)),
        key=lambda cell: (cell.tray_id, cell.sowing_id),
    ):
        mine = list(lot)
        is_potted = bool(plan.timeline.pot_on[plan.index_of[sowing]] != NO_DAY)
        there = [stay for stay in stays if stay.tray_id == tray]
        is_pots = bool(dealt.is_potted_on[dealt.ids == tray].any())
        stands, moves = _standing(there, today, is_potted_next=is_potted and not is_pots)
        found.append(
            CellsInTray(
                tray=number_of[tray],
                crop=mine[0].crop,
                variety=mine[0].variety or "",
                cells=cells_words(Cell(cell.row, cell.column) for cell in mine),
                count=_contents(mine, is_pots=is_pots),
                stands=stands,
                moves=moves,
            )
        )
    return tuple(found)


def not_dealt_words(plan: Plan, grower: int) -> str:
    """Return which of a grower's sowings have no cells dealt to them yet; empty where all have.

    Args:
        plan: The garden's plan.
        grower: Index of the grower.
    """
    dealt, sowings = plan.garden.dealt, plan.garden.sowings
    is_pots = dealt.is_potted_on[dealt.part_tray]
    wanted = np.flatnonzero((sowings.grower == grower) & (plan.cells > 0))
    if not len(wanted):
        return ""
    if not len(dealt.part_lot):
        return "Trays are not dealt yet."
    waits = wanted[~np.isin(wanted, dealt.part_lot[~is_pots])]
    pots = wanted[(plan.pots[wanted] > 0) & ~np.isin(wanted, dealt.part_lot[is_pots])]
    pots = pots[~np.isin(pots, waits)]
    parts = []
    for indices, noun in ((waits, "cells"), (pots, "pots")):
        if len(indices):
            names = sorted({plan.garden.cards[sowings.crop[index]].name for index in indices.tolist()})
            parts.append(f"{noun.capitalize()} of {list_words(names)} are not dealt yet.")
    return " ".join(parts)


def _contents(cells: Sequence[CellRow], *, is_pots: bool) -> str:
    counts = Counter(cell.state for cell in cells)
    if set(counts) == {CellState.EMPTY}:
        return f"{count_words(len(cells), 'pot')}, not filled yet" if is_pots else f"{len(cells)} not sown yet"
    return ", ".join(f"{counts[state]} {STATE_WORDS[state]}" for state in CellState if counts[state])


def _standing(stays: Sequence[StayRow], today: date, *, is_potted_next: bool) -> tuple[str, str]:
    """Return where a tray stands on a day, and when it moves next."""
    if not stays:
        return NOWHERE, ""
    now = next((stay for stay in stays if stay.begin_on <= today < stay.end_on), None)
    after = next((stay for stay in stays if stay.begin_on > today), None)
    last = stays[-1]
    if now is None and after is None:
        return f"left on {day_words(last.end_on)}", ""
    stands = "not filled yet" if now is None else _place(now)
    if after is not None:
        return stands, f"{day_words(after.begin_on)} to {_place(after)}"
    return stands, f"{day_words(last.end_on)} {leaving_words(last.place, is_potted_next=is_potted_next)}"


def _place(stay: StayRow) -> str:
    return f"{PLACE_WORDS[stay.place]}: {position_words(stay.shelf, stay.level, stay.slot)}"
