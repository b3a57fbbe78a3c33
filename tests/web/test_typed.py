"""What people type: readings that must work, readings that must be refused, and round trips."""

import re
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.words import Units
from app.sheets.words import day_long, day_short, day_words, day_year
from app.web.forms.typed import Habits, read_day, read_decimal, read_month_day, read_parts, read_whole, shown

METRIC = Habits(units=Units.METRIC, season=2027)
US = Habits(units=Units.US, season=2027)
SOUTHERN = Habits(units=Units.METRIC, season=2027, southern=True)
DAYS = st.dates(date(1900, 1, 1), date(2200, 12, 31))
APRIL_15 = date(2027, 4, 15)

# Digits of other scripts, digit groups of programmers, and what number parsers take for numbers.
NO_NUMBERS = [
    "\uff11\uff12",
    "١٢",
    "1_000",
    "nan",
    "inf",
    "-inf",
    "1e3",
    "0x10",
    "1 2",
    "12 3456",
    "1,2,3",
    "1.2.3",
    "",
    "-",
    ",",
    "9" * 19,
]


@pytest.mark.parametrize(
    "text", ["15/4", "15.4.", "15.4", "15. 4.", "15 Apr", "15 apr", "15 April", "15th April", "Apr 15"]
)
def test_a_day_without_a_year_lies_in_the_growing_year(text):
    assert read_day(text, METRIC) == APRIL_15


@pytest.mark.parametrize(
    "text",
    [
        "2027-04-15",
        "15/4/2027",
        "15/4/27",
        "15.4.2027",
        "15. 4. 27",
        "15 Apr 2027",
        "Thu 15 Apr 2027",
        "Thursday, 15 April 2027",
        "April 15, 2027",
    ],
)
def test_a_day_with_its_year_is_that_day(text):
    other_season = Habits(units=Units.METRIC, season=2030)
    assert read_day(text, other_season) == APRIL_15


def test_us_gardens_write_the_month_first():
    assert read_day("4/15", US) == APRIL_15
    assert read_day("4/5/2027", US) == date(2027, 4, 5)
    assert read_day("4/5/2027", METRIC) == date(2027, 5, 4)
    assert read_day("15.4.", US) == APRIL_15


@pytest.mark.parametrize(
    ("text", "day"), [("15/10", date(2026, 10, 15)), ("15/4", APRIL_15), ("1/7", date(2026, 7, 1))]
)
def test_a_southern_growing_year_begins_in_july_of_the_year_before(text, day):
    assert read_day(text, SOUTHERN) == day


@pytest.mark.parametrize(
    ("text", "habits", "words"),
    [
        ("4/15", METRIC, "For 15 Apr type 15/4 or 15 Apr"),
        ("15/4", US, "For 15 Apr type 4/15 or 15 Apr"),
        ("31/4", METRIC, "no day 31 in April 2027"),
        ("29 Feb", METRIC, "no day 29 in February 2027"),
        ("29/2/1900", METRIC, "no day 29 in February 1900"),
        ("Sun 10 Apr", METRIC, "10 Apr 2027 is a Saturday, not a Sunday"),
        ("soon", METRIC, "“soon” is no day. Type it as 15/4, 15.4. or 15 Apr"),
        ("soon", US, "Type it as 4/15 or Apr 15"),
        ("15-4", METRIC, "is no day"),
        ("\uff11\uff15/4", METRIC, "is no day"),
        ("0/0", METRIC, "no such month"),
        ("15/4/0027", METRIC, "must be from 1900 to 2200"),
        ("10000000000000000/4", METRIC, "is no day"),
    ],
)
def test_a_day_that_cannot_be_gets_words_that_help(text, habits, words):
    with pytest.raises(ValueError, match=re.escape(words)):
        read_day(text, habits)


@given(DAYS)
def test_a_day_comes_back_from_every_way_of_writing_it(day):
    for text in (day.isoformat(), day_year(day), day_long(day), f"{day.day}/{day.month}/{day.year}"):
        assert read_day(text, METRIC) == day
    assert read_day(f"{day.month}/{day.day}/{day.year}", US) == day


@given(st.integers(1950, 2150), st.integers(0, 364), st.booleans())
def test_a_day_of_the_growing_year_needs_no_year(season, later, southern):
    first = date(season - 1, 7, 1) if southern else date(season, 1, 1)
    day = first + timedelta(days=later)
    habits = Habits(units=Units.METRIC, season=season, southern=southern)
    assert read_day(day_short(day), habits) == day
    assert read_day(day_words(day), habits) == day


@given(st.text(max_size=20))
def test_any_text_is_read_as_a_day_or_refused_in_words(text):
    for habits in (METRIC, US, SOUTHERN):
        try:
            day = read_day(text, habits)
        except ValueError as error:
            assert str(error).endswith(".")  # noqa: PT017 - either outcome is right
        else:
            assert 1900 <= day.year <= 2200


@pytest.mark.parametrize("text", ["05-20", "20 May", "20/5", "20.5.", "May 20"])
def test_a_day_of_any_year_is_kept_as_month_and_day(text):
    assert read_month_day(text, METRIC) == "05-20"


def test_29_february_is_a_day_of_any_year():
    assert read_month_day("29/2", METRIC) == "02-29"


@pytest.mark.parametrize("text", ["20 May 2027", "Sat 20 May", "13-01", "31/4", "5-20", "5", ""])
def test_a_day_of_any_year_takes_no_year_and_no_impossible_day(text):
    with pytest.raises(ValueError, match=r".+"):
        read_month_day(text, METRIC)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("12", 12),
        ("1 000", 1000),
        ("1\u00a0000", 1000),
        ("1\u202f000", 1000),
        ("1,000", 1000),
        ("1.000", 1000),
        ("1.000.000", 1_000_000),
        ("12,0", 12),
        ("12.00", 12),
        ("-3", -3),
        ("−3", -3),
        ("007", 7),
    ],
)
def test_whole_numbers_are_read_as_people_write_them(text, value):
    assert read_whole(text) == value


@pytest.mark.parametrize("text", [*NO_NUMBERS, "2,5", "1/2", "12,5"])
def test_what_is_no_whole_number_is_refused(text):
    with pytest.raises(ValueError, match="is no whole number"):
        read_whole(text)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("2,5", "2.5"),
        ("2.5", "2.5"),
        (".5", "0.5"),
        ("1 000,5", "1000.5"),
        ("1,234.5", "1234.5"),
        ("1.234,5", "1234.5"),
        ("-0,25", "-0.25"),
    ],
)
def test_decimals_are_read_with_comma_and_point(text, value):
    assert read_decimal(text, -10_000, 10_000) == Decimal(value)


def test_what_can_be_read_in_two_ways_is_read_as_the_one_that_can_be():
    assert read_decimal("48,125", -90, 90) == Decimal("48.125")
    assert read_decimal("1.250", 10, 6000) == 1250
    with pytest.raises(ValueError, match=r"two ways: type 1\.25 or 1250"):
        read_decimal("1.250", 0, 6000)


@pytest.mark.parametrize("text", [*NO_NUMBERS, "1/2", "2,5 5"])
def test_what_is_no_number_is_refused(text):
    with pytest.raises(ValueError, match="is no number"):
        read_decimal(text, 0, 10)


@given(st.integers(-(10**9), 10**9))
def test_a_whole_number_comes_back_from_every_grouping(number):
    for separator in ("", " ", "\u00a0", "\u202f", ",", "."):
        assert read_whole(f"{number:,}".replace(",", separator)) == number


@given(st.decimals(-9999, 9999, places=2))
def test_a_decimal_comes_back_with_comma_or_point(number):
    for text in (f"{number:f}", f"{number:f}".replace(".", ",")):
        assert read_decimal(text, -10_000, 10_000) == number


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1/4", Fraction(1, 4)),
        ("1 1/2", Fraction(3, 2)),
        ("1½", Fraction(3, 2)),
        ("¼", Fraction(1, 4)),
        ("3 / 8", Fraction(3, 8)),
    ],
)
def test_inches_are_read_with_fractions(text, value):
    assert read_parts(text) == value


@pytest.mark.parametrize("text", ["1/0", "1", "0.25", "a/b", "1//2", "½½"])
def test_what_is_no_fraction_is_left_to_others(text):
    assert read_parts(text) is None


def test_a_message_repeats_no_more_than_the_beginning_and_nothing_hidden():
    assert shown("a\x00b\u202ec") == "abc"
    assert shown("x" * 500) == "x" * 24 + "…"
