"""What seed lots teach, held against scipy's Beta law, a simulation, and a published example."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import beta, binom

from app.core.errors import OutOfRangeError
from app.core.log.learning import PRIOR_SEEDS, Observed, learn

RATES = st.floats(0.05, 0.95)


@given(rate=RATES, tried=st.integers(0, 400), share=st.floats(0, 1))
def test_with_one_seed_a_cell_it_is_the_beta_law_of_scipy(rate, tried, share):
    up = round(tried * share)
    found = learn(rate, [Observed(tried, up)])
    law = beta(PRIOR_SEEDS * rate + up, PRIOR_SEEDS * (1 - rate) + tried - up)
    assert found.mean == pytest.approx(law.mean(), abs=1e-3)
    assert (found.low, found.high) == pytest.approx(law.ppf([0.05, 0.95]), abs=2e-3)


@pytest.mark.parametrize("seeds", [2, 3])
def test_with_more_seeds_a_cell_it_is_what_a_simulation_finds(seeds):
    """Draw rates from the prior and sowings from the rates; keep the rates whose sowing came out as the one seen."""
    rng = np.random.default_rng(20270410)
    tried, up, stated = 12, 9, 0.7
    rates = rng.beta(PRIOR_SEEDS * stated, PRIOR_SEEDS * (1 - stated), 2_000_000)
    seen = rng.binomial(tried, 1 - (1 - rates) ** seeds)
    kept = rates[seen == up]
    found = learn(stated, [Observed(tried, up, seeds)])
    assert len(kept) > 20_000
    assert found.mean == pytest.approx(kept.mean(), abs=4 * kept.std() / np.sqrt(len(kept)))
    assert (found.low, found.high) == pytest.approx(np.quantile(kept, [0.05, 0.95]), abs=0.005)


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(1, 60), st.floats(0, 1), st.sampled_from((1, 2, 3))), max_size=6), RATES)
def test_what_is_seen_counts_the_same_in_any_order_and_in_parts(seen, rate):
    observed = [Observed(tried, round(tried * share), seeds) for tried, share, seeds in seen]
    whole, turned = learn(rate, observed), learn(rate, observed[::-1])
    assert (whole.mean, whole.low, whole.high) == pytest.approx((turned.mean, turned.low, turned.high))
    parts = [Observed(1, int(cell < one.up), one.seeds_per_cell) for one in observed for cell in range(one.tried)]
    assert learn(rate, parts).mean == pytest.approx(whole.mean)


@given(rate=RATES, tried=st.integers(1, 100), share=st.floats(0, 1))
def test_the_rate_lies_between_what_was_stated_and_what_was_seen(rate, tried, share):
    up = round(tried * share)
    found = learn(rate, [Observed(tried, up)])
    assert min(rate, up / tried) - 1e-3 <= found.mean <= max(rate, up / tried) + 1e-3
    assert found.low <= found.mean <= found.high


def test_a_sound_packet_that_fails_a_test_is_no_longer_believed():
    """By the exact binomial law a lot of 0.9 gives 20 or fewer of 40 once in some hundred million tests."""
    assert binom.cdf(20, 40, 0.9) < 1e-6
    found = learn(0.9, [Observed(40, 20)])
    assert found.high < 0.75


@pytest.mark.parametrize("wrong", [Observed(4, 5), Observed(4, -1)])
def test_more_up_than_tried_is_refused(wrong):
    with pytest.raises(OutOfRangeError):
        learn(0.8, [wrong])


def test_without_anything_seen_it_is_what_was_stated():
    found = learn(0.8, [])
    assert found.mean == pytest.approx(0.8, abs=1e-3)
    assert found.n_seeds == 0


def test_a_lot_stated_as_whole_is_still_learned_of():
    assert learn(1.0, [Observed(50, 40)]).mean < 0.95
