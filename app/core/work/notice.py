"""What a week means for each crop in this place, whoever wants it: the dates of a plain sowing of every card."""

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from app.core.calendar import DAYS_IN_WEEK
from app.core.cards import Garden, GrowerCard, Sowings
from app.core.dates.emergence import Soil
from app.core.plan import Plan, Warned, make_plan
from app.core.words import PLACES, Place

NOBODY = GrowerCard(id=0, name="", plot=None)
SOIL = {Warned.BENCH_TOO_COLD: Soil.TOO_COLD, Warned.BENCH_TOO_HOT: Soil.TOO_HOT}


class Turn(StrEnum):
    """Where a week stands in the season of a crop."""

    NOT_YET = "not yet"
    NOW = "now"
    LATE = "late"
    PAST = "past"
    TOO_LONG = "too long here"


@dataclass(frozen=True, kw_only=True)
class Way:
    """One way to grow a crop, started indoors or sown outside, as a week finds it.

    Attributes:
        turn: Where the week stands.
        sow_from: First good day to sow. [day number]
        sow_by: Last good day to sow. [day number]
        last_chance: Last day on which a sowing still ripens. [day number]
        is_last_week: The week holds the last chance of a crop that can be sown in it.
        short_days: Days by which the season is too short; 0 unless it is too long here. [d]
    """

    turn: Turn
    sow_from: int
    sow_by: int
    last_chance: int
    is_last_week: bool
    short_days: int


@dataclass(frozen=True, kw_only=True)
class Indoors(Way):
    """A crop started indoors.

    Attributes:
        first_place: From sowing to emergence.
        light_place: From emergence on.
        emerge_days: From sowing to emergence, when the cover comes off. [d]
        sow_on: The day of the week on which it is sown: the garden's sowing day, else the day of the
            window nearest to it; 0 where it is not sown in the week. [day number]
        plant_out: Day of planting out. [day number]
        soil: What is wrong with the bench of its first place; None for nothing.
    """

    first_place: Place
    light_place: Place
    emerge_days: int
    sow_on: int
    plant_out: int
    soil: Soil | None


@dataclass(frozen=True, kw_only=True)
class CropNotice:
    """A crop in a week.

    Attributes:
        crop: Index of its card.
        indoors: When it is started indoors; None where it is not.
        outdoors: When it is sown outside; None where it is not.
    """

    crop: int
    indoors: Indoors | None
    outdoors: Way | None


def notice_of(garden: Garden, week: int) -> tuple[CropNotice, ...]:
    """Return what a week means for each crop card, in the order of the cards.

    Args:
        garden: The garden; its sowings count for nothing.
        week: Running number of the week. [weeks]

    Source:
        Dates are those that the plan gives a sowing with no settings of its own; what counts as now, late and
        past is chosen here (docs/method.md).
    """
    cards = garden.cards
    outside = tuple(replace(card, start_container=None) for card in cards)
    both = cards + outside
    plan = make_plan(replace(garden.only_with(_one_of_each(len(both))), cards=both, growers=(NOBODY,)))
    monday = week * DAYS_IN_WEEK + 1
    return tuple(
        CropNotice(
            crop=crop,
            indoors=_indoors(plan, crop, monday) if card.is_started_indoors else None,
            outdoors=_way(plan, crop + len(cards), monday) if card.direct_sow_weeks is not None else None,
        )
        for crop, card in enumerate(cards)
    )


def _one_of_each(crops: int) -> Sowings:
    """Return a sowing of each crop with nothing of its own; as none of it is granted, no tray is packed for it."""
    none, number = np.zeros(crops, dtype=np.int64), np.arange(crops)
    return Sowings(
        ids=number,
        names=("",) * crops,
        varieties=(None,) * crops,
        grower=none,
        crop=number,
        plants=none + 1,
        placed=none,
        days_to_maturity=none,
        germination=np.zeros(crops),
        priority=none + 2,
        plant_out=none,
        sow_on=none,
        risk=np.zeros(crops),
        light=none - 1,
    )


def _way(plan: Plan, sowing: int, monday: int) -> Way:
    times = plan.timeline
    sow_from, sow_by = int(times.sow_from[sowing]), int(times.sow_by[sowing])
    last_chance, sunday = int(times.last_chance[sowing]), monday + DAYS_IN_WEEK - 1
    short_days = max(sow_from - last_chance, _short_days(plan, sowing), 0)
    if short_days:
        turn = Turn.TOO_LONG
    elif sunday < sow_from:
        turn = Turn.NOT_YET
    elif monday <= sow_by:
        turn = Turn.NOW
    else:
        turn = Turn.LATE if monday <= last_chance else Turn.PAST
    return Way(
        turn=turn,
        sow_from=sow_from,
        sow_by=sow_by,
        last_chance=last_chance,
        is_last_week=turn in {Turn.NOW, Turn.LATE} and last_chance <= sunday,
        short_days=short_days,
    )


def _short_days(plan: Plan, sowing: int) -> int:
    """Return by how many days the season's verdict finds this way too long, negative for days to spare."""
    fit = plan.fits[sowing]
    spare = fit.days_indoors if plan.garden.cards[sowing].is_started_indoors else fit.days_outdoors
    return -(spare or 0)


def _indoors(plan: Plan, sowing: int, monday: int) -> Indoors:
    way, times = _way(plan, sowing, monday), plan.timeline
    flags = Warned(int(plan.warned[sowing]))
    return Indoors(
        **vars(way),
        first_place=PLACES[plan.first_place[sowing]],
        light_place=PLACES[plan.light_place[sowing]],
        emerge_days=int(times.emerges[sowing] - times.sow_on[sowing]),
        sow_on=_day_to_sow(way, monday, plan.garden.settings.sowing_weekday),
        plant_out=int(times.plant_out[sowing]),
        soil=next((soil for flag, soil in SOIL.items() if flag in flags), None),
    )


def _day_to_sow(way: Way, monday: int, weekday: int) -> int:
    if way.turn not in {Turn.NOW, Turn.LATE}:
        return 0
    last = way.sow_by if way.turn is Turn.NOW else way.last_chance
    return max(way.sow_from, min(monday + weekday, last))
