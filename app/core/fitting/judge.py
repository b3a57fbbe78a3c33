"""Whether the answer of a levelling keeps every rule, and what it comes to, counted anew in plain Python.

It knows nothing of how the answer was found: it makes the plan of the changed garden, and counts that again.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from app.core.calendar import DAYS_IN_WEEK, NO_DAY, as_date
from app.core.cards import Garden
from app.core.fitting.answer import Choices, Goal
from app.core.fitting.fault import Fault, Rule
from app.core.fitting.recount import Recount, Spot
from app.core.plan import NO_PLACE, Plan, make_plan
from app.core.words import LAMP, PLACES, WINDOW, Light, Place

_ALL_PLANTS = -1
# Plants of the first priority, 1, weigh 3; those of the last, 3, weigh 1.
_WEIGHT_OVER_PRIORITY = 4


def faults_of(before: Garden, choices: Choices) -> list[Fault]:
    """Return what is wrong with choices; nothing where they keep every rule.

    Args:
        before: The garden as it was. Nothing may be moved to a day before the one that it takes for today, unless the
            season is over.
        choices: What would change.

    Source:
        The rules of docs/method.md, sections 7, 8, 13 and 14.
    """
    fast = _held_fast(before)
    old, after = make_plan(before), make_plan(choices.made_in(before))
    counted = Recount(after)
    alone = Recount(make_plan(_without_the_rest(after.garden, fast))).by_day if fast else Counter()
    return [
        *_faults_of_fixed(old, choices, fast),
        *_faults_of_placed(before, choices),
        *_faults_of_days(old, after, fast),
        *counted.faults(),
        *_faults_of_positions(after.garden, counted.by_day, alone),
    ]


def values_of(after: Plan) -> dict[Goal, float]:
    """Return what a plan comes to in each goal, over all sowings that are started indoors and not too late.

    The smallest share is 1 where there are none.
    """
    sowings, times = after.garden.sowings, after.timeline
    rows = (sowings.grower, sowings.priority, sowings.plants, after.plants, after.light_place, after.is_too_late)
    days = (times.sow_on, times.sow_best)
    wanted: Counter[int] = Counter()
    placed: Counter[int] = Counter()
    weighted = days_off = 0
    columns = (column.tolist() for column in (*rows, *days))
    for grower, priority, wish, plants, place, is_too_late, day, best in zip(*columns, strict=True):
        if place != NO_PLACE and not is_too_late:
            wanted[grower] += wish
            placed[grower] += plants
            weighted += plants * (_WEIGHT_OVER_PRIORITY - priority)
            days_off += plants * abs(day - best)
    return {
        Goal.SHARE: min((placed[grower] / wish for grower, wish in wanted.items() if wish), default=1.0),
        Goal.PLANTS: weighted,
        Goal.DAYS: days_off,
        Goal.TRAYS: len(set(after.trays.part_tray.tolist())),
    }


def _held_fast(garden: Garden) -> set[int]:
    """Return the sowings that are sown, of which anything is written down, or in a pinned tray."""
    dealt, log = garden.dealt, garden.log
    pinned = dealt.is_pinned.tolist()
    parts = zip(dealt.part_tray.tolist(), dealt.part_lot.tolist(), dealt.part_filled.tolist(), strict=True)
    corrected = set(log.supersedes.tolist())
    entries = zip(log.ids.tolist(), log.sowing.tolist(), log.count.tolist(), strict=True)
    written = {lot for entry, lot, count in entries if count and entry not in corrected}
    return {lot for tray, lot, filled in parts if filled or pinned[tray]} | written


def _without_the_rest(garden: Garden, fast: set[int]) -> Garden:
    """Return the garden in which nothing but what is held fast gets room."""
    placed = [own if lot in fast else 0 for lot, own in enumerate(garden.sowings.placed.tolist())]
    return replace(garden, sowings=replace(garden.sowings, placed=np.array(placed, dtype=np.int64)))


def _faults_of_fixed(old: Plan, choices: Choices, fast: set[int]) -> Iterator[Fault]:
    for lot in np.flatnonzero(choices.is_changed(old.garden)).tolist():
        name = old.garden.sowings.names[lot]
        if lot in fast:
            yield Fault(rule=Rule.FIXED, what=f"sowing {name} is sown or in a pinned tray, and is changed")
        elif old.light_place[lot] == NO_PLACE:
            yield Fault(rule=Rule.FIXED, what=f"sowing {name} is sown outside, and is changed")
        elif old.is_too_late[lot]:
            yield Fault(rule=Rule.FIXED, what=f"sowing {name} is too late to be sown, and is changed")


def _faults_of_placed(before: Garden, choices: Choices) -> Iterator[Fault]:
    rows = zip(before.sowings.names, choices.placed.tolist(), before.sowings.plants.tolist(), strict=True)
    for name, placed, wish in rows:
        if placed != _ALL_PLANTS and not 0 <= placed <= wish:
            yield Fault(rule=Rule.PLACED, what=f"sowing {name} gets {placed} plants of {wish}")


def _faults_of_days(old: Plan, after: Plan, fast: set[int]) -> Iterator[Fault]:
    """Find sowings that are moved to a light place not open to them, or to a day on which they cannot be sown."""
    garden, was, now = old.garden, old.timeline, after.timeline
    needs_lamp = [card.light is Light.LAMP for card in garden.cards]
    season_ends = max(old.due.plant_out.tolist(), default=NO_DAY)
    earliest = NO_DAY if season_ends < garden.today else garden.today
    columns = {
        "crop": garden.sowings.crop,
        "old": np.column_stack([old.light_place, was.sow_on, was.plant_out]),
        "new": np.column_stack([after.light_place, now.sow_on, now.plant_out]),
        "written": np.column_stack([garden.sowings.sow_on, after.garden.sowings.sow_on]),
        "window": np.column_stack([now.sow_from, now.sow_best, now.sow_by, now.last_chance]),
    }
    for lot, (crop, was_at, is_at, written, window) in enumerate(
        zip(*(column.tolist() for column in columns.values()), strict=True)
    ):
        place, day, _ = is_at
        if place == NO_PLACE or lot in fast or (was_at == is_at and written[0] == written[1]):
            continue
        name = garden.sowings.names[lot]
        if place not in (LAMP, WINDOW) or (needs_lamp[crop] and place != was_at[0]):
            what = f"sowing {name} is put in a place that is not open to it: {PLACES[place]}"
            yield Fault(rule=Rule.LIGHT, what=what)
        is_past = written[0] != written[1] and NO_DAY < written[1] < earliest
        waits = written[1] < earliest
        weekday = garden.settings.sowing_weekday
        if is_past or not _is_open(day, *window, earliest=earliest, waits=waits, weekday=weekday):
            yield Fault(rule=Rule.DAY, what=f"sowing {name} is moved to a day that is not open to it: {as_date(day)}")


def _is_open(day: int, begin: int, best: int, end: int, last: int, *, earliest: int, waits: bool, weekday: int) -> bool:
    """Return whether a day is a sowing day of the window, or the best day of a window that has none.

    Where none of these is left, one that waits may take the next sowing day up to its last chance.
    """
    days = [each for each in range(begin, end + 1) if (each - 1) % DAYS_IN_WEEK == weekday] or [best]
    left = [each for each in days if each >= earliest]
    if left:
        return day in left
    following = next(each for each in range(earliest, earliest + DAYS_IN_WEEK) if (each - 1) % DAYS_IN_WEEK == weekday)
    return waits and day == following <= last


def _faults_of_positions(garden: Garden, standing: Counter[Spot], alone: Counter[Spot]) -> Iterator[Fault]:
    """Find days on which a place holds more trays than positions, and more than what is held fast takes alone."""
    positions: Counter[Place] = Counter()
    for shelf in garden.shelves:
        positions[shelf.place] += shelf.positions
    for (place, day), trays in sorted(standing.items()):
        room = max(positions[PLACES[place]], alone[place, day])
        if trays > room:
            what = f"{trays} trays stand in {PLACES[place]} on {as_date(day)}, where there is room for {room}"
            yield Fault(rule=Rule.POSITIONS, what=what)
