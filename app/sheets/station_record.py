"""A station's record in words and tables: its years, the usual thresholds, the trend."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median
from typing import NamedTuple

import numpy as np

from app.core.calendar import date_of_season_day
from app.core.dates.frost import Frost, frost_of_record
from app.core.dates.record import FEWEST_YEARS, Freezes, Half, Ints
from app.core.dates.trend import Trend, theil_sen
from app.core.words import FrostLaw
from app.language import _
from app.sheets.frost_charts import YearsChart, draw_years
from app.sheets.record_words import year_words
from app.sheets.tables import date_at
from app.sheets.words import count_words, day_short, figure_words

EVEN_CHANCE = 0.5
RECENT_YEARS = 15
YEARS_IN_DECADE = 10


class YearLine(NamedTuple):
    """One growing year of a record.

    Attributes:
        year: The growing year.
        last: Its last freeze, in words.
        first: Its first freeze, in words.
        days: Days from the one to the other; None where one is missing.
        is_left_out: Whether a half has too many missing days.
    """

    year: int
    last: str
    first: str
    days: int | None
    is_left_out: bool


@dataclass(frozen=True, kw_only=True)
class ThresholdLine:
    """What a record says at one threshold, by the garden's law.

    Attributes:
        threshold_c: The threshold. [C]
        is_own: Whether it is the garden's.
        years: Usable springs and autumns.
        freezing: Of these, those with a freeze.
        spring: Date of an even chance, and at the garden's risk.
        autumn: The same.
        length: Median days from last to first freeze; None without a year that has both. [d]
    """

    threshold_c: float
    is_own: bool
    years: tuple[int, int]
    freezing: tuple[int, int]
    spring: tuple[date | None, date | None]
    autumn: tuple[date | None, date | None]
    length: float | None


class TrendLine(NamedTuple):
    """A trend over all years of a record, or over its last fifteen.

    Attributes:
        what: What moves.
        period: Which years.
        years: Usable years in it.
        middle: The median, a date or days in words.
        slope: Change in a decade, in words.
        interval: Its 95 % interval, in words.
        verdict: In plain words, whether there is a change.
    """

    what: str
    period: str
    years: int
    middle: str
    slope: str
    interval: str
    verdict: str


@dataclass(frozen=True, kw_only=True)
class StationPage:
    """A station's record.

    Attributes:
        first_year: Its first growing year.
        last_year: Its last.
        usable: Usable springs and autumns.
        left_out: Years left out, in words, for spring and autumn; empty where none is.
        without: Years without a freeze, in words, for spring and autumn.
        few: Why its figures are rough, or why there are none; empty where there are years enough.
        is_refused: Whether it has too few years to speak of chances.
        chart: The years as dots; None where no year has a freeze.
        years: The same as a table, the latest first.
        thresholds: The usual thresholds beside the garden's.
        trends: Trends of last and first freeze and length.
        median_length: Median days from last to first freeze of its years. [d]
    """

    first_year: int
    last_year: int
    usable: tuple[int, int]
    left_out: tuple[str, str]
    without: tuple[str, str]
    few: str
    is_refused: bool
    chart: YearsChart | None
    years: tuple[YearLine, ...]
    thresholds: tuple[ThresholdLine, ...]
    trends: tuple[TrendLine, ...]
    median_length: float | None


def make_station_page(
    own: Freezes, freezes: Sequence[Freezes], frost: Frost, *, law: FrostLaw, risks: tuple[float, float]
) -> StationPage:
    """Return what the page shows of a station's record.

    Args:
        own: Its freezes at the garden's threshold.
        freezes: Its freezes at each threshold that is shown.
        frost: The garden's frost, which gives the growing year.
        law: Law of the record.
        risks: The garden's risks in spring and autumn. [fraction]
    """
    spring, autumn = own.spring, own.autumn
    trends = tuple(theil_sen(half.days_years, half.days) for half in (spring, autumn))
    is_refused = min(spring.n_usable, autumn.n_usable) < FEWEST_YEARS
    of_record = None if is_refused else frost_of_record(own, law, season=frost.season)
    at_risk = (
        (None, None)
        if of_record is None
        else (date_at(of_record.spring_on, risks[0]), date_at(of_record.autumn_on, risks[1]))
    )
    return StationPage(
        first_year=int(spring.years[0]) if len(spring.years) else 0,
        last_year=int(spring.years[-1]) if len(spring.years) else 0,
        usable=(spring.n_usable, autumn.n_usable),
        left_out=(_years_words(spring.years[~spring.is_usable]), _years_words(autumn.years[~autumn.is_usable])),
        without=(_without_words(spring), _without_words(autumn)),
        few=_few_words(own),
        is_refused=is_refused,
        chart=draw_years(own, frost, at_risk, (trends[0], trends[1])),
        years=tuple(_years(own))[::-1],
        thresholds=tuple(
            _threshold(one, is_own=one is own, season=frost.season, law=law, risks=risks) for one in freezes
        ),
        trends=tuple(_trends(own, frost.season)),
        median_length=float(np.median(own.lengths)) if len(own.lengths) else None,
    )


def _few_words(freezes: Freezes) -> str:
    springs, autumns = freezes.spring.n_usable, freezes.autumn.n_usable
    if not freezes.warns:
        return ""
    return _(
        "%(springs)s and %(autumns)s",
        springs=count_words(springs, "usable spring", "usable springs"),
        autumns=count_words(autumns, "usable autumn", "usable autumns"),
    )


def _years_words(years: Ints) -> str:
    return year_words(tuple(years.tolist()))


def _without_words(half: Half) -> str:
    return _years_words(half.years[half.is_usable & ~half.freezes])


def _years(freezes: Freezes) -> Iterator[YearLine]:
    spring, autumn = freezes.spring, freezes.autumn
    days = dict(zip(freezes.lengths_years.tolist(), freezes.lengths.tolist(), strict=True))
    for index, year in enumerate(spring.years.tolist()):
        yield YearLine(
            year,
            _year_words(spring, index, year),
            _year_words(autumn, index, year),
            days.get(year),
            not (spring.is_usable[index] and autumn.is_usable[index]),
        )


def _year_words(half: Half, index: int, year: int) -> str:
    if not half.is_usable[index]:
        return _("left out: %(days)s missing", days=count_words(int(half.missing[index]), "day", "days"))
    return day_short(date_of_season_day(int(half.freeze[index]), year)) if half.freezes[index] else _("no freeze")


def _threshold(
    freezes: Freezes,
    *,
    is_own: bool,
    season: int,
    law: FrostLaw,
    risks: tuple[float, float],
) -> ThresholdLine:
    halves = (freezes.spring, freezes.autumn)
    dates: list[tuple[date | None, date | None]] = [(None, None), (None, None)]
    if min(half.n_usable for half in halves) >= FEWEST_YEARS:
        frost = frost_of_record(freezes, law, season=season)
        for index, date_on in enumerate((frost.spring_on, frost.autumn_on)):
            dates[index] = (date_at(date_on, EVEN_CHANCE), date_at(date_on, risks[index]))
    return ThresholdLine(
        threshold_c=freezes.threshold_c,
        is_own=is_own,
        years=(halves[0].n_usable, halves[1].n_usable),
        freezing=(len(halves[0].days), len(halves[1].days)),
        spring=dates[0],
        autumn=dates[1],
        length=float(np.median(freezes.lengths)) if len(freezes.lengths) else None,
    )


def _trends(freezes: Freezes, season: int) -> Iterator[TrendLine]:
    spring, autumn = freezes.spring, freezes.autumn
    series: tuple[tuple[str, Ints, Ints, bool], ...] = (
        (_("Last freeze of spring"), spring.days_years, spring.days, True),
        (_("First freeze of autumn"), autumn.days_years, autumn.days, True),
        (_("Days from last to first"), freezes.lengths_years, freezes.lengths, False),
    )
    last_year = int(spring.years[-1]) if len(spring.years) else 0
    for what, years, days, is_date in series:
        recent = years > last_year - RECENT_YEARS
        periods = [(_("all years"), years, days)]
        if not recent.all():
            periods.append((f"{last_year - RECENT_YEARS + 1} – {last_year}", years[recent], days[recent]))
        for period, some_years, some_days in periods:
            yield _trend_line(what, period, some_years, some_days, season if is_date else None)


def _trend_line(what: str, period: str, years: Ints, days: Ints, season: int | None) -> TrendLine:
    """Return a line of the trends; `season` is given for dates, not for lengths."""
    trend, middle = theil_sen(years, days), "–"
    if len(days):
        number = median(days.tolist())
        middle = (
            _("%(days)s days", days=figure_words(number))
            if season is None
            else day_short(date_of_season_day(round(number), season))
        )
    if trend is None:
        return TrendLine(
            what, period, len(days), middle, "–", "–", _("too few years for a trend (%(years)s)", years=len(days))
        )
    is_length = season is None
    interval = _(
        "from %(low)s to %(high)s",
        low=_slope_words(trend.low, is_length=is_length),
        high=_slope_words(trend.high, is_length=is_length),
    )
    slope = _slope_words(trend.slope, is_length=is_length)
    return TrendLine(what, period, len(days), middle, slope, interval, _verdict(trend, is_length=is_length))


def _slope_words(slope: float, *, is_length: bool) -> str:
    """Return a change in a decade; `is_length` for lengths, else for dates."""
    moved = round(slope * YEARS_IN_DECADE, 1)
    if not moved:
        return _("no change")
    days = figure_words(abs(moved))
    if is_length:
        return _("%(days)s days longer", days=days) if moved > 0 else _("%(days)s days shorter", days=days)
    return _("%(days)s days later", days=days) if moved > 0 else _("%(days)s days earlier", days=days)


def _verdict(trend: Trend, *, is_length: bool) -> str:
    if not trend.is_clear:
        return _("No clear change: the interval holds zero.")
    if is_length:
        return (
            _("It has become longer over these years.")
            if trend.slope > 0
            else _("It has become shorter over these years.")
        )
    return (
        _("It has become later over these years.") if trend.slope > 0 else _("It has become earlier over these years.")
    )
