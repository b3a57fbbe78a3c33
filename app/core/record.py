"""A station's daily record, and the last and first freeze of each growing year in it."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import DAYS_IN_YEAR, FIRST_MONTH_OF_SOUTHERN_YEAR, Days
from app.core.errors import CoreError

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# Ten missing days met on the way out from midsummer void a half-year: Utah Climate Center.
MOST_MISSING_DAYS = 9
# NOAA NCEI prints normals from ten years on in its better classes; 20 without a warning is chosen here.
FEWEST_YEARS = 10
FEWEST_YEARS_UNWARNED = 20

# Chosen: a sure sign of the other half of the Earth; near the equator the seasons differ by less.
SURE_DIFFERENCE_C = 5.0
FEWEST_DAYS_OF_A_SEASON = 60
RESOLUTION_TOLERANCE = 1e-6

EPOCH_DAY = 719_163  # the day number of 1970-01-01
LEAP_DAY_OF_YEAR = 60
JANUARY, FEBRUARY, JULY, AUGUST = 1, 2, 7, 8
MIDSUMMER_DAY = 24


class TooFewYearsError(CoreError):
    """A record has too few usable years to speak of chances."""

    def __init__(self, half: str, years: int) -> None:
        """Say how many there are and what to do instead."""
        super().__init__(
            f"the record has {years} usable years for {half}; it takes {FEWEST_YEARS}. Enter a published table instead"
        )
        self.half = half
        self.years = years


class OtherHemisphereError(CoreError):
    """A record whose summer is the garden's winter."""

    def __init__(self, *, southern: bool) -> None:
        """Say so."""
        record, garden = ("north", "south") if southern else ("south", "north")
        super().__init__(
            f"the record is of a station in the {record}: it is warm there in the winter of the {garden}, where the "
            "garden’s latitude lies. Correct the latitude, or take a station nearby"
        )


@dataclass(frozen=True, kw_only=True)
class DailyRecord:
    """Daily temperatures of one station, days rising, each at most once.

    Attributes:
        day: Day numbers. Shape (n_days,). [day number]
        tmin_c: Lowest temperature of the day, NaN where missing. Shape (n_days,). [C]
        tmax_c: Highest temperature of the day, NaN where missing. Shape (n_days,). [C]
    """

    day: Days
    tmin_c: Floats
    tmax_c: Floats


@dataclass(frozen=True, kw_only=True)
class Half:
    """The freezes of one half of every growing year that a record touches.

    Attributes:
        years: Growing years. Shape (n_years,).
        freeze: Season day number of the last (spring) or first (autumn) freeze, 0 where none; see
            `core.calendar.season_day`. Shape (n_years,). [d]
        freezes: Whether there is one. Shape (n_years,).
        missing: Missing days met between midsummer and the freeze, or the end of the half. Shape (n_years,). [d]
    """

    years: Ints
    freeze: Ints
    freezes: Flags
    missing: Ints

    @cached_property
    def is_usable(self) -> Flags:
        """Whether few enough days are missing. Shape (n_years,)."""
        return self.missing <= MOST_MISSING_DAYS

    @property
    def n_usable(self) -> int:
        """Usable years. [1]"""
        return int(self.is_usable.sum())

    @property
    def share(self) -> float:
        """The share of usable years that have a freeze. [fraction]"""
        return float((self.freezes & self.is_usable).sum() / self.n_usable) if self.n_usable else 0.0

    @property
    def days(self) -> Ints:
        """Season day numbers of the freezes of usable years, in the order of the years. [d]"""
        return self.freeze[self.freezes & self.is_usable]

    @property
    def days_years(self) -> Ints:
        """The years of `days`."""
        return self.years[self.freezes & self.is_usable]


@dataclass(frozen=True, kw_only=True)
class Freezes:
    """What a record says of freezes at one threshold.

    Attributes:
        threshold_c: A day freezes when its minimum is at or below this. [C]
        spring: Last freezes.
        autumn: First freezes.
    """

    threshold_c: float
    spring: Half
    autumn: Half

    @property
    def warns(self) -> bool:
        """Whether a half has too few years for figures without a warning."""
        return min(self.spring.n_usable, self.autumn.n_usable) < FEWEST_YEARS_UNWARNED

    @property
    def lengths(self) -> Ints:
        """Days from last to first freeze in the years that have both; a 29 February between them counts. [d]

        The frost-free days strictly between are one less.
        """
        years = self.spring.years
        return (_on_calendar(years, self.autumn.freeze) - _on_calendar(years, self.spring.freeze))[self._has_both]

    @property
    def lengths_years(self) -> Ints:
        """The years of `lengths`."""
        return self.spring.years[self._has_both]

    @property
    def _has_both(self) -> Flags:
        return self.spring.freezes & self.spring.is_usable & self.autumn.freezes & self.autumn.is_usable

    def require_years(self) -> None:
        """Raise TooFewYearsError unless both halves have years enough to speak of chances."""
        for name, half in (("spring", self.spring), ("autumn", self.autumn)):
            if half.n_usable < FEWEST_YEARS:
                raise TooFewYearsError(name, half.n_usable)


def find_freezes(record: DailyRecord, threshold_c: float, *, southern: bool) -> Freezes:
    """Return the last and first freeze of every growing year.

    Args:
        record: The station's record.
        threshold_c: A day freezes when its minimum is at or below this. [C]
        southern: Whether the station lies south of the equator.

    Source:
        Freezing day: NOAA NCEI and ECCC. Missing days: Utah Climate Center. The split at 1 August
        (1 February in the south) and the threshold at the record's own decimals are chosen here;
        see docs/method.md.
    """
    known = ~np.isnan(record.tmin_c)
    day, tmin_c = record.day[known], record.tmin_c[known]
    year, month, number = _parts(day)
    growing_year = year + (month >= FIRST_MONTH_OF_SOUTHERN_YEAR) if southern else year
    season_number = number + DAYS_IN_YEAR * (year - growing_year)
    in_spring = (month >= JULY) | (month == JANUARY) if southern else month < AUGUST
    freezing = tmin_c <= _at_resolution(threshold_c, tmin_c)
    years = np.arange(growing_year.min(), growing_year.max() + 1) if len(day) else np.zeros(0, dtype=np.int64)
    bounds = _bounds(years, southern=southern)
    row = growing_year - years[0] if len(years) else growing_year
    halves = {}
    for name, chosen in (("spring", freezing & in_spring), ("autumn", freezing & ~in_spring)):
        at, which = np.flatnonzero(chosen), row[chosen]
        position = np.full(len(years), -1)
        # Days rise, so that of several writes to one year the last stays: forwards the last day, backwards the first.
        order = slice(None) if name == "spring" else slice(None, None, -1)
        position[which[order]] = at[order]
        halves[name] = _half(name, years, position, day, season_number, bounds)
    return Freezes(threshold_c=threshold_c, spring=halves["spring"], autumn=halves["autumn"])


def require_hemisphere(record: DailyRecord, *, southern: bool) -> None:
    """Raise OtherHemisphereError where a record is warm in the winter of the garden's half of the Earth.

    Args:
        record: The station's record.
        southern: Whether the garden lies south of the equator.
    """
    month = (record.day - EPOCH_DAY).astype("datetime64[D]").astype("datetime64[M]").astype(np.int64) % 12 + 1
    known = ~np.isnan(record.tmin_c)
    means = []
    for months in ((1, 2, 12), (6, 7, 8)):
        chosen = record.tmin_c[known & np.isin(month, months)]
        if len(chosen) < FEWEST_DAYS_OF_A_SEASON:
            return
        means.append(float(chosen.mean()))
    warmer_in_july = means[1] - means[0]
    if (warmer_in_july if southern else -warmer_in_july) > SURE_DIFFERENCE_C:
        raise OtherHemisphereError(southern=southern)


def _at_resolution(threshold_c: float, tmin_c: Floats) -> float:
    """Return a threshold with the decimals that a record has, one or two, as the record's own figures were rounded.

    28 F stands as -2.2 in a record of tenths, which is above -2.2222.
    """
    for decimals in (1, 2):
        scaled = tmin_c * 10**decimals
        if np.all(np.abs(scaled - np.rint(scaled)) < RESOLUTION_TOLERANCE):
            return round(threshold_c, decimals)
    return threshold_c


def _half(name: str, years: Ints, position: Ints, day: Days, season_number: Ints, bounds: tuple[Days, ...]) -> Half:
    """Return a half from the position of each year's freeze in the record, -1 where there is none."""
    spring_begins, midsummer, autumn_ends = bounds
    freezes = position >= 0
    at = day[position] if len(day) else position
    if name == "spring":
        begin, end = np.where(freezes, at + 1, spring_begins), midsummer + 1
    else:
        begin, end = midsummer, np.where(freezes, at, autumn_ends)
    seen = np.searchsorted(day, end) - np.searchsorted(day, begin)
    return Half(
        years=years,
        freeze=np.where(freezes, season_number[position], 0) if len(day) else position,
        freezes=freezes,
        missing=np.maximum(end - begin - np.maximum(seen, 0), 0),
    )


def _bounds(years: Ints, *, southern: bool) -> tuple[Days, Days, Days]:
    """Return first day of spring, midsummer, and the day after the last of autumn, of each growing year."""
    if southern:
        return _day(years - 1, JULY, 1), _day(years, JANUARY, MIDSUMMER_DAY), _day(years, JULY, 1)
    return _day(years, JANUARY, 1), _day(years, JULY, MIDSUMMER_DAY), _day(years + 1, JANUARY, 1)


def _day(years: Ints, month: int, day: int) -> Days:
    months = (years - 1970) * 12 + month - 1
    return months.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64) + EPOCH_DAY + day - 1


def _on_calendar(years: Ints, season_day: Ints) -> Days:
    """Return the day numbers of season days; the inverse of `_parts`, but for 29 February."""
    year = years + (season_day - 1) // DAYS_IN_YEAR
    number = (season_day - 1) % DAYS_IN_YEAR + 1
    return _day(year, JANUARY, 1) + number - 1 + (_is_leap(year) & (number >= LEAP_DAY_OF_YEAR))


def _is_leap(year: Ints) -> Flags:
    return (_day(year + 1, JANUARY, 1) - _day(year, JANUARY, 1)) > DAYS_IN_YEAR


def _parts(day: Days) -> tuple[Ints, Ints, Ints]:
    """Return calendar year, month, and the number in a 365-day year; 29 February shares the number of 1 March."""
    dates = (day - EPOCH_DAY).astype("datetime64[D]")
    year = dates.astype("datetime64[Y]").astype(np.int64) + 1970
    month = dates.astype("datetime64[M]").astype(np.int64) % 12 + 1
    number = day - _day(year, JANUARY, 1) + 1
    return year, month, number - (_is_leap(year) & (number > LEAP_DAY_OF_YEAR))
