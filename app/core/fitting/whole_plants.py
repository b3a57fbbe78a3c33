"""What no answer can beat, counting each grower's plants whole.

At the prices of trays in an answer by kinds, what growers take of them costs no more than all positions are worth, in
any answer. Each grower's cheapest basket with enough plants says how much that is at the least, and it says more than
shares of his lots do. (Lagrangian relaxation: any prices give a bound.)
"""

from dataclasses import dataclass
from fractions import Fraction
from math import ceil

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.baskets import Allowed, Prices, best_baskets, find_allowed, least_costs
from app.core.fitting.fixed import Fixed
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


@dataclass(frozen=True)
class WholePlants:
    """The growers of a levelling with a smallest share, for bounds.

    Attributes:
        model: The programme from which prices come.
        ways: All ways.
        off: Days between the day of each way and the best one. Shape (n_ways,). [d]
        allowed: What may be missing.
        wanted: Plants wanted by each grower with free lots. Shape (n_owners,). [1]
        placed: Plants of theirs that are not free. Shape (n_owners,). [1]
        free: Plants wanted of their free lots. Shape (n_owners,). [1]
    """

    model: Model
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
        if not len(self.wanted) or self.allowed.work > MOST_WORK:
            return most
        prices, all_positions = self._prices(duals, plant=0.0)
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

    def most_plants(self, duals: Floats) -> float:
        """Return what the placed plants, by weight, can't beat; what is not free is not among them. [1]

        Args:
            duals: Prices of rows where the most plants are placed.
        """
        if self.allowed.work > MOST_WORK:
            return np.inf
        prices, all_positions = self._prices(duals, plant=1.0)
        return float(best_baskets(self.allowed, self.ways, self.off, prices).worth.sum()) + all_positions

    def _prices(self, duals: Floats, *, plant: float) -> tuple[Prices, float]:
        """Return prices of cells, and what all positions are worth: no tray is worth more than where it stands."""
        model = self.model
        of_positions = np.zeros(len(duals))
        of_positions[model.position_rows] = np.abs(duals[model.position_rows])
        of_trays = model.programme.at_prices(of_positions)[model.trays]
        each = np.minimum(np.abs(duals[model.tray_rows]), of_trays / model.capacity)
        most = int(max(self.allowed.cells.max(initial=0), self.allowed.pots.max(initial=0)))
        cells = np.zeros((len(each) + 1, most + 1))
        cells[:-1] = each[:, np.newaxis] * np.arange(most + 1)
        all_positions = model.programme.most_at_prices(model.position_rows, of_positions)
        return Prices(cells=cells, plant=plant, day=0.0), all_positions


def find_whole_plants(
    options: Options, stand: Stand, patterns: Patterns, fixed: Fixed, model: Model, share: Fraction
) -> WholePlants:
    """Return the growers of a levelling where each gets no less than a share of the plants wanted."""
    ways = find_ways(options, patterns)
    allowed = find_allowed(options, stand, ways, fixed, share)
    sowings = options.plan.garden.sowings
    grower = np.unique(sowings.grower[options.lot[allowed.lot]])
    wanted = np.bincount(sowings.grower[options.lot], sowings.plants[options.lot]).astype(np.int64)[grower]
    return WholePlants(
        model=model,
        ways=ways,
        off=options.off[ways.option],
        allowed=allowed,
        wanted=wanted,
        placed=fixed.placed[grower],
        free=np.bincount(allowed.owner, allowed.plants[:, 0], minlength=allowed.n_owners).astype(np.int64),
    )
