"""Spare plants: who is in most need of them."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY
from app.core.plan import Plan
from app.core.work.failing import failed_from

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

NOBODY = -1  # whoever got spare plants is no grower any more
ALL = 1.0  # the share of somebody who wished for no plants of the crop


@dataclass(frozen=True, kw_only=True)
class Given:
    """Spare plants that went to a grower.

    Attributes:
        sowing: Index of the sowing that they are of.
        grower: Index of the grower who got them; -1 for somebody who is no grower any more.
        plants: How many. [1]
    """

    sowing: int
    grower: int
    plants: int


@dataclass(frozen=True, kw_only=True)
class Asked:
    """Plants of a crop that a grower asks for.

    Attributes:
        number: What tells it from the others; of two alike, the lower comes first.
        grower: Index of the grower.
        crop: Index of the crop card.
        day: The day on which it was asked. [day number]
    """

    number: int
    grower: int
    crop: int
    day: int


@dataclass(frozen=True, kw_only=True)
class Need:
    """How much a grower needs plants of a crop.

    Attributes:
        has_failed: A sowing of theirs of this crop has failed.
        wanted: Plants that they wished for. [1]
        has: Plants of those that they got, have on the shelves, or may still expect. [1]
    """

    has_failed: bool
    wanted: int
    has: int

    @property
    def share(self) -> float:
        """What they have of what they wanted, at most all of it; all where they wanted none. [fraction]"""
        return min(ALL, self.has / self.wanted) if self.wanted else ALL


def failed_sowings(plan: Plan) -> Flags:
    """Return whether each sowing has failed: nothing of it lives, and no plant reached a plot. Shape (n_sowings,).

    Source:
        Chosen here: all was lost, or nothing is up by the day from which a sowing counts as failed (`failed_from`).
    """
    today, fails = plan.garden.today, failed_from(plan)
    went_on = plan.progress.hardened_on != NO_DAY
    nothing_up = (fails != NO_DAY) & (today != NO_DAY) & (fails <= today) & ~went_on
    is_gone = plan.logged.is_over(_per_cell(plan)) | (nothing_up & (plan.logged.up == 0))
    failed: Flags = is_gone & (plan.living == 0) & (plan.logged.left == 0)
    return failed


def plants_in_sight(plan: Plan) -> Ints:
    """Return the plants of each sowing that left for a plot, live on the shelves, or may still be expected.

    Shape (n_sowings,). [1]

    Source:
        Chosen here: until its seedlings are counted, a sowing is taken to give what is placed of it.
    """
    logged = plan.logged
    is_counted = (logged.up > 0) | (logged.potted > 0) | logged.is_over(_per_cell(plan)) | failed_sowings(plan)
    expected = np.where(plan.is_too_late, 0, plan.plants)
    in_sight: Ints = np.where(is_counted, logged.left + plan.living, np.maximum(expected, logged.left))
    return in_sight


def need_of(plan: Plan, grower: int, crop: int, given: Iterable[Given]) -> Need:
    """Return how much a grower needs plants of a crop.

    Args:
        plan: The garden's plan.
        grower: Index of the grower.
        crop: Index of the crop card.
        given: All spare plants that went from one to another; in the log they are handed out.
    """
    sowings = plan.garden.sowings
    mine = (sowings.grower == grower) & (sowings.crop == crop)
    has = int(plants_in_sight(plan)[mine].sum())
    for gift in given:
        if sowings.crop[gift.sowing] == crop:
            has += gift.plants * ((gift.grower == grower) - int(mine[gift.sowing]))
    return Need(
        has_failed=bool(failed_sowings(plan)[mine].any()), wanted=int(sowings.plants[mine].sum()), has=max(0, has)
    )


def in_order_of_need(asked: Iterable[Asked], needs: Mapping[int, Need]) -> list[Asked]:
    """Return those who ask in the order in which they get plants.

    Args:
        asked: What is asked for.
        needs: The need behind each, by the number that is its index here.

    Source:
        Chosen here: whose sowing failed comes first, then who has the smaller share of what they wanted, then who
        asked earlier.
    """
    return sorted(
        asked, key=lambda one: (not needs[one.number].has_failed, needs[one.number].share, one.day, one.number)
    )


def spare_of_sowing(plan: Plan, sowing: int, offered: int) -> int:
    """Return how many plants of a sowing can be offered: those that live by the log, less those offered already. [1]

    Args:
        plan: The garden's plan.
        sowing: Index of the sowing.
        offered: Plants of it that are offered and still here. [1]
    """
    return max(0, int(plan.living[sowing]) - offered)


def _per_cell(plan: Plan) -> Ints:
    stay = np.array([card.plants_per_cell for card in plan.garden.cards], dtype=np.int64)
    return stay[plan.garden.sowings.crop]
