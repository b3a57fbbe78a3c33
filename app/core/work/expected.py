"""What is likely to be written down next: the kind of entry, and how many it will be of."""

from dataclasses import dataclass

import numpy as np

from app.core.calendar import NO_DAY
from app.core.plan import Ints, Plan
from app.core.words import LogKind

# What comes about in pots, into which nothing is sown.
IN_POTS = (LogKind.POTTED_ON, LogKind.LOST, LogKind.HANDED_OUT, LogKind.PLANTED_OUT)


@dataclass(frozen=True, kw_only=True)
class Part:
    """What there is of a sowing, all of it or what one tray has.

    Attributes:
        to_sow: Cells that wait to be sown. [1]
        sown: Cells that were sown. [1]
        up: Cells with a seedling that were counted; None where nobody has counted. [1]
        chance_up: The chance that a cell comes up. [fraction]
        plants_per_cell: Plants that a cell is to hold. [1]
        to_pot: Pots that wait to be filled. [1]
        pots: Pots that are filled. [1]
        is_potted: Whether anything of it was potted on.
        is_potted_on: Whether it is ever potted on.
        living: Plants that are here by the log; None for a part, which the log does not tell. [1]
        left: Plants that were handed out. [1]
        planted: Plants that were planted out. [1]
    """

    to_sow: int = 0
    sown: int = 0
    up: int | None = None
    chance_up: float = 1.0
    plants_per_cell: int = 1
    to_pot: int = 0
    pots: int = 0
    is_potted: bool = False
    is_potted_on: bool = False
    living: int | None = None
    left: int = 0
    planted: int = 0

    @property
    def seedlings(self) -> int:
        """Cells with a seedling: those that were counted, or else those that are to be expected. [1]"""
        return round(self.sown * self.chance_up) if self.up is None else self.up

    @property
    def plants(self) -> int:
        """Plants that can be handed out. [1]"""
        if self.living is not None:
            return self.living
        return self.pots or self.seedlings * self.plants_per_cell


def whole_sowing(plan: Plan, index: int) -> Part:
    """Return what there is of a sowing, by its index in the plan."""
    logged, card = plan.logged, plan.garden.cards[int(plan.garden.sowings.crop[index])]
    sown, is_up = int(logged.sown[index]), int(plan.progress.up_on[index]) != NO_DAY
    is_potted = int(plan.progress.potted_on[index]) != NO_DAY
    is_sown = int(plan.progress.sown_on[index]) != NO_DAY
    return Part(
        to_sow=max(0, int(plan.cells[index]) - sown) if not is_sown or sown else 0,
        sown=sown or (int(plan.cells[index]) if is_sown else 0),
        up=int(logged.up[index]) if is_up else None,
        chance_up=chance_up(plan, index),
        plants_per_cell=card.plants_per_cell or 1,
        to_pot=0 if is_potted else int(plan.pots[index]),
        pots=int(logged.potted[index]),
        is_potted=is_potted,
        is_potted_on=int(plan.due.pot_on[index]) != NO_DAY,
        living=int(plan.living[index]) if is_up or is_potted else None,
        left=int(logged.handed_out[index]),
        planted=int(logged.planted_out[index]),
    )


def chance_up(plan: Plan, index: int) -> float:
    """Return the chance that a cell of a sowing comes up. [fraction]

    Source:
        One of m seeds comes up with 1 - (1 - g)^m (docs/method.md).
    """
    card = plan.garden.cards[int(plan.garden.sowings.crop[index])]
    return float(1 - (1 - plan.germination[index]) ** card.seeds_per_cell)


def next_kind(part: Part, *, is_pots: bool = False) -> LogKind:
    """Return what is likely to be written down next of a part.

    Args:
        part: What there is of it.
        is_pots: Whether it is a tray of pots.

    Source:
        Chosen here: the order of a plant's life.
    """
    if is_pots:
        return LogKind.POTTED_ON if part.to_pot else LogKind.HANDED_OUT
    if part.to_sow or not part.sown:
        return LogKind.SOWN
    if part.up is None:
        return LogKind.UP
    if part.is_potted_on and not part.is_potted:
        return LogKind.POTTED_ON
    return LogKind.PLANTED_OUT if part.left and not part.plants else LogKind.HANDED_OUT


def expected_count(part: Part, kind: LogKind) -> int | None:
    """Return how many an entry is likely to be of; None where nobody can tell. [1]

    Args:
        part: What there is of it.
        kind: What is written down.

    Source:
        Chosen here; the count is there to be corrected.
    """
    counts = {
        LogKind.SOWN: part.to_sow,
        LogKind.UP: part.seedlings,
        LogKind.THINNED: part.seedlings * part.plants_per_cell,
        LogKind.POTTED_ON: min(part.to_pot, part.seedlings * part.plants_per_cell) if part.sown else part.to_pot,
        LogKind.LOST: 0,
        LogKind.HANDED_OUT: part.plants,
        LogKind.PLANTED_OUT: part.left - part.planted if part.left > part.planted else part.plants,
    }
    return counts[kind] or None


def waiting_for(plan: Plan, kind: LogKind) -> Ints:
    """Return the indices of the sowings of which a kind of entry may be written down next, by the day it is due.

    What is never due, such as crops sown at the plot, comes last; what is over, or too late to be sown, waits for
    nothing.

    Args:
        plan: The garden's plan.
        kind: What is written down.
    """
    has = plan.progress
    is_sown, is_up, is_potted = has.sown_on != NO_DAY, has.up_on != NO_DAY, has.potted_on != NO_DAY
    is_here = is_sown & (has.over_on == NO_DAY)
    is_in_hand = plan.logged.handed_out > plan.logged.planted_out
    waits = {
        LogKind.SOWN: ~is_sown & ~plan.is_too_late,
        LogKind.UP: is_here & ~is_up & ~is_potted,
        LogKind.THINNED: is_here & is_up & ~is_potted & (plan.logged.thinned_on == NO_DAY),
        LogKind.POTTED_ON: is_here & ~is_potted & (plan.due.pot_on != NO_DAY),
        LogKind.LOST: is_here,
        LogKind.HANDED_OUT: is_here,
        LogKind.PLANTED_OUT: is_here | is_in_hand,
    }[kind]
    found = np.flatnonzero(waits)
    sowings = plan.garden.sowings
    due_on = _due(plan, kind)[found]
    order = np.lexsort((sowings.grower[found], sowings.crop[found], due_on, due_on == NO_DAY))
    return np.asarray(found[order])


def due_on(plan: Plan, kind: LogKind, index: int) -> int:
    """Return the day on which a kind of entry is due of a sowing; 0 where none is. [day number]"""
    return int(_due(plan, kind)[index])


def _due(plan: Plan, kind: LogKind) -> Ints:
    due = plan.due
    return {
        LogKind.SOWN: due.sow_on,
        LogKind.UP: due.emerges,
        LogKind.THINNED: due.thin,
        LogKind.POTTED_ON: due.pot_on,
        LogKind.LOST: due.sow_on,
        LogKind.HANDED_OUT: due.plant_out,
        LogKind.PLANTED_OUT: due.plant_out,
    }[kind]
