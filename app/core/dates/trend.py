"""The trend of a record over its years: the median of all slopes between two years."""

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]

FEWEST_YEARS_OF_A_TREND = 10


@dataclass(frozen=True, kw_only=True)
class Trend:
    """A slope with its interval.

    Attributes:
        slope: Days later each year, negative for earlier. [d/year]
        low: Lower end of the interval. [d/year]
        high: Upper end of the interval. [d/year]
    """

    slope: float
    low: float
    high: float

    @property
    def is_clear(self) -> bool:
        """Whether the interval leaves out zero."""
        return self.low > 0 or self.high < 0


def theil_sen(years: Ints, days: Ints, confidence: float = 0.95) -> Trend | None:
    """Return the trend of days over years, None with fewer than ten years.

    Args:
        years: Years, each once. Shape (n,). [year]
        days: Season day numbers. Shape (n,). [d]
        confidence: Of the interval. [fraction]

    Source:
        P. K. Sen, Estimates of the regression coefficient based on Kendall's tau, Journal of the
        American Statistical Association 63, 1968 (from memory), ties included.
    """
    n = len(years)
    if n < FEWEST_YEARS_OF_A_TREND:
        return None
    first, second = np.triu_indices(n, 1)
    slopes = np.sort((days[second] - days[first]) / (years[second] - years[first]))
    _, ties = np.unique(days, return_counts=True)
    variance = (n * (n - 1) * (2 * n + 5) - (ties * (ties - 1) * (2 * ties + 5)).sum()) / 18
    half_width = NormalDist().inv_cdf((1 + confidence) / 2) * variance**0.5
    low = max(round((len(slopes) - half_width) / 2) - 1, 0)
    high = min(round((len(slopes) + half_width) / 2), len(slopes) - 1)
    return Trend(slope=float(np.median(slopes)), low=float(slopes[low]), high=float(slopes[high]))
