"""Positions for the trays of a plan, beside those that dealt trays have already."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import Days
from app.core.dealing.happened import Planned, days_of_stays
from app.core.dealing.positions import Position, positions_of_places
from app.core.plan import Plan
from app.core.space.assignment import WAITS, Assignment, assign_positions, without_clashes
from app.core.space.dealt import NOT_DEALT
from app.core.words import PLACES, Place

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

# Each pin costs one more assignment to judge; with more pins than these nobody asks which of them it is.
MOST_JUDGED_PINS = 40
NOBODY = -1


@dataclass(frozen=True, kw_only=True)
class DealtStays:
    """Where dealt trays stand, in the order of the trays; all of shape (n_stays,).

    Attributes:
        tray: Index of the dealt tray.
        place: Index of the place.
        shelf: Index of the garden's shelf; -1 where it waits.
        level: Level of the shelf, counted from 1; 0 where it waits.
        slot: Slot on the level, counted from 1; 0 where it waits.
        begin: First day. [day number]
        end: The day after the last. [day number]
        is_pinned: Whether it keeps its position.
    """

    tray: Ints
    place: Ints
    shelf: Ints
    level: Ints
    slot: Ints
    begin: Days
    end: Days
    is_pinned: Flags


@dataclass(frozen=True, kw_only=True)
class PlaceUse:
    """How a place is used by all trays of the plan.

    Attributes:
        place: Index of the place.
        positions: Positions that there are. [1]
        overlap: Trays that stand or want to stand there on the fullest day. [1]
        used: Positions that are used at all. [1]
        waiting: Stays that wait for a position. [1]
        is_fewest: Whether it is proven that the pins allow nothing better.
        costly_pins: Numbers of the trays whose pin alone makes it one position more, or one more wait.
    """

    place: int
    positions: int
    overlap: int
    used: int
    waiting: int
    is_fewest: bool
    costly_pins: tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class Placed:
    """Where trays of the plan stand; all but `uses` of shape (n_stays,), by tray and day.

    Attributes:
        tray: Index of the tray.
        place: Index of the place.
        begin: First day. [day number]
        end: The day after the last. [day number]
        position: Where it stands, None where it waits. Length n_stays.
        is_pinned: Whether a pin keeps it there.
        uses: How each place is used.
    """

    tray: Ints
    place: Ints
    begin: Days
    end: Days
    position: tuple[Position | None, ...]
    is_pinned: Flags
    uses: tuple[PlaceUse, ...]


@dataclass(frozen=True, kw_only=True)
class _Stays:
    """Stays that share places: those to be placed, and those of dealt trays that are left alone.

    All of shape (n_stays,). `wished` is the index of the position within its place, -1 for none.
    """

    tray: Ints
    place: Ints
    begin: Days
    end: Days
    number: Ints
    wished: Ints
    owner: Ints
    is_alone: Flags
    stands: Flags
    is_pinned: Flags


def place_trays(plan: Plan, stays: DealtStays, *, chosen: Flags, emptied: Ints, today: int) -> Placed:
    """Return positions for the chosen trays of a plan.

    Args:
        plan: The plan.
        stays: Where the dealt trays stand.
        chosen: Which trays of the plan are dealt; the others that are not dealt yet get positions too, so that they
            do not lose them to trays dealt first. Shape (n_trays,).
        emptied: Indices of dealt trays that stand nowhere any more. Shape (n_emptied,).
        today: Sown trays keep the positions on which they stand today. [day number]
    """
    by_place = positions_of_places(plan.garden.shelves)
    all_stays = _all_stays(plan, stays, by_place, chosen, emptied, today)
    index, is_pinned = np.full(len(all_stays.tray), WAITS), np.zeros(len(all_stays.tray), dtype=bool)
    uses = []
    for number, place in enumerate(PLACES):
        here = np.flatnonzero(all_stays.place == number)
        found, pinned, use = _place(all_stays, here, number, len(by_place[place]))
        index[here], is_pinned[here] = found, pinned
        uses.append(use)
    mine = np.flatnonzero(~all_stays.is_alone)
    places = all_stays.place[mine].tolist()
    return Placed(
        tray=all_stays.tray[mine],
        place=all_stays.place[mine],
        begin=all_stays.begin[mine],
        end=all_stays.end[mine],
        position=tuple(
            None if at == WAITS else by_place[PLACES[place]][at]
            for at, place in zip(index[mine].tolist(), places, strict=True)
        ),
        is_pinned=is_pinned[mine],
        uses=tuple(uses),
    )


def stays_of_trays(plan: Plan) -> tuple[Ints, Ints, Days, Days]:
    """Return tray, place, first day and the day after the last of all stays, by tray and day. Each of shape (n,)."""
    trays, stays = plan.trays, plan.stays
    order = np.lexsort((stays.begin, stays.group))
    group = stays.group[order]
    first, end = np.searchsorted(group, trays.group), np.searchsorted(group, trays.group, side="right")
    count = end - first
    tray = np.repeat(np.arange(len(trays.group)), count)
    stay = order[np.arange(count.sum()) + np.repeat(first - (count.cumsum() - count), count)]
    return tray, stays.place[stay], stays.begin[stay], stays.end[stay]


def _all_stays(
    plan: Plan,
    stays: DealtStays,
    by_place: dict[Place, tuple[Position, ...]],
    chosen: Flags,
    emptied: Ints,
    today: int,
) -> _Stays:
    trays, dealt = plan.trays, plan.garden.dealt
    tray, place, begin, end, before = stays_to_place(plan, stays, chosen, today)
    alone = np.flatnonzero(~np.isin(stays.tray, np.append(trays.stored[chosen], emptied)) & (stays.shelf >= 0))
    owner, owner_of_dealt = _owners(plan), np.full(len(dealt), NOBODY)
    is_dealt = trays.stored != NOT_DEALT
    owner_of_dealt[trays.stored[is_dealt]] = owner[is_dealt]
    n, n_alone = len(tray), len(alone)
    had = np.append(_index_in_place(stays, by_place), WAITS)
    # The last row of each column stands for no stay before.
    is_filled = np.append(dealt.is_filled, False)[trays.stored[tray]]
    was_to_begin = np.append(stays.begin, today + 1)[before] <= today
    stands = is_filled & (had[before] != WAITS) & was_to_begin & (begin <= today)
    return _Stays(
        tray=np.append(tray, np.full(n_alone, NOBODY)),
        place=np.append(place, stays.place[alone]),
        begin=np.append(begin, stays.begin[alone]),
        end=np.append(end, stays.end[alone]),
        number=np.append(np.append(dealt.number, 0)[trays.stored[tray]], dealt.number[stays.tray[alone]]),
        wished=np.append(had[before], had[alone]),
        owner=np.append(owner[tray], owner_of_dealt[stays.tray[alone]]),
        is_alone=np.repeat([False, True], [n, n_alone]),
        stands=np.append(stands, np.zeros(n_alone, dtype=bool)),
        is_pinned=np.append(np.append(stays.is_pinned, False)[before], np.zeros(n_alone, dtype=bool)),
    )


def stays_to_place(
    plan: Plan, stays: DealtStays, chosen: Flags, today: int, *, told: Flags | None = None
) -> tuple[Ints, Ints, Days, Days, Ints]:
    """Return the stays of the chosen trays of a plan and of those not dealt yet, by tray and day.

    Args:
        plan: The plan.
        stays: Where the dealt trays stand.
        chosen: Which trays of the plan are dealt. Shape (n_trays,).
        today: What has happened by today stays as it is. [day number]
        told: Trays of which the log has just told, so that the plan knows best what has happened; None for none.
            Shape (n_trays,).

    Returns:
        Tray, place, first day, the day after the last, and index of the stay that the tray had in this place, -1
        for none. Each of shape (n,).
    """
    trays = plan.trays
    tray, place, begin, end = stays_of_trays(plan)
    is_free = (trays.stored[tray] == NOT_DEALT) | chosen[tray]
    tray, place, begin, end = tray[is_free], place[is_free], begin[is_free], end[is_free]
    before = _stay_before(stays, trays.stored[tray], place)
    is_filled = np.append(plan.garden.dealt.is_filled, False)[trays.stored[tray]]
    keeps = is_filled if told is None else is_filled & ~told[tray]
    begin, end = _days(stays, tray, begin, end, np.where(keeps, before, -1), today)
    is_left = begin < end
    return tray[is_left], place[is_left], begin[is_left], end[is_left], before[is_left]


def _days(stays: DealtStays, tray: Ints, begin: Days, end: Days, before: Ints, today: int) -> tuple[Days, Days]:
    """Return the days of stays by tray and day; equal ones for a stay that does not come about any more.

    Each of shape (n_stays,). `before` is the index of the stay that a sown tray had in this place, -1 for others.
    """
    begin, end = begin.copy(), end.copy()
    rows = np.flatnonzero(np.isin(tray, tray[before >= 0]))
    dealt = [*zip(stays.begin.tolist(), stays.end.tolist(), strict=True), (None, None)]
    columns = (column[rows].tolist() for column in (tray, begin, end, before))
    planned = [Planned(*row, *dealt[stay]) for *row, stay in zip(*columns, strict=True)]
    for row, days in zip(rows.tolist(), days_of_stays(planned, today), strict=True):
        begin[row], end[row] = days or (today, today)
    return begin, end


def _stay_before(stays: DealtStays, stored: Ints, place: Ints) -> Ints:
    """Return the index of the stay that a dealt tray had in the same place; -1 for none. Shape (n,)."""
    row = {pair: n for n, pair in enumerate(zip(stays.tray.tolist(), stays.place.tolist(), strict=True))}
    pairs = zip(stored.tolist(), place.tolist(), strict=True)
    return np.fromiter((row.get(pair, -1) for pair in pairs), dtype=np.int64, count=len(stored))


def _index_in_place(stays: DealtStays, by_place: dict[Place, tuple[Position, ...]]) -> Ints:
    """Return the index of each stay's position within its place; -1 where it waits or the position is gone."""
    index = {
        (number, *position): at for number, place in enumerate(PLACES) for at, position in enumerate(by_place[place])
    }
    columns = (stays.place, stays.shelf, stays.level, stays.slot)
    keys = zip(*(column.tolist() for column in columns), strict=True)
    return np.fromiter((index.get(key, WAITS) for key in keys), dtype=np.int64, count=len(stays.tray))


def _owners(plan: Plan) -> Ints:
    """Return the grower who has most of each tray's cells. Shape (n_trays,)."""
    trays, grower = plan.trays, plan.garden.sowings.grower
    if not len(trays.part_tray):
        return np.zeros(0, dtype=np.int64)
    n = int(grower.max()) + 1
    pairs, which = np.unique(trays.part_tray * n + grower[trays.part_lot], return_inverse=True)
    cells = np.bincount(which, weights=trays.part_cells)
    tray, who = np.divmod(pairs, n)
    order = np.lexsort((who, -cells, tray))
    owners: Ints = who[order[np.flatnonzero(np.diff(tray[order], prepend=-1))]]
    return owners


def _place(stays: _Stays, here: Ints, number: int, n_positions: int) -> tuple[Ints, Flags, PlaceUse]:
    """Return the positions of the stays of one place, which of them a pin keeps, and how the place is used."""
    begin, end, wished, owner = stays.begin[here], stays.end[here], stays.wished[here], stays.owner[here]
    # What is left alone goes before what stands already, and that before pins.
    firm = np.full(len(here), WAITS)
    for goes_first in (stays.is_alone, stays.stands):
        firm = without_clashes(begin, end, firm, np.where(goes_first[here], wished, WAITS), n_positions)
    pinned = without_clashes(begin, end, firm, np.where(stays.is_pinned[here], wished, WAITS), n_positions)
    found = assign_positions(begin, end, n_positions, pinned=pinned, wished=wished, owner=owner)

    def without(pin: int) -> Assignment:
        others = pinned.copy()
        others[pin] = WAITS
        return assign_positions(begin, end, n_positions, pinned=others, wished=others, owner=owner)

    judged = np.flatnonzero((pinned >= 0) & (firm < 0)).tolist()
    costs = found.waiting > 0 or found.used > found.overlap
    costly = [pin for pin in judged if costs and len(judged) <= MOST_JUDGED_PINS and without(pin).score < found.score]
    use = PlaceUse(
        place=number,
        positions=n_positions,
        overlap=found.overlap,
        used=found.used,
        waiting=int((found.position[~stays.is_alone[here]] == WAITS).sum()),
        is_fewest=found.is_fewest,
        costly_pins=tuple(stays.number[here[costly]].tolist()),
    )
    return found.position, stays.is_pinned[here] & (pinned >= 0), use
