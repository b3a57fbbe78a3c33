"""Weeks, growing years and day numbers."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.calendar import (
    NO_DAY,
    as_date,
    as_day,
    date_in_season,
    date_of_season_day,
    day_of_common_year,
    last_weekday,
    monday_of_iso_week,
    next_weekday,
    read_month_day,
    season_day,
)
from app.core.errors import OutOfRangeError

DAYS = st.dates(date(1999, 1, 1), date(2110, 12, 31))
WEEKDAYS = st.integers(0, 6)


def test_no_day_is_no_date():
    assert as_date(NO_DAY) is None
    assert as_day(None) == NO_DAY


@given(DAYS)
def test_a_day_number_and_its_date_are_one_another(day):
    assert as_date(as_day(day)) == day


@given(DAYS, WEEKDAYS)
def test_the_next_weekday_is_the_first_on_or_after(day, weekday):
    found = as_date(next_weekday(np.array([as_day(day)]), weekday)[0])
    assert found == next(day + timedelta(days=n) for n in range(7) if (day + timedelta(days=n)).weekday() == weekday)


@given(DAYS, WEEKDAYS)
def test_the_last_weekday_is_the_first_on_or_before(day, weekday):
    found = as_date(last_weekday(np.array([as_day(day)]), weekday)[0])
    assert found == next(day - timedelta(days=n) for n in range(7) if (day - timedelta(days=n)).weekday() == weekday)


def test_29_february_shares_the_number_of_1_march():
    assert day_of_common_year(2, 29) == day_of_common_year(3, 1) == 60
    assert season_day(date(2028, 2, 29), 2028) == season_day(date(2028, 3, 1), 2028)
    assert date_of_season_day(60, 2028) == date(2028, 3, 1)


@pytest.mark.parametrize(
    ("day", "season", "number"),
    [
        (date(2027, 1, 1), 2027, 1),
        (date(2027, 12, 31), 2027, 365),
        (date(2028, 12, 31), 2028, 365),
        # The three of docs/method.md, section 2.
        (date(2026, 10, 10), 2027, -82),
        (date(2027, 5, 5), 2027, 125),
        (date(2028, 1, 3), 2027, 368),
    ],
)
def test_days_are_numbered_from_the_new_year_of_the_growing_year(day, season, number):
    assert season_day(day, season) == number
    assert date_of_season_day(number, season) == day


@given(DAYS, st.integers(2000, 2100))
def test_the_number_of_a_day_leads_back_to_it(day, season):
    shared = (day.month, day.day) == (2, 29)
    assert date_of_season_day(season_day(day, season), season) == (day + timedelta(days=1) if shared else day)


@given(DAYS, st.integers(2000, 2100))
def test_the_days_of_a_year_are_numbered_in_order(day, season):
    step = season_day(day + timedelta(days=1), season) - season_day(day, season)
    assert step == (0 if (day.month, day.day) == (2, 29) else 1)


@pytest.mark.parametrize(
    ("month", "day", "southern", "expected"),
    [
        (5, 9, False, date(2027, 5, 9)),
        (12, 31, False, date(2027, 12, 31)),
        (7, 1, True, date(2026, 7, 1)),
        (12, 31, True, date(2026, 12, 31)),
        (6, 30, True, date(2027, 6, 30)),
        (2, 29, False, date(2027, 3, 1)),
    ],
)
def test_a_southern_growing_year_runs_from_july_and_is_named_by_its_end(month, day, southern, expected):
    assert date_in_season(month, day, 2027, southern=southern) == expected


@pytest.mark.parametrize("text", ["2027-W00", "2027-W53", "2027-W1", "2027W12", "27-W12", "2027-W12-1", "", "0000-W01"])
def test_what_is_no_iso_week_is_refused_with_its_text(text):
    with pytest.raises(OutOfRangeError, match="it must be an ISO week such as 2027-W12") as caught:
        monday_of_iso_week(text)
    assert (caught.value.argument, caught.value.value) == ("week", text)


@pytest.mark.parametrize("text", ["5-20", "05-32", "13-01", "00-10", "02-30", "05/20", "2027-05-20", ""])
def test_what_is_no_day_of_the_year_is_refused(text):
    with pytest.raises(OutOfRangeError, match="it must be a day of the year as MM-DD") as caught:
        read_month_day(text)
    assert (caught.value.argument, caught.value.value) == ("date", text)


def test_29_february_is_a_day_of_the_year():
    assert read_month_day("02-29") == (2, 29)
