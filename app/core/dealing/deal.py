"""Dealing: the plan's trays get numbers, cells and positions; what has been dealt stays as it is where it can."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import Days
from app.core.dealing.placing import DealtStays, PlaceUse, place_trays
from app.core.dealing.positions import Position
from app.core.plan import Plan
from app.core.space.dealt import NOT_DEALT
from app.core.space.sharing import first_of

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Deal:
    """What dealing some days stores. Arrays over trays have the order of the numbers; stays that of their trays.

    Attributes:
        tray: Index of each dealt tray into the plan's trays. Shape (n_trays,).
        stored: Index into what was dealt before; -1 for a new tray. Shape (n_trays,).
        number: Number of the tray. Shape (n_trays,).
        container: Index of its container. Shape (n_trays,).
        is_potted_on: Whether it holds pots that are potted on. Shape (n_trays,).
        filled: The day on which it is filled. Shape (n_trays,). [day number]
        is_changed: Whether it is new, or has other contents than before. Shape (n_trays,).
        emptied: Indices of trays dealt before that nobody needs any more; what is sown in them stays, and so do
            they. Shape (n_emptied,).
        stay_tray: Index of the tray of each stay, into these trays. Shape (n_stays,).
        stay_place: Index of the place. Shape (n_stays,).
        stay_position: Where it stands, None where it waits. Length n_stays.
        stay_begin: First day. Shape (n_stays,). [day number]
        stay_end: The day after the last. Shape (n_stays,). [day number]
        stay_is_pinned: Whether it keeps its position. Shape (n_stays,).
        places: How each place is used.
    """

    tray: Ints
    stored: Ints
    number: Ints
    container: Ints
    is_potted_on: Flags
    filled: Days
    is_changed: Flags
    emptied: Ints
    stay_tray: Ints
    stay_place: Ints
    stay_position: tuple[Position | None, ...]
    stay_begin: Days
    stay_end: Days
    stay_is_pinned: Flags
    places: tuple[PlaceUse, ...]


@dataclass(frozen=True)
class One:
    """A single tray to deal: its index into the plan's trays, and the number that it is to have."""

    tray: int
    number: int


def deal(
    plan: Plan, stays: DealtStays, *, first: int, last: int, today: int, one: One | None = None, given: int = 0
) -> Deal:
    """Return what dealing the trays that are filled on the days from `first` to `last` stores.

    All trays of the plan are given positions, so that dealing day by day takes no more of them than dealing the
    season; those of other days that were dealt before keep theirs.

    Args:
        plan: The plan, which knows what has been dealt.
        stays: Where the dealt trays stand.
        first: First day. [day number]
        last: Last day. [day number]
        today: Sown trays keep the positions on which they stand today. [day number]
        one: The only tray to deal, whatever the days; one that is not dealt yet.
        given: The last number that was given to a tray; one of them that is gone is not given again. [1]

    Source:
        docs/method.md, section 10; chosen here where nothing is named.
    """
    trays, dealt = plan.trays, plan.garden.dealt
    filled = filled_on(plan)
    wanted = (filled >= first) & (filled <= last) if one is None else np.arange(len(filled)) == one.tray
    chosen, emptied = _choose(plan, stays, wanted, (first, last) if one is None else None)
    gone = emptied[~dealt.is_filled[emptied]]
    placed = place_trays(plan, stays, chosen=chosen, emptied=gone, today=today)
    order = np.flatnonzero(chosen)
    stored = trays.stored[order]
    fresh = order[stored == NOT_DEALT]
    fresh = fresh[np.lexsort((fresh, trays.is_potted_on[fresh], filled[fresh]))]
    number = np.zeros(len(trays.group), dtype=np.int64)
    number[order[stored != NOT_DEALT]] = dealt.number[stored[stored != NOT_DEALT]]
    number[fresh] = int(dealt.number.max(initial=given)) + 1 + np.arange(len(fresh))
    if one is not None:
        number[one.tray] = one.number
    order = order[np.argsort(number[order], kind="stable")]
    row_of = np.full(len(trays.group), -1)
    row_of[order] = np.arange(len(order))
    mine = np.flatnonzero(row_of[placed.tray] >= 0)
    mine = mine[np.lexsort((placed.begin[mine], row_of[placed.tray[mine]]))]
    return Deal(
        tray=order,
        stored=trays.stored[order],
        number=number[order],
        container=trays.container[order],
        is_potted_on=trays.is_potted_on[order],
        filled=filled[order],
        is_changed=changed_contents(plan)[order],
        emptied=emptied,
        stay_tray=row_of[placed.tray[mine]],
        stay_place=placed.place[mine],
        stay_position=tuple(placed.position[stay] for stay in mine.tolist()),
        stay_begin=placed.begin[mine],
        stay_end=placed.end[mine],
        stay_is_pinned=placed.is_pinned[mine],
        places=placed.uses,
    )


def filled_on(plan: Plan) -> Days:
    """Return the day on which each tray of the plan is sown, or filled with pots. Shape (n_trays,). [day number]"""
    trays, times, dealt = plan.trays, plan.timeline, plan.garden.dealt
    part = trays.part_tray
    day = np.where(trays.is_potted_on[part], times.pot_on[trays.part_lot], times.sow_on[trays.part_lot])
    n_groups = int(trays.group.max(initial=-1)) + 1
    filled = first_of(trays.group[part], n_groups, day)[trays.group]
    settled = np.flatnonzero(np.append(dealt.is_filled, False)[trays.stored])  # -1, not dealt, finds the last
    filled[settled] = dealt.filled[trays.stored[settled]]
    return filled


def _choose(plan: Plan, stays: DealtStays, wanted: Flags, days: tuple[int, int] | None) -> tuple[Flags, Ints]:
    """Return which trays of the plan are dealt, and which dealt trays are emptied.

    Whatever has cells of a sowing that is dealt is dealt too, so that no sowing has its cells twice.
    """
    trays, dealt = plan.trays, plan.garden.dealt
    chosen = wanted.copy()
    planned_as = np.full(len(dealt), NOT_DEALT)
    is_stored = np.flatnonzero(trays.stored != NOT_DEALT)
    planned_as[trays.stored[is_stored]] = is_stored
    is_left = np.zeros(len(dealt), dtype=bool)
    is_left[dealt.part_tray] = is_left[stays.tray] = True  # one that only stands somewhere holds a position for nobody
    is_left[dealt.is_filled] = False  # what is sown is never taken out, only what is not sown beside it
    is_left[dealt.part_tray[dealt.part_filled == 0]] = True
    is_left &= planned_as == NOT_DEALT
    emptied = is_left & (False if days is None else (dealt.filled >= days[0]) & (dealt.filled <= days[1]))
    kind = dealt.is_potted_on[dealt.part_tray].astype(np.int64)
    plan_kind = trays.is_potted_on[trays.part_tray].astype(np.int64)
    while True:
        of_chosen = np.concatenate(
            [
                (2 * trays.part_lot + plan_kind)[chosen[trays.part_tray]],
                (2 * dealt.part_lot + kind)[emptied[dealt.part_tray]],
            ]
        )
        has = np.unique(dealt.part_tray[np.isin(2 * dealt.part_lot + kind, of_chosen)])
        shares = np.isin(2 * trays.part_lot + plan_kind, of_chosen) & (trays.stored[trays.part_tray] != NOT_DEALT)
        more = np.concatenate([planned_as[has][planned_as[has] != NOT_DEALT], trays.part_tray[shares]])
        left = has[is_left[has]]
        if chosen[more].all() and emptied[left].all():
            return chosen, np.flatnonzero(emptied)
        chosen[more] = True
        emptied[left] = True


def changed_contents(plan: Plan) -> Flags:
    """Return whether each tray of the plan is new or has other contents than it was dealt. Shape (n_trays,)."""
    trays, dealt = plan.trays, plan.garden.dealt
    planned = np.column_stack([trays.stored[trays.part_tray], trays.part_lot, trays.part_cells])
    stays = ~stays_unplanned(plan)
    there = np.column_stack([dealt.part_tray[stays], dealt.part_lot[stays], dealt.part_cells[stays]])
    _, which, times = np.unique(np.concatenate([planned, there]), axis=0, return_inverse=True, return_counts=True)
    differs = times[which.ravel()] == 1
    changed: Flags = trays.stored == NOT_DEALT
    changed[trays.part_tray[differs[: len(planned)]]] = True
    changed[np.isin(trays.stored, there[differs[len(planned) :], 0])] = True
    return changed


def stays_unplanned(plan: Plan) -> Flags:
    """Return which parts of dealt trays are sown, though the plan gives their sowing no tray any more.

    So it is where a crop is sown outside from now on; what is in its cells stays there beside the others.
    Shape (n_parts,).
    """
    dealt = plan.garden.dealt
    lot = dealt.part_lot
    planned = np.where(dealt.is_potted_on[dealt.part_tray], plan.pots[lot], plan.cells[lot])
    unplanned: Flags = (dealt.part_filled > 0) & (planned == 0)
    return unplanned
