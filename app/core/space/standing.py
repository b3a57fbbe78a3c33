"""From sowings to trays: who shares a tray, and in which place it stands from when to when."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY, Days, week_number
from app.core.dates.timeline import Timeline
from app.core.space.dealt import Kept, join_groups
from app.core.space.sharing import Stays, Trays, fill_trays, first_of, group_lots, last_of
from app.core.words import HARDENING

Ints = NDArray[np.int64]

# One cover serves a whole tray of like speed: up to 5 days to emergence, 6 to 10, over 10; chosen here.
_SPEED_ENDS = np.array([5, 10])


@dataclass(frozen=True, kw_only=True)
class Lots:
    """What takes room on the shelves; all of shape (n_sowings,).

    Attributes:
        timeline: The dates of each sowing.
        cells: Cells of each sowing, 0 where it takes no tray. [1]
        pots: Pots kept on potting on, 0 where it is not potted on. [1]
        container: Index of the start container.
        pot_container: Index of the pot-on container.
        first_place: Index of the place from sowing to emergence.
        light_place: Index of the place from emergence to hardening.
    """

    timeline: Timeline
    cells: Ints
    pots: Ints
    container: Ints
    pot_container: Ints
    first_place: Ints
    light_place: Ints


@dataclass(frozen=True, kw_only=True)
class _Groups:
    """Lots that move as one: the lots, the group of each, and the number of groups."""

    lots: Ints
    group: Ints
    n: int

    def first(self, days: Days) -> Days:
        return first_of(self.group, self.n, days[self.lots])

    def last(self, values: Ints) -> Ints:
        return last_of(self.group, self.n, values[self.lots])


def stand_in_trays(lots: Lots, capacity: Ints, kept: tuple[Kept, Kept], *, has_hardening: bool) -> tuple[Trays, Stays]:
    """Return the trays of start containers and of pots, and where each group of trays stands.

    Args:
        lots: What takes room.
        capacity: Cells of a tray of each container. Shape (n_containers,). [1]
        kept: What is in dealt trays of cells, and of pots.
        has_hardening: Whether the garden has shelves for hardening; without, it is not counted.

    Source:
        Which lots share and when a group moves is chosen here (docs/method.md).
    """
    times = lots.timeline
    is_potted = times.pot_on != NO_DAY
    leaves = np.where(is_potted, times.pot_on, times.harden)
    speed = speed_of(times.emerges - times.sow_on)
    sown = _groups(
        lots.cells,
        [lots.container, times.sow_on, lots.first_place, lots.light_place, speed, is_potted, week_number(leaves)],
        kept[0],
    )
    potted = _groups(
        lots.pots,
        [lots.pot_container, lots.light_place, week_number(times.pot_on), week_number(times.harden)],
        kept[1],
    )
    trays = _joined(
        _fill(sown, lots.cells, lots.container, capacity, kept[0], potted_on=False),
        _fill(potted, lots.pots, lots.pot_container, capacity, kept[1], potted_on=True),
        sown.n,
    )
    return trays, _stays(_sown_stays(lots, sown, leaves) + _potted_stays(lots, potted, sown.n), has_hardening)


def speed_of(emerge_days: Ints) -> Ints:
    """Return the class of speed of days from sowing to emergence: one cover serves what is of one class. [d]"""
    return np.searchsorted(_SPEED_ENDS, emerge_days).astype(np.int64)


def _groups(cells: Ints, keys: list[NDArray[np.generic]], kept: Kept) -> _Groups:
    lots = np.flatnonzero(cells > 0)
    group, n = group_lots([key[lots].astype(np.int64) for key in keys])
    if kept.is_settled.any():
        group_of = np.full(len(cells), -1)
        group_of[lots] = group
        found, group = np.unique(join_groups(kept, group_of)[lots], return_inverse=True)
        n = len(found)
    return _Groups(lots=lots, group=group, n=n)


def _fill(groups: _Groups, cells: Ints, container: Ints, capacity: Ints, kept: Kept, *, potted_on: bool) -> Trays:
    lots = groups.lots
    return fill_trays(lots, groups.group, cells[lots], container[lots], capacity, kept=kept, potted_on=potted_on)


_Stay = tuple[Ints, Ints, Days, Days]  # groups, and the place, begin and end of each


def _sown_stays(lots: Lots, sown: _Groups, leaves: Days) -> list[_Stay]:
    """A group comes at its first date and moves when its slowest lot is ready."""
    times, number = lots.timeline, np.arange(sown.n)
    came, up, left = sown.first(times.sow_on), sown.last(times.emerges), sown.last(leaves)
    first_place, light_place = sown.last(lots.first_place), sown.last(lots.light_place)
    # What starts in its light place stays put: one stay, not two.
    lit = np.where(first_place == light_place, came, up)
    # Potted-on lots leave these trays for good when they are potted on.
    is_potted = sown.last(times.pot_on) != NO_DAY
    out = np.where(is_potted, left, sown.last(times.plant_out))
    return [
        (number, first_place, came, lit),
        (number, light_place, lit, left),
        (number, np.full(sown.n, HARDENING), left, out),
    ]


def _potted_stays(lots: Lots, potted: _Groups, n_sown: int) -> list[_Stay]:
    times, number = lots.timeline, np.arange(potted.n) + n_sown
    left = potted.last(times.harden)
    return [
        (number, potted.last(lots.light_place), potted.first(times.pot_on), left),
        (number, np.full(potted.n, HARDENING), left, potted.last(times.plant_out)),
    ]


def _stays(stays: list[_Stay], has_hardening: bool) -> Stays:  # noqa: FBT001 - private, one caller
    """Return the stays that last a day or more."""
    group, place, begin, end = (np.concatenate([stay[column] for stay in stays]) for column in range(4))
    counts = (end > begin) & ((place != HARDENING) | has_hardening)
    return Stays(group=group[counts], place=place[counts], begin=begin[counts], end=end[counts])


def _joined(sown: Trays, potted: Trays, n_sown_groups: int) -> Trays:
    n_trays = len(sown.group)
    return Trays(
        group=np.concatenate([sown.group, potted.group + n_sown_groups]),
        container=np.concatenate([sown.container, potted.container]),
        is_potted_on=np.concatenate([sown.is_potted_on, potted.is_potted_on]),
        stored=np.concatenate([sown.stored, potted.stored]),
        part_tray=np.concatenate([sown.part_tray, potted.part_tray + n_trays]),
        part_lot=np.concatenate([sown.part_lot, potted.part_lot]),
        part_cells=np.concatenate([sown.part_cells, potted.part_cells]),
    )
