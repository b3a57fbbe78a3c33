"""Sowings that are late or have failed, and what can still be done for the plants that are missing."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import repeat
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY, Days, as_day, days_of_weeks, next_weekday
from app.core.dates.timeline import nearest_weekday
from app.core.plan import NO_PLACE, Plan, cells_at
from app.core.plants.season import days_from_seed, days_from_transplant, first_day_outside, season_end, start_on

Ints = NDArray[np.int64]

# A sowing of which nothing is up has failed at twice its days to emergence, or so long after the day on which it was
# foreseen, whichever is first: a quick crop is sown again soon, and a slow one not too late. Chosen here.
WAIT_DAYS = 7
# A quicker variety is looked for down to this share of the usual days to maturity; chosen here.
QUICKEST_SHARE = 0.6
MOST_CARDS = 3


class Trouble(StrEnum):
    """What is wrong with a sowing."""

    LATE = "late"
    TOO_LATE = "too late"
    NOTHING_UP = "nothing up"
    TOO_FEW = "too few"


class Amiss(NamedTuple):
    """What is wrong with a sowing.

    Attributes:
        sowing: Index into the plan's sowings.
        trouble: What is wrong.
        since: From when on: the day on which it was to be sown, or from which it counts as failed. [day number]
        missing: Plants that are wanted and will not come of it; 0 where it is only late. [1]
    """

    sowing: int
    trouble: Trouble
    since: int
    missing: int


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
    """A sowing that is late or has failed, and what can be done for it.

    Attributes:
        amiss: What is wrong.
        again_on: The day on which it can be sown again; 0 where the season is too short by now. [day number]
        again_cells: Cells to sow then. [1]
        last_chance: The last day on which it ripens. [day number]
        variety_days: Days to maturity of a variety that still ripens, at most; 0 where none is wanted or would. [d]
        cards: Other crop cards that still ripen, the quickest first; none where it can be sown again.
        others: Indices of other sowings of the same grower and crop that are sown from then on.
    """

    amiss: Amiss
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
    sown_on = plan.progress.sown_on
    emerge_days = plan.due.emerges - sown_on
    failed: Days = sown_on + np.minimum(2 * emerge_days, emerge_days + WAIT_DAYS)
    return np.where((sown_on == NO_DAY) | (plan.due.emerges == NO_DAY), NO_DAY, failed)


def missing_plants(plan: Plan) -> Ints:
    """Return the plants of each sown lot that are wanted and are neither here nor with their grower. [1]"""
    is_counted = (plan.logged.up_on != NO_DAY) | (plan.logged.potted_on != NO_DAY)
    have = np.where(is_counted, plan.living, 0) + plan.logged.left
    missing: Ints = np.maximum(0, plan.plants - have)
    return missing


def troubles_of(plan: Plan, *, sowings: Ints | None = None) -> list[Amiss]:
    """Return what is wrong with sowings that are late or have failed: the worst first, then by crop and sowing.

    Args:
        plan: The plan; without a today of its own nothing is late.
        sowings: Indices of the only sowings that count; None for all. Shape (n,).
    """
    today, crop = plan.garden.today, plan.garden.sowings.crop
    if today == NO_DAY or today > plan.due.plant_out.max(initial=NO_DAY):
        return []  # a season that is over is looked back on
    counts = (plan.first_place != NO_PLACE) & (plan.plants > 0)
    if sowings is not None:
        counts &= np.isin(np.arange(len(counts)), sowings)
    planned, fails, missing = planned_on(plan), failed_from(plan), missing_plants(plan)
    is_sown = plan.progress.sown_on != NO_DAY
    is_counted = (plan.logged.up_on != NO_DAY) | (plan.logged.potted_on != NO_DAY)
    is_lost = (plan.progress.over_on != NO_DAY) & (plan.logged.left == 0)
    # What was hardened or collected without a word on what came up, came up all the same.
    is_there = (plan.logged.left > 0) | (plan.progress.hardened_on != NO_DAY)
    is_judged = is_sown & (is_lost | ((fails <= today) & (is_counted | ~is_there)))
    has_failed = counts & is_judged & (missing > 0)
    is_late = counts & ~is_sown & ~plan.is_too_late & (plan.timeline.sow_on > planned)
    came_up = plan.logged.up + plan.logged.potted > 0
    since = np.where(is_lost, plan.progress.over_on, fails)
    found: list[Amiss] = []
    for trouble, holds, begin, lacks in (
        (Trouble.TOO_FEW, has_failed & came_up, since, missing),
        (Trouble.NOTHING_UP, has_failed & ~came_up, since, missing),
        (Trouble.TOO_LATE, counts & plan.is_too_late, planned, plan.plants),
        (Trouble.LATE, is_late, planned, np.zeros_like(missing)),
    ):
        which = np.flatnonzero(holds)
        which = which[np.argsort(crop[which], kind="stable")]
        rows = zip(which.tolist(), repeat(trouble), begin[which].tolist(), lacks[which].tolist(), strict=False)
        found.extend(map(Amiss._make, rows))
    return found


def remedies_of(plan: Plan, troubles: Sequence[Amiss]) -> list[Failing]:
    """Return sowings that are late or have failed with what can still be done, in the order given.

    Args:
        plan: The plan.
        troubles: What is wrong with them, as `troubles_of` has it.
    """
    ripening = ripening_cards(plan) if any(one.trouble is not Trouble.LATE for one in troubles) else ()
    return [_late(plan, one) if one.trouble is Trouble.LATE else _failed(plan, one, ripening) for one in troubles]


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


def _late(plan: Plan, amiss: Amiss) -> Failing:
    """Return a sowing that is only late with the day to which it was moved."""
    return Failing(
        amiss=amiss,
        again_on=int(plan.timeline.sow_on[amiss.sowing]),
        again_cells=int(plan.cells[amiss.sowing]),
        last_chance=int(plan.timeline.last_chance[amiss.sowing]),
    )


def _failed(plan: Plan, amiss: Amiss, ripening: Sequence[QuickCard]) -> Failing:
    """Return a failed sowing with what can be done for its missing plants."""
    index = amiss.sowing
    again_on = NO_DAY if amiss.trouble is Trouble.TOO_LATE else again_day(plan, index)
    cells = 0
    if again_on != NO_DAY:
        crop, germination = plan.garden.sowings.crop[[index]], plan.germination[[index]]
        cells = int(cells_at(plan.garden, crop, np.array([amiss.missing]), germination)[0])
    return Failing(
        amiss=amiss,
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
