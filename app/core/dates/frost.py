"""Frost dates at a chosen risk, from a published table or from a bare pair of dates."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from itertools import pairwise
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import (
    DAYS_IN_YEAR,
    date_of_season_day,
    day_of_common_year,
    read_month_day,
    season_day,
)
from app.core.dates.record import Freezes, Half
from app.core.errors import FrostTableError, NoFrostDateError, OutOfRangeError, require_within
from app.core.words import FrostLaw, FrostSource, Side
from app.language import _

# From memory: a typical standard deviation of frost dates at mid-latitude stations. It matters only where
# a garden gives a bare pair of dates: at a risk of 10 % one day more moves the date by 1.3 days.
SPREAD_OF_A_BARE_DATE_DAYS = 11.0
# An exact whole day must not be pushed on by floating error.
TOLERANCE_DAYS = 1e-9
# Equal dates in all years are a step, which no risk may push past the tolerance.
SMALLEST_SPREAD_DAYS = TOLERANCE_DAYS / 100

_NORMAL = NormalDist()
_HALF_PERCENT = 50
_FEWEST_DATES = 2
_EVEN = 0.5


@dataclass(frozen=True, kw_only=True)
class FrostCurve:
    """The day against the normal deviate of the chance, linear between its points.

    Attributes:
        points: (deviate, day) pairs, both rising; the day is a day number of the growing year. [1, d]
        share: The share of years that have a freeze in this half. [fraction, 0 to 1]
    """

    points: tuple[tuple[float, float], ...]
    share: float = 1.0

    def day_at(self, deviate: float) -> float:
        """Return the day at a normal deviate; past the ends the outermost slope goes on. [d]"""
        (low_z, low_day), (high_z, high_day) = self._segment(deviate, 0)
        return low_day + (deviate - low_z) / (high_z - low_z) * (high_day - low_day)

    def deviate_at(self, day: float) -> float:
        """Return the normal deviate of a day, the inverse of `day_at`."""
        (low_z, low_day), (high_z, high_day) = self._segment(day, 1)
        return low_z + (day - low_day) / (high_day - low_day) * (high_z - low_z)

    def _segment(self, value: float, axis: int) -> tuple[tuple[float, float], tuple[float, float]]:
        segments = list(pairwise(self.points))
        return next((segment for segment in segments if value <= segment[1][axis]), segments[-1])


@dataclass(frozen=True, kw_only=True)
class EmpiricalCurve:
    """The day against the chance, straight lines between a record's own dates.

    Attributes:
        days: The dates of the freezing years, rising; the i-th of n stands at i/(n + 1). [d]
        share: The share of years that have a freeze in this half. [fraction, 0 to 1]

    Source:
        Plotting positions of Weibull, from memory the usual ones in climatology.
    """

    days: tuple[float, ...]
    share: float

    @cached_property
    def _chances(self) -> NDArray[np.float64]:
        return np.arange(1, len(self.days) + 1) / (len(self.days) + 1)

    @cached_property
    def _dates(self) -> NDArray[np.float64]:
        return np.array(self.days)

    def day_at(self, deviate: float) -> float:
        """Return the day at a normal deviate of the chance; past the ends the extreme year. [d]"""
        return float(np.interp(_NORMAL.cdf(deviate), self._chances, self._dates))

    def deviate_at(self, day: float) -> float:
        """Return the normal deviate of the chance of a freeze by a day; infinite outside the record."""
        if day < self.days[0]:
            return -math.inf
        if day > self.days[-1]:
            return math.inf
        return _NORMAL.inv_cdf(float(np.interp(day, self._dates, self._chances)))

    def is_extreme_at(self, deviate: float) -> bool:
        """Return whether the chance lies past the record's ends, so that `day_at` is its extreme year."""
        return not bool(self._chances[0] <= _NORMAL.cdf(deviate) <= self._chances[-1])


@dataclass(frozen=True, kw_only=True)
class Frost:
    """When it freezes at a garden, for one growing year.

    Attributes:
        season: The growing year. [year]
        spring: Days of the last freeze of the spring half; the deviate is that of 1 - risk.
        autumn: Days of the first freeze of the autumn half; the deviate is that of the risk.
    """

    season: int
    spring: FrostCurve | EmpiricalCurve
    autumn: FrostCurve | EmpiricalCurve

    def spring_on(self, risk: float) -> date:
        """Return the first date on which the chance of a freeze then or later is at most `risk`.

        Args:
            risk: The accepted chance. [fraction, above 0 and below 1]

        Raises:
            OutOfRangeError: `risk` is no chance.
            NoFrostDateError: Freezes come in too few years for a date at this risk.

        Source:
            Definition of the U.S. Climate Normals (NOAA NCEI), freeze on or after a date; rounding
            up to a day and straight lines in the normal deviate are chosen here (docs/method.md).
        """
        if risk not in self._in_spring:
            day = self.spring.day_at(-_deviate_of_risk(risk, self.spring.share))
            self._in_spring[risk] = date_of_season_day(math.ceil(day - TOLERANCE_DAYS), self.season)
        return self._in_spring[risk]

    def autumn_on(self, risk: float) -> date:
        """Return the last date on which the chance of a freeze then or before is at most `risk`.

        Arguments, errors and source as `spring_on`; rounded down to a day.
        """
        if risk not in self._in_autumn:
            day = self.autumn.day_at(_deviate_of_risk(risk, self.autumn.share))
            self._in_autumn[risk] = date_of_season_day(math.floor(day + TOLERANCE_DAYS), self.season)
        return self._in_autumn[risk]

    # Every crop card asks for the same few.
    @cached_property
    def _in_spring(self) -> dict[float, date]:
        return {}

    @cached_property
    def _in_autumn(self) -> dict[float, date]:
        return {}

    def chance_on_or_after(self, day: date) -> float:
        """Return the chance of a spring freeze on a date or later. [fraction]"""
        return self.spring.share * _NORMAL.cdf(-self.spring.deviate_at(season_day(day, self.season)))

    def chance_on_or_before(self, day: date) -> float:
        """Return the chance of an autumn freeze on a date or before. [fraction]"""
        return self.autumn.share * _NORMAL.cdf(self.autumn.deviate_at(season_day(day, self.season)))

    def is_extreme(self, side: Side, risk: float) -> bool:
        """Return whether a side's date at a risk is the extreme year of a record, the risk being rarer than it shows.

        Args:
            side: Spring or autumn.
            risk: The accepted chance. [fraction, above 0 and below 1]

        Raises:
            NoFrostDateError: Freezes come in too few years for a date at this risk.
        """
        curve = self.spring if side is Side.SPRING else self.autumn
        deviate = _deviate_of_risk(risk, curve.share)
        if not isinstance(curve, EmpiricalCurve):
            return False
        return curve.is_extreme_at(-deviate if side is Side.SPRING else deviate)

    def frost_free_days(self, risk: float = 0.5) -> int:
        """Return the days from `spring_on(risk)` to `autumn_on(risk)`; at 0.5 the "frost-free days". [d]"""
        return (self.autumn_on(risk) - self.spring_on(risk)).days

    def has_no_safe_month(self, risk: float) -> bool:
        """Return whether no month is safe here: the spring date is not before the autumn date."""
        return self.spring_on(risk) >= self.autumn_on(risk)


def _deviate_of_risk(risk: float, share: float) -> float:
    if not 0 < risk < 1:
        raise OutOfRangeError("risk", risk, "above 0 and below 1")
    if risk >= share:
        message = _(
            "Freezes come in %(share)s of years: too rarely for a date at a risk of %(risk)s",
            share=f"{share:.0%}",
            risk=f"{risk:.0%}",
        )
        raise NoFrostDateError(message)
    return _NORMAL.inv_cdf(risk / share)


def frost_table(spring: Mapping[int, str], autumn: Mapping[int, str], *, season: int, southern: bool) -> Frost:
    """Return the frost of a published table of dates at several chances.

    Args:
        spring: Chance of a freeze on or after a date, to that date as MM-DD. [percent, 1 to 99]
        autumn: Chance of a freeze on or before a date, to that date as MM-DD. [percent, 1 to 99]
        season: The growing year. [year]
        southern: Whether the garden lies south of the equator.

    Raises:
        FrostTableError: Fewer than two dates, none on one side of 50 %, or dates out of order.

    Source:
        A normal law after Thom and Shaw, Monthly Weather Review 86, 1958, with a spread of its own
        between each two entered dates (chosen here: short seasons are skewed).
    """
    return Frost(
        season=season,
        spring=_curve("spring", spring, season, southern=southern),
        autumn=_curve("autumn", autumn, season, southern=southern),
    )


def frost_dates(last: str, first: str, *, season: int, southern: bool) -> Frost:
    """Return the frost of a bare pair of dates, taken as the 50 % dates with a spread of 11 days.

    Args:
        last: The last frost of spring as MM-DD.
        first: The first frost of autumn as MM-DD.
        season: The growing year. [year]
        southern: Whether the garden lies south of the equator.

    Raises:
        FrostTableError: A date is no day of the year.

    Source:
        The spread of 11 days is from memory.
    """
    curves = []
    for side, text in (("spring", last), ("autumn", first)):
        day = _day_in_window(side, text, season, southern=southern)
        spread = SPREAD_OF_A_BARE_DATE_DAYS
        curves.append(FrostCurve(points=((-1.0, day - spread), (1.0, day + spread))))
    return Frost(season=season, spring=curves[0], autumn=curves[1])


def entered_frost(
    source: FrostSource, dates: Mapping[Side, Mapping[int, str]], *, season: int, southern: bool
) -> Frost:
    """Return the frost of the dates that a garden entered.

    Args:
        source: A published table, or else a bare pair of dates entered as those of 50 %.
        dates: On each side, chance to date as MM-DD. [percent, 1 to 99]
        season: The growing year. [year]
        southern: Whether the garden lies south of the equator.

    Raises:
        FrostTableError: The dates cannot be read as a table, or one of the pair is missing.
    """
    spring, autumn = dates[Side.SPRING], dates[Side.AUTUMN]
    if source is FrostSource.TABLE:
        return frost_table(spring, autumn, season=season, southern=southern)
    for side in (Side.SPRING, Side.AUTUMN):
        if _HALF_PERCENT not in dates[side]:
            message = _("%(side)s: enter the average date", side=_(side))
            raise FrostTableError(message)
    return frost_dates(spring[_HALF_PERCENT], autumn[_HALF_PERCENT], season=season, southern=southern)


def frost_of_record(freezes: Freezes, law: FrostLaw, *, season: int) -> Frost:
    """Return the frost of a station's record.

    Args:
        freezes: Last and first freezes of the record.
        law: `normal`, through mean and standard deviation (n - 1), or `empirical`.
        season: The growing year that the dates are for. [year]

    Raises:
        TooFewYearsError: A half has fewer than ten usable years.

    Source:
        Years without a freeze: Climatography of the U.S. No. 20. Normal law: Thom and Shaw,
        Monthly Weather Review 86, 1958.
    """
    freezes.require_years()
    return Frost(season=season, spring=_curve_of(freezes.spring, law), autumn=_curve_of(freezes.autumn, law))


def usable_frost(freezes: Freezes, law: FrostLaw, *, season: int, risk: float, autumn_risk: float) -> Frost:
    """Return the frost of a station's record if a garden can be planned by it.

    Args:
        freezes: Last and first freezes of the record.
        law: `normal` or `empirical`.
        season: The growing year that the dates are for. [year]
        risk: The garden's spring risk. [fraction, above 0 and below 1]
        autumn_risk: The garden's autumn risk. [fraction, above 0 and below 1]

    Raises:
        TooFewYearsError: A half has fewer than ten usable years.
        NoFrostDateError: An even chance or one of the risks has no date.
    """
    frost = frost_of_record(freezes, law, season=season)
    for half, date_at, own in (("spring", frost.spring_on, risk), ("autumn", frost.autumn_on, autumn_risk)):
        for wanted in (own, _EVEN):
            try:
                date_at(wanted)
            except NoFrostDateError as error:
                message = (
                    _("%(why)s in spring. Enter a published table or a pair of dates instead", why=error)
                    if half == "spring"
                    else _("%(why)s in autumn. Enter a published table or a pair of dates instead", why=error)
                )
                raise NoFrostDateError(message) from None
    return frost


def _curve_of(half: Half, law: FrostLaw) -> FrostCurve | EmpiricalCurve:
    if len(half.days) < _FEWEST_DATES:
        # A date or none is no law: the chance is too small for any risk to be dated.
        return FrostCurve(points=((-1.0, 0.0), (1.0, 1.0)), share=0.0)
    if law is FrostLaw.EMPIRICAL:
        return EmpiricalCurve(days=tuple(np.sort(half.days).astype(np.float64).tolist()), share=half.share)
    days = half.days
    mean, spread = float(days.mean()), float(days.std(ddof=1))
    spread = max(spread, SMALLEST_SPREAD_DAYS)
    return FrostCurve(points=((-1.0, mean - spread), (1.0, mean + spread)), share=half.share)


def _window(side: str, season: int, *, southern: bool) -> tuple[int, int]:
    """Return year and month in which the twelve months begin that a side's entered dates are read in.

    They reach well past both ends of the half, so that a table may cross the split and New Year.
    """
    if side == "spring":
        return (season - 1, 5) if southern else (season - 1, 11)
    return (season - 1, 11) if southern else (season, 5)


def _day_in_window(side: str, text: str, season: int, *, southern: bool) -> int:
    """Return the day number of the growing year that MM-DD has on a side."""
    try:
        month, day = read_month_day(text)
    except OutOfRangeError as error:
        raise FrostTableError(f"{side}: {error}") from None
    first_year, first_month = _window(side, season, southern=southern)
    year = first_year if month >= first_month else first_year + 1
    return day_of_common_year(month, day) + DAYS_IN_YEAR * (year - season)


def _curve(side: str, dates: Mapping[int, str], season: int, *, southern: bool) -> FrostCurve:
    percents = sorted(dates)
    for percent in percents:
        require_within(f"{side} chance", percent, 1, 99)
    if len(percents) < _FEWEST_DATES or percents[0] > _HALF_PERCENT or percents[-1] < _HALF_PERCENT:
        message = _("%(side)s: enter dates at two or more chances, on both sides of 50 %% or at it", side=_(side))
        raise FrostTableError(message)
    days = [_day_in_window(side, dates[percent], season, southern=southern) for percent in percents]
    if side == "spring":
        pairs = [(_NORMAL.inv_cdf(1 - p / 100), day) for p, day in zip(percents, days, strict=True)][::-1]
    else:
        pairs = [(_NORMAL.inv_cdf(p / 100), day) for p, day in zip(percents, days, strict=True)]
    for (_z, low), (_next, high) in pairwise(pairs):
        if low >= high:
            listed = ", ".join(f"{percent} % {dates[percent]}" for percent in percents)
            message = (
                _("spring: the dates must fall as the chance rises; found %(dates)s", dates=listed)
                if side == "spring"
                else _("autumn: the dates must rise with the chance; found %(dates)s", dates=listed)
            )
            raise FrostTableError(message)
    return FrostCurve(points=tuple((z, float(day)) for z, day in pairs))
