"""Baskets at prices: rows that whole lots keep to, and answers made grower by grower."""

from dataclasses import replace
from itertools import combinations_with_replacement

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog

from app.core.fitting.by_growers import deal_by_growers
from app.core.fitting.clock import Clock
from app.core.fitting.fixed import find_fixed
from app.core.fitting.flows import build_flows
from app.core.fitting.judge import faults_of
from app.core.fitting.market import setting_of
from app.core.fitting.options import find_options
from app.core.fitting.packings import fewest_in_parts, in_steps_of
from app.core.fitting.patterns import find_patterns
from app.core.fitting.picked import Picked, choices_of, smallest_share
from app.core.fitting.rough import ROOMS, Rough
from app.core.fitting.wishes import stand_of
from app.core.plan import make_plan
from app.core.space.packing import pack
from tests.core.fitting_gardens import MIDDLE, numbered
from tests.lengths import TIMES

CAPACITY = 12
MANY = replace(MIDDLE, sowings=(60, 120), plants=12, growers=12)


def full_trays(sizes, capacity):
    """Return every tray that lots of some sizes can be in together, as counts of each size."""
    found = set()
    for number in range(1, capacity // min(sizes) + 1):
        for tray in combinations_with_replacement(range(len(sizes)), number):
            if sum(sizes[at] for at in tray) <= capacity:
                found.add(tuple(tray.count(at) for at in range(len(sizes))))
    return np.array(sorted(found), dtype=float)


@given(
    demand=st.dictionaries(
        st.integers(min_value=1, max_value=CAPACITY), st.floats(min_value=0.1, max_value=9.0), min_size=1, max_size=5
    )
)
def test_parts_of_lots_take_as_many_trays_as_another_solver_says_and_no_full_tray_counts_more_than_one(demand):
    """scipy's linprog over every tray that there can be."""
    sizes = np.array(sorted(demand))
    wanted = np.array([demand[size] for size in sizes.tolist()])
    fewest, counts = fewest_in_parts(sizes, wanted, CAPACITY)
    trays = full_trays(sizes.tolist(), CAPACITY)
    other = linprog(np.ones(len(trays)), A_ub=-trays.T, b_ub=-wanted)
    assert fewest == pytest.approx(other.fun, abs=1e-6)
    assert counts @ wanted == pytest.approx(fewest)
    assert (trays @ counts <= 1 + 1e-6).all()


@given(
    given_sizes=st.sets(st.integers(min_value=1, max_value=CAPACITY - 1), min_size=1, max_size=4),
    lots=st.lists(st.integers(min_value=1, max_value=3 * CAPACITY), min_size=1, max_size=8),
)
def test_lots_of_any_size_count_no_more_than_the_trays_they_need(given_sizes, lots):
    sizes = np.array(sorted(given_sizes))
    _, counts = fewest_in_parts(sizes, np.ones(len(sizes)), CAPACITY)
    steps = in_steps_of(sizes, counts, CAPACITY, 3 * CAPACITY)
    assert steps[lots].sum() <= len(pack(lots, CAPACITY)) + 1e-6


def kinds(number):
    """Return the options of a garden of many small sowings, and its programme of kinds."""
    options = find_options(make_plan(numbered(number, MANY)))
    patterns, fixed = find_patterns(options), find_fixed(options)
    flows = build_flows(options, stand_of(options.plan, options.lot), patterns, fixed)
    return options, Rough(flows, patterns, fixed, Clock(60, lambda _: None, lambda: False))


def dealt(number, share, room):
    """Return a garden, its options, and what is dealt in the patterns that the programme of kinds finds best."""
    options, rough = kinds(number)
    values, chosen = rough.near_best(ROOMS[0]), rough.model.is_used
    is_used = (chosen < 0) | (values[chosen] > 0.5)
    found = deal_by_growers(
        options,
        stand_of(options.plan, options.lot),
        rough.patterns,
        rough.fixed,
        rough.clock,
        setting=setting_of(options, rough.patterns, is_used, np.full(len(is_used), room)),
        share=share,
    )
    return options, found


@pytest.mark.parametrize("number", range(20 * TIMES))
def test_what_is_dealt_grower_by_grower_fits_by_the_count_of_other_code(number):
    for share, room in ((0.0, 0.0), (0.4, 0.2), (0.7, 0.0)):
        options, found = dealt(number, share, room)
        assert found is None or not faults_of(
            options.plan.garden, choices_of(options, Picked(found.option, found.plants))
        )


def test_a_share_that_there_is_room_for_is_nearly_reached():
    """Whole trays cost the growers a little of it, and no more than that."""
    near = []
    for number in range(20):
        options, found = dealt(number, 0.5, 0.1)
        if found is not None:
            plants = found.plants.copy()
            fixed = ~options.is_free
            plants[fixed] = options.plan.plants[options.lot[fixed]]
            near.append(float(smallest_share(options, plants)))
    assert len(near) >= 5
    assert np.median(near) >= 0.4


def test_where_much_is_left_out_patterns_are_chosen_that_give_a_share():
    """Parts of several patterns of a group may promise more than any choice of them gives."""
    for number in range(20):
        _, rough = kinds(number)
        values = rough.near_best(ROOMS[0])
        assert values is not None
        assert np.isin(np.round(values[rough.model.is_used[rough.model.is_used >= 0]], 6), (0.0, 1.0)).all()
        assert values[rough.model.share] >= rough.hoped_share() - 0.3
