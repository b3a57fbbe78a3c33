"""Frost dates at a risk; the dates of weather services stand in tests/published."""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from app.core.dates.frost import Frost, FrostCurve, frost_dates, frost_table
from app.core.errors import FrostTableError, NoFrostDateError, OutOfRangeError
from tests.factories import AUTUMN, SPRING
from tests.factories import garden as a_garden

RISK = st.floats(0.01, 0.99)


@st.composite
def frosts(draw):
    """Return the frost of a table of two to six dates a side, north or south."""
    southern, season = draw(st.booleans()), draw(st.integers(2024, 2029))
    sides = []
    for first in (date(2026, 8, 20), date(2027, 2, 1)) if southern else (date(2027, 2, 1), date(2027, 8, 20)):
        others = draw(st.sets(st.integers(1, 99), max_size=4))
        percents = sorted({draw(st.integers(1, 49)), draw(st.integers(51, 99)), *others})
        steps = [draw(st.integers(1, 25)) for _ in percents]
        days = [first + timedelta(days=sum(steps[:n])) for n in range(len(steps))]
        sides.append((percents, [f"{day:%m-%d}" for day in days]))
    (spring, spring_days), (autumn, autumn_days) = sides
    return frost_table(
        dict(zip(reversed(spring), spring_days, strict=True)),
        dict(zip(autumn, autumn_days, strict=True)),
        season=season,
        southern=southern,
    )


@given(frosts(), RISK, RISK)
def test_a_higher_risk_never_makes_spring_later_nor_autumn_earlier(frost, one, other):
    low, high = sorted((one, other))
    assert frost.spring_on(high) <= frost.spring_on(low)
    assert frost.autumn_on(low) <= frost.autumn_on(high)


@given(frosts(), st.floats(-4, 4))
def test_day_and_deviate_lead_back_to_one_another(frost, deviate):
    for curve in (frost.spring, frost.autumn):
        assert curve.deviate_at(curve.day_at(deviate)) == pytest.approx(deviate, abs=1e-9)


@given(frosts(), RISK)
def test_the_spring_date_is_the_first_whose_risk_is_no_more(frost, risk):
    day = frost.spring_on(risk)
    assert frost.chance_on_or_after(day) <= risk + 1e-9
    assert frost.chance_on_or_after(before(day)) > risk - 1e-9


@given(frosts(), RISK)
def test_the_autumn_date_is_the_last_whose_risk_is_no_more(frost, risk):
    day = frost.autumn_on(risk)
    assert frost.chance_on_or_before(day) <= risk + 1e-9
    assert frost.chance_on_or_before(after(day)) > risk - 1e-9


def before(day):
    """Return the day before; 29 February has no number of its own."""
    return day - timedelta(days=2 if (day.month, day.day) == (3, 1) else 1)


def after(day):
    return day + timedelta(days=2 if (day.month, day.day) == (2, 28) else 1)


@given(frosts())
def test_the_chances_of_days_fall_in_spring_and_rise_in_autumn(frost):
    spring = [frost.chance_on_or_after(frost.spring_on(0.5) + timedelta(days=n)) for n in range(-40, 40)]
    autumn = [frost.chance_on_or_before(frost.autumn_on(0.5) + timedelta(days=n)) for n in range(-40, 40)]
    assert all(later <= earlier for earlier, later in pairwise(spring))
    assert all(later >= earlier for earlier, later in pairwise(autumn))


@given(st.integers(1, 49), st.integers(51, 99), st.integers(1, 40), st.integers(1, 40))
def test_every_entered_date_comes_back_exactly(low, high, one, other):
    days = [date(2027, 5, 1), date(2027, 5, 1) + timedelta(days=one), date(2027, 5, 1) + timedelta(days=one + other)]
    texts = [f"{day:%m-%d}" for day in days]
    frost = frost_table(
        {high: texts[0], 50: texts[1], low: texts[2]},
        {low: texts[0], 50: texts[1], high: texts[2]},
        season=2027,
        southern=False,
    )
    assert [frost.spring_on(percent / 100) for percent in (high, 50, low)] == days
    assert [frost.autumn_on(percent / 100) for percent in (low, 50, high)] == days


@given(st.integers(11, 49))
def test_between_dates_the_day_is_a_straight_line_in_the_normal_deviate(percent):
    # scipy's normal law, 152 and 164 the day numbers of 1 and 13 June.
    frost = a_garden().frost
    share = norm.ppf(1 - percent / 100) / norm.ppf(0.9)
    assert frost.spring.day_at(norm.ppf(1 - percent / 100)) == pytest.approx(152 + 12 * share)


@pytest.mark.parametrize(
    ("risk", "spring", "autumn"),
    [
        (0.90, (5, 20), (9, 11)),
        (0.50, (6, 1), (8, 30)),
        (0.33, (6, 6), (8, 25)),
        (0.20, (6, 9), (8, 22)),
        (0.10, (6, 13), (8, 18)),
        (0.05, (6, 17), (8, 14)),
    ],
)
@pytest.mark.parametrize("season", [2027, 2028])
def test_the_table_of_the_method_page(season, risk, spring, autumn):
    # docs/method.md, section 2, computed there apart from the program.
    frost = frost_table(SPRING, AUTUMN, season=season, southern=False)
    assert frost.spring_on(risk) == date(season, *spring)
    assert frost.autumn_on(risk) == date(season, *autumn)


def test_frost_free_days_are_those_between_the_median_dates():
    assert a_garden().frost.frost_free_days() == 90
    assert a_garden().frost.frost_free_days(0.10) == 66


def test_the_chance_of_a_date_is_read_from_the_same_line():
    # docs/method.md, section 2: a plant set out on 5 June meets a freeze in 33 % of springs.
    assert a_garden().frost.chance_on_or_after(date(2027, 6, 5)) == pytest.approx(norm.sf(4 / 9.3636), abs=1e-4)
    assert a_garden().frost.chance_on_or_before(date(2027, 8, 30)) == pytest.approx(0.5)


def test_a_southern_table_is_read_within_its_growing_year():
    # Invented: last frost in October and November of the year before, first frost in April and May.
    frost = frost_table(
        {90: "10-01", 50: "10-20", 10: "11-08"}, {10: "04-11", 50: "04-30", 90: "05-19"}, season=2027, southern=True
    )
    assert frost.spring_on(0.1) == date(2026, 11, 8)
    assert frost.autumn_on(0.5) == date(2027, 4, 30)
    assert frost.frost_free_days() == 192


@pytest.mark.parametrize(
    ("southern", "side", "text", "expected"),
    [
        (False, "spring", "11-01", date(2026, 11, 1)),
        (False, "spring", "10-31", date(2027, 10, 31)),
        (False, "autumn", "05-01", date(2027, 5, 1)),
        (False, "autumn", "04-30", date(2028, 4, 30)),
        (True, "spring", "05-01", date(2026, 5, 1)),
        (True, "spring", "04-30", date(2027, 4, 30)),
        (True, "autumn", "11-01", date(2026, 11, 1)),
        (True, "autumn", "10-31", date(2027, 10, 31)),
    ],
)
def test_a_printed_date_may_cross_the_split_and_new_year(southern, side, text, expected):
    # docs/method.md, section 2: the twelve months in which the dates of a half are read.
    pair = {"spring": "10-10" if southern else "05-10", "autumn": "04-10" if southern else "09-10"} | {side: text}
    frost = frost_dates(pair["spring"], pair["autumn"], season=2027, southern=southern)
    assert (frost.spring_on(0.5) if side == "spring" else frost.autumn_on(0.5)) == expected


def test_no_month_is_safe_where_spring_does_not_end_before_autumn():
    frost = frost_dates("07-05", "08-01", season=2027, southern=False)
    assert not frost.has_no_safe_month(0.5)
    assert frost.has_no_safe_month(0.1)


def test_freezes_that_come_too_rarely_have_no_date():
    rare = FrostCurve(points=((-1.0, 40.0), (1.0, 60.0)), share=0.4)
    frost = Frost(season=2027, spring=rare, autumn=rare)
    for risk in (0.4, 0.5):
        with pytest.raises(NoFrostDateError, match=f"40% of years: too rarely for a date at a risk of {risk:.0%}"):
            frost.spring_on(risk)
        with pytest.raises(NoFrostDateError, match="too rarely"):
            frost.autumn_on(risk)


def test_years_without_a_freeze_share_in_the_risk():
    # Climatography of the U.S. No. 20: the chance is q (1 - F) in spring, q F in autumn; 0.2 / 0.4 is the median.
    rare = FrostCurve(points=((-1.0, 40.0), (1.0, 60.0)), share=0.4)
    frost = Frost(season=2027, spring=rare, autumn=rare)
    assert frost.spring_on(0.2) == frost.autumn_on(0.2) == date(2027, 2, 19)
    assert frost.chance_on_or_after(date(2027, 2, 19)) == pytest.approx(0.2)


@pytest.mark.parametrize("risk", [0, 1, -0.1, 10, float("nan")])
def test_a_risk_that_is_no_chance_is_refused(risk):
    for dated in (a_garden().frost.spring_on, a_garden().frost.autumn_on):
        with pytest.raises(OutOfRangeError, match=f"risk is {risk}; it must be above 0 and below 1"):
            dated(risk)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"spring": {50: "06-01"}}, "spring: enter dates at two or more chances"),
        ({"autumn": {10: "08-18", 40: "08-28"}}, "autumn: enter dates at two or more chances, on both sides of 50 %"),
        ({"autumn": {60: "09-01", 90: "09-11"}}, "autumn: enter dates at two or more chances, on both sides of 50 %"),
        ({"spring": {10: "06-13", 50: "06-13"}}, "spring: the dates must fall as the chance rises"),
        ({"spring": {10: "05-13", 50: "06-13"}}, "found 10 % 05-13, 50 % 06-13"),
        ({"autumn": {10: "09-13", 50: "08-30"}}, "autumn: the dates must rise with the chance"),
        ({"spring": {10: "6-13", 50: "06-01"}}, "spring: date is 6-13; it must be a day of the year as MM-DD"),
        ({"autumn": {10: "08-18", 50: "02-30"}}, "autumn: date is 02-30"),
        ({"spring": {}}, "spring: enter dates"),
    ],
)
def test_what_is_no_frost_table_is_refused_with_what_would_be_right(changes, message):
    sides = {"spring": SPRING, "autumn": AUTUMN} | changes
    with pytest.raises(FrostTableError, match=message):
        frost_table(**sides, season=2027, southern=False)


@pytest.mark.parametrize("percent", [0, 100, -5])
def test_a_chance_in_percent_lies_from_1_to_99(percent):
    with pytest.raises(OutOfRangeError, match=f"spring chance is {percent}; it must be from 1 to 99"):
        frost_table(SPRING | {percent: "04-01"}, AUTUMN, season=2027, southern=False)


def test_a_bare_pair_that_is_no_date_is_refused():
    with pytest.raises(FrostTableError, match="autumn: date is 31 Sept"):
        frost_dates("05-10", "31 Sept", season=2027, southern=False)
