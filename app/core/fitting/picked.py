"""An answer as options and plants of lots, and what it comes to."""

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.answer import Choices, Goal
from app.core.fitting.options import Options
from app.core.plan import Plan, make_plan
from app.core.words import LAMP, WINDOW, Light

Ints = NDArray[np.int64]

NOTHING = -1


@dataclass(frozen=True)
class Picked:
    """What each lot gets.

    Attributes:
        option: Its option; -1 where it is left out whole. Shape (n_lots,).
        plants: Its plants. Shape (n_lots,). [1]
    """

    option: Ints
    plants: Ints


@dataclass(frozen=True)
class Values:
    """What an answer comes to: the four goals, the share as a fraction of whole numbers."""

    share: Fraction
    plants: int
    days: int
    trays: int

    def of(self, goal: Goal) -> float:
        """Return the value of a goal."""
        return float(
            {Goal.SHARE: self.share, Goal.PLANTS: self.plants, Goal.DAYS: self.days, Goal.TRAYS: self.trays}[goal]
        )

    @property
    def rank(self) -> tuple[Fraction, int, int, int]:
        """What to compare answers by: the larger is the better."""
        return (self.share, self.plants, -self.days, -self.trays)


def smallest_share(options: Options, plants: Ints) -> Fraction:
    """Return the smallest share of wanted plants that any grower gets; all where nobody wants any."""
    sowings = options.plan.garden.sowings
    grower = sowings.grower[options.lot]
    wanted = np.bincount(grower, sowings.plants[options.lot]).astype(np.int64)
    placed = np.bincount(grower, plants).astype(np.int64)
    return min(
        (Fraction(int(one), int(all_of)) for one, all_of in zip(placed, wanted, strict=True) if all_of),
        default=Fraction(1),
    )


def values_of(options: Options, picked: Picked) -> Values:
    """Return what an answer comes to."""
    weight = 4 - options.plan.garden.sowings.priority[options.lot]
    off = np.where(picked.option == NOTHING, 0, options.off[picked.option] if len(options.off) else 0)
    return Values(
        share=smallest_share(options, picked.plants),
        plants=int((picked.plants * weight).sum()),
        days=int((picked.plants * off).sum()),
        trays=len(plan_of(options, picked).trays.group),
    )


def plan_of(options: Options, picked: Picked) -> Plan:
    """Return the plan with an answer's choices made."""
    return make_plan(choices_of(options, picked).made_in(options.plan.garden))


def choices_of(options: Options, picked: Picked) -> Choices:
    """Return an answer as columns of the garden's sowings; what stays as it is keeps what it has."""
    garden, plan = options.plan.garden, options.plan
    now = garden.sowings
    sow_on, light, placed = now.sow_on.copy(), now.light.copy(), now.placed.copy()
    free = np.flatnonzero(options.is_free)
    row, option, plants = options.lot[free], picked.option[free], picked.plants[free]
    changes = plants != plan.plants[row]
    placed[row[changes]] = np.where(plants == now.plants[row], -1, plants)[changes]
    put = option != NOTHING
    row, option = row[put], option[put]
    usual = np.array([LAMP if card.light is Light.LAMP else WINDOW for card in garden.cards], dtype=np.int64)
    place = options.light[option]
    changes = place != plan.light_place[row]
    light[row[changes]] = np.where(place == usual[now.crop[row]], -1, place)[changes]
    # With another place the usual day may be another one too, so the day is then written down.
    changes |= options.day[option] != plan.timeline.sow_on[row]
    # Who is late by a day that was set for it is not planted out later, as who waits is.
    changes |= options.times.plant_out[option] != plan.timeline.plant_out[row]
    sow_on[row[changes]] = options.sow_on[option][changes]
    return Choices(sow_on=sow_on, light=light, placed=placed)
