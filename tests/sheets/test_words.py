from datetime import date, timedelta

import pytest
from babel.numbers import format_decimal
from hypothesis import given
from hypothesis import strategies as st

from app.language import LANGUAGES, speaking
from app.sheets import words

DAYS = st.dates(date(1900, 1, 1), date(2200, 12, 31))


def test_days_are_said_with_their_weekday():
    # 10 April 2027 is a Saturday: any printed calendar of 2027.
    day = date(2027, 4, 10)
    assert words.day_words(day) == "Sat 10 Apr"
    assert words.day_long(day) == "Saturday 10 April 2027"
    assert words.day_year(day) == "Sat 10 Apr 2027"
    assert words.month_day_words("05-20") == "20 May"


@pytest.mark.parametrize(
    ("day", "week"),
    [
        (date(2027, 4, 10), "5 – 11 Apr"),
        (date(2027, 4, 4), "29 Mar – 4 Apr"),
        (date(2027, 1, 1), "28 Dec 2026 – 3 Jan 2027"),
        (date(2024, 2, 29), "26 Feb – 3 Mar"),
    ],
)
def test_weeks_are_said_by_their_days(day, week):
    assert words.week_words(day) == week


# Week numbers of days around New Year as in the examples of ISO 8601 week dates: 1 January 2005 lies in
# 2004-W53, 31 December 2007 in 2008-W01, 3 January 2010 in 2009-W53 (from memory, of the standard's Wikipedia page).
@pytest.mark.parametrize(
    ("day", "number"), [(date(2005, 1, 1), "W53"), (date(2007, 12, 31), "W01"), (date(2010, 1, 3), "W53")]
)
def test_the_week_number_is_that_of_the_standard(day, number):
    assert words.iso_week(day) == number


@given(DAYS)
def test_all_days_of_a_week_say_the_same_week(day):
    monday = day - timedelta(days=day.weekday())
    said = {words.week_full(monday + timedelta(days=later)) for later in range(7)}
    assert len(said) == 1


@pytest.mark.parametrize(
    ("risk", "said"),
    [
        (0.1, "1 spring in 10"),
        (0.25, "1 spring in 4"),
        (0.33, "1 spring in 3"),
        (1 / 3, "1 spring in 3"),
        (0.67, "2 springs in 3"),
        (0.9, "9 springs in 10"),
        (0.5, "1 spring in 2"),
        (0.05, "1 spring in 20"),
        (0.15, "3 springs in 20"),
        (0.07, "7 springs in 100"),
        (0.001, "1 spring in 1000"),
        (0.0, "no spring"),
        (1.0, "every spring"),
    ],
)
def test_a_risk_is_said_in_years(risk, said):
    assert words.risk_words(risk) == said


@given(st.floats(1e-6, 1 - 1e-6))
def test_a_said_risk_is_within_half_a_percent_of_the_risk(risk):
    count, _, _, years = words.risk_words(risk).split()
    assert int(count) / int(years) == pytest.approx(risk, abs=0.00501)
    assert 0 < int(count) < int(years)


@pytest.mark.parametrize("risk", [-0.1, 1.1, float("nan")])
def test_a_risk_that_is_no_share_is_refused(risk):
    with pytest.raises(ValueError, match="from 0 to 1"):
        words.risk_words(risk)


@pytest.mark.parametrize(
    ("number", "said"),
    [(0, "0"), (999, "999"), (4310, "4 310"), (1234567, "1 234 567"), (-1000, "-1 000"), (1234.5, "1 234.5")],
)
def test_thousands_are_set_apart_by_a_space_that_does_not_break(number, said):
    assert words.number_words(number) == said.replace(" ", "\u00a0")


def test_counts_agree_with_their_noun():
    assert words.count_words(1, "tray", "trays") == "1 tray"
    assert words.count_words(0, "tray", "trays") == "0 trays"
    assert words.count_words(2, "box", "boxes") == "2 boxes"


def test_lists_read_as_a_sentence():
    assert words.list_words([]) == ""
    assert words.list_words(["heat"]) == "heat"
    assert words.list_words(["heat", "lamp", "window"]) == "heat, lamp and window"


def test_shares_are_said_in_percent():
    assert words.percent_words(0.75) == "75\u00a0%"
    assert words.percent_words(0.125) == "12.5\u00a0%"


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        (0, "0 %"),
        (0.004, "under 1 %"),
        (0.006, "1 %"),
        (0.8572, "86 %"),
        (0.994, "99 %"),
        (0.996, "over 99 %"),
        (1, "100 %"),
    ],
)
def test_a_chance_is_said_in_whole_percent_and_never_surer_than_it_is(chance, said):
    assert words.chance_words(chance) == said.replace(" %", "\u00a0%")


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        # Weeks as on any calendar of ISO weeks.
        (date(2027, 4, 28), date(2027, 6, 7), "26 Apr – 13 Jun (W17 – W23)"),
        (date(2027, 4, 26), date(2027, 5, 2), "26 Apr – 2 May (W17)"),
        (date(2026, 12, 20), date(2027, 1, 5), "14 Dec 2026 – 10 Jan 2027 (W51 – W01)"),
    ],
)
def test_several_weeks_are_said_by_their_days_and_numbers(first, last, said):
    assert words.weeks_words(first, last) == said


@pytest.mark.parametrize(
    ("days", "said"),
    [
        (0, "today"), (1, "tomorrow"), (-1, "yesterday"), (2, "in 2 days"), (-3, "3 days ago"), (13, "in 13 days"),
        (14, "in 2 weeks"), (-20, "2 weeks ago"), (90, "in 12 weeks"), (91, "in 3 months"), (-729, "24 months ago"),
        (730, "in 2 years"), (-4000, "10 years ago"),
    ],
)  # fmt: skip
def test_how_far_away_a_day_is(days, said):
    today = date(2027, 5, 6)
    assert words.away_words(today + timedelta(days=days), today) == said


@given(DAYS, DAYS)
def test_a_day_to_come_is_in_so_long_and_a_past_one_so_long_ago(day, today):
    said = words.away_words(day, today)
    assert said.startswith("in ") == (day > today + timedelta(days=1))
    assert said.endswith(" ago") == (day < today - timedelta(days=1))
    assert words.day_away(day, today) == f"{words.day_words(day)}, {said}"
    assert not said.startswith(("in 1 ", "1 "))


@pytest.mark.parametrize("code", LANGUAGES)
@given(figure=st.integers(-9999, 9999).map(lambda tenths: tenths / 10))
def test_a_figure_has_the_decimal_sign_of_its_language(code, figure):
    """Babel's own way to write figures, by the CLDR of the Unicode Consortium."""
    with speaking(code):
        assert words.figure_words(figure) == format_decimal(figure, "0.#", locale=code)
        assert words.figure_words(figure, 1) == format_decimal(figure, "0.0", locale=code)
