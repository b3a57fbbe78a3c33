"""Calendar arithmetic: ISO weeks, growing years, and the day numbers that arrays hold.

In arrays a day is its proleptic Gregorian ordinal, `date.toordinal()` [d]; 0 stands for "no date".
Ordinal 1 was a Monday, so a week's number in arrays is `(ordinal - 1) // 7`, Mondays first.
"""

import math
import re
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from app.core.errors import OutOfRangeError

Days = NDArray[np.int64]

NO_DAY = 0
DAYS_IN_WEEK = 7
DAYS_IN_YEAR = 365
FEBRUARY = 2
LEAP_DAY = 29
FIRST_MONTH_OF_SOUTHERN_YEAR = 7

_WEEK = re.compile(r"(\d{4})-W(\d{2})")
_MONTH_DAY = re.compile(r"(\d{2})-(\d{2})")


def days_of_weeks(weeks: float) -> int:
    """Return weeks as whole days, halves rounded up.

    Args:
        weeks: A number of weeks, negative before a date. [weeks]

    Returns:
        7 x weeks. [d]
    """
    return math.floor(weeks * DAYS_IN_WEEK + 0.5)


def as_date(day: int) -> date | None:
    """Return the date of a day number, None for "no date"."""
    return None if day == NO_DAY else date.fromordinal(int(day))


def as_day(day: date | None) -> int:
    """Return the day number of a date, 0 for None."""
    return NO_DAY if day is None else day.toordinal()


def week_number(days: Days) -> Days:
    """Return the running number of the ISO week that holds each day, 0 for the week of 0001-01-01."""
    return (days - 1) // DAYS_IN_WEEK


def monday_of(week: int) -> date:
    """Return the Monday of a running week number."""
    return date.fromordinal(week * DAYS_IN_WEEK + 1)


def week_start(day: date) -> date:
    """Return the Monday of the ISO week that holds a day."""
    return day - timedelta(days=day.weekday())


def iso_week(day: date) -> str:
    """Return the ISO 8601 week that holds a day, as `2027-W12`.

    Source:
        ISO 8601: weeks begin on Monday, and week 1 holds 4 January.
    """
    year, week, _ = day.isocalendar()
    return f"{year:04d}-W{week:02d}"


def monday_of_iso_week(text: str) -> date:
    """Return the Monday of a week written as `2027-W12`.

    Raises:
        OutOfRangeError: The text is no ISO week, or the year has no such week.
    """
    match = _WEEK.fullmatch(text)
    try:
        if match is not None:
            return date.fromisocalendar(int(match[1]), int(match[2]), 1)
    except ValueError:
        pass
    raise OutOfRangeError("week", text, "an ISO week such as 2027-W12")


def next_weekday(days: Days, weekday: int) -> Days:
    """Return the first day on or after each day that falls on a weekday.

    Args:
        days: Day numbers. [d]
        weekday: The day of the week. [0 Monday to 6 Sunday]
    """
    return days + (weekday - (days - 1)) % DAYS_IN_WEEK


def last_weekday(days: Days, weekday: int) -> Days:
    """Return the last day on or before each day that falls on a weekday; arguments as `next_weekday`."""
    return days - ((days - 1) - weekday) % DAYS_IN_WEEK


def day_of_common_year(month: int, day: int) -> int:
    """Return the number of a day in a 365-day year; 29 February shares the number of 1 March.

    Returns:
        1 on 1 January to 365 on 31 December. [d]

    Raises:
        OutOfRangeError: There is no such day in any year.
    """
    if (month, day) == (FEBRUARY, LEAP_DAY):
        return 60
    try:
        return date(2001, month, day).timetuple().tm_yday
    except ValueError:
        raise OutOfRangeError("date", f"{month:02d}-{day:02d}", "a day of the year as MM-DD") from None


def read_month_day(text: str) -> tuple[int, int]:
    """Return month and day of a text such as `05-20`.

    Raises:
        OutOfRangeError: It is no day of the year.
    """
    match = _MONTH_DAY.fullmatch(text)
    if match is None:
        raise OutOfRangeError("date", text, "a day of the year as MM-DD")
    month, day = int(match[1]), int(match[2])
    day_of_common_year(month, day)
    return month, day


def season_day(day: date, season: int) -> int:
    """Return a date as a day number of a growing year, counted in 365-day years.

    Args:
        day: Any date.
        season: The growing year. [year]

    Returns:
        1 on 1 January of the year `season`, 0 and less before, above 365 after. [d]
    """
    return day_of_common_year(day.month, day.day) + DAYS_IN_YEAR * (day.year - season)


def date_of_season_day(number: int, season: int) -> date:
    """Return the date of a day number of a growing year; the inverse of `season_day`."""
    years, day = divmod(number - 1, DAYS_IN_YEAR)
    common = date(2001, 1, 1) + timedelta(days=day)
    return common.replace(year=season + years)


def date_in_season(month: int, day: int, season: int, *, southern: bool) -> date:
    """Return the date that a month and day have within a growing year.

    A northern growing year is the calendar year; a southern one runs from 1 July of the year
    before to 30 June and is named by the year in which it ends. 29 February becomes 1 March
    where the year has none.
    """
    year = season - 1 if southern and month >= FIRST_MONTH_OF_SOUTHERN_YEAR else season
    return date_of_season_day(day_of_common_year(month, day), year)
