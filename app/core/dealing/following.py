"""Stays of begun trays after an entry: they follow the plan's days as far as their position is theirs."""

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from app.core.dealing.placing import DealtStays, stays_to_place
from app.core.plan import Plan
from app.core.space.dealt import NOT_DEALT

Ints = NDArray[np.int64]
Key = tuple[int, int, int]


class Follows(NamedTuple):
    """A stay of a dealt tray as it is to be stored.

    Attributes:
        place: Index of the place.
        before: Index of the stay whose position it keeps; -1 where it waits for one.
        begin: First day. [day number]
        end: The day after the last. [day number]
    """

    place: int
    before: int
    begin: int
    end: int


def follow(plan: Plan, stays: DealtStays, sowings: Ints) -> dict[int, tuple[Follows, ...]]:
    """Return the stays of each begun tray whose days are no longer as they were dealt.

    A tray keeps its position. Where another one is to come there, or has not left it yet, it has it on the days
    between; where that leaves it without one today, it waits.

    Args:
        plan: The plan after the entry.
        stays: Where dealt trays stand.
        sowings: Indices of the sowings that the entry is of. Shape (n,).

    Returns:
        By index of the dealt tray.
    """
    trays, dealt, today = plan.trays, plan.garden.dealt, plan.garden.today
    is_begun = np.append(dealt.is_filled, False)[trays.stored] & (trays.stored != NOT_DEALT)
    told = np.zeros(len(trays.group), dtype=bool)
    told[trays.part_tray[np.isin(trays.part_lot, sowings)]] = True
    # One that is nowhere any more stands in no place.
    planned: dict[int, list[Follows]] = {number: [] for number in np.unique(trays.stored[is_begun]).tolist()}
    tray, *columns = stays_to_place(plan, stays, is_begun, today, told=told)
    rows = np.flatnonzero(is_begun[tray])
    for number, place, begin, end, before in zip(
        trays.stored[tray[rows]].tolist(), *(column[rows].tolist() for column in columns), strict=True
    ):
        planned[number].append(Follows(place, before, begin, end))
    taken = _taken(stays)
    found = {}
    for number, own in planned.items():
        fitted = tuple(_fit(stays, taken, number, stay, today) for stay in own)
        if _changes(stays, number, fitted):
            found[number] = fitted
    return found


def _taken(stays: DealtStays) -> dict[Key, list[tuple[int, int, int]]]:
    """Return first day, the day after the last and tray of what stands in each position."""
    taken: dict[Key, list[tuple[int, int, int]]] = {}
    columns = (stays.shelf, stays.level, stays.slot, stays.begin, stays.end, stays.tray)
    for shelf, level, slot, begin, end, tray in zip(*(column.tolist() for column in columns), strict=True):
        if shelf >= 0:
            taken.setdefault((shelf, level, slot), []).append((begin, end, tray))
    return taken


def _fit(
    stays: DealtStays, taken: dict[Key, list[tuple[int, int, int]]], tray: int, stay: Follows, today: int
) -> Follows:
    """Return a stay on the days on which its position is free; it waits where that is never so, or not today."""
    if stay.before < 0 or stays.shelf[stay.before] < 0:
        return stay._replace(before=-1)
    at = stay.before
    there = taken[int(stays.shelf[at]), int(stays.level[at]), int(stays.slot[at])]
    begin, end = _between(stay.begin, stay.end, [(one, other) for one, other, owner in there if owner != tray])
    if begin >= end or (stay.begin <= today < stay.end and not begin <= today < end):
        return stay._replace(before=-1)
    # The next tray of this entry finds it where it will be.
    there[:] = [one for one in there if one[2] != tray]
    there.append((begin, end, tray))
    return stay._replace(begin=begin, end=end)


def _between(begin: int, end: int, others: Iterable[tuple[int, int]]) -> tuple[int, int]:
    """Return the first free stretch of an interval beside others."""
    for one, other in sorted(others):
        if other <= begin:
            continue
        if one > begin:
            return begin, min(end, one)
        begin = other
    return begin, end


def _changes(stays: DealtStays, tray: int, after: tuple[Follows, ...]) -> bool:
    mine = np.flatnonzero(stays.tray == tray)
    had = {(int(stays.place[n]), int(n), int(stays.begin[n]), int(stays.end[n])) for n in mine}
    waits = {(place, -1 if stays.shelf[n] < 0 else n, begin, end) for place, n, begin, end in had}
    return waits != set(after)
