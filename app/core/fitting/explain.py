"""Why a levelling changes what it does: the full places, who is left out and what else would do, everyone's share."""

from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import DAYS_IN_WEEK, Days
from app.core.fitting.answer import Answer
from app.core.fitting.fullness import Crowded, Presence, Use, presence_of, use_of
from app.core.fitting.rest import crowded_weeks, nearest_fit, rest_of
from app.core.plan import NO_PLACE, Plan
from app.core.space.ledger import Ledger, over_same_weeks
from app.core.words import PLACES

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]


class Why(StrEnum):
    """Why a sowing is changed; the first that holds, in this order.

    FULL: it leaves place and weeks that were over-full. ROOM: it leaves place and weeks that are full of others now.
    MORE: there is room for more of its plants than it was granted. NEARER: it comes nearer to its best day.
    TRAYS: it fills up trays of others. SAME: what is set for it changes, but neither day, place nor plants do.
    """

    FULL = "full"
    ROOM = "room"
    MORE = "more"
    NEARER = "nearer"
    TRAYS = "trays"
    SAME = "same"


@dataclass(frozen=True, kw_only=True)
class FullWeeks:
    """Weeks in which a place is full or over-full.

    Attributes:
        place: Index of the place.
        weeks: Running numbers of the weeks (`core.calendar.week_number`), rising.
        over: Trays beyond its positions in the fullest of these weeks; 0 where it is full and no more, negative where
            some positions are free, but too few. [1]
    """

    place: int
    weeks: tuple[int, ...]
    over: int


@dataclass(frozen=True, kw_only=True)
class Change:
    """A sowing for which something else is to be written; pairs are before and after.

    Attributes:
        sowing: Index of the sowing.
        day: Sowing day. [day number]
        light: Index of the light place.
        off: Days from its best day, negative for earlier. [d]
        wanted: Plants wanted. [1]
        placed: Plants that are given room. [1]
        why: Why it is changed.
        full: The place and weeks of which `why` speaks: of the plan as it was for FULL and TRAYS, of the new one for
            ROOM, else none.
    """

    sowing: int
    day: tuple[int, int]
    light: tuple[int, int]
    off: tuple[int, int]
    wanted: int
    placed: tuple[int, int]
    why: Why
    full: tuple[FullWeeks, ...]


@dataclass(frozen=True, kw_only=True)
class Alternative:
    """Sowing and planting out moved together by whole weeks, so that the plants left out fit in trays of their own.

    Attributes:
        weeks: Weeks by which it is later, negative for earlier; 0 where there is room at its own dates. [weeks]
        sow_on: Sowing day then. [day number]
        plant_out: Day of planting out then. [day number]
        is_early: Whether that is before the first day outside by the frost dates.
    """

    weeks: int
    sow_on: int
    plant_out: int
    is_early: bool


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """A sowing of which not all plants, or none, find room in the new plan.

    Attributes:
        sowing: Index of the sowing.
        wanted: Plants wanted. [1]
        placed: Plants placed. [1]
        full: Place and weeks of the new plan, at the sowing's dates there, in which trays for the rest have no room.
        alternative: The nearest later weeks that do, else the nearest earlier ones; None where there are none. It is
            found for each sowing as if it alone were moved.
    """

    sowing: int
    wanted: int
    placed: int
    full: tuple[FullWeeks, ...]
    alternative: Alternative | None


@dataclass(frozen=True, kw_only=True)
class GrowerShare:
    """What a grower gets of the plants that need room on the shelves.

    Attributes:
        grower: Index of the grower.
        wanted: Plants wanted of sowings that are started indoors. [1]
        placed: Of these, plants that are given room, before and after. [1]
    """

    grower: int
    wanted: int
    placed: tuple[int, int]

    @property
    def share(self) -> tuple[float, float]:
        """The share that is given room, before and after. [fraction]"""
        return self.placed[0] / self.wanted, self.placed[1] / self.wanted


@dataclass(frozen=True, kw_only=True)
class Explained:
    """An answer explained.

    Attributes:
        changes: Every sowing that is changed, in the order of the sowings.
        left_out: Every sowing that levelling leaves out wholly or in part, in the order of the sowings.
        shares: Every grower with sowings that need room on the shelves, in the order of the growers.
        before: The ledger as it was.
        after: The ledger then, over the same weeks.
    """

    changes: tuple[Change, ...]
    left_out: tuple[LeftOut, ...]
    shares: tuple[GrowerShare, ...]
    before: Ledger
    after: Ledger


def explain(answer: Answer) -> Explained:
    """Return what an answer changes and why."""
    before, after = answer.before, answer.after
    use_before, use_after = use_of(before), use_of(after)
    ledger_before, ledger_after = over_same_weeks(before.ledger, after.ledger)
    return Explained(
        changes=_changes(answer, use_before, use_after),
        left_out=_left_out(after, use_after),
        shares=_shares(before, after),
        before=ledger_before,
        after=ledger_after,
    )


@dataclass(frozen=True)
class _Pieces:
    """Stretches of days of sowings in the places, each sowing up to two in a place; all of shape (n, 4, 2)."""

    begin: Days
    end: Days


@dataclass(frozen=True)
class _Met:
    """The crowded weeks that stretches meet: first and end index into the weeks of each place; shape (n, 4, 2)."""

    crowded: Crowded
    use: Use
    low: Ints
    high: Ints
    known: dict[bytes, tuple[FullWeeks, ...]] = field(default_factory=dict)

    @property
    def is_any(self) -> Flags:
        """Whether a sowing meets any. Shape (n,)."""
        found: Flags = np.logical_or.reduce(self.high > self.low, axis=(1, 2))
        return found

    def weeks(self, row: int) -> tuple[FullWeeks, ...]:
        """Return those that a sowing meets, place by place; many meet the same."""
        low, high = self.low[row], self.high[row]
        key = low.tobytes() + high.tobytes()
        if key not in self.known:
            met = [
                set().union(*(self.crowded.weeks[place][slice(*ends)] for ends in zip(*ranges, strict=True)))
                for place, ranges in enumerate(zip(low.tolist(), high.tolist(), strict=True))
            ]
            self.known[key] = tuple(_full_weeks(self.use, place, weeks) for place, weeks in enumerate(met) if weeks)
        return self.known[key]


def _full_weeks(use: Use, place: int, weeks: set[int]) -> FullWeeks:
    rising = sorted(weeks)
    over = use.over_by_week[place, np.array(rising) - use.first_week]
    return FullWeeks(place=place, weeks=tuple(rising), over=int(over.max()))


def _meet(pieces: _Pieces, use: Use, trays: int) -> _Met:
    crowded = Crowded(use, trays)
    place = np.broadcast_to(np.arange(len(PLACES))[None, :, None], pieces.begin.shape)
    low, high = crowded.ranges(place.ravel(), pieces.begin.ravel(), pieces.end.ravel())
    return _Met(crowded, use, low.reshape(place.shape), high.reshape(place.shape))


def _stood(old: Presence) -> _Pieces:
    """Return all days on which sowings stood in the places."""
    none = np.zeros_like(old.begin)
    return _Pieces(np.stack([old.begin, none], axis=2), np.stack([old.end, none], axis=2))


def _left(old: Presence, new: Presence) -> _Pieces:
    """Return the days on which sowings stood in places in which they do not stand any more: before, and after."""
    is_apart = (new.end <= old.begin) | (new.begin >= old.end) | (new.end == 0)
    first_end = np.where(is_apart, old.end, np.maximum(new.begin, old.begin))
    second_begin = np.where(is_apart, old.end, np.minimum(new.end, old.end))
    return _Pieces(np.stack([old.begin, second_begin], axis=2), np.stack([first_end, old.end], axis=2))


def _changes(answer: Answer, use_before: Use, use_after: Use) -> tuple[Change, ...]:
    before, after = answer.before, answer.after
    sowing = np.flatnonzero(answer.choices.is_changed(answer.garden))
    day, light, placed = (
        np.column_stack([one[sowing], other[sowing]])
        for one, other in (
            (before.timeline.sow_on, after.timeline.sow_on),
            (before.light_place, after.light_place),
            (before.plants, after.plants),
        )
    )
    off = day - np.column_stack([plan.timeline.sow_best[sowing] for plan in (before, after)])
    old, new = presence_of(before).of(sowing), presence_of(after).of(sowing)
    stood, left = _stood(old), _left(old, new)
    over, full = _meet(left, use_before, 0), _meet(left, use_after, 1)
    stood_over, stood_full = _meet(stood, use_before, 0), _meet(stood, use_after, 1)
    is_less = placed[:, 1] < placed[:, 0]
    is_same = (day[:, 0] == day[:, 1]) & (light[:, 0] == light[:, 1]) & (placed[:, 0] == placed[:, 1])
    reasons: list[tuple[Flags, Why, _Met | None]] = [
        (is_same, Why.SAME, None),
        (over.is_any, Why.FULL, over),
        (full.is_any, Why.ROOM, full),
        (is_less & stood_over.is_any, Why.FULL, stood_over),
        (is_less & stood_full.is_any, Why.ROOM, stood_full),
        (placed[:, 1] > placed[:, 0], Why.MORE, None),
        (np.abs(off[:, 1]) < np.abs(off[:, 0]), Why.NEARER, None),
        (np.ones(len(sowing), dtype=bool), Why.TRAYS, stood_over),
    ]
    which = np.stack([holds for holds, _, _ in reasons]).argmax(axis=0).tolist()
    wanted = answer.garden.sowings.plants[sowing].tolist()
    columns = zip(*(pair.tolist() for pair in (sowing, day, light, placed, off)), wanted, which, strict=True)
    return tuple(
        Change(
            sowing=index,
            day=(days[0], days[1]),
            light=(lights[0], lights[1]),
            off=(offs[0], offs[1]),
            wanted=wish,
            placed=(plants[0], plants[1]),
            why=reasons[reason][1],
            full=() if (met := reasons[reason][2]) is None else met.weeks(row),
        )
        for row, (index, days, lights, plants, offs, wish, reason) in enumerate(columns)
    )


def _left_out(after: Plan, use: Use) -> tuple[LeftOut, ...]:
    rest = rest_of(after)
    shift = nearest_fit(rest, after, use)
    weeks = crowded_weeks(rest, use)
    return tuple(
        LeftOut(
            sowing=index,
            wanted=int(after.garden.sowings.plants[index]),
            placed=int(after.plants[index]),
            full=tuple(_full_weeks(use, place, weeks[row][place]) for place in sorted(weeks[row])),
            alternative=_alternative(after, index, int(shift.weeks[row])) if shift.is_found[row] else None,
        )
        for row, index in enumerate(rest.sowing.tolist())
    )


def _alternative(plan: Plan, sowing: int, weeks: int) -> Alternative:
    days = weeks * DAYS_IN_WEEK
    plant_out = int(plan.timeline.plant_out[sowing]) + days
    return Alternative(
        weeks=weeks,
        sow_on=int(plan.timeline.sow_on[sowing]) + days,
        plant_out=plant_out,
        is_early=plant_out < int(plan.start[sowing]),
    )


def _shares(before: Plan, after: Plan) -> tuple[GrowerShare, ...]:
    sowings, n = before.garden.sowings, len(before.garden.growers)
    needs_room = (before.light_place != NO_PLACE) & ~before.is_too_late
    wanted, was, will_be = (
        np.bincount(sowings.grower[needs_room], plants[needs_room], minlength=n).astype(int).tolist()
        for plants in (sowings.plants, before.plants, after.plants)
    )
    return tuple(
        GrowerShare(grower=grower, wanted=wanted[grower], placed=(was[grower], will_be[grower]))
        for grower in range(n)
        if wanted[grower]
    )
