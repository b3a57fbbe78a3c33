"""How cells and seeds follow what is wanted; the numbers themselves stand in tests/published."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from app.core.errors import OutOfRangeError
from app.core.plan import make_plan
from app.core.plants.stand import cells_needed, trials_needed
from tests.core.gardens import gardens

WISHES = {
    "plants": st.integers(1, 200),
    "germination": st.floats(0.2, 1.0),
    "seeds": st.integers(1, 6),
    "clump": st.sampled_from((1, 1, 2, 4, 8)),
    "survival": st.floats(0.5, 1.0),
    "confidence": st.floats(0.5, 0.99),
}


def cells(plants, germination, seeds, clump, survival, confidence):
    found = cells_needed(
        plants=np.atleast_1d(plants),
        germination=np.full(np.size(plants), germination),
        seeds_per_cell=np.full(np.size(plants), seeds),
        plants_per_cell=np.full(np.size(plants), clump),
        survival=survival,
        confidence=confidence,
    )
    return found.tolist()


@given(**WISHES)
def test_more_plants_never_need_fewer_cells(plants, germination, seeds, clump, survival, confidence):
    wanted = np.arange(plants, plants + 20)
    found = cells(wanted, germination, seeds, clump, survival, confidence)
    assert found == sorted(found)


@given(**WISHES, share=st.floats(0.5, 1.0))
def test_poorer_seed_never_needs_fewer_cells(plants, germination, seeds, clump, survival, confidence, share):
    wish = (seeds, clump, survival, confidence)
    assert cells(plants, germination * share, *wish) >= cells(plants, germination, *wish)


@given(**WISHES, share=st.floats(0.7, 1.0))
def test_more_losses_or_more_certainty_never_need_fewer_cells(
    plants, germination, seeds, clump, survival, confidence, share
):
    usual = cells(plants, germination, seeds, clump, survival, confidence)
    assert cells(plants, germination, seeds, clump, survival * share, confidence) >= usual
    assert cells(plants, germination, seeds, clump, survival, confidence * share) <= usual


@given(**WISHES)
def test_the_cells_are_enough_and_one_less_is_not(plants, germination, seeds, clump, survival, confidence):
    n = cells(plants, germination, seeds, clump, survival, confidence)[0]
    if clump == 1:
        chance = (1 - (1 - germination) ** seeds) * survival
        enough, one_less = binom.sf(plants - 1, n, chance), binom.sf(plants - 1, n - 1, chance)
        room, less_room = n, n - 1
    else:
        chance = germination * survival
        enough, one_less = (binom.sf(plants - 1, many * seeds, chance) for many in (n, n - 1))
        room, less_room = n * clump, (n - 1) * clump
    assert room >= plants
    assert enough >= confidence - 1e-8
    assert less_room < plants or one_less <= confidence + 1e-8


@given(st.lists(st.integers(0, 300), max_size=8), st.floats(0.4, 1.0))
def test_many_wishes_at_once_are_each_answered_as_alone(wanted, chance):
    together = trials_needed(np.array(wanted, dtype=np.int64), np.full(len(wanted), chance), 0.9)
    alone = [trials_needed(np.array([k]), np.array([chance]), 0.9)[0] for k in wanted]
    assert together.tolist() == alone


@given(gardens())
def test_seeds_are_cells_times_seeds_a_cell(drawn):
    plan = make_plan(drawn.garden)
    per_cell = [drawn.garden.cards[crop].seeds_per_cell for crop in drawn.garden.sowings.crop]
    assert plan.seeds.tolist() == [n * m for n, m in zip(plan.cells.tolist(), per_cell, strict=True)]


def test_no_plants_need_no_cells():
    assert cells(0, 0.7, 2, 1, 0.9, 0.9) == [0]
    assert trials_needed(np.zeros(0, dtype=np.int64), np.zeros(0), 0.9).tolist() == []


def test_seed_that_all_comes_up_needs_a_cell_a_plant():
    assert cells(12, 1.0, 1, 1, 1.0, 0.99) == [12]
    assert cells(12, 1.0, 3, 3, 1.0, 0.99) == [4]


def test_clumps_need_room_as_well_as_seedlings():
    # Ten seeds a cell give plenty of seedlings; five cells of four plants are still too few for 21.
    assert cells(21, 0.9, 10, 4, 0.9, 0.9) == [6]


@pytest.mark.parametrize("confidence", [0, 1, 1.2, -0.5])
def test_a_confidence_that_is_no_chance_is_refused(confidence):
    with pytest.raises(OutOfRangeError, match=f"confidence is {confidence}; it must be above 0 and below 1"):
        trials_needed(np.array([1]), np.array([0.5]), confidence)


@pytest.mark.parametrize("chance", [0.0, 0.009, -1.0, 1.01, float("nan")])
def test_a_chance_at_which_no_stand_is_reached_is_refused_with_its_value(chance):
    with pytest.raises(OutOfRangeError, match=rf"chance is {chance}; it must be from 0\.01 to 1"):
        trials_needed(np.array([1, 1]), np.array([0.5, chance]), 0.9)
