"""What a levelling leaves out: the trays that it would take, and in which weeks they would fit."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import DAYS_IN_WEEK, NO_DAY, Days
from app.core.fitting.fullness import Crowded, Use
from app.core.fitting.options import held_fast, today_of
from app.core.fitting.wishes import stand_of
from app.core.plan import NO_PLACE, Plan
from app.core.words import HARDENING, Place

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

# A crop that a freeze kills is not put out long before the frost dates allow it, cover or not; chosen here.
MOST_WEEKS_EARLIER = 4


@dataclass(frozen=True, kw_only=True)
class Rest:
    """The plants left out, in trays of their own at the dates of their sowings.

    Columns are the stretches until emergence, until potting on or hardening, in pots, and in hardening; one that a
    sowing does not have is empty.

    Attributes:
        sowing: Index of each sowing of which plants are left out. Shape (m,).
        place: Index of the place of each stretch. Shape (m, 4).
        begin: First day. Shape (m, 4). [day number]
        end: The day after the last. Shape (m, 4). [day number]
        trays: Trays that stand there. Shape (m, 4). [1]
    """

    sowing: Ints
    place: Ints
    begin: Days
    end: Days
    trays: Ints


def rest_of(plan: Plan) -> Rest:
    """Return what a levelled plan leaves out; what is sown, in a pinned tray or too late is not for it to grant."""
    sowings = plan.garden.sowings
    is_for_it = (plan.light_place != NO_PLACE) & ~held_fast(plan.garden) & ~plan.is_too_late
    is_left = is_for_it & (plan.plants < sowings.plants)
    lot = np.flatnonzero(is_left)
    stand, left, times = stand_of(plan, lot), (sowings.plants - plan.plants)[lot], plan.timeline
    number = np.arange(len(lot))
    capacity = np.array([box.cells_per_tray for box in plan.garden.containers], dtype=np.int64)
    trays = -(-stand.cells_of(number, left) // capacity[plan.container[lot]])
    pots = -(-stand.pots_of(number, left) // capacity[plan.pot_container[lot]])
    sow_on, emerges, pot_on, harden, plant_out = (
        days[lot] for days in (times.sow_on, times.emerges, times.pot_on, times.harden, times.plant_out)
    )
    is_potted = pot_on != NO_DAY
    leaves = np.where(is_potted, pot_on, harden)
    light = plan.light_place[lot]
    has_hardening = any(shelf.place is Place.HARDENING for shelf in plan.garden.shelves)
    return Rest(
        sowing=lot,
        place=np.column_stack([plan.first_place[lot], light, light, np.full(len(lot), HARDENING)]),
        begin=np.column_stack([sow_on, emerges, leaves, harden]),
        end=np.column_stack([emerges, leaves, harden, plant_out if has_hardening else harden]),
        trays=np.column_stack([trays, trays, pots, np.where(is_potted, pots, trays)]),
    )


def crowded_weeks(rest: Rest, use: Use) -> list[dict[int, set[int]]]:
    """Return for each sowing the weeks, by place, in which there is no room for its rest."""
    found: list[dict[int, set[int]]] = [{} for _ in rest.sowing]
    for trays in np.unique(rest.trays).tolist():
        row, column = np.nonzero((rest.trays == trays) & (rest.end > rest.begin))
        crowded = Crowded(use, trays)
        place = rest.place[row, column]
        ranges = crowded.ranges(place, rest.begin[row, column], rest.end[row, column])
        for number, at, low, high in zip(row.tolist(), place.tolist(), *(r.tolist() for r in ranges), strict=True):
            if high > low:
                found[number].setdefault(at, set()).update(crowded.weeks[at][low:high])
    return found


@dataclass(frozen=True, kw_only=True)
class Shift:
    """By how many weeks each rest is moved to where it fits. Shape (m,) both.

    Attributes:
        weeks: Negative for earlier. [weeks]
        is_found: Whether it fits anywhere.
    """

    weeks: Ints
    is_found: Flags


def nearest_fit(rest: Rest, plan: Plan, use: Use) -> Shift:
    """Return the nearest whole weeks, later ones first, by which sowing and planting out are moved to where they fit.

    Later only as long as it still ripens when it is planted out after the shortest time indoors; none is sown before
    the day that is taken for today, unless the season is over.

    Args:
        rest: What is left out of a plan.
        plan: That plan.
        use: Its use of the places.
    """
    times, lot = plan.timeline, rest.sowing
    today = today_of(plan)
    soonest = np.iinfo(np.int64).min // DAYS_IN_WEEK if today == NO_DAY else today
    latest = (times.last_chance - np.maximum(times.sow_by, times.sow_on))[lot] // DAYS_IN_WEEK
    earliest = np.maximum(-MOST_WEEKS_EARLIER, -((times.sow_on[lot] - soonest) // DAYS_IN_WEEK))
    weeks, is_found = np.zeros(len(lot), dtype=np.int64), np.zeros(len(lot), dtype=bool)
    shifts = [*range(int(latest.max(initial=-1)) + 1), *range(-1, -MOST_WEEKS_EARLIER - 1, -1)]
    for shift in shifts:
        asked = np.flatnonzero(~is_found & (shift >= earliest) & (shift <= latest))
        fits = _fits(rest, use, asked, shift * DAYS_IN_WEEK)
        weeks[asked[fits]], is_found[asked[fits]] = shift, True
    return Shift(weeks=weeks, is_found=is_found)


def _fits(rest: Rest, use: Use, asked: Ints, days: int) -> Flags:
    """Tell of which of some rests all trays fit when they are moved by some days."""
    place, begin, end, trays = (column[asked] for column in (rest.place, rest.begin, rest.end, rest.trays))
    standing = use.most(place.ravel(), begin.ravel() + days, end.ravel() + days).reshape(place.shape)
    has_room: Flags = (standing + trays <= use.positions[place]) | (end <= begin)
    fits: Flags = np.logical_and.reduce(has_room, axis=1)
    return fits
