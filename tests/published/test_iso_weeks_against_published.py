"""ISO weeks against examples in print (iso_weeks.csv) and against the rule of the standard, by hand."""

from datetime import date, timedelta

import numpy as np
import pytest

from app.core.calendar import iso_week, monday_of, monday_of_iso_week, week_number, week_start
from app.core.errors import OutOfRangeError
from tests.published.tables import read_rows

EXAMPLES = read_rows("iso_weeks.csv")
# OEIS A249404, first of its years after 2000; 71 in every 400 years have 53 weeks.
YEARS_WITH_53_WEEKS = (2004, 2009, 2015, 2020, 2026, 2032, 2037, 2043)


def first_monday(year):
    """Return the Monday of week 1: weeks begin on Monday, and week 1 holds 4 January."""
    return date(year, 1, 4) - timedelta(days=date(year, 1, 4).weekday())


def week_by_hand(day):
    year = max(year for year in (day.year - 1, day.year, day.year + 1) if first_monday(year) <= day)
    return f"{year:04d}-W{(day - first_monday(year)).days // 7 + 1:02d}"


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda row: row["date"])
def test_an_example_in_print_comes_back(example):
    day = date.fromisoformat(example["date"])
    week, weekday = example["iso_week_date"].rsplit("-", 1)
    assert iso_week(day) == week
    assert monday_of_iso_week(week) + timedelta(days=int(weekday) - 1) == day


def test_four_hundred_years_of_year_ends_follow_the_rule():
    for year in range(1900, 2301):
        for day in (date(year, 12, 25) + timedelta(days=n) for n in range(16)):
            assert iso_week(day) == week_by_hand(day)


def test_the_running_number_of_a_week_changes_on_mondays_alone():
    first, last = date(2019, 12, 1).toordinal(), date(2033, 1, 31).toordinal()
    numbers = week_number(np.arange(first, last))
    changes = [date.fromordinal(first + 1 + int(n)) for n in np.flatnonzero(np.diff(numbers))]
    assert changes == [date(2019, 12, 2) + timedelta(weeks=n) for n in range(len(changes))]
    assert [monday_of(int(week_number(np.array(day.toordinal())))) for day in changes] == changes


@pytest.mark.parametrize("year", YEARS_WITH_53_WEEKS)
def test_a_long_year_has_a_week_53(year):
    assert monday_of_iso_week(f"{year}-W53") + timedelta(weeks=1) == first_monday(year + 1)


def test_no_year_between_the_long_ones_has_a_week_53():
    for year in set(range(2004, 2044)) - set(YEARS_WITH_53_WEEKS):
        with pytest.raises(OutOfRangeError, match=f"week is {year}-W53"):
            monday_of_iso_week(f"{year}-W53")


def test_71_years_in_400_have_53_weeks():
    # A year has 53 weeks when 1 January is a Thursday, or a Wednesday of a leap year.
    long_years = [year for year in range(2000, 2400) if iso_week(date(year, 12, 28)).endswith("W53")]
    assert len(long_years) == 71


def test_a_week_goes_on_across_new_year():
    assert {week_start(date(2026, 12, 28) + timedelta(days=n)) for n in range(7)} == {date(2026, 12, 28)}
    assert monday_of_iso_week("2027-W01") == date(2027, 1, 4)
