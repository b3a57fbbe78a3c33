"""The shelf ledger: trays standing in each place on the fullest day of each week."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import DAYS_IN_WEEK, Days, week_number
from app.core.words import PLACES

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

# Blocks stay in the processor's cache; asking the system for large arrays costs more than filling them.
_BLOCK = 8192


@dataclass(frozen=True, kw_only=True)
class Ledger:
    """Positions needed and there are, week by week, from the first to the last week in use.

    Attributes:
        first_week: Running number of the first week (`core.calendar.week_number`).
        needed: Trays on the fullest day of the week; row 0 is the first week, columns are the places
            heat, lamp, window, hardening. Shape (n_weeks, 4). [1]
        positions: Positions of each place. Shape (4,). [1]
    """

    first_week: int
    needed: Ints
    positions: Ints

    @cached_property
    def free(self) -> Ints:
        """Positions left, negative when over-full. Shape (n_weeks, 4). [1]"""
        return self.positions - self.needed

    @property
    def weeks(self) -> range:
        """The running numbers of the weeks."""
        return range(self.first_week, self.first_week + len(self.needed))


def count_trays(place: Ints, begin: Days, end: Days, trays: Ints, positions: Ints) -> Ledger:
    """Return the ledger of trays that stand in places over half-open intervals of days.

    Args:
        place: Index of the place of each stay. Shape (n_stays,).
        begin: First day. Shape (n_stays,). [day number]
        end: The day after the last; a stay that does not end after it begins counts nowhere.
            Shape (n_stays,). [day number]
        trays: Trays of each stay. Shape (n_stays,). [1]
        positions: Positions of each place. Shape (4,). [1]
    """
    first_week, standing = count_by_day(place, begin, end, trays, n_kinds=len(PLACES))
    needed = standing.reshape(len(PLACES), -1, DAYS_IN_WEEK).max(axis=2)
    return Ledger(first_week=first_week, needed=needed.T.astype(np.int64), positions=positions)


def over_same_weeks(one: Ledger, other: Ledger) -> tuple[Ledger, Ledger]:
    """Return two ledgers over the same weeks, from the first to the last week in use in either."""
    used = [ledger for ledger in (one, other) if len(ledger.needed)]
    if not used:
        return one, other
    first, end = min(ledger.weeks.start for ledger in used), max(ledger.weeks.stop for ledger in used)
    return _stretched(one, first, end), _stretched(other, first, end)


def _stretched(ledger: Ledger, first: int, end: int) -> Ledger:
    needed = np.zeros((end - first, len(PLACES)), dtype=np.int64)
    if len(ledger.needed):
        needed[ledger.first_week - first : ledger.first_week - first + len(ledger.needed)] = ledger.needed
    return Ledger(first_week=first, needed=needed, positions=ledger.positions)


def count_by_day(kind: Ints, begin: Days, end: Days, count: Ints, *, n_kinds: int) -> tuple[int, Floats]:
    """Return how much of each kind there is on each day, in whole weeks from the first to the last in use.

    Args:
        kind: Index of what is counted, such as the place, for each stay. Shape (n_stays,).
        begin: First day. Shape (n_stays,). [day number]
        end: The day after the last, as for `count_trays`. Shape (n_stays,). [day number]
        count: How much stays. Shape (n_stays,). [1]
        n_kinds: How many kinds there are. [1]

    Returns:
        The running number of the first week as an index, and the counts: row 0 is the first kind, column 0 the
        Monday of the first week. Shape (n_kinds, 7 n_weeks). [1]
    """
    counts = (end > begin) & (count > 0)
    if not counts.all():
        kind, begin, end, count = kind[counts], begin[counts], end[counts], count[counts]
    if not len(kind):
        return 0, np.zeros((n_kinds, 0))
    first_week, last_week = int(week_number(begin.min())), int(week_number(end.max() - 1))
    first_day = first_week * DAYS_IN_WEEK + 1
    row = (last_week - first_week + 1) * DAYS_IN_WEEK + 1  # one day more, where the last stays end
    size = row * n_kinds
    change = np.zeros(size)
    for block in range(0, len(kind), _BLOCK):
        part = slice(block, block + _BLOCK)
        offset, weights = kind[part] * row - first_day, count[part].astype(np.float64)
        change += np.bincount(offset + begin[part], weights=weights, minlength=size)
        change -= np.bincount(offset + end[part], weights=weights, minlength=size)
    return first_week, change.reshape(n_kinds, row).cumsum(axis=1)[:, :-1]
