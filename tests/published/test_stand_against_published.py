"""Cells and seeds against published examples and against the binomial law of scipy."""

from itertools import product
from math import ceil, log

import numpy as np
import pytest
from scipy.stats import binom

from app.core.plants.stand import cells_needed, trials_needed
from tests.published.tables import read_rows

# Where the chance meets the confidence exactly, both sides are rounded differently: see the tie below.
TIE = 1e-12


def least_trials(successes, chance, confidence):
    """Return the smallest n by walking up the survival function of scipy, a second way to the same number."""
    n = successes
    while binom.sf(successes - 1, n, chance) < confidence - TIE:
        n += 1
    return n


def trials(successes, chance, confidence):
    return trials_needed(np.array([successes]), np.array([chance]), confidence)[0]


def cells(plants, germination, seeds_per_cell, plants_per_cell, survival, confidence):
    found = cells_needed(
        plants=np.array([plants]),
        germination=np.array([germination]),
        seeds_per_cell=np.array([seeds_per_cell]),
        plants_per_cell=np.array([plants_per_cell]),
        survival=survival,
        confidence=confidence,
    )
    return found[0]


@pytest.mark.parametrize(("confidence", "unrounded", "plants"), [(0.95, 10.4, 11), (0.99, 16.008, 17)])
def test_the_published_example_is_rounded_up(confidence, unrounded, plants):
    # T. Helms, North Dakota State University, web course in genetics: at least one plant of a kind that comes
    # with chance 0.25. Printed as 10 and 16; strictly both round up.
    assert log(1 - confidence) / log(0.75) == pytest.approx(unrounded, abs=0.05)
    assert trials(1, 0.25, confidence) == plants == ceil(log(1 - confidence) / log(0.75))


@pytest.mark.parametrize(
    ("k", "p", "confidence", "n"),
    [(1, 0.9, 0.9, 1), (1, 0.5, 0.75, 2), (2, 0.5, 0.5, 3), (1, 0.6, 0.936, 3), (1, 0.35, 0.5775, 2)],
)
def test_a_chance_equal_to_the_confidence_costs_no_more(k, p, confidence, n):
    # By hand: of three coins two or more come up half of the time; else 1 - (1 - p)^n, as 1 - 0.4^3 = 0.936.
    assert trials(k, p, confidence) == n


def test_every_tabulated_count_comes_back():
    table = read_rows("binomial_least_trials.csv")
    for confidence in sorted({row["confidence"] for row in table}):
        rows = [row for row in table if row["confidence"] == confidence]
        wanted = np.array([int(row["k"]) for row in rows])
        chances = np.array([float(row["p"]) for row in rows])
        found = trials_needed(wanted, chances, float(confidence))
        assert found.tolist() == [int(row["n"]) for row in rows]


def test_single_plants_agree_with_scipy_over_a_grid():
    grid = list(product(range(1, 31, 3), (0.35, 0.5, 0.7, 0.85, 0.98), (1, 2, 3), (0.7, 0.9, 1.0), (0.8, 0.9, 0.95)))
    assert len(grid) >= 500
    wrong = [
        (plants, g, m, s, confidence)
        for plants, g, m, s, confidence in grid
        if cells(plants, g, m, 1, s, confidence) != least_trials(plants, (1 - (1 - g) ** m) * s, confidence)
    ]
    assert wrong == []


def test_clumps_agree_with_scipy_over_a_grid():
    grid = list(
        product((1, 4, 7, 12, 40, 55), (0.5, 0.7, 0.85, 0.98), ((3, 2), (4, 4), (6, 3)), (0.8, 0.9), (0.8, 0.95))
    )
    wrong = [case for case in grid if cells_of_clumps(*case) != least_clumps(*case)]
    assert wrong == []


def cells_of_clumps(plants, g, clump, s, confidence):
    return cells(plants, g, *clump, s, confidence)


def least_clumps(plants, g, clump, s, confidence):
    m, k = clump
    n = 1
    while n * k < plants or binom.sf(plants - 1, n * m, g * s) < confidence - TIE:
        n += 1
    return n


def test_thousands_of_plants_agree_with_scipy():
    for plants in (16, 17, 64, 65, 257, 1025, 5000):
        found = trials(plants, 0.84375, 0.9)
        assert binom.sf(plants - 1, found, 0.84375) >= 0.9
        assert binom.sf(plants - 1, found - 1, 0.84375) < 0.9


def test_the_example_of_the_method_page():
    # docs/method.md, section 4; the chances there are computed apart from the program.
    assert cells(6, 0.75, 2, 1, 0.9, 0.9) == 9
    assert binom.sf(5, 9, 0.84375) == pytest.approx(0.961, abs=5e-4)
    assert binom.sf(5, 8, 0.84375) == pytest.approx(0.884, abs=5e-4)
    assert cells(6, 0.75, 1, 1, 0.9, 0.9) == 12
    assert cells(40, 0.85, 5, 4, 0.9, 0.9) == 12


@pytest.mark.parametrize("successes", [1024, 1025, 10_000])
@pytest.mark.parametrize("chance", [0.01, 0.3, 0.999, 1.0])
def test_both_ways_of_counting_agree_with_scipy(successes, chance):
    n = int(trials_needed(np.array([successes]), np.array([chance]), 0.9)[0])
    assert binom.sf(successes - 1, n, chance) >= 0.9 - TIE
    assert n == successes or binom.sf(successes - 1, n - 1, chance) < 0.9 - TIE
