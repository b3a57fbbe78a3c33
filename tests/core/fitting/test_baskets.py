"""The best basket of each grower at given prices, against all baskets there are and against another solver."""

from fractions import Fraction
from itertools import product
from math import ceil

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from app.core.fitting import baskets
from app.core.fitting.baskets import NEVER, Prices, best_baskets, find_allowed, least_costs
from app.core.fitting.fixed import find_fixed
from app.core.fitting.model import find_ways
from app.core.fitting.options import find_options
from app.core.fitting.patterns import find_patterns
from app.core.fitting.wishes import stand_of
from app.core.plan import make_plan
from tests.core.fitting_gardens import MIDDLE, SMALL, numbered
from tests.lengths import TIMES

SHARES = (Fraction(0), Fraction(1, 3), Fraction(7, 10), Fraction(19, 20), Fraction(1))


class Market:
    """The growers of a garden, and prices that are drawn."""

    def __init__(self, number, size, share):
        self.options = find_options(make_plan(numbered(number, size)))
        self.stand, self.fixed = stand_of(self.options.plan, self.options.lot), find_fixed(self.options)
        patterns = find_patterns(self.options)
        self.ways = find_ways(self.options, patterns)
        self.allowed = find_allowed(self.options, self.stand, self.ways, self.fixed, share)
        self.off = self.options.off[self.ways.option]
        draw, n = np.random.default_rng(number), len(patterns.group)
        cells = np.cumsum(draw.random((n + 1, self.stand.cells.max(initial=0) + 1)) < 0.5, axis=1) * draw.random(
            (n + 1, 1)
        )
        cells[:, 0], cells[-1] = 0.0, 0.0
        self.prices = Prices(cells=cells, plant=float(draw.random()), day=float(draw.choice([0.0, 0.02])))

    def worth(self, lot, plants):
        """Return what plants of an allowed lot are worth in the best way beyond their price, by the definition."""
        if not plants:
            return 0.0
        row, prices, allowed = int(self.stand.row[allowed_lot(self, lot)]), self.prices, self.allowed
        mine = np.flatnonzero(self.ways.kind == self.options.kind[allowed_lot(self, lot)])
        costs = [
            prices.cells[self.ways.start[way], self.stand.cells[row, plants]]
            + (prices.cells[self.ways.pot[way], self.stand.pots[row, plants]] if self.ways.pot[way] >= 0 else 0.0)
            + prices.day * self.off[way] * plants
            for way in mine
        ]
        return float(prices.plant * allowed.weight[allowed.row[lot]] * plants - min(costs))

    def least(self, owner, share):
        """Return how many plants of its free lots a grower is to get at least."""
        sowings = self.options.plan.garden.sowings
        grower = sowings.grower[self.options.lot[self.allowed.lot[self.allowed.owner == owner][0]]]
        wanted = int(sowings.plants[self.options.lot[sowings.grower[self.options.lot] == grower]].sum())
        return ceil(share * wanted) - int(self.fixed.placed[grower])


def allowed_lot(market, lot):
    return int(market.allowed.lot[lot])


@pytest.fixture(autouse=True, params=[1, 10_000], ids=["one by one", "together"])
def growers_are_looked_at(monkeypatch, request):
    monkeypatch.setattr(baskets, "WORTHS_IN_PART", request.param)


@pytest.mark.parametrize("share", SHARES, ids=str)
@pytest.mark.parametrize("number", range(20 * TIMES))
def test_no_basket_that_gives_the_share_is_worth_more(number, share):
    market = Market(number, SMALL, share)
    found = best_baskets(market.allowed, market.ways, market.off, market.prices)
    for owner in range(market.allowed.n_owners):
        lots = np.flatnonzero(market.allowed.owner == owner).tolist()
        least = market.least(owner, share)
        wanted = [int(market.allowed.wanted[lot]) for lot in lots]
        # Where what is fixed has been cut and nothing makes up for it, it is all that is free.
        least = min(least, sum(wanted))
        worths = [
            [market.worth(lot, plants) for plants in range(most + 1)] for lot, most in zip(lots, wanted, strict=True)
        ]
        best = max(
            sum(worth[plants] for worth, plants in zip(worths, basket, strict=True))
            for basket in product(*(range(most + 1) for most in wanted))
            if sum(basket) >= least
        )
        assert found.worth[owner] == pytest.approx(best, abs=1e-9)
        taken = [most - int(found.missing[lot]) for lot, most in zip(lots, wanted, strict=True)]
        assert sum(taken) >= least
        told = 0.0
        for lot, plants in zip(lots, taken, strict=True):
            told += market.worth(lot, plants)
        assert told == pytest.approx(best, abs=1e-9)


@pytest.mark.parametrize("number", range(20 * TIMES))
def test_no_basket_with_no_more_missing_is_cheaper(number):
    market = Market(number, SMALL, Fraction(1, 3))
    costs = least_costs(market.allowed, market.ways, market.off, market.prices)
    for owner in range(market.allowed.n_owners):
        lots = np.flatnonzero(market.allowed.owner == owner).tolist()
        wanted = [int(market.allowed.wanted[lot]) for lot in lots]
        worths = [
            [market.worth(lot, plants) for plants in range(most + 1)] for lot, most in zip(lots, wanted, strict=True)
        ]
        for missing in range(int(market.allowed.most_missing[owner]) + 1):
            best = max(
                sum(worth[plants] for worth, plants in zip(worths, basket, strict=True))
                for basket in product(*(range(most + 1) for most in wanted))
                if sum(wanted) - sum(basket) <= missing
            )
            assert -costs[owner, missing] == pytest.approx(best, abs=1e-9)


@pytest.mark.parametrize("number", range(20 * TIMES))
def test_the_baskets_of_larger_gardens_are_those_of_another_solver(number):
    """scipy's milp, with a column for each number of plants of each lot."""
    share = Fraction(4, 5)
    market = Market(number, MIDDLE, share)
    found = best_baskets(market.allowed, market.ways, market.off, market.prices)
    for owner in range(market.allowed.n_owners):
        lots = np.flatnonzero(market.allowed.owner == owner).tolist()
        pairs = [(lot, plants) for lot in lots for plants in range(int(market.allowed.wanted[lot]) + 1)]
        worth = np.array([market.worth(lot, plants) for lot, plants in pairs])
        one_each = np.array([[float(lot == mine) for lot, _ in pairs] for mine in lots])
        plants = np.array([[plants for _, plants in pairs]], dtype=float)
        least = min(market.least(owner, share), sum(int(market.allowed.wanted[lot]) for lot in lots))
        other = milp(
            -worth,
            integrality=np.ones(len(pairs)),
            bounds=Bounds(0, 1),
            constraints=[LinearConstraint(one_each, 1, 1), LinearConstraint(plants, least, np.inf)],
        )
        assert found.worth[owner] == pytest.approx(-other.fun, abs=1e-6)


def test_where_no_way_is_open_nothing_can_be_given():
    market = Market(3, SMALL, Fraction(1))
    closed = find_allowed(
        market.options,
        market.stand,
        type(market.ways)(**{name: part[:0] for name, part in vars(market.ways).items()}),
        market.fixed,
        Fraction(1),
    )
    assert (best_baskets(closed, market.ways, market.off, market.prices).worth <= NEVER / 2).all()
