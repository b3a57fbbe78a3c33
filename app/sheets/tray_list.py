"""Dealt trays as a list: which are wanted, and a line for each."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY
from app.core.dealing.redeal import parts_of_trays
from app.core.plan import Plan
from app.core.space.dealt import NOT_DEALT
from app.language import _, pgettext
from app.sheets.contents import CropInTray, crops_in
from app.sheets.names import name_words
from app.sheets.tray_words import how_filled_words, standing_words
from app.storage.queries.trays import StayRow

Ints = NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class WantedTrays:
    """Which trays are wanted; None for any.

    Attributes:
        grower_id: In which this grower has cells.
        crop_id: In which there is this crop.
        is_pots: Of pots that were potted on, or of cells that are sown.
        ids: Row numbers of trays.
    """

    grower_id: int | None = None
    crop_id: int | None = None
    is_pots: bool | None = None
    ids: Sequence[int] | None = None


@dataclass(frozen=True, kw_only=True)
class TrayLine:
    """A tray in the list.

    Attributes:
        number: Its number.
        container: Name of its container.
        day: The day on which it is filled.
        crops: What is in it, and whose cells.
        used: Cells that are taken. [1]
        cells: All its cells. [1]
        stands: Where it stands now.
        moves: When it moves next and where to; empty after it has left.
        marks: Whether it is sown, potted on, empty, pinned: each in a word or two.
    """

    number: int
    container: str
    day: date
    crops: tuple[CropInTray, ...]
    used: int
    cells: int
    stands: str
    moves: str
    marks: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Counts:
    """Some trays counted: trays, those in which something is, cells, and cells that are taken. [1]"""

    trays: int
    filled: int
    cells: int
    used: int


def choose_trays(plan: Plan, wanted: WantedTrays) -> Ints:
    """Return the indices of the dealt trays that are wanted, by number."""
    dealt, sowings = plan.garden.dealt, plan.garden.sowings
    chosen = np.ones(len(dealt), dtype=bool)
    index_of_grower = {grower.id: index for index, grower in enumerate(plan.garden.growers)}
    index_of_crop = {card.id: index for index, card in enumerate(plan.garden.cards)}
    for row_id, index_of, of_sowing in (
        (wanted.grower_id, index_of_grower, sowings.grower),
        (wanted.crop_id, index_of_crop, sowings.crop),
    ):
        if row_id is not None:
            has = np.zeros(len(dealt), dtype=bool)
            has[dealt.part_tray[of_sowing[dealt.part_lot] == index_of.get(row_id, -1)]] = True
            chosen &= has
    if wanted.is_pots is not None:
        chosen &= dealt.is_potted_on == wanted.is_pots
    if wanted.ids is not None:
        chosen &= np.isin(dealt.ids, np.array(wanted.ids, dtype=np.int64))
    return np.flatnonzero(chosen)


def order_trays(plan: Plan, chosen: Ints, key: str, *, down: bool) -> Ints:
    """Return some dealt trays in another order; those that are the same in it stay by number.

    Args:
        plan: The garden's plan.
        chosen: Indices of the trays, by number.
        key: `number`, `filled` (the day), `container` (its name) or `used` (cells that are taken).
        down: The last or largest first.
    """
    dealt = plan.garden.dealt
    names = [name_words(box.name) for box in plan.garden.containers]
    rank = np.argsort(np.argsort(np.array([name.casefold() for name in names], dtype=np.str_), kind="stable"))
    used = np.bincount(dealt.part_tray, weights=dealt.part_cells, minlength=len(dealt))
    columns = {"number": dealt.number, "filled": dealt.filled, "container": rank[dealt.container], "used": used}
    values = columns[key][chosen]
    return chosen[np.argsort(-values if down else values, kind="stable")]


def count_trays(plan: Plan, chosen: Ints) -> Counts:
    """Return some dealt trays counted."""
    dealt = plan.garden.dealt
    boxes = np.array([box.cells_per_tray for box in plan.garden.containers], dtype=np.int64)
    return Counts(
        trays=len(chosen),
        filled=int(dealt.is_filled[chosen].sum()),
        cells=int(boxes[dealt.container[chosen]].sum()),
        used=int(dealt.part_cells[np.isin(dealt.part_tray, chosen)].sum()),
    )


def count_not_dealt(plan: Plan) -> int:
    """Return how many trays of the plan are not dealt yet. [1]"""
    return int((plan.trays.stored == NOT_DEALT).sum())


def tray_lines(plan: Plan, chosen: Ints, stays: Iterable[StayRow], today: date) -> list[TrayLine]:
    """Return a line for each of some dealt trays.

    Args:
        plan: The garden's plan.
        chosen: Indices of the trays.
        stays: Where they stand, by day.
        today: The day that is taken for today.
    """
    dealt = plan.garden.dealt
    parts = parts_of_trays(dealt.part_tray, dealt.part_lot, dealt.part_cells, chosen)
    filled = parts_of_trays(dealt.part_tray, dealt.part_lot, dealt.part_filled, chosen)
    by_tray: Callable[[StayRow], int] = lambda stay: stay.tray_id  # noqa: E731 - a key used twice
    stays_of = {tray: list(own) for tray, own in groupby(sorted(stays, key=by_tray), key=by_tray)}
    lines = []
    for tray in chosen.tolist():
        own, box = parts.get(tray, ()), plan.garden.containers[dealt.container[tray]]
        is_pots, used = bool(dealt.is_potted_on[tray]), sum(cells for _, cells in own)
        is_potted_next = not is_pots and any(plan.timeline.pot_on[lot] != NO_DAY for lot, _ in own)
        there = stays_of.get(int(dealt.ids[tray]), [])
        stands, moves = standing_words(there, today, is_potted_next=is_potted_next)
        n_filled = sum(cells for _, cells in filled.get(tray, ()))
        is_pinned = bool(dealt.is_pinned[tray])
        lines.append(
            TrayLine(
                number=int(dealt.number[tray]),
                container=name_words(box.name),
                day=date.fromordinal(int(dealt.filled[tray])),
                crops=crops_in(plan, own),
                used=used,
                cells=box.cells_per_tray,
                stands=stands,
                moves=moves,
                marks=tuple(_marks(used, n_filled, is_pots=is_pots, is_pinned=is_pinned)),
            )
        )
    return lines


def _marks(used: int, filled: int, *, is_pots: bool, is_pinned: bool) -> Iterable[str]:
    if not used:
        yield pgettext("a tray", "empty")
    elif filled == used:
        yield how_filled_words(is_pots=is_pots)
    elif filled:
        yield _("partly potted on") if is_pots else _("partly sown")
    if is_pinned:
        yield pgettext("a tray", "pinned")
