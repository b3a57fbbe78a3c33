"""Degree-days of days, sums of the same stretch in every growing year, and the chance by heat."""

import math
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.dates.heat import chance_ripe_by_heat, degree_days, heat_sums
from app.core.dates.record import DailyRecord
from app.core.errors import OutOfRangeError
from app.core.plan import make_plan
from app.core.words import HeatMethod
from tests.factories import card, garden

TEMPERATURES = st.floats(-30, 45)


def record_of(first, last, heat):
    """Return day numbers from one date to another, and a value for each from a function of the date."""
    dates = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    return np.array([day.toordinal() for day in dates]), np.array([heat(day) for day in dates], dtype=float)


@given(TEMPERATURES, TEMPERATURES, st.floats(0, 15))
def test_cutting_each_never_gives_less_than_cutting_the_mean_and_as_much_outside_the_base(one, other, base):
    # McMaster & Wilhelm 1997: without a cap the two differ only where the base lies between minimum and maximum.
    low, high = sorted((one, other))
    mean, each = (
        degree_days(np.array([low]), np.array([high]), base_c=base, method=method)[0] for method in HeatMethod
    )
    assert each >= mean - 1e-9 >= -1e-9
    if not low < base < high:
        assert each == pytest.approx(mean)


def test_a_day_without_a_temperature_has_no_degree_days():
    low, high = np.array([math.nan, 5.0, 5.0]), np.array([20.0, math.nan, 20.0])
    for method in HeatMethod:
        assert np.isnan(degree_days(low, high, base_c=4.0, method=method, cap_c=30.0)).tolist() == [True, True, False]


def test_a_cap_that_is_not_above_the_base_is_refused():
    with pytest.raises(OutOfRangeError, match=r"cap_c is 10.* above the base, 10"):
        degree_days(np.zeros(1), np.zeros(1), base_c=10.0, method=HeatMethod.MEAN, cap_c=10.0)


@pytest.mark.parametrize(
    ("first", "end", "dates"),
    [
        # In 365-day years 14 April is 104 and 3 September is 246; 10 October of the year before is 283 - 365.
        (104, 246, (4, 14, 9, 3, 0)),
        (-82, 125, (10, 10, 5, 5, -1)),
    ],
    ids=["north", "south"],
)
def test_a_stretch_is_the_same_dates_in_every_year_and_leaves_out_its_last_day(first, end, dates):
    from_month, from_day, to_month, to_day, shift = dates
    day, heat_cd = record_of(date(1999, 1, 1), date(2012, 12, 31), lambda day: day.toordinal() % 97 / 7)
    years, sums = heat_sums(day, heat_cd, first=first, end=end)
    expected = {}
    for year in range(1999 - shift, 2013):
        begin, stop = date(year + shift, from_month, from_day), date(year, to_month, to_day)
        expected[year] = sum((begin + timedelta(days=n)).toordinal() % 97 / 7 for n in range((stop - begin).days))
    assert dict(zip(years.tolist(), sums.tolist(), strict=True)) == pytest.approx(expected)


@pytest.mark.parametrize(("missing", "is_usable"), [(9, True), (10, False)])
def test_nine_missing_days_count_as_the_mean_of_the_others_and_ten_lose_the_year(missing, is_usable):
    # docs/method.md, section 5. The stretch has 100 days, from 1 May to 8 August, each of 8 degree-days.
    day, heat_cd = record_of(date(2001, 1, 1), date(2003, 12, 31), lambda day: 8 if day.year == 2002 else 5)
    gaps = (day >= date(2002, 6, 1).toordinal()) & (day < date(2002, 6, 1).toordinal() + missing)
    without_rows = heat_sums(day[~gaps], heat_cd[~gaps], first=121, end=221)
    without_values = heat_sums(day, np.where(gaps, math.nan, heat_cd), first=121, end=221)
    for years, sums in (without_rows, without_values):
        found = dict(zip(years.tolist(), sums.tolist(), strict=True))
        expected = {2001: 500, 2002: 800, 2003: 500}
        assert found == pytest.approx(expected if is_usable else {2001: 500, 2003: 500})


def test_years_that_the_record_does_not_cover_are_left_out():
    day, heat_cd = record_of(date(2000, 6, 1), date(2003, 5, 31), lambda _: 1)
    assert heat_sums(day, heat_cd, first=121, end=221)[0].tolist() == [2001, 2002]
    for empty in (slice(0, 0), slice(None)):
        assert len(heat_sums(day[empty], np.full(len(day[empty]), math.nan), first=121, end=221)[0]) == 0


def test_a_stretch_without_days_has_no_heat():
    day, heat_cd = record_of(date(2000, 1, 1), date(2002, 12, 31), lambda _: 1)
    years, sums = heat_sums(day, heat_cd, first=150, end=150)
    assert (years.tolist(), sums.tolist()) == ([2000, 2001, 2002], [0, 0, 0])


def test_the_chance_by_heat_is_the_share_of_years_that_reach_the_sum():
    sums = np.array([900.0, 1000.0, 1100.0, 1200.0] * 3)
    assert chance_ripe_by_heat(sums, 1100) == 0.5
    assert chance_ripe_by_heat(sums, 1100.1) == 0.25
    assert chance_ripe_by_heat(sums, 1201) == 0
    assert chance_ripe_by_heat(np.array([0.1] * 12).cumsum()[2:], 0.3) == 1  # 0.1 three times is a little off


def test_fewer_than_ten_years_give_no_chance():
    assert chance_ripe_by_heat(np.full(9, 500.0), 100) is None
    assert chance_ripe_by_heat(np.full(10, 500.0), 100) == 1


class TestRipeByHeat:
    """The plan's chance by heat, on a record whose every year is as warm as its number says."""

    def plan(self, **changes):
        """Return a plan of one crop that needs 10 degree-days on each of its 78 days, from 13 June to 30 August."""
        first, last = date(2001, 1, 1), date(2012, 12, 31)
        day, tmax_c = record_of(first, last, lambda day: 30 + (day.year - 2007) * 2)
        record = DailyRecord(day=day, tmin_c=np.full(len(day), 10.0), tmax_c=tmax_c)
        figures = {"plant_out_weeks": 0, "heat_sum_cd": 780.0, "heat_base_c": 10.0, "heat_method": HeatMethod.MEAN}
        return make_plan(garden(cards=(card(**figures | changes),), record=record))

    def test_heat_counts_from_planting_out_to_the_end_of_the_season(self):
        # 2007 has a mean of 20 degrees, 780 in all; the six years from it to 2012 have that or more.
        assert self.plan().ripe_by_heat == (0.5,)
        assert self.plan(heat_sum_cd=780.1).ripe_by_heat == pytest.approx((5 / 12,))

    def test_heat_of_a_crop_sown_outside_counts_from_its_sowing(self):
        outside = {"start_container": None, "direct_sow_weeks": 2.0, "plant_out_weeks": None}
        assert self.plan(**outside, heat_sum_cd=760.0).ripe_by_heat == (0.5,)  # two days fewer, from 15 June
        assert self.plan(**outside, heat_sum_cd=760.1).ripe_by_heat == pytest.approx((5 / 12,))

    def test_without_sum_base_cut_or_record_there_is_no_chance(self):
        for figure in ("heat_sum_cd", "heat_base_c", "heat_method"):
            assert self.plan(**{figure: None}).ripe_by_heat == (None,)
        bare = garden(cards=(card(heat_sum_cd=780.0, heat_base_c=10.0, heat_method=HeatMethod.MEAN),))
        assert make_plan(bare).ripe_by_heat == (None,)
