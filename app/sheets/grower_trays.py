"""Where a grower's cells are: tray by tray, where it stands, and when it moves on."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY
from app.core.folded import fold
from app.core.plan import Plan
from app.core.space.grid import Cell
from app.language import _
from app.sheets.names import name_words
from app.sheets.tray_words import cells_words, contents_words, standing_words
from app.sheets.words import list_words
from app.storage.queries.trays import CellRow, StayRow


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
        stands, moves = standing_words(there, today, is_potted_next=is_potted and not is_pots)
        found.append(
            CellsInTray(
                tray=number_of[tray],
                crop=mine[0].crop,
                variety=mine[0].variety or "",
                cells=cells_words(Cell(cell.row, cell.column) for cell in mine),
                count=contents_words([cell.state for cell in mine], is_pots=is_pots),
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
        return _("Trays are not dealt yet.")
    waits = wanted[~np.isin(wanted, dealt.part_lot[~is_pots])]
    pots = wanted[(plan.pots[wanted] > 0) & ~np.isin(wanted, dealt.part_lot[is_pots])]
    pots = pots[~np.isin(pots, waits)]
    parts = []
    if len(waits):
        parts.append(_("Cells of %(crops)s are not dealt yet.", crops=_crops_words(plan, waits)))
    if len(pots):
        parts.append(_("Pots of %(crops)s are not dealt yet.", crops=_crops_words(plan, pots)))
    return " ".join(parts)


def _crops_words(plan: Plan, sowings: NDArray[np.int64]) -> str:
    names = {name_words(plan.garden.cards[plan.garden.sowings.crop[index]].name) for index in sowings.tolist()}
    return list_words(sorted(names, key=fold))
