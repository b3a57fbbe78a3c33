"""The dates of every sowing, counted back from the day it is planted out."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY, Days, last_weekday, next_weekday

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

# Thinning to the stronger seedling a week after emergence: common practice.
THIN_AFTER_DAYS = 7


@dataclass(frozen=True, kw_only=True)
class Indoors:
    """What the dates of sowings started indoors are counted from; all of shape (n,).

    Attributes:
        start: First day outside by the frost dates. [day number]
        own_plant_out: The grower's own date, 0 for none. [day number]
        own_sow_on: A day set by the coordinator, 0 for none. [day number]
        sown_on: The day it was sown, 0 where it was not yet. [day number]
        up_on: The day on which it came up, 0 where it did not yet. [day number]
        potted_on: The day it was potted on, 0 where it was not yet. [day number]
        hardened_on: The day its hardening began, 0 where it did not yet. [day number]
        over_on: The day on which the last of it left the shelves, 0 where it did not yet. [day number]
        season_end: Last day of harvest. [day number]
        ripe_days: Days to maturity from planting out, and the picking time. [d]
        indoor_min_days: Shortest time indoors. [d]
        indoor_max_days: Longest time indoors. [d]
        emerge_days: From sowing to emergence on the bench. [d]
        delay_days: How much later than at the card's temperature; negative on a warmer bench. [d]
        hardening_days: Time outside in shelter. [d]
        pot_on_after_days: From emergence; -1 for crops that are not potted on. [d]
        is_thinned: Whether a cell gets more seeds than it is to hold plants.
    """

    start: Days
    own_plant_out: Days
    own_sow_on: Days
    sown_on: Days
    up_on: Days
    potted_on: Days
    hardened_on: Days
    over_on: Days
    season_end: Days
    ripe_days: Ints
    indoor_min_days: Ints
    indoor_max_days: Ints
    emerge_days: Ints
    delay_days: Ints
    hardening_days: Ints
    pot_on_after_days: Ints
    is_thinned: Flags


@dataclass(frozen=True, kw_only=True)
class Timeline:
    """The dates of sowings as day numbers, 0 where a sowing has no such date; all of shape (n,)."""

    sow_from: Days
    sow_best: Days
    sow_by: Days
    sow_on: Days
    last_chance: Days
    emerges: Days
    thin: Days
    pot_on: Days
    harden: Days
    plant_out: Days


@dataclass(frozen=True, kw_only=True)
class Forecast:
    """The dates of sowings, as they are due and as they are reckoned with today.

    Attributes:
        due: When each step is due: after what is written down, by the card.
        now: When each step comes about at the earliest: one that is due and not written down waits for today.
        is_too_late: Whether it was not sown, and a sowing day from today on would be past its last chance. Shape (n,).
    """

    due: Timeline
    now: Timeline
    is_too_late: Flags


def indoor_timeline(given: Indoors, sowing_weekday: int, hand_out_weekday: int, *, today: int = NO_DAY) -> Forecast:
    """Return the dates of sowings that are started indoors.

    Args:
        given: What the dates are counted from.
        sowing_weekday: The garden's sowing day. [0 Monday to 6 Sunday]
        hand_out_weekday: The garden's hand-out day. [0 Monday to 6 Sunday]
        today: The day that is taken for today; 0 where days do not pass. [day number]

    Source:
        Counting back from the last frost by published weeks indoors (seed_data/SOURCES.md); the
        sowing day nearest the middle of the window, and what waits for today, are chosen here.
    """
    hand_out = next_weekday(given.start, hand_out_weekday)
    plant_out = np.where(given.own_plant_out == NO_DAY, hand_out, given.own_plant_out)
    last_chance = given.season_end - given.ripe_days - given.indoor_min_days - given.delay_days
    sow_from = plant_out - given.indoor_max_days - given.delay_days
    latest = plant_out - given.indoor_min_days - given.delay_days
    sow_best = sow_from + (latest - sow_from) // 2
    is_capped = last_chance >= sow_from
    sow_by = np.where(is_capped, np.minimum(latest, last_chance), latest)
    sow_best = np.where(is_capped, np.minimum(sow_best, last_chance), sow_best)
    nearest = nearest_weekday(sow_best, sow_from, sow_by, sowing_weekday)
    planned = np.where(given.own_sow_on == NO_DAY, nearest, given.own_sow_on)
    is_sown = given.sown_on != NO_DAY
    waits = ~is_sown & (planned < today)
    following = np.maximum(planned, int(next_weekday(np.array([today]), sowing_weekday)[0]))
    is_too_late = waits & (following > last_chance)
    sow_on = np.where(is_sown, given.sown_on, np.where(waits & ~is_too_late, following, planned))
    # Who sows late plants out late: the crop gets its shortest time indoors all the same.
    is_late = (today != NO_DAY) & (is_sown | waits) & (sow_on > latest)
    ready = next_weekday(sow_on + given.indoor_min_days + given.delay_days, hand_out_weekday)
    plant_out = np.where(is_late, np.maximum(ready, plant_out), plant_out)
    none = np.full_like(sow_on, NO_DAY)
    window = Timeline(
        sow_from=sow_from,
        sow_best=sow_best,
        sow_by=sow_by,
        sow_on=sow_on,
        last_chance=last_chance,
        emerges=none,
        thin=none,
        pot_on=none,
        harden=none,
        plant_out=plant_out,
    )
    due = _after_sowing(given, window, NO_DAY)
    now = due if today == NO_DAY else _after_sowing(given, window, today)
    if (given.over_on != NO_DAY).any():
        now = _until_over(given, now)
    return Forecast(due=due, now=now, is_too_late=is_too_late)


def _after_sowing(given: Indoors, window: Timeline, today: int) -> Timeline:
    """Return the dates with the steps after sowing; one of a sown lot that is not written down waits for today."""
    is_sown = given.sown_on != NO_DAY

    def come(day: Days, written: Days) -> Days:
        waiting = np.where(is_sown, np.maximum(day, today), day)
        return np.where(written == NO_DAY, waiting, written)

    emerges = come(window.sow_on + given.emerge_days, given.up_on)
    foreseen = emerges + given.pot_on_after_days
    hardens = np.maximum(window.plant_out - given.hardening_days, emerges)
    hardens = np.where(given.hardened_on == NO_DAY, hardens, given.hardened_on)
    is_potted_on = ((given.pot_on_after_days >= 0) & (foreseen < hardens)) | (given.potted_on != NO_DAY)
    return replace(
        window,
        emerges=emerges,
        thin=np.where(given.is_thinned, emerges + THIN_AFTER_DAYS, NO_DAY),
        pot_on=np.where(is_potted_on, come(foreseen, given.potted_on), NO_DAY),
        harden=come(hardens, given.hardened_on),
        plant_out=come(window.plant_out, np.full_like(emerges, NO_DAY)),
    )


def _until_over(given: Indoors, times: Timeline) -> Timeline:
    """Return the dates of lots of which nothing is left as they ended: on the day on which the last of them went."""
    is_over = given.over_on != NO_DAY

    def ended(day: Days) -> Days:
        return np.where(is_over, np.minimum(day, given.over_on), day)

    is_potted_on = (times.pot_on != NO_DAY) & ~(is_over & (times.pot_on > given.over_on))
    return replace(
        times,
        emerges=ended(times.emerges),
        pot_on=np.where(is_potted_on, times.pot_on, NO_DAY),
        harden=ended(times.harden),
        plant_out=np.where(is_over, given.over_on, times.plant_out),
    )


def outdoor_timeline(start: Days, season_end: Days, ripe_days: Ints) -> Timeline:
    """Return the dates of sowings made outside, at the grower's plot.

    Args:
        start: First day outside by the frost dates. Shape (n,). [day number]
        season_end: Last day of harvest. Shape (n,). [day number]
        ripe_days: Days to maturity from sowing, and the picking time. Shape (n,). [d]
    """
    last_chance = season_end - ripe_days
    none = np.zeros_like(start)
    return Timeline(
        sow_from=start,
        sow_best=start,
        sow_by=last_chance,
        sow_on=none,
        last_chance=last_chance,
        emerges=none,
        thin=none,
        pot_on=none,
        harden=none,
        plant_out=none,
    )


def nearest_weekday(best: Days, first: Days, last: Days, weekday: int) -> Days:
    """Return the weekday nearest to `best` within [first, last], the earlier of a tie, else `best` itself.

    Args:
        best: The wanted day. Shape (n,). [day number]
        first: First day allowed. Shape (n,). [day number]
        last: Last day allowed. Shape (n,). [day number]
        weekday: The day of the week. [0 Monday to 6 Sunday]
    """
    before, after = last_weekday(best, weekday), next_weekday(best, weekday)
    before_fits, after_fits = before >= first, after <= last
    takes_before = before_fits & (~after_fits | (best - before <= after - best))
    return np.where(takes_before, before, np.where(after_fits, after, best))
