"""What a deal changes: which trays are new, hold others, stand elsewhere or at other times, or are emptied."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from app.core.dealing.deal import Deal, changed_contents, filled_on
from app.core.dealing.placing import DealtStays, stays_to_place
from app.core.dealing.positions import Position
from app.core.plan import Plan
from app.core.space.dealt import NOT_DEALT

Ints = NDArray[np.int64]

# Index of a sowing, and its cells.
Part = tuple[int, int]


class StayOfTray(NamedTuple):
    """A tray's stretch in a place; without a position it waits. Days are day numbers, `end` the day after the last."""

    place: int
    position: Position | None
    begin: int
    end: int
    is_pinned: bool


@dataclass(frozen=True, kw_only=True)
class Changes:
    """What a deal changes. Trays are indices into its trays, by the day they are filled and their number.

    Attributes:
        new: Trays that were not dealt before.
        other: Trays that get other contents.
        moved: Trays with the contents they had that get another position, other days, or lose a pin.
        same: Trays that stay as they are.
        waiting: Index of each stay of the deal for which there is no position, by day and number.
    """

    new: tuple[int, ...]
    other: tuple[int, ...]
    moved: tuple[int, ...]
    same: tuple[int, ...]
    waiting: tuple[int, ...]


def list_changes(plan: Plan, stays: DealtStays, deal: Deal) -> Changes:
    """Return what a deal changes.

    Args:
        plan: The plan that it is made from.
        stays: Where the dealt trays stand.
        deal: What would be stored.
    """
    before, after = stays_of_dealt(stays), stays_of_deal(deal)
    dealt = plan.garden.dealt
    found: dict[str, list[int]] = {"new": [], "other": [], "moved": [], "same": []}
    for row in np.lexsort((deal.number, deal.filled)).tolist():
        stored = int(deal.stored[row])
        if stored == NOT_DEALT:
            kind = "new"
        elif deal.is_changed[row]:
            kind = "other"
        else:
            is_same = before.get(stored, ()) == after.get(row, ()) and dealt.filled[stored] == deal.filled[row]
            kind = "same" if is_same else "moved"
        found[kind].append(row)
    waits = np.array([position is None for position in deal.stay_position], dtype=bool)
    order = np.lexsort((deal.number[deal.stay_tray], deal.stay_begin))
    return Changes(waiting=tuple(order[waits[order]].tolist()), **{name: tuple(trays) for name, trays in found.items()})


def count_outdated(plan: Plan, stays: DealtStays, *, first: int, end: int, today: int) -> int:
    """Return how many trays come, go or stand otherwise in some days than they were dealt, or are not dealt yet.

    Which position they would get is left out: that takes a deal.

    Args:
        plan: The plan.
        stays: Where the dealt trays stand.
        first: First of the days. [day number]
        end: The day after the last. [day number]
        today: What has happened by today stays as it is. [day number]
    """
    trays, dealt = plan.trays, plan.garden.dealt
    tray, place, begins, ends, _ = stays_to_place(plan, stays, np.ones(len(trays.group), dtype=bool), today)
    # Trays that are not dealt are told apart by numbers beyond those that are.
    key = np.where(trays.stored == NOT_DEALT, len(dealt) + np.arange(len(trays.group)), trays.stored)
    planned, stored = (
        {row for row in zip(*(column.tolist() for column in columns), strict=True) if row[2] < end and row[3] >= first}
        for columns in ((key[tray], place, begins, ends), (stays.tray, stays.place, stays.begin, stays.end))
    )
    other = key[changed_contents(plan) & (filled_on(plan) < end)]
    there = {row[0] for row in planned | stored}
    return len({row[0] for row in planned ^ stored} | (there & set(other.tolist())))


def stays_of_deal(deal: Deal) -> dict[int, tuple[StayOfTray, ...]]:
    """Return the stays of each tray of a deal by day; trays without any are left out."""
    columns = (deal.stay_begin, deal.stay_end, deal.stay_is_pinned)
    rows = zip(deal.stay_place.tolist(), deal.stay_position, *(column.tolist() for column in columns), strict=True)
    return _by_tray(deal.stay_tray, map(StayOfTray._make, rows))


def stays_of_dealt(stays: DealtStays) -> dict[int, tuple[StayOfTray, ...]]:
    """Return the stays of each dealt tray by day; trays without any are left out."""
    positions = (
        None if shelf < 0 else Position(shelf, level, slot)
        for shelf, level, slot in zip(stays.shelf.tolist(), stays.level.tolist(), stays.slot.tolist(), strict=True)
    )
    columns = (stays.begin, stays.end, stays.is_pinned)
    rows = zip(stays.place.tolist(), positions, *(column.tolist() for column in columns), strict=True)
    return _by_tray(stays.tray, map(StayOfTray._make, rows))


def _by_tray(trays: Ints, stays: Iterable[StayOfTray]) -> dict[int, tuple[StayOfTray, ...]]:
    found: dict[int, list[StayOfTray]] = {}
    for tray, stay in zip(trays.tolist(), stays, strict=True):
        found.setdefault(tray, []).append(stay)
    return {tray: tuple(sorted(own, key=lambda stay: stay.begin)) for tray, own in found.items()}


def parts_of_trays(tray: Ints, lot: Ints, cells: Ints, wanted: Ints) -> dict[int, tuple[Part, ...]]:
    """Return what is in each of some trays, by sowing; trays with nothing in them are left out.

    Args:
        tray: Index of the tray of each part. Shape (n_parts,).
        lot: Index of its sowing. Shape (n_parts,).
        cells: Its cells. Shape (n_parts,). [1]
        wanted: Indices of the trays. Shape (n_wanted,).
    """
    mine = np.flatnonzero(np.isin(tray, wanted))
    rows = sorted(zip(tray[mine].tolist(), lot[mine].tolist(), cells[mine].tolist(), strict=True))
    return {
        number: tuple((lot, cells) for _, lot, cells in parts) for number, parts in groupby(rows, key=itemgetter(0))
    }


def come_and_go(before: Iterable[Part], after: Iterable[Part]) -> tuple[tuple[Part, ...], tuple[Part, ...]]:
    """Return the sowings that get more cells in a tray, with how many more, and those that get fewer."""
    had, has = Counter(dict(before)), Counter(dict(after))
    return tuple(sorted((has - had).items())), tuple(sorted((had - has).items()))
