"""What was lost: by cause, by the place where it stood, and by week."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY, week_number
from app.core.dealing.placing import DealtStays
from app.core.log.entries import CAUSES, LOST, NO_CAUSE
from app.core.plan import NO_PLACE, Plan
from app.core.words import HARDENING, PLACES, Cause, Place

Ints = NDArray[np.int64]

# Past the last place: the sowing is not on the shelves by its dates any more, or never was.
NOWHERE = len(PLACES)


@dataclass(frozen=True, kw_only=True)
class Losses:
    """What was lost, entry by entry.

    Attributes:
        sowing: Index of the sowing. Shape (n,).
        day: The day. Shape (n,). [day number]
        lost: Plants; cells of what had not come up. Shape (n,). [1]
        cause: Index into the causes, `UNKNOWN` where none was given. Shape (n,).
        place: Index into the places, `NOWHERE` for none. Shape (n,).
    """

    sowing: Ints
    day: Ints
    lost: Ints
    cause: Ints
    place: Ints

    def by_cause(self) -> dict[Cause, int]:
        """Return what each cause has taken, the most first. [1]"""
        return _most_first(tuple(Cause), self.cause, self.lost)

    def by_place(self) -> dict[Place | None, int]:
        """Return what was lost in each place, the most first; None for off the shelves. [1]"""
        return _most_first((*PLACES, None), self.place, self.lost)

    def by_week(self) -> dict[int, int]:
        """Return what was lost in each week with a loss, by its running number. [1]"""
        weeks, which = np.unique(week_number(self.day), return_inverse=True)
        counts = np.bincount(which, weights=self.lost, minlength=len(weeks)).astype(np.int64)
        return dict(zip(weeks.tolist(), counts.tolist(), strict=True))


UNKNOWN = CAUSES.index(Cause.UNKNOWN)


def losses_of(plan: Plan, stays: DealtStays | None = None) -> Losses:
    """Return what was lost.

    Args:
        plan: The plan that goes by the log.
        stays: Where dealt trays stood; None where nothing is dealt.

    Source:
        That a sowing of which no tray is known to have stood anywhere stood where the plan by its real dates has it is
        chosen here (docs/method.md).
    """
    log = plan.garden.log
    entries = log.of(LOST)
    sowing, day = log.sowing[entries], log.day[entries]
    cause = log.cause[entries]
    return Losses(
        sowing=sowing,
        day=day,
        lost=log.count[entries],
        cause=np.where(cause == NO_CAUSE, UNKNOWN, cause),
        place=_place_of_losses(plan, entries, stays),
    )


def _place_of_losses(plan: Plan, entries: Ints, stays: DealtStays | None) -> Ints:
    """Return where each entry's tray stood on its day, or else its sowing by the plan."""
    log, dealt = plan.garden.log, plan.garden.dealt
    sowing, day = log.sowing[entries], log.day[entries]
    place = place_on(plan, sowing, day)
    if stays is None or not len(stays.tray):
        return place
    row_of = {row: index for index, row in enumerate(dealt.ids.tolist())}
    for at, entry in enumerate(entries.tolist()):
        tray = row_of.get(int(log.tray[entry]))
        of_sowing = dealt.part_tray[(dealt.part_lot == sowing[at]) & (dealt.part_filled > 0)]
        stood = _places_of(stays, of_sowing if tray is None else np.array([tray]), int(day[at]))
        # Trays of a sowing that stood in different places do not say in which it was lost.
        if len(stood) == 1:
            place[at] = stood[0]
    return place


def _places_of(stays: DealtStays, trays: Ints, day: int) -> Ints:
    """Return the places in which any of some trays stood on a day, each once; those that waited stood in none."""
    mine = np.isin(stays.tray, trays) & (stays.shelf >= 0)
    there = mine & (stays.begin <= day) & (day < stays.end)
    if not there.any():
        # On the day on which it leaves, a tray stands there until the evening.
        there = mine & (stays.end == day)
    found: Ints = np.unique(stays.place[there])
    return found


def place_on(plan: Plan, sowing: Ints, day: Ints) -> Ints:
    """Return where sowings stood on days; a tray goes out on the evening of its last day.

    Args:
        plan: The plan that goes by the log.
        sowing: Indices of sowings. Shape (n,).
        day: A day for each. Shape (n,). [day number]

    Returns:
        Indices into the places, `NOWHERE` for none. Shape (n,).
    """
    times, first, light = plan.timeline, plan.first_place[sowing], plan.light_place[sowing]
    has_hardening = any(shelf.place is Place.HARDENING for shelf in plan.garden.shelves)
    emerges, hardens, out = times.emerges[sowing], times.harden[sowing], times.plant_out[sowing]
    hardening = np.full(len(sowing), HARDENING if has_hardening else NOWHERE)
    place = np.where(day <= emerges, first, np.where(day <= hardens, light, hardening))
    is_there = (first != NO_PLACE) & (times.sow_on[sowing] != NO_DAY) & (day <= out)
    return np.where(is_there, place, NOWHERE)


def _most_first(names: Iterable[Any], which: Ints, counts: Ints) -> dict[Any, int]:
    named = list(names)
    sums = np.bincount(which, weights=counts, minlength=len(named)).astype(np.int64).tolist()
    found = [(name, count) for name, count in zip(named, sums, strict=True) if count]
    return dict(sorted(found, key=lambda pair: -pair[1]))
