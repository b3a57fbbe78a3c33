"""When places are full, and when the trays of a sowing stand in them."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import DAYS_IN_WEEK, NO_DAY, Days, week_number
from app.core.plan import Plan
from app.core.space.ledger import count_by_day
from app.core.words import PLACES

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Presence:
    """From when to when the trays of sowings stand in each place; columns are the places.

    Attributes:
        begin: First day; 0 where they never stand there. Shape (n, 4). [day number]
        end: The day after the last; 0 where they never stand there. Shape (n, 4). [day number]
    """

    begin: Days
    end: Days

    def of(self, sowings: Ints) -> "Presence":
        """Return some rows."""
        return Presence(begin=self.begin[sowings], end=self.end[sowings])


def presence_of(plan: Plan) -> Presence:
    """Return when the trays of each sowing of a plan stand in each place."""
    n, stays = len(plan.garden.sowings), plan.stays
    n_groups = int(max(plan.trays.group.max(initial=-1), stays.group.max(initial=-1))) + 1
    of_part = plan.trays.part_lot * n_groups + plan.trays.group[plan.trays.part_tray]
    lot, group = np.divmod(np.unique(of_part), max(n_groups, 1))
    order = np.argsort(stays.group, kind="stable")
    first = np.searchsorted(stays.group[order], np.arange(n_groups + 1))
    counts = (first[1:] - first[:-1])[group]
    which = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    stay = order[np.repeat(first[group], counts) + which]
    at = (np.repeat(lot, counts), stays.place[stay])
    begin = np.full((n, len(PLACES)), np.iinfo(np.int64).max)
    end = np.zeros((n, len(PLACES)), dtype=np.int64)
    np.minimum.at(begin, at, stays.begin[stay])
    np.maximum.at(end, at, stays.end[stay])
    return Presence(begin=np.where(end == 0, 0, begin), end=end)


@dataclass(frozen=True, kw_only=True)
class Use:
    """Trays in each place day by day, in whole weeks; rows are the places.

    Attributes:
        first_week: Running number of the first week.
        standing: Trays; column 0 is its Monday. Shape (4, 7 n_weeks). [1]
        positions: Positions of each place. Shape (4,). [1]
    """

    first_week: int
    standing: Ints
    positions: Ints

    @property
    def first_day(self) -> int:
        """The Monday of the first week. [day number]"""
        return self.first_week * DAYS_IN_WEEK + 1

    @cached_property
    def over_by_week(self) -> Ints:
        """Trays beyond the positions on the fullest day of each week, negative where some are free. Shape (4, n_weeks).

        [1]
        """
        fullest: Ints = self.standing.reshape(len(PLACES), -1, DAYS_IN_WEEK).max(axis=2)
        return fullest - self.positions[:, None]

    @cached_property
    def _steps(self) -> list[Ints]:
        """The most trays of the 1, 2, 4, ... days that begin with each day."""
        steps, width = [self.standing], 1
        while 2 * width <= self.standing.shape[1]:
            last = steps[-1]
            steps.append(np.maximum(last, np.pad(last[:, width:], ((0, 0), (0, width)))))
            width *= 2
        return steps

    def most(self, place: Ints, begin: Days, end: Days) -> Ints:
        """Return the most trays that stand in a place on any day from `begin` to before `end`.

        Args:
            place: Index of the place. Shape (m,).
            begin: First day. Shape (m,). [day number]
            end: The day after the last. Shape (m,). [day number]
        """
        n = self.standing.shape[1]
        low, high = (np.clip(days - self.first_day, 0, n) for days in (begin, end))
        found = np.zeros(len(place), dtype=np.int64)
        some = np.flatnonzero(high > low)
        if len(some):
            low, high, row = low[some], high[some], place[some]
            step = np.frexp(high - low)[1] - 1  # the exponent of the largest power of 2 that is no longer
            table = np.stack(self._steps)
            found[some] = np.maximum(table[step, row, low], table[step, row, high - (1 << step)])
        return found


def use_of(plan: Plan) -> Use:
    """Return the trays of a plan in each place day by day, over all dates of its sowings, placed or not."""
    trays, stays, times = plan.trays, plan.stays, plan.timeline
    per_group = np.bincount(trays.group, minlength=int(stays.group.max(initial=-1)) + 1)
    first_week, standing = count_by_day(
        stays.place, stays.begin, stays.end, per_group[stays.group], n_kinds=len(PLACES)
    )
    # What is sown on the day on which it should go out emerges after it.
    days = [days[days != NO_DAY] for days in (times.sow_on, times.harden, times.plant_out)]
    used = np.arange(first_week, first_week + standing.shape[1] // DAYS_IN_WEEK)
    dated = np.concatenate([*map(week_number, days), used])
    if not len(dated):
        return Use(first_week=0, standing=standing.astype(np.int64), positions=plan.ledger.positions)
    first, end = int(dated.min()), int(dated.max()) + 1
    whole = np.zeros((len(PLACES), (end - first) * DAYS_IN_WEEK), dtype=np.int64)
    if len(used):
        at = (first_week - first) * DAYS_IN_WEEK
        whole[:, at : at + standing.shape[1]] = standing
    return Use(first_week=first, standing=whole, positions=plan.ledger.positions)


class Crowded:
    """The days on which places have no room for some trays more, asked for many stretches of days at once."""

    def __init__(self, use: Use, trays: int) -> None:
        """Mark the days on which so many trays more would be too many; 0 marks those that are over-full already."""
        crowded: Flags = use.standing + trays > use.positions[:, None]
        n = crowded.shape[1]
        day = np.arange(n)
        none_after, none_before = np.full((len(PLACES), 1), n), np.full((len(PLACES), 1), -1)
        nearest_after = np.minimum.accumulate(np.where(crowded, day, n)[:, ::-1], axis=1)[:, ::-1]
        self._next = np.concatenate([nearest_after, none_after], axis=1)
        self._last = np.concatenate([none_before, np.maximum.accumulate(np.where(crowded, day, -1), axis=1)], axis=1)
        weeks: Flags = np.logical_or.reduce(crowded.reshape(len(PLACES), -1, DAYS_IN_WEEK), axis=2)
        self._weeks_before = np.concatenate([np.zeros((len(PLACES), 1), dtype=np.int64), weeks.cumsum(axis=1)], axis=1)
        self._first_day = use.first_day
        self.weeks: tuple[list[int], ...] = tuple((np.flatnonzero(row) + use.first_week).tolist() for row in weeks)

    def ranges(self, place: Ints, begin: Days, end: Days) -> tuple[Ints, Ints]:
        """Return which crowded weeks have a crowded day from `begin` to before `end`.

        Args:
            place: Index of the place. Shape (m,).
            begin: First day. Shape (m,). [day number]
            end: The day after the last. Shape (m,). [day number]

        Returns:
            First and end index into `weeks[place]` of each; equal where there is none. Each of shape (m,).
        """
        n = self._next.shape[1] - 1
        low, high = (np.clip(days - self._first_day, 0, n) for days in (begin, end))
        first, last = self._next[place, low], self._last[place, high]
        has = (high > low) & (first < high)
        week = np.where(has, first // DAYS_IN_WEEK, 0), np.where(has, last // DAYS_IN_WEEK + 1, 0)
        return self._weeks_before[place, week[0]], self._weeks_before[place, week[1]]
