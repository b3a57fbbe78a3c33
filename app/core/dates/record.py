"""A station's daily record, and the last and first freeze of each growing year in it."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import DAYS_IN_YEAR, NO_DAY, Days
from app.core.errors import CoreError
from app.language import _

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

NEVER = 10_000_000  # a day number after all that a date can have
EPOCH_DAY, EPOCH_YEAR = 719_163, 1970  # 1970-01-01
LEAP_DAY_OF_YEAR, FIRST_OF_JULY = 60, 182
AUGUST_TO_NEW_YEAR, JULY_TO_NEW_YEAR = 153, 184


class TooFewYearsError(CoreError):
    """A record has too few usable years to speak of chances."""

    def __init__(self, half: str, years: int) -> None:
        """Say how many there are and what to do instead."""
        if half == "spring":
            message = _(
                "the record has %(years)s usable years for spring; it takes %(fewest)s. Enter a published table "
                "instead",
                years=years,
                fewest=FEWEST_YEARS,
            )
        else:
            message = _(
                "the record has %(years)s usable years for autumn; it takes %(fewest)s. Enter a published table "
                "instead",
                years=years,
                fewest=FEWEST_YEARS,
            )
        super().__init__(message)
        self.half = half
        self.years = years


class OtherHemisphereError(CoreError):
    """A record whose summer is the garden's winter."""

    def __init__(self, *, southern: bool) -> None:
        """Say so."""
        super().__init__(
            _(
                "the record is of a station in the north: it is warm there in the winter of the south, where the "
                "garden’s latitude lies. Correct the latitude, or take a station nearby"
            )
            if southern
            else _(
                "the record is of a station in the south: it is warm there in the winter of the north, where the "
                "garden’s latitude lies. Correct the latitude, or take a station nearby"
            )
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

    @cached_property
    def known(self) -> tuple[Days, Floats]:
        """The days that have a minimum, and the minima."""
        missing = np.isnan(self.tmin_c)
        return (self.day[~missing], self.tmin_c[~missing]) if missing.any() else (self.day, self.tmin_c)

    @cached_property
    def decimals(self) -> int | None:
        """The decimals of the minima, one or two; None where they have more."""
        return _decimals(self.known[1])


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
    day, tmin_c = record.known
    # The record's own figures were rounded: 28 F stands as -2.2 in one of tenths, which is above -2.2222.
    threshold = threshold_c if record.decimals is None else round(threshold_c, record.decimals)
    freezing = day[tmin_c <= threshold]
    years = _growing_years(day, southern=southern)
    begins, midsummer, splits, ends = _bounds(years, southern=southern)
    # Days rise, so a year's freezes are those next to its split; before and after all there is none.
    padded = np.concatenate(([NO_DAY], freezing, [NEVER]))
    before = np.searchsorted(freezing, splits)
    last, first = padded[before], padded[before + 1]
    thaws = np.where(last >= begins, last + 1, begins)
    spring = _half(years, last, last >= begins, _missing(day, thaws, midsummer + 1))
    autumn = _half(years, first, first < ends, _missing(day, midsummer, np.minimum(first, ends)))
    return Freezes(threshold_c=threshold_c, spring=spring, autumn=autumn)


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


def _decimals(tmin_c: Floats) -> int | None:
    for decimals in (1, 2):
        scaled = tmin_c * 10**decimals
        if np.all(np.abs(scaled - np.rint(scaled)) < RESOLUTION_TOLERANCE):
            return decimals
    return None


def _half(years: Ints, day: Days, freezes: Flags, missing: Ints) -> Half:
    """Return a half from the day of each year's freeze, where there is one."""
    year, number = _parts(np.where(freezes, day, EPOCH_DAY))
    return Half(
        years=years,
        freeze=np.where(freezes, number + DAYS_IN_YEAR * (year - years), 0),
        freezes=freezes,
        missing=missing,
    )


def _missing(day: Days, begin: Days, end: Days) -> Ints:
    """Return how many of the days from `begin` to before `end` a record lacks, for each year."""
    seen = np.searchsorted(day, end) - np.searchsorted(day, begin)
    lacking: Ints = np.maximum(end - begin, 0) - np.maximum(seen, 0)
    return lacking


def _growing_years(day: Days, *, southern: bool) -> Ints:
    """Return every growing year from the first to the last day."""
    if not len(day):
        return np.zeros(0, dtype=np.int64)
    year, number = _parts(day[[0, -1]])
    first, last = (year + (number >= FIRST_OF_JULY) if southern else year).tolist()
    return np.arange(first, last + 1)


def _bounds(years: Ints, *, southern: bool) -> tuple[Days, Days, Days, Days]:
    """Return first day, midsummer, first day of autumn, and the day after the last, of each growing year.

    They are counted from the New Year that has no 29 February in between.
    """
    new_year, next_year = _new_year(years), _new_year(years + 1)
    if southern:
        return new_year - JULY_TO_NEW_YEAR, new_year + 23, new_year + 31, next_year - JULY_TO_NEW_YEAR
    split = next_year - AUGUST_TO_NEW_YEAR
    return new_year, split - 8, split, next_year


def _new_year(year: Ints) -> Days:
    past = year - 1
    return DAYS_IN_YEAR * past + past // 4 - past // 100 + past // 400 + 1


def _is_leap(year: Ints) -> Flags:
    is_leap: Flags = (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0))
    return is_leap


def _on_calendar(years: Ints, season_day: Ints) -> Days:
    """Return the day numbers of season days; the inverse of `_parts`, but for 29 February."""
    year = years + (season_day - 1) // DAYS_IN_YEAR
    number = (season_day - 1) % DAYS_IN_YEAR + 1
    return _new_year(year) + number - 1 + (_is_leap(year) & (number >= LEAP_DAY_OF_YEAR))


def _parts(day: Days) -> tuple[Ints, Ints]:
    """Return calendar year and the number in a 365-day year; 29 February shares the number of 1 March."""
    year = (day - EPOCH_DAY).astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64) + EPOCH_YEAR
    number = day - _new_year(year) + 1
    return year, number - (_is_leap(year) & (number > LEAP_DAY_OF_YEAR))
