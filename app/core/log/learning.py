"""What seed lots teach: the rate at which their seed comes up, from tests and from what was sown."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.errors import OutOfRangeError

Floats = NDArray[np.float64]

# What is stated on the packet counts as much as a test of so many seeds; chosen here.
PRIOR_SEEDS = 20.0
# Rates that are looked at: 0.0005, 0.0015, ... 0.9995.
GRID = (np.arange(1000) + 0.5) / 1000
_LOG_G, _LOG_NOT_G = np.log(GRID), np.log1p(-GRID)
INTERVAL = 0.90


@dataclass(frozen=True)
class Observed:
    """Cells of one sowing, or seeds of one test, and how many of them came up.

    Attributes:
        tried: Cells or seeds. [1]
        up: Those with a seedling. [1]
        seeds_per_cell: Seeds in each; 1 for a test. [1]
    """

    tried: int
    up: int
    seeds_per_cell: float = 1.0


@dataclass(frozen=True)
class Germination:
    """What is known of the rate at which a seed lot comes up.

    Attributes:
        mean: The rate that is reckoned with. [fraction]
        low: Below it the true rate lies with a chance of 5 %. [fraction]
        high: Above it, likewise. [fraction]
        n_seeds: Seeds that were watched. [1]
    """

    mean: float
    low: float
    high: float
    n_seeds: float


def learn(stated: float, observed: "list[Observed]") -> Germination:
    """Return what a seed lot's tests and sowings say of its germination.

    Args:
        stated: The rate before anything was seen. [fraction, above 0; 1 counts as all but certain]
        observed: What was seen.

    Raises:
        OutOfRangeError: The stated rate is none, or more came up than were tried.

    Source:
        Bayes' rule on a grid: a Beta law worth 20 seeds at the stated rate, and for each sowing the binomial
        law of its cells, one of which comes up with 1 - (1 - g)^m. The weight of 20 seeds is chosen here.
    """
    if not 0 < stated <= 1:
        raise OutOfRangeError("stated", stated, "above 0 and at most 1")
    rate = min(max(stated, GRID[0]), GRID[-1])
    log_weight = (PRIOR_SEEDS * rate - 1) * _LOG_G + (PRIOR_SEEDS * (1 - rate) - 1) * _LOG_NOT_G
    for one in observed:
        if not 0 <= one.up <= one.tried:
            raise OutOfRangeError("up", one.up, f"from 0 to {one.tried}")
        log_weight = log_weight + one.up * _log_up(one.seeds_per_cell)
        log_weight = log_weight + one.seeds_per_cell * (one.tried - one.up) * _LOG_NOT_G
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    below = np.cumsum(weight)
    low, high = (_quantile(below, share) for share in ((1 - INTERVAL) / 2, (1 + INTERVAL) / 2))
    n_seeds = sum(one.tried * one.seeds_per_cell for one in observed)
    return Germination(mean=float(weight @ GRID), low=low, high=high, n_seeds=n_seeds)


def _log_up(seeds_per_cell: float) -> Floats:
    """Return the logarithm of the chance that a cell comes up, at each rate of the grid."""
    if seeds_per_cell == 1:
        return _LOG_G
    return np.log(-np.expm1(seeds_per_cell * _LOG_NOT_G))


def _quantile(below: Floats, share: float) -> float:
    """Return the rate below which a share lies; within a step of the grid the law is taken for even."""
    step = int(np.searchsorted(below, share))
    before = float(below[step - 1]) if step else 0.0
    within = (share - before) / (float(below[step]) - before)
    return float(GRID[step] + (within - 0.5) / len(GRID))
