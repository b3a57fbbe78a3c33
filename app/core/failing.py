"""Sowings that are late or have failed, and what can still be done for the plants that are missing."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY, Days, as_day, days_of_weeks, next_weekday
from app.core.germination import failed_on
from app.core.plan import NO_PLACE, Plan, cells_at
from app.core.season import days_from_seed, days_from_transplant, first_day_outside, season_end, start_on
from app.core.timeline import nearest_weekday

Ints = NDArray[np.int64]

# A quicker variety is looked for down to this share of the usual days to maturity; chosen here.
QUICKEST_SHARE = 0.6
MOST_CARDS = 3


class Trouble(StrEnum):
    """What is wrong with a sowing."""

    LATE = "late"
    TOO_LATE = "too late"
    NOTHING_UP = "nothing up"
    TOO_FEW = "too few"


@dataclass(frozen=True, kw_only=True)
class QuickCard:
    """Another crop card that still ripens.

    Attributes:
        card: Index of the crop card.
        days: Its days to maturity. [d]
        last_sowing: The last day on which it can be sown. [day number]
        is_outside: Whether it is sown outside.
    """

    card: int
    days: int
    last_sowing: int
    is_outside: bool


@dataclass(frozen=True, kw_only=True)
class Failing:
    """A sowing that is late or has failed.

    Attributes:
        sowing: Index into the plan's sowings.
        trouble: What is wrong.
        since: From when on: the day on which it was to be sown, or from which it counts as failed. [day number]
        missing: Plants that are wanted and will not come of it; 0 where it is only late. [1]
        again_on: The day on which it can be sown again; 0 where the season is too short by now. [day number]
        again_cells: Cells to sow then. [1]
        last_chance: The last day on which it ripens. [day number]
        variety_days: Days to maturity of a variety that still ripens, at most; 0 where none is wanted or would. [d]
        cards: Other crop cards that still ripen, the quickest first; none where it can be sown again.
        others: Indices of other sowings of the same grower and crop that are sown from then on.
    """

    sowing: int
    trouble: Trouble
    since: int
    missing: int
    again_on: int = NO_DAY
    again_cells: int = 0
    last_chance: int = NO_DAY
    variety_days: int = 0
    cards: tuple[QuickCard, ...] = ()
    others: tuple[int, ...] = ()


def planned_on(plan: Plan) -> Days:
    """Return the day on which each sowing was to be sown before any day passed; 0 where outside. [day number]"""
    times, sowings = plan.timeline, plan.garden.sowings
    nearest = nearest_weekday(times.sow_best, times.sow_from, times.sow_by, plan.garden.settings.sowing_weekday)
    days: Days = np.where(sowings.sow_on == NO_DAY, nearest, sowings.sow_on)
    return np.where(plan.first_place == NO_PLACE, NO_DAY, days)


def failed_from(plan: Plan) -> Days:
    """Return the day from which each sown lot counts as failed if too little is up; 0 where none is sown."""
    # Where it came up, the day foreseen is no longer in the plan; then the day it came up stands for it.
    return failed_on(plan.progress.sown_on, plan.due.emerges)


def missing_plants(plan: Plan) -> Ints:
    """Return the plants of each sown lot that are wanted and are neither here nor with their grower. [1]"""
    is_counted = (plan.logged.up_on != NO_DAY) | (plan.logged.potted_on != NO_DAY)
    have = np.where(is_counted, plan.living, 0) + plan.logged.left
    missing: Ints = np.maximum(0, plan.plants - have)
    return missing


def failing_of(plan: Plan, *, grower: int | None = None) -> list[Failing]:
    """Return the sowings that are late or have failed, by crop and sowing.

    Args:
        plan: The plan; without a today of its own nothing is late.
        grower: Index of the only grower whose sowings count; None for all.
    """
    today, sowings = plan.garden.today, plan.garden.sowings
    if today == NO_DAY or today > plan.due.plant_out.max(initial=NO_DAY):
        return []  # a season that is over is looked back on
    counts = np.ones(len(sowings), dtype=bool) if grower is None else sowings.grower == grower
    counts = counts & (plan.first_place != NO_PLACE) & (plan.plants > 0)
    planned, fails, missing = planned_on(plan), failed_from(plan), missing_plants(plan)
    is_sown = plan.progress.sown_on != NO_DAY
    is_counted = (plan.logged.up_on != NO_DAY) | (plan.logged.potted_on != NO_DAY)
    is_lost = (plan.progress.over_on != NO_DAY) & (plan.logged.left == 0)
    # What was hardened or collected without a word on what came up, came up all the same.
    is_there = (plan.logged.left > 0) | (plan.progress.hardened_on != NO_DAY)
    is_judged = is_sown & (is_lost | ((fails <= today) & (is_counted | ~is_there)))
    has_failed = counts & is_judged & (missing > 0)
    is_late = counts & ~is_sown & ~plan.is_too_late & (plan.timeline.sow_on > planned)
    too_late = np.flatnonzero(counts & plan.is_too_late).tolist()
    ripening = ripening_cards(plan) if too_late or has_failed.any() else ()
    found = [
        _with_remedies(plan, index, Trouble.TOO_LATE, int(planned[index]), int(plan.plants[index]), ripening)
        for index in too_late
    ]
    for index in np.flatnonzero(has_failed).tolist():
        came_up = plan.logged.up[index] + plan.logged.potted[index] > 0
        trouble = Trouble.TOO_FEW if came_up else Trouble.NOTHING_UP
        since = int(plan.progress.over_on[index]) if is_lost[index] else int(fails[index])
        found.append(_with_remedies(plan, index, trouble, since, int(missing[index]), ripening))
    found.extend(
        Failing(
            sowing=index,
            trouble=Trouble.LATE,
            since=int(planned[index]),
            missing=0,
            again_on=int(plan.timeline.sow_on[index]),
            again_cells=int(plan.cells[index]),
            last_chance=int(plan.timeline.last_chance[index]),
        )
        for index in np.flatnonzero(is_late).tolist()
    )
    order = {trouble: number for number, trouble in enumerate(Trouble)}
    return sorted(found, key=lambda one: (-order[one.trouble], int(sowings.crop[one.sowing]), one.sowing))


def again_day(plan: Plan, index: int) -> int:
    """Return the day on which a sowing can be sown again: the next sowing day, or its last chance if that is sooner.

    Returns:
        0 where its last chance is over. [day number]
    """
    today, last = plan.garden.today, int(plan.timeline.last_chance[index])
    following = int(next_weekday(np.array([today]), plan.garden.settings.sowing_weekday)[0])
    if last < today:
        return NO_DAY
    return min(following, last)


def _with_remedies(
    plan: Plan, index: int, trouble: Trouble, since: int, missing: int, ripening: Sequence[QuickCard]
) -> Failing:
    """Return a failed sowing with what can be done for its missing plants."""
    again_on = NO_DAY if trouble is Trouble.TOO_LATE else again_day(plan, index)
    sowings = plan.garden.sowings
    cells = 0
    if again_on != NO_DAY:
        crop, germination = sowings.crop[[index]], plan.germination[[index]]
        cells = int(cells_at(plan.garden, crop, np.array([missing]), germination)[0])
    return Failing(
        sowing=index,
        trouble=trouble,
        since=since,
        missing=missing,
        again_on=again_on,
        again_cells=cells,
        last_chance=int(plan.timeline.last_chance[index]),
        variety_days=0 if again_on != NO_DAY else _variety_days(plan, index),
        cards=() if again_on != NO_DAY else quick_cards(plan, index, ripening),
        others=_others(plan, index),
    )


def _variety_days(plan: Plan, index: int) -> int:
    """Return the most days to maturity of a variety that still ripens if sown on the next sowing day; 0 for none."""
    garden = plan.garden
    card = garden.cards[int(garden.sowings.crop[index])]
    usual = int(garden.sowings.days_to_maturity[index]) or card.days_to_maturity
    following = int(next_weekday(np.array([garden.today]), garden.settings.sowing_weekday)[0])
    # The last chance moves by a day with each day to maturity.
    days = usual - (following - int(plan.timeline.last_chance[index]))
    return days if QUICKEST_SHARE * usual <= days < usual else 0


def quick_cards(plan: Plan, index: int, ripening: Sequence[QuickCard]) -> tuple[QuickCard, ...]:
    """Return other, quicker crop cards that still ripen, the quickest first, three at most.

    Args:
        plan: The plan.
        index: Index of the sowing in whose place they would be sown.
        ripening: All cards that still ripen, as `ripening_cards` has them.
    """
    crop = int(plan.garden.sowings.crop[index])
    usual = plan.garden.cards[crop].days_to_maturity
    return tuple(one for one in ripening if one.card != crop and one.days < usual)[:MOST_CARDS]


def ripening_cards(plan: Plan) -> tuple[QuickCard, ...]:
    """Return the crop cards that still ripen if sown by the next sowing day, the quickest first."""
    garden, settings = plan.garden, plan.garden.settings
    following = int(next_weekday(np.array([garden.today]), settings.sowing_weekday)[0])
    found = []
    for number, card in enumerate(garden.cards):
        end = as_day(season_end(garden.frost, card.hardiness, settings.autumn_risk))
        if card.is_started_indoors:
            last = end - days_from_transplant(card) - card.harvest_days - days_of_weeks(card.indoor_weeks_min or 0)
            ready = following + days_of_weeks(card.indoor_weeks_min or 0)
            out = max(ready, as_day(first_day_outside(card, garden.frost, settings.risk)))
            fits = out + days_from_transplant(card) + card.harvest_days <= end
        else:
            last = end - days_from_seed(card) - card.harvest_days
            start = as_day(start_on(garden.frost, card.hardiness, card.direct_sow_weeks or 0, settings.risk))
            fits = max(start, garden.today) <= last
        if fits:
            found.append(
                QuickCard(
                    card=number,
                    days=card.days_to_maturity,
                    last_sowing=last,
                    is_outside=not card.is_started_indoors,
                )
            )
    return tuple(sorted(found, key=lambda one: (one.days, one.card)))


def _others(plan: Plan, index: int) -> tuple[int, ...]:
    """Return other sowings of the same grower and crop that are still to be sown, or were sown after this one."""
    sowings, times = plan.garden.sowings, plan.timeline
    same = (sowings.grower == sowings.grower[index]) & (sowings.crop == sowings.crop[index])
    same &= (times.sow_on > times.sow_on[index]) & ~plan.is_too_late
    same[index] = False
    return tuple(np.flatnonzero(same).tolist())
