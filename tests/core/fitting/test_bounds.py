"""Bounds that count each grower's plants and all trays whole: no answer beats them, at whatever prices."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from app.core.fitting.answer import Goal
from app.core.fitting.clock import Clock
from app.core.fitting.fixed import find_fixed
from app.core.fitting.flows import build_flows
from app.core.fitting.levelling import level
from app.core.fitting.options import find_options
from app.core.fitting.patterns import find_patterns
from app.core.fitting.picked import Values
from app.core.fitting.rough import Rough
from app.core.fitting.whole_plants import find_whole_plants
from app.core.fitting.whole_trays import find_whole_trays
from app.core.fitting.wishes import stand_of
from app.core.plan import make_plan
from tests.core.fitting_gardens import MIDDLE, SMALL, numbered
from tests.lengths import TIMES

# No grower of these gardens wants more. [1]
MOST_WANTED = 1_000


class Levelling:
    """A garden that is too full, and the best answer there is: tests hold it against every one."""

    def __init__(self, number, size):
        garden = numbered(number, size)
        self.answer = level(garden, seconds=60, report=lambda _: None, is_stopped=lambda: False)
        options = find_options(make_plan(garden))
        stand, patterns, self.fixed = stand_of(options.plan, options.lot), find_patterns(options), find_fixed(options)
        clock = Clock(60, lambda _: None, lambda: False)
        self.rough = Rough(build_flows(options, stand, patterns, self.fixed), patterns, self.fixed, clock)
        self.by_shares = self.rough.most_share()
        values = {one.goal: one.value for one in self.answer.reached}
        self.values = Values(
            share=Fraction(values[Goal.SHARE]).limit_denominator(MOST_WANTED),
            plants=int(values[Goal.PLANTS]),
            days=int(values[Goal.DAYS]),
            trays=int(values[Goal.TRAYS]),
        )
        self.whole = find_whole_plants(options, stand, patterns, self.fixed, self.rough.model, self.values.share)
        self.trays = find_whole_trays(options, stand, patterns, self.rough.model)


@pytest.mark.parametrize("number", range(25 * TIMES))
def test_at_any_prices_no_answer_beats_them(number):
    garden = Levelling(number, SMALL)
    draw = np.random.default_rng(number)
    n = garden.rough.model.programme.n_rows
    for _ in range(20):
        prices = draw.random(n) * (draw.random(n) < draw.random())
        assert garden.whole.most_share(prices, garden.values.share, 1.0) >= garden.values.share
        assert garden.whole.most_plants(prices) >= garden.values.plants - garden.fixed.weighted - 1e-6


def test_at_the_best_prices_no_answer_beats_them_and_they_say_more_than_parts_of_lots_and_of_trays():
    lower = met = more_trays = 0
    for number in range(10 * TIMES):
        garden = Levelling(number, MIDDLE)
        nothing = np.zeros(0, dtype=np.int64)
        parts = replace(garden.trays, pattern=nothing, column=nothing, most=np.zeros(0))
        in_parts, found = (garden.rough.bounds(garden.values, garden.whole, trays) for trays in (parts, garden.trays))
        assert found[Goal.SHARE] >= float(garden.values.share) - 1e-9
        assert found[Goal.PLANTS] >= garden.values.plants
        assert found[Goal.DAYS] <= garden.values.days
        assert found[Goal.TRAYS] <= garden.values.trays
        lower += found[Goal.SHARE] < garden.by_shares - 1e-6
        met += found[Goal.SHARE] < garden.values.share + 1e-6
        more_trays += found[Goal.TRAYS] > in_parts[Goal.TRAYS]
    assert lower >= 3
    assert met >= 2
    assert more_trays >= 2
