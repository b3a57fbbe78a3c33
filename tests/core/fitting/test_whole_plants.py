"""Bounds that count each grower's plants whole: no answer beats them, at whatever prices."""

import numpy as np
import pytest

from app.core.fitting.answer import Goal
from app.core.fitting.clock import Clock
from app.core.fitting.filling import Filling
from app.core.fitting.fixed import find_fixed
from app.core.fitting.flows import build_flows
from app.core.fitting.greedy import fill_in_order
from app.core.fitting.options import find_options
from app.core.fitting.patterns import find_patterns
from app.core.fitting.picked import Picked, values_of
from app.core.fitting.rough import Rough
from app.core.fitting.whole import fill_up, lift
from app.core.fitting.whole_plants import find_whole_plants
from app.core.fitting.wishes import stand_of
from app.core.plan import make_plan
from tests.core.fitting_gardens import MIDDLE, numbered
from tests.lengths import TIMES


class Levelling:
    """A garden that is too full, with an answer that is not a bad one."""

    def __init__(self, number):
        self.options = find_options(make_plan(numbered(number, MIDDLE)))
        stand, patterns = stand_of(self.options.plan, self.options.lot), find_patterns(self.options)
        self.fixed, self.clock = find_fixed(self.options), Clock(60, lambda _: None, lambda: False)
        filling = Filling(self.options, stand, self.fixed)
        fill_in_order(filling, np.flatnonzero(self.options.is_free))
        fill_up(filling, self.clock)
        lift(filling, self.clock)
        self.reached = values_of(self.options, Picked(filling.option, filling.plants))
        self.rough = Rough(build_flows(self.options, stand, patterns, self.fixed), patterns, self.fixed, self.clock)
        self.by_shares = self.rough.most_share()
        self.whole = find_whole_plants(self.options, stand, patterns, self.fixed, self.rough.model, self.reached.share)


@pytest.mark.parametrize("number", range(40 * TIMES))
def test_at_any_prices_no_answer_beats_them(number):
    garden = Levelling(number)
    draw = np.random.default_rng(number)
    n = garden.rough.model.programme.n_rows
    for _ in range(20):
        prices = draw.random(n) * (draw.random(n) < draw.random())
        assert garden.whole.most_share(prices, garden.reached.share, 1.0) >= garden.reached.share
        assert garden.whole.most_plants(prices) >= garden.reached.plants - garden.fixed.weighted - 1e-6


def test_they_say_more_than_shares_of_lots_do():
    lower = 0
    for number in range(40):
        garden = Levelling(number)
        found = garden.rough.bounds(garden.reached, garden.whole)
        assert found[Goal.SHARE] <= garden.by_shares + 1e-9
        lower += found[Goal.SHARE] < garden.by_shares - 1e-6
        assert found[Goal.SHARE] >= float(garden.reached.share) - 1e-9
        assert found[Goal.PLANTS] >= garden.reached.plants
    assert lower >= 10
