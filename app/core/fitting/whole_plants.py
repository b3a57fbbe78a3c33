"""What no answer can beat, counting each grower's plants whole.

At the prices of rows in an answer by kinds, what growers take of them costs no more than all of it is worth, in any
answer. Each grower's cheapest basket with enough plants says how much that is at the least, and it says more than
shares of his lots do. (Lagrangian relaxation: any prices give a bound.)
"""

from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.answer import Goal
from app.core.fitting.baskets import Allowed, Prices, best_baskets, find_allowed, least_costs, work_with
from app.core.fitting.fixed import Fixed
from app.core.fitting.flows import FlowModel
from app.core.fitting.model import Model, Ways, find_ways
from app.core.fitting.options import Options
from app.core.fitting.patterns import Patterns
from app.core.fitting.wishes import Stand

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

# Rounding may make this much of what is asked for. [fraction]
ROUNDING = 1e-9
# A bound is not worth more work than this, some seconds. [comparisons]
MOST_WORK = 1_000_000_000
# What a plant costs where nobody may be. [d]
FAR_OFF = 1e9


class Worth(NamedTuple):
    """What rows are worth where something is to be least: less than nothing what there is no more of than so much.

    Attributes:
        rows: Those before the rows of growers. Shape (n_rows,).
        plants: The row of placed plants. [goal's unit]
        days: The row of plant-days, less than nothing turned round. [goal's unit]
    """

    rows: Floats
    plants: float
    days: float

    def plus(self, other: "Worth", times: float = 1.0) -> "Worth":
        """Return this and so many times another one."""
        return Worth(self.rows + times * other.rows, self.plants + times * other.plants, self.days + times * other.days)


def worth_in(model: Model, prices: Floats, *, largest: bool) -> Worth:
    """Return what rows are worth at the prices of a programme in which something is to be largest or least."""
    sign = -1.0 if largest else 1.0
    return Worth(
        rows=sign * prices[: model.share_rows[0] if len(model.share_rows) else model.plants_row],
        plants=sign * float(prices[model.plants_row]),
        days=-sign * float(prices[model.days_row]),
    )


@dataclass(frozen=True)
class WholePlants:
    """The growers of a levelling with a smallest share, for bounds.

    Attributes:
        model: The programme of all lots; prices may be those of one that has fewer growers.
        group: The group of each pattern, rising. Shape (n_patterns,).
        ways: All ways.
        off: Days between the day of each way and the best one. Shape (n_ways,). [d]
        allowed: What may be missing.
        wanted: Plants wanted by each grower with free lots. Shape (n_owners,). [1]
        placed: Plants of theirs that are not free. Shape (n_owners,). [1]
        free: Plants wanted of their free lots. Shape (n_owners,). [1]
    """

    model: FlowModel
    group: Ints
    ways: Ways
    off: Ints
    allowed: Allowed
    wanted: Ints
    placed: Ints
    free: Ints

    def most_share(self, duals: Floats, least: Fraction, most: float) -> float:
        """Return what no smallest share can beat. [fraction]

        Args:
            duals: Prices of rows where the smallest share is as large as it can be.
            least: The share of these growers, which is reached.
            most: What it can't beat by shares of lots. [fraction]
        """
        if not len(self.wanted):
            return most
        each, all_positions = self._prices(duals)
        prices = Prices(cells=self._by_cells(each), plant=0.0, day=0.0)
        costs = least_costs(self.allowed, self.ways, self.off, prices)

        def fits(share: Fraction) -> bool:
            least_of_each = np.array([ceil(share * wanted) for wanted in self.wanted.tolist()], dtype=np.int64)
            column = np.clip(self.free - np.maximum(0, least_of_each - self.placed), 0, self.allowed.most_missing)
            asked = float(costs[np.arange(len(column)), column].sum())
            return asked <= all_positions + ROUNDING * max(1.0, abs(asked))

        # The smallest share is one of a whole number of some grower's plants.
        shares = sorted(
            {
                Fraction(plants, wanted)
                for wanted in set(self.wanted.tolist())
                for plants in range(ceil(least * wanted), int(most * wanted + ROUNDING) + 1)
            }
        )
        low, high = 0, len(shares)
        while low < high:
            middle = (low + high) // 2
            low, high = (middle + 1, high) if fits(shares[middle]) else (low, middle)
        return min(most, float(max(least, shares[low - 1]))) if low else min(most, float(least))

    def least(
        self, goal: Goal, worth: Worth, *, decided: dict[int, float], plants: float = 0.0, days: float = 0.0
    ) -> float:
        """Return what a goal comes to at the least; plants, of which the most are wanted, count less than nothing.

        What is not free is not among them.

        Args:
            goal: Plants, days or trays.
            worth: What rows are worth.
            decided: Which patterns are used or not, by their index among those of which that is open.
            plants: Plants by weight that are to be placed at the least, where days or trays are the goal. [1]
            days: Plant-days that are not to be exceeded, where trays are the goal. [d]
        """
        model, rows = self.model, np.zeros(self.model.programme.n_rows)
        for some, sign in ((model.position_rows, -1.0), (model.in_used_rows, -1.0), (model.maker_rows, 1.0)):
            rows[some] = sign * np.maximum(0.0, sign * worth.rows[some])
        # Each goal holds those before it, and no others.
        of_plants = 0.0 if goal is Goal.PLANTS else max(0.0, worth.plants)
        of_days = max(0.0, worth.days) if goal is Goal.TRAYS else 0.0
        asked = -model.programme.at_prices(rows)
        each = (asked[model.trays] + (goal is Goal.TRAYS)) / model.capacity
        off = (of_days + (goal is Goal.DAYS)) * self.off + asked[model.way_plants]
        choice = np.flatnonzero(model.is_used >= 0)
        shut = np.zeros(len(each) + 1, dtype=bool)
        shut[choice] = [decided.get(at) == 0.0 for at in range(len(choice))]
        off = np.where(shut[self.ways.start] | shut[self.ways.pot], FAR_OFF, off)
        prices = Prices(cells=self._by_cells(each), plant=of_plants + (goal is Goal.PLANTS), day=1.0)
        worths = best_baskets(self.allowed, self.ways, off, prices).worth
        # What is not free takes its cells of the patterns that are used.
        of_patterns = model.held * each
        of_used = of_patterns[choice] + asked[model.is_used[choice]]
        return (
            of_plants * plants
            - of_days * days
            + model.programme.most_at_prices(model.position_rows, rows)
            + float(of_patterns[model.is_used < 0].sum())
            + self._least_used(of_used, self.group[choice], decided)
            - float(worths.sum())
        )

    @staticmethod
    def _least_used(cost: Floats, group: Ints, decided: dict[int, float]) -> float:
        """Return what patterns cost at the least, of each group one or none."""
        total = 0.0
        for one in np.unique(group).tolist():
            open_ones = [at for at in np.flatnonzero(group == one).tolist() if decided.get(at) != 0.0]
            taken = [at for at in open_ones if decided.get(at) == 1.0]
            total += min(cost[at] for at in taken) if taken else min([0.0, *(cost[at] for at in open_ones)])
        return total

    def _prices(self, duals: Floats) -> tuple[Floats, float]:
        """Return prices of cells, and what all positions are worth: no tray is worth more than where it stands."""
        model = self.model
        of_positions = np.zeros(model.programme.n_rows)
        of_positions[model.position_rows] = np.abs(duals[model.position_rows])
        of_trays = model.programme.at_prices(of_positions)[model.trays]
        each = np.minimum(np.abs(duals[model.tray_rows]), of_trays / model.capacity)
        return each, model.programme.most_at_prices(model.position_rows, of_positions)

    def _by_cells(self, each: Floats) -> Floats:
        most = int(max(self.allowed.cells.max(initial=0), self.allowed.pots.max(initial=0)))
        cells = np.zeros((len(each) + 1, most + 1))
        cells[:-1] = each[:, np.newaxis] * np.arange(most + 1)
        return cells


def find_whole_plants(
    options: Options, stand: Stand, patterns: Patterns, fixed: Fixed, model: FlowModel, share: Fraction
) -> WholePlants | None:
    """Return the growers of a levelling where each gets no less than a share; None where they take too long."""
    if work_with(options, fixed, share) > MOST_WORK:
        return None
    ways = find_ways(options, patterns)
    allowed = find_allowed(options, stand, ways, fixed, share)
    sowings = options.plan.garden.sowings
    wanted = np.bincount(sowings.grower[options.lot], sowings.plants[options.lot]).astype(np.int64)[allowed.grower]
    return WholePlants(
        model=model,
        group=patterns.group,
        ways=ways,
        off=options.off[ways.option],
        allowed=allowed,
        wanted=wanted,
        placed=fixed.placed[allowed.grower],
        free=np.bincount(allowed.owner, allowed.wanted, minlength=allowed.n_owners).astype(np.int64),
    )
