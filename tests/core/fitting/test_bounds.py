"""Bounds that count each grower's plants and all trays whole: no answer beats them, at whatever prices."""

from dataclasses import replace
from fractions import Fraction
from itertools import islice, product

import numpy as np
import pytest

from app.core.fitting.answer import Goal
from app.core.fitting.branching import least_with_patterns
from app.core.fitting.clock import Clock
from app.core.fitting.fixed import find_fixed
from app.core.fitting.flows import build_flows
from app.core.fitting.levelling import level
from app.core.fitting.market import Settled
from app.core.fitting.options import find_options
from app.core.fitting.patterns import find_patterns
from app.core.fitting.picked import Values
from app.core.fitting.programme import INFINITE
from app.core.fitting.rough import Rough
from app.core.fitting.sample import take_sample
from app.core.fitting.whole_plants import Worth, find_whole_plants
from app.core.fitting.whole_trays import find_whole_trays
from app.core.fitting.wishes import stand_of
from app.core.plan import make_plan
from tests.core.fitting_gardens import MIDDLE, SMALL, numbered
from tests.lengths import TIMES

# Middling gardens; the first one takes half a minute to be proven.
PROVEN_SOON = range(1, 1 + 10 * TIMES)
# No grower of these gardens wants more. [1]
MOST_WANTED = 1_000


class Levelling:
    """A garden that is too full, and the best answer there is: tests hold it against every one."""

    def __init__(self, number, size):
        garden = numbered(number, size)
        self.answer = level(garden, seconds=60, report=lambda _: None, is_stopped=lambda: False)
        options = find_options(make_plan(garden))
        stand, patterns, self.fixed = stand_of(options.plan, options.lot), find_patterns(options), find_fixed(options)
        self.options, self.stand = options, stand
        clock = Clock(60, lambda _: None, lambda: False)
        self.rough = Rough(build_flows(options, stand, patterns, self.fixed), patterns, self.fixed, clock)
        self.by_shares = self.rough.by_shares
        values = {one.goal: one.value for one in self.answer.reached}
        self.values = Values(
            share=Fraction(values[Goal.SHARE]).limit_denominator(MOST_WANTED),
            plants=int(values[Goal.PLANTS]),
            days=int(values[Goal.DAYS]),
            trays=int(values[Goal.TRAYS]),
        )
        self.whole = find_whole_plants(options, stand, patterns, self.fixed, self.rough.model, self.values.share)
        self.trays = find_whole_trays(options, stand, patterns, self.rough.model)

    def drawn(self, draw):
        """Return any prices of rows at all."""
        model = self.rough.model
        rows = draw.normal(size=model.programme.n_rows) * 10 ** draw.uniform(-2, 1)
        rows *= draw.random(len(rows)) < draw.random()
        return Worth(rows, *(10 ** draw.uniform(-2, 1) * (draw.random(2) < 0.7)).tolist())

    def least(self, goal, worth, decided):
        """Return what a goal comes to at the least, with all that is fixed, holding what the best answer has."""
        held = {"plants": self.values.plants - self.fixed.weighted, "days": self.values.days - self.fixed.days}
        least = self.whole.least(goal, worth, decided=decided, **held)
        return {Goal.PLANTS: -least + self.fixed.weighted, Goal.DAYS: least + self.fixed.days, Goal.TRAYS: least}[goal]


def one_decision(garden, draw):
    """Return both sides of a decision about a pattern, if there is any to decide."""
    groups = garden.whole.group[garden.rough.model.is_used >= 0]
    if not len(groups):
        return [{}]
    which = int(draw.integers(len(groups)))
    others = dict.fromkeys(np.flatnonzero(groups == groups[which]).tolist(), 0.0)
    return [{which: 0.0}, others | {which: 1.0}]


@pytest.mark.parametrize("number", range(25 * TIMES))
def test_at_any_prices_no_answer_beats_them(number):
    garden = Levelling(number, SMALL)
    draw = np.random.default_rng(number)
    n = garden.rough.model.programme.n_rows
    for _ in range(20):
        prices = draw.random(n) * (draw.random(n) < draw.random())
        assert garden.whole.most_share(prices, garden.values.share, 1.0) >= garden.values.share
        for decisions in ([{}], one_decision(garden, draw)):
            sides = {goal: [] for goal in (Goal.PLANTS, Goal.DAYS, Goal.TRAYS)}
            for decided in decisions:
                for goal, found in sides.items():
                    found.append(garden.least(goal, garden.drawn(draw), decided))
            assert max(sides[Goal.PLANTS]) >= garden.values.plants - 1e-6
            assert min(sides[Goal.DAYS]) <= garden.values.days + 1e-6
            assert min(sides[Goal.TRAYS]) <= garden.values.trays + 1e-6


@pytest.mark.parametrize("number", PROVEN_SOON)
def test_prices_of_a_sample_give_bounds_that_no_answer_of_all_beats(number):
    """Whatever positions are said to be worth to whole growers, and however few growers speak for the others."""
    garden = Levelling(number, MIDDLE)
    draw = np.random.default_rng(number)
    sample = take_sample(garden.options, garden.stand, 2)
    patterns, rough = garden.rough.patterns, garden.rough
    flows = build_flows(sample.options, sample.stand, patterns, garden.fixed, times=sample.times)
    few = Rough(flows, patterns, garden.fixed, Clock(60, lambda _: None, lambda: False), is_sample=True)
    groups = patterns.group
    settled = Settled(
        is_used=np.concatenate([[True], groups[1:] != groups[:-1]])[: len(groups)],
        positions=-draw.random(len(rough.model.position_rows)),
        plants=float(draw.random()),
    )
    for given in (None, settled):
        found = few.bounds(garden.values, garden.whole, garden.trays, given)
        assert found[Goal.SHARE] >= float(garden.values.share) - 1e-9
        assert found[Goal.PLANTS] >= garden.values.plants
        assert found[Goal.DAYS] <= garden.values.days
        assert found[Goal.TRAYS] <= garden.values.trays


@pytest.mark.parametrize("number", PROVEN_SOON)
def test_every_choice_of_patterns_is_in_an_end_of_the_search_even_where_there_is_no_room_for_it(number):
    """A sample may have no room where all have some, so nothing may be passed over."""
    garden = Levelling(number, MIDDLE)
    options, patterns, fixed = garden.options, garden.rough.patterns, garden.fixed
    flows = build_flows(options, garden.stand, patterns, fixed)
    chosen = flows.is_used >= 0
    used, group = flows.is_used[chosen], patterns.group[chosen]
    clock = Clock(60, lambda _: None, lambda: False)
    for part in (0.5, 1.0, 1.2):
        programme = flows.programme.open(whole=False)
        programme.bound_row(flows.plants_row, part * garden.values.plants, INFINITE)
        ends = least_with_patterns(programme, flows.days, used, group, clock, gap=0.0).ends
        of_groups = [[None, *np.flatnonzero(group == one).tolist()] for one in np.unique(group).tolist()]
        for choice in islice(product(*of_groups), 300):
            taken = set(choice)
            assert any(all((at in taken) == (value == 1.0) for at, value in end.decided.items()) for end in ends)


def test_at_the_best_prices_no_answer_beats_them_and_they_say_more_than_parts_of_lots_and_of_trays():
    lower = met = more_trays = 0
    for number in PROVEN_SOON:
        garden = Levelling(number, MIDDLE)
        nothing = np.zeros(0, dtype=np.int64)
        parts = replace(garden.trays, pattern=nothing, column=nothing, most=np.zeros(0))
        in_parts, found = (
            garden.rough.bounds(garden.values, garden.whole, trays, None) for trays in (parts, garden.trays)
        )
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
