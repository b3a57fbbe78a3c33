"""What the log comes to for each sowing: on which days it went on, and how many cells and plants there are."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY, Days
from app.core.log.entries import (
    CAUSES,
    HANDED_OUT,
    HARDENED,
    LOST,
    NO_CAUSE,
    PLANTED_OUT,
    POTTED_ON,
    SOWN,
    THINNED,
    UP,
    Log,
)
from app.core.words import Cause

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

# Lost to one of these, or to nothing known, a cell may have had bad seed. Every other cause is of the bench.
_UNKNOWN = (NO_CAUSE, CAUSES.index(Cause.UNKNOWN))


@dataclass(frozen=True, kw_only=True)
class Logged:
    """What is written down of each sowing; all of shape (n_sowings,), days are 0 where there is none.

    Whichever way the entries came in, they come to the same.

    Attributes:
        sown_on: The first day on which it was sown. [day number]
        up_on: The first day on which seedlings were seen. [day number]
        thinned_on: The last day on which it was thinned. [day number]
        potted_on: The first day on which it was potted on. [day number]
        hardened_on: The first day on which its hardening was ticked off. [day number]
        left_on: The last day on which plants were lost, handed out or planted out. [day number]
        sown: Cells sown. [1]
        seeds: Seeds sown; 0 where that was not written down. [1]
        up: Cells with a seedling, as many as were ever seen at once. [1]
        potted: Plants potted on. [1]
        lost: Plants lost; before anything came up, cells that were given up. [1]
        lost_since: Of these, plants lost since they were counted last: as they were potted on, or else came up. [1]
        left_since: Plants handed out or planted out since they were potted on first; all, where none was. [1]
        seen_since: Cells with a seedling that were counted after the last day on which any was lost or left. [1]
        spoiled: Cells lost before anything came up, to a cause that says nothing of the seed. [1]
        handed_out: Plants handed out. [1]
        planted_out: Plants planted out. [1]
    """

    sown_on: Days
    up_on: Days
    thinned_on: Days
    potted_on: Days
    hardened_on: Days
    left_on: Days
    sown: Ints
    seeds: Ints
    up: Ints
    potted: Ints
    lost: Ints
    lost_since: Ints
    left_since: Ints
    seen_since: Ints
    spoiled: Ints
    handed_out: Ints
    planted_out: Ints

    @cached_property
    def left(self) -> Ints:
        """Plants that left the shelves for the plots: what is planted out was handed out before. [1]"""
        return np.maximum(self.handed_out, self.planted_out)

    def living(self, plants_per_cell: Ints) -> Ints:
        """Return the plants that live and are still here, at least 0. Shape (n_sowings,). [1]

        Args:
            plants_per_cell: Plants that a cell is to hold. Shape (n_sowings,). [1]
        """
        there = np.where(self.potted > 0, self.potted, self.up * plants_per_cell)
        # Others may have come up since the first were lost.
        least = np.where(self.potted > 0, 0, self.seen_since * plants_per_cell)
        living: Ints = np.maximum(least, there - self.lost_since - self.left_since)
        return living

    def is_over(self, plants_per_cell: Ints) -> Flags:
        """Return whether nothing of it is on the shelves any more: all plants left, or were lost, or none came up.

        Args:
            plants_per_cell: Plants that a cell is to hold. Shape (n_sowings,). [1]
        """
        came_up = (self.up > 0) | (self.potted > 0)
        all_left = came_up & (self.living(plants_per_cell) == 0)
        given_up = ~came_up & (self.sown > 0) & (self.lost >= self.sown)
        # Plants that were handed out without a word on how many came up.
        just_left = ~came_up & (self.left > 0)
        is_over: Flags = (all_left | given_up | just_left) & (self.left_on != NO_DAY)
        return is_over


def logged_of(log: Log, n_sowings: int) -> Logged:
    """Return what a log comes to.

    Args:
        log: The entries.
        n_sowings: Sowings of the garden. [1]

    Source:
        What each kind of entry counts is chosen here (docs/method.md).
    """
    potted_on = _first(log, POTTED_ON, n_sowings)
    up_on = _first(log, UP, n_sowings)
    # What was lost before is not among those that were counted then.
    counted_on = np.where(potted_on == NO_DAY, up_on, potted_on)
    lost = log.of(LOST)
    was_up = (up_on[log.sowing[lost]] != NO_DAY) & (log.day[lost] >= up_on[log.sowing[lost]])
    is_spoiled = ~was_up & ~np.isin(log.cause[lost], _UNKNOWN)
    left_on = _last(log, (LOST, HANDED_OUT, PLANTED_OUT), n_sowings)
    is_since = (counted_on[log.sowing[lost]] != NO_DAY) & (log.day[lost] >= counted_on[log.sowing[lost]])
    return Logged(
        sown_on=_first(log, SOWN, n_sowings),
        up_on=up_on,
        thinned_on=_last(log, (THINNED,), n_sowings),
        potted_on=potted_on,
        hardened_on=_first(log, HARDENED, n_sowings),
        left_on=left_on,
        sown=_sum(log, log.of(SOWN), n_sowings),
        seeds=_sum(log, log.of(SOWN), n_sowings, seeds=True),
        up=_most_up(log, log.of(UP), n_sowings),
        potted=_sum(log, log.of(POTTED_ON), n_sowings),
        lost=_sum(log, lost, n_sowings),
        lost_since=_sum(log, lost[is_since], n_sowings),
        left_since=_left_since(log, potted_on, n_sowings),
        seen_since=_most_up(log, _after(log, UP, left_on), n_sowings),
        spoiled=_sum(log, lost[is_spoiled], n_sowings),
        handed_out=_sum(log, log.of(HANDED_OUT), n_sowings),
        planted_out=_sum(log, log.of(PLANTED_OUT), n_sowings),
    )


def _first(log: Log, kind: int, n: int) -> Days:
    mine = log.of(kind)
    first = np.full(n, np.iinfo(np.int64).max)
    np.minimum.at(first, log.sowing[mine], log.day[mine])
    return np.where(first == np.iinfo(np.int64).max, NO_DAY, first)


def _last(log: Log, kinds: tuple[int, ...], n: int) -> Days:
    last = np.full(n, NO_DAY, dtype=np.int64)
    for kind in kinds:
        mine = log.of(kind)
        np.maximum.at(last, log.sowing[mine], log.day[mine])
    return last


def _sum(log: Log, entries: Ints, n: int, *, seeds: bool = False) -> Ints:
    weights = (log.seeds if seeds else log.count)[entries]
    return np.bincount(log.sowing[entries], weights=weights, minlength=n).astype(np.int64)


def _after(log: Log, kind: int, day: Days) -> Ints:
    """Return the indices of the entries of a kind that hold and are later than a day of their sowing."""
    mine = log.of(kind)
    return mine[log.day[mine] > day[log.sowing[mine]]]


def _left_since(log: Log, potted_on: Days, n: int) -> Ints:
    """Return the plants that left since they were potted on; those that left before were not among them."""
    handed, planted = log.of(HANDED_OUT), log.of(PLANTED_OUT)
    left = np.maximum(_sum(log, handed, n), _sum(log, planted, n))
    before = (which[log.day[which] < potted_on[log.sowing[which]]] for which in (handed, planted))
    since: Ints = left - np.maximum(*(_sum(log, which, n) for which in before))
    return since


def _most_up(log: Log, mine: Ints, n: int) -> Ints:
    """Return the most cells with a seedling: people count anew, tray by tray or the whole sowing at once."""
    sowing, tray, count = log.sowing[mine], log.tray[mine], log.count[mine]
    whole = np.zeros(n, dtype=np.int64)
    np.maximum.at(whole, sowing[tray == 0], count[tray == 0])
    of_trays, which = np.unique(np.column_stack([sowing, tray])[tray != 0], axis=0, return_inverse=True)
    most = np.zeros(len(of_trays), dtype=np.int64)
    np.maximum.at(most, which.ravel(), count[tray != 0])
    by_tray = np.bincount(of_trays[:, 0], weights=most, minlength=n).astype(np.int64)
    return np.maximum(whole, by_tray)
