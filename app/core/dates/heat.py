"""Growing degree-days: the heat of each day above a base, and in how many years a crop gets enough of it."""

import math
from datetime import date

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import Days, date_of_season_day
from app.core.dates.record import FEWEST_YEARS, MOST_MISSING_DAYS
from app.core.errors import OutOfRangeError
from app.core.words import HeatMethod

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

# A sum that is reached but for the last digits of the computer's numbers counts as reached.
TOLERANCE_CD = 1e-6


def degree_days(
    tmin_c: Floats, tmax_c: Floats, *, base_c: float, method: HeatMethod, cap_c: float | None = None
) -> Floats:
    """Return the growing degree-days of each day, NaN where a temperature is missing.

    Args:
        tmin_c: Lowest temperature of the day. Shape (n_days,). [C]
        tmax_c: Highest temperature of the day. Shape (n_days,). [C]
        base_c: What is colder does not count. [C]
        method: Whether the day's mean is cut at the base, or minimum and maximum each.
        cap_c: What is hotter does not count either; None for no cap. It cuts where the base cuts. [C]

    Returns:
        Degree-days. Shape (n_days,). [C d]

    Raises:
        OutOfRangeError: The cap is not above the base.

    Source:
        G. S. McMaster and W. W. Wilhelm, Agricultural and Forest Meteorology 87, 1997: `mean` is their
        method 1, `each` their method 2. That the cap cuts the mean in method 1 is from memory.
    """
    if cap_c is not None and cap_c <= base_c:
        raise OutOfRangeError("cap_c", cap_c, f"above the base, {base_c:g}")
    top = math.inf if cap_c is None else cap_c
    if method is HeatMethod.EACH:
        return (np.clip(tmin_c, base_c, top) + np.clip(tmax_c, base_c, top)) / 2 - base_c
    return np.clip((tmin_c + tmax_c) / 2, base_c, top) - base_c


def heat_sums(day: Days, heat_cd: Floats, *, first: int, end: int) -> tuple[Ints, Floats]:
    """Return the heat sum of the same stretch of days in every growing year that has them.

    Args:
        day: Day numbers, rising. Shape (n_days,). [day number]
        heat_cd: Degree-days, NaN where missing. Shape (n_days,). [C d]
        first: First day of the stretch, as in `core.calendar.season_day`. [d]
        end: The day after its last; no day belongs to a stretch that ends before it begins. [d]

    Returns:
        Growing years, and their sums. Each of shape (n_years,). [year, C d]

    Source:
        A missing day counts as the mean of the stretch's other days, and ten make the year unusable:
        chosen here, after the ten days of the frost record.
    """
    known = ~np.isnan(heat_cd)
    day, heat_cd = day[known], heat_cd[known]
    if not len(day):
        return np.zeros(0, dtype=np.int64), np.zeros(0)
    # A growing year's days lie within a year and a bit of the calendar year that names it.
    years = np.arange(_year(day[0]) - 1, _year(day[-1]) + 3)
    begins, ends = (_days(number, years) for number in (first, max(first, end)))
    low, high = np.searchsorted(day, begins), np.searchsorted(day, ends)
    total = np.concatenate(([0.0], np.cumsum(heat_cd)))
    there, length = high - low, ends - begins
    # A stretch without days has no heat in any year of the record.
    is_covered = np.where(length > 0, there > 0, (begins >= day[0]) & (begins <= day[-1]))
    is_usable = is_covered & (length - there <= MOST_MISSING_DAYS)
    sums = (total[high] - total[low]) * length / np.maximum(there, 1)
    return years[is_usable], sums[is_usable]


def chance_ripe_by_heat(sums_cd: Floats, heat_sum_cd: float) -> float | None:
    """Return the share of years in which a crop gets its heat sum; None for fewer than ten years.

    Args:
        sums_cd: The heat sum of each year. Shape (n_years,). [C d]
        heat_sum_cd: What the crop needs to maturity. [C d]
    """
    if len(sums_cd) < FEWEST_YEARS:
        return None
    return float((sums_cd >= heat_sum_cd - TOLERANCE_CD).mean())


def _year(day: int) -> int:
    return date.fromordinal(int(day)).year


def _days(number: int, years: Ints) -> Days:
    return np.array([date_of_season_day(number, year).toordinal() for year in years.tolist()], dtype=np.int64)
