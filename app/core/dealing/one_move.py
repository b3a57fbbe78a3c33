"""One sowing moved by hand: the days it may get, and what becomes of the over-full weeks."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import groupby

import numpy as np

from app.core.calendar import DAYS_IN_WEEK, NO_DAY, next_weekday
from app.core.cards import Garden, Sowings
from app.core.plan import NO_PLACE, Plan, make_plan
from app.core.space.ledger import Ledger
from app.core.words import PLACES

_ALL = -1


@dataclass(frozen=True, kw_only=True)
class SowingDays:
    """When a sowing may be sown, if it stands in some light place.

    Attributes:
        light: Index of the light place.
        first: First day of its window. [day number]
        last: Last day of its window. [day number]
        best: Its best day. [day number]
        usual: The day it gets where none is set for it. [day number]
        days: The garden's sowing days in the window; the best day where it holds none. [day numbers]
    """

    light: int
    first: int
    last: int
    best: int
    usual: int
    days: tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class Wish:
    """What a sowing is to get.

    Attributes:
        day: Sowing day. [day number]
        light: Index of the light place.
        plants: Plants that are given room. [1]
    """

    day: int
    light: int
    plants: int


@dataclass(frozen=True, kw_only=True)
class Columns:
    """The same as the columns of the garden's sowings say it.

    Attributes:
        sow_on: The day set; 0 for none. [day number]
        light: Index of the place in place of the card's light; -1 for none.
        placed: Plants granted; -1 where all are. [1]
    """

    sow_on: int
    light: int
    placed: int


def find_days(garden: Garden, sowing: int, light: int = NO_PLACE) -> SowingDays:
    """Return when a sowing may be sown that is not sown yet.

    Args:
        garden: The garden.
        sowing: Index of the sowing, of a crop that starts in a container.
        light: Index of the light place; -1 for that of the crop card.
    """
    alone = garden.only_with(_alone(garden.sowings, sowing, light))
    plan = make_plan(alone)
    times = plan.timeline
    first, last, best, usual = (int(days[0]) for days in (times.sow_from, times.sow_by, times.sow_best, times.sow_on))
    begin = int(next_weekday(times.sow_from, garden.settings.sowing_weekday)[0])
    return SowingDays(
        light=int(plan.light_place[0]),
        first=first,
        last=last,
        best=best,
        usual=usual,
        days=tuple(range(begin, last + 1, DAYS_IN_WEEK)) or (best,),
    )


def _alone(sowings: Sowings, sowing: int, light: int) -> Sowings:
    """Return the columns of one sowing without a day set for it."""
    columns = {
        name: column[[sowing]] if isinstance(column, np.ndarray) else column[sowing : sowing + 1]
        for name, column in vars(sowings).items()
    }
    return Sowings(**columns | {"sow_on": np.array([NO_DAY]), "light": np.array([light])})


def columns_of(plan: Plan, sowing: int, wish: Wish) -> Columns:
    """Return what is to be written for a wish; what the sowing has already is left as it is written.

    A day that it would get anyway is not set, so that it goes along when the frost dates change.
    """
    sowings = plan.garden.sowings
    usual_light = find_days(plan.garden, sowing).light
    stays_in_light, stays = wish.light == plan.light_place[sowing], wish.day == plan.timeline.sow_on[sowing]
    light = int(sowings.light[sowing]) if stays_in_light else NO_PLACE if wish.light == usual_light else wish.light
    placed = int(sowings.placed[sowing])
    if wish.plants != plan.plants[sowing]:
        placed = _ALL if wish.plants == sowings.plants[sowing] else wish.plants
    sow_on = int(sowings.sow_on[sowing])
    if not (stays and stays_in_light):
        sow_on = NO_DAY if wish.day == find_days(plan.garden, sowing, light).usual else wish.day
    return Columns(sow_on=sow_on, light=light, placed=placed)


def with_columns(garden: Garden, sowing: int, columns: Columns) -> Garden:
    """Return a garden in which one sowing has other columns."""
    changed = {}
    for name, value in vars(columns).items():
        changed[name] = getattr(garden.sowings, name).copy()
        changed[name][sowing] = value
    return replace(garden, sowings=replace(garden.sowings, **changed))


class Becomes(StrEnum):
    """What becomes of weeks in which a place is over-full."""

    GONE = "gone"
    LESS = "less"
    MORE = "more"
    NEW = "new"


@dataclass(frozen=True, kw_only=True)
class OverFull:
    """Weeks in a row in which a place is over-full before or after, and what becomes of them.

    Attributes:
        place: Index of the place.
        becomes: What becomes of them.
        weeks: Running numbers of the weeks, one after the other.
        over: Trays beyond the positions in the fullest of these weeks, before and after. [1]
    """

    place: int
    becomes: Becomes
    weeks: tuple[int, ...]
    over: tuple[int, int]


def over_full_changes(before: Ledger, after: Ledger) -> tuple[OverFull, ...]:
    """Return what changes in the over-full weeks from one ledger to another of the same weeks, place by place."""
    return tuple(change for place in range(len(PLACES)) for change in _changes_of(place, before, after))


def _changes_of(place: int, before: Ledger, after: Ledger) -> Iterator[OverFull]:
    over = [(-ledger.free[:, place]).clip(min=0).tolist() for ledger in (before, after)]
    kinds = [_becomes(*pair) for pair in zip(*over, strict=True)]
    for kind, rows in groupby(range(len(kinds)), key=lambda row: kinds[row]):
        if kind is not None:
            stretch = list(rows)
            yield OverFull(
                place=place,
                becomes=kind,
                weeks=tuple(before.weeks[row] for row in stretch),
                over=(max(over[0][row] for row in stretch), max(over[1][row] for row in stretch)),
            )


def _becomes(before: int, after: int) -> Becomes | None:
    if before == after:
        return None
    if not after:
        return Becomes.GONE
    if not before:
        return Becomes.NEW
    return Becomes.LESS if after < before else Becomes.MORE
