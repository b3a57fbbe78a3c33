"""Which shelves are in use on which day, what their lamps and benches draw, and how often their pans are filled.

Trays have no shelf of their own yet, so the shelves of a place are taken to fill one after another, by name.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import DAYS_IN_WEEK
from app.core.cards import ShelfCard
from app.core.needs.light import HOURS_IN_DAY
from app.core.plan import Plan
from app.core.space.ledger import count_by_day
from app.core.words import PLACES, Place

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

WATTS_IN_KILOWATT = 1000
MM_IN_CM = 10
CM3_IN_LITRE = 1000
# What pots drink and what dries off, indoors; from memory. Days between fills follow it in proportion.
PAN_MM_A_DAY = 3
# Where floating error would make a fill of its own.
TOLERANCE = 1e-9


@dataclass(frozen=True, kw_only=True)
class ShelfUse:
    """A shelf in the weeks of a season.

    Attributes:
        shelf: The shelf.
        days: Days of each week on which a tray stands on it. Shape (n_weeks,). [d]
        kwh: What its lamps or heat draw in each week, as `hours` says; None where the shelf has none or not all
            figures are given. Shape (n_weeks,). [kWh]
        hours: How long they are on in a day; None where neither given nor usual. [h]
        fills: Fills of its pans in each week; None for a shelf without. Shape (n_weeks,). [1]
    """

    shelf: ShelfCard
    days: Ints
    kwh: Floats | None
    hours: float | None
    fills: Ints | None


def use_of_shelves(plan: Plan) -> tuple[int, tuple[ShelfUse, ...]]:
    """Return the first week with trays on shelves as its running number, and the use of each shelf from then on.

    Shelves come by place and name. A place's trays of a day take its shelves in this order; a shelf with one tray
    counts whole, and in an over-full place all are in use.

    Source:
        That shelves fill by name is chosen here (docs/method.md, section 11).
    """
    first_week, used = used_by_day(plan)
    return first_week, tuple(_use(shelf, is_used) for shelf, is_used in used)


def used_by_day(plan: Plan) -> tuple[int, tuple[tuple[ShelfCard, Flags], ...]]:
    """Return on which days each shelf has trays, in whole weeks from the first with trays; order as `use_of_shelves`.

    Returns:
        The running number of the first week as an index, and each shelf with its days from the Monday of that week on:
        whether a tray stands there. Flags of shape (n_days,). [1]

    Source:
        As `use_of_shelves`.
    """
    stays = plan.stays
    trays_of = np.bincount(plan.trays.group, minlength=int(stays.group.max(initial=-1)) + 1)
    first_week, standing = count_by_day(stays.place, stays.begin, stays.end, trays_of[stays.group], n_kinds=len(PLACES))
    found: list[tuple[ShelfCard, Flags]] = []
    for place, trays in zip(PLACES, standing, strict=True):
        before = 0
        for shelf in shelves_of(plan, place):
            found.append((shelf, (trays > before) & (shelf.positions > 0)))
            before += shelf.positions
    return first_week, tuple(found)


def shelves_of(plan: Plan, place: Place) -> list[ShelfCard]:
    """Return the shelves of a place in the order in which they fill: by name."""
    return sorted((shelf for shelf in plan.garden.shelves if shelf.place is place), key=lambda shelf: shelf.name)


def _use(shelf: ShelfCard, is_used: Flags) -> ShelfUse:
    days = is_used.reshape(-1, DAYS_IN_WEEK).sum(axis=1)
    hours = hours_on(shelf)
    is_powered = shelf.place in {Place.HEAT, Place.LAMP} and shelf.watts is not None and hours is not None
    return ShelfUse(
        shelf=shelf,
        days=days,
        kwh=days * power_a_day(shelf.watts or 0, hours or 0) if is_powered else None,
        hours=hours,
        fills=_fills(is_used, days_to_next_fill(shelf.pan_depth_mm)) if shelf.pan_depth_mm else None,
    )


def hours_on(shelf: ShelfCard) -> float | None:
    """Return how long the lamps or the heat of a shelf are on in a day, None where that is not known. [h]

    Source:
        A heated bench without hours is counted as on day and night: chosen here, the most it can draw.
    """
    if shelf.hours_per_day is None and shelf.place is Place.HEAT:
        return HOURS_IN_DAY
    return shelf.hours_per_day


def power_a_day(watts: float, hours: float) -> float:
    """Return what is drawn in a day.

    Args:
        watts: Power of the whole shelf. [W]
        hours: How long it is on. [h]

    Returns:
        Energy. [kWh]
    """
    return watts * hours / WATTS_IN_KILOWATT


def pan_litres(shelf: ShelfCard) -> float:
    """Return what the pans of a shelf hold, one of its size on each level; 0 without a pan. [l]"""
    depth_cm = (shelf.pan_depth_mm or 0) / MM_IN_CM
    return shelf.width_cm * shelf.depth_cm * depth_cm * shelf.levels / CM3_IN_LITRE


def litres_to_fill(shelf: ShelfCard, days: float) -> float:
    """Return what the pans of a shelf take after so many days since they were full.

    Args:
        shelf: The shelf; one without pans takes nothing.
        days: Days with trays on it. [d, 0 or more]

    Returns:
        Water for all its levels, no more than its pans hold. [l]

    Source:
        As `days_to_next_fill`, in proportion.
    """
    return min(1.0, days / days_to_next_fill(shelf.pan_depth_mm)) * pan_litres(shelf) if shelf.pan_depth_mm else 0.0


def days_to_next_fill(pan_depth_mm: float) -> float:
    """Return how long a full pan lasts.

    Args:
        pan_depth_mm: Depth of water in it. [mm]

    Returns:
        Days until it is dry. [d]

    Source:
        3 mm a day indoors: from memory.
    """
    return pan_depth_mm / PAN_MM_A_DAY


def _fills(is_used: Flags, lasts_days: float) -> Ints:
    """Return the fills of each week: one when trays come to the empty shelf, and one whenever the pan is dry. [1]"""
    fills = np.zeros(len(is_used), dtype=np.int64)
    edges = np.flatnonzero(np.diff(is_used, prepend=False, append=False))
    for begin, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        until = np.ceil(np.arange(end - begin + 1) / lasts_days - TOLERANCE).astype(np.int64)
        fills[begin:end] = np.diff(np.maximum(until, 0))
    of_week: Ints = fills.reshape(-1, DAYS_IN_WEEK).sum(axis=1)
    return of_week


def weeks_of_crops(plan: Plan, place: Place) -> dict[int, tuple[tuple[int, int], ...]]:
    """Return the weeks in which trays of each crop stand in a place, for the crops that do.

    Args:
        plan: The plan.
        place: The place.

    Returns:
        By index of the crop card: the first and last running week, both indices, of each unbroken stretch of weeks.
    """
    trays, stays = plan.trays, plan.stays
    here = stays.place == PLACES.index(place)
    week_of = {
        int(group): ((int(begin) - 1) // DAYS_IN_WEEK, (int(end) - 2) // DAYS_IN_WEEK)
        for group, begin, end in zip(stays.group[here], stays.begin[here], stays.end[here], strict=True)
    }
    pairs = np.stack([plan.garden.sowings.crop[trays.part_lot], trays.group[trays.part_tray]], axis=1)
    weeks: dict[int, set[int]] = {}
    for crop, group in np.unique(pairs, axis=0).tolist():
        if group in week_of:
            first, last = week_of[group]
            weeks.setdefault(crop, set()).update(range(first, last + 1))
    return {crop: tuple(stretches_of(found)) for crop, found in weeks.items()}


def stretches_of(weeks: set[int]) -> list[tuple[int, int]]:
    """Return the first and last of each unbroken stretch of running weeks."""
    first = sorted(week for week in weeks if week - 1 not in weeks)
    last = sorted(week for week in weeks if week + 1 not in weeks)
    return list(zip(first, last, strict=True))
