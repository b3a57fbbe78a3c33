"""What a plan says of a day or a week: what is due, which trays stand where, what is handed out."""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import DAYS_IN_WEEK
from app.core.plan import Plan

Ints = NDArray[np.int64]

# What was due so long ago and is not logged shows as not confirmed; chosen here.
NOT_CONFIRMED_DAYS = 7


class Task(StrEnum):
    """What is to be done for a sowing on a day, in the order of its life."""

    SOW = "sow"
    SOW_OUTSIDE = "sow outside"
    LOOK = "look for seedlings"
    UNCOVER = "uncover"
    THIN = "thin"
    POT_ON = "pot on"
    HARDEN = "harden"
    HAND_OUT = "hand out"

    # That of the words, to which it is equal; an enumeration's own is ten times slower, and each row asks for several.
    __hash__ = str.__hash__


class Due(NamedTuple):
    """One task of one sowing.

    Attributes:
        day: The day it is due, or was done. [day number]
        task: What is to be done.
        sowing: Index into the plan's sowings.
        amount: Cells for sow, look, uncover and thin; pots for pot on; plants for the rest. [1]
        last_day: For `SOW_OUTSIDE`, the last day on which it makes sense; else the day itself. [day number]
        is_done: Whether it is logged or ticked off.
        waited_days: How long it has been due and is not confirmed; 0 where it is not over, or done. [d]
    """

    day: int
    task: Task
    sowing: int
    amount: int
    last_day: int
    is_done: bool = False
    waited_days: int = 0

    @property
    def is_not_confirmed(self) -> bool:
        """Whether it was due long enough ago that something is amiss, if only the log."""
        return self.waited_days >= NOT_CONFIRMED_DAYS


@dataclass(frozen=True, kw_only=True)
class StandingTray:
    """A tray in a place, and what stands in it.

    Attributes:
        tray: Index into the plan's trays.
        place: Index of the place.
        container: Index of the container.
        begin: First day in this place. [day number]
        end: The day after the last. [day number]
        parts: (index of the sowing, cells) of each lot in it. [1]
        capacity: Cells of the tray. [1]
    """

    tray: int
    place: int
    container: int
    begin: int
    end: int
    parts: tuple[tuple[int, int], ...]
    capacity: int

    @property
    def cells_used(self) -> int:
        """Cells that are sown. [1]"""
        return sum(cells for _, cells in self.parts)


def trays_between(plan: Plan, begin: int, end: int) -> list[StandingTray]:
    """Return the trays that stand in a place on some day of [begin, end), a row for each place.

    They are ordered by place, then by the day they come, then by container and tray.

    Args:
        plan: The plan.
        begin: First day. [day number]
        end: The day after the last. [day number]
    """
    stays, trays = plan.stays, plan.trays
    here = np.flatnonzero((stays.begin < end) & (stays.end > begin))
    trays_of: dict[int, list[int]] = {int(group): [] for group in stays.group[here]}
    for tray in np.flatnonzero(np.isin(trays.group, stays.group[here])).tolist():
        trays_of[int(trays.group[tray])].append(tray)
    parts: dict[int, list[tuple[int, int]]] = {tray: [] for group in trays_of.values() for tray in group}
    wanted = np.isin(trays.part_tray, np.array(list(parts), dtype=np.int64))
    for tray, lot, cells in zip(
        trays.part_tray[wanted].tolist(),
        trays.part_lot[wanted].tolist(),
        trays.part_cells[wanted].tolist(),
        strict=True,
    ):
        parts[tray].append((lot, cells))
    containers = plan.garden.containers
    standing = [
        StandingTray(
            tray=tray,
            place=int(stays.place[stay]),
            container=int(trays.container[tray]),
            begin=int(stays.begin[stay]),
            end=int(stays.end[stay]),
            parts=tuple(sorted(parts[tray])),
            capacity=containers[int(trays.container[tray])].cells_per_tray,
        )
        for stay in here.tolist()
        for tray in trays_of[int(stays.group[stay])]
    ]
    return sorted(standing, key=lambda row: (row.place, row.begin, row.container, row.tray))


def week_of(week: int) -> tuple[int, int]:
    """Return the first day of a running week and the day after its last. [day numbers]"""
    first = week * DAYS_IN_WEEK + 1
    return first, first + DAYS_IN_WEEK
