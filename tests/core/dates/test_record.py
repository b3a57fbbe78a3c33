"""Freezes of a station's record: the halves, missing days, years without a freeze, and what a garden can go by."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import theilslopes

from app.core.dates.frost import frost_of_record, usable_frost
from app.core.dates.record import OtherHemisphereError, TooFewYearsError, find_freezes, require_hemisphere
from app.core.dates.trend import theil_sen
from app.core.errors import NoFrostDateError
from app.core.words import FrostLaw
from tests.freezes import STEADY, freezes_of, rows_of
from tests.stations import record_of, temperatures

MILD, COLD = 12.0, -1.0


def days(first, last, cold=(), missing=()):
    """Return a mild record from one day to another, cold on some days, without a figure on others."""
    found = []
    day = first
    while day <= last:
        if day not in missing:
            found.append((day, COLD if day in cold else MILD, None))
        day += timedelta(days=1)
    return record_of(found)


def year_of(record, year, *, southern=False, threshold_c=0.0):
    """Return (last, first, missing in spring, missing in autumn) of a growing year; None for no freeze."""
    freezes = find_freezes(record, threshold_c, southern=southern)
    at = freezes.spring.years.tolist().index(year)
    spring, autumn = freezes.spring, freezes.autumn
    return (
        int(spring.freeze[at]) if spring.freezes[at] else None,
        int(autumn.freeze[at]) if autumn.freezes[at] else None,
        int(spring.missing[at]),
        int(autumn.missing[at]),
    )


@pytest.mark.parametrize(
    ("day", "side", "number"),
    [
        (date(2019, 7, 25), 0, 206),
        (date(2019, 7, 31), 0, 212),
        (date(2019, 8, 1), 1, 213),
        (date(2019, 12, 31), 1, 365),
        (date(2020, 2, 29), 0, 60),
        (date(2020, 3, 1), 0, 60),
        (date(2020, 2, 28), 0, 59),
        (date(2020, 1, 1), 0, 1),
    ],
    ids=str,
)
def test_the_year_splits_at_1_august_and_29_february_shares_a_number(day, side, number):
    # Day numbers of a year of 365 days: counted on a calendar.
    record = days(date(day.year, 1, 1), date(day.year, 12, 31), cold={day})
    found = year_of(record, day.year)
    assert found[side] == number
    assert found[1 - side] is None


@pytest.mark.parametrize(
    ("day", "year", "side", "number"),
    [
        (date(2019, 7, 1), 2020, 0, 182 - 365),
        (date(2019, 12, 31), 2020, 0, 0),
        (date(2020, 1, 25), 2020, 0, 25),
        (date(2020, 1, 31), 2020, 0, 31),
        (date(2020, 2, 1), 2020, 1, 32),
        (date(2020, 2, 29), 2020, 1, 60),
        (date(2020, 6, 30), 2020, 1, 181),
    ],
    ids=str,
)
def test_south_of_the_equator_the_year_splits_at_1_february(day, year, side, number):
    record = days(date(2019, 7, 1), date(2020, 6, 30), cold={day})
    found = year_of(record, year, southern=True)
    assert found[side] == number
    assert found[1 - side] is None


def test_of_several_freezes_the_last_of_spring_and_the_first_of_autumn_count():
    cold = {date(2019, 3, 1), date(2019, 5, 2), date(2019, 9, 20), date(2019, 11, 1)}
    assert year_of(days(date(2019, 1, 1), date(2019, 12, 31), cold), 2019) == (122, 263, 0, 0)


def gap(first, count):
    return {first + timedelta(days=number) for number in range(count)}


@pytest.mark.parametrize(("count", "usable"), [(9, True), (10, False)])
@pytest.mark.parametrize(
    ("first", "side"), [(date(2019, 6, 1), "spring"), (date(2019, 8, 20), "autumn")], ids=["spring", "autumn"]
)
def test_ten_missing_days_on_the_way_from_midsummer_to_the_freeze_void_a_half_and_nine_do_not(
    first, side, count, usable
):
    # Utah Climate Center: outwards from 24 July to the first freeze met.
    cold = {date(2019, 5, 10), date(2019, 9, 20)}
    freezes = find_freezes(days(date(2019, 1, 1), date(2019, 12, 31), cold, gap(first, count)), 0.0, southern=False)
    other = freezes.autumn if side == "spring" else freezes.spring
    assert getattr(freezes, side).is_usable.tolist() == [usable]
    assert other.is_usable.tolist() == [True]


@pytest.mark.parametrize("first", [date(2019, 4, 1), date(2019, 10, 1)], ids=["before the last", "after the first"])
def test_days_missing_beyond_the_freeze_do_not_matter(first):
    cold = {date(2019, 5, 10), date(2019, 9, 20)}
    record = days(date(2019, 1, 1), date(2019, 12, 31), cold, gap(first, 30))
    assert year_of(record, 2019) == (130, 263, 0, 0)


@pytest.mark.parametrize("midsummer", [date(2020, 1, 24), date(2019, 7, 24)], ids=["south", "north"])
def test_midsummer_itself_belongs_to_the_way_in_both_halves(midsummer):
    southern = midsummer.month == 1
    record = days(date(2019, 1, 1), date(2020, 12, 31), missing={midsummer})
    assert year_of(record, midsummer.year, southern=southern)[2:] == (1, 1)


def test_a_record_that_begins_or_ends_within_a_half_lacks_the_rest_of_it():
    record = days(date(2019, 5, 1), date(2019, 9, 10), cold={date(2019, 5, 10)})
    assert year_of(record, 2019) == (130, None, 0, 112)  # 11 September to 31 December


def test_missing_figures_and_missing_rows_are_the_same():
    rows = temperatures(2001, 2003)
    hidden = [(day, None if day.day < 9 else low, high) for day, low, high in rows]
    left_out = [row for row in rows if row[0].day >= 9]
    for side in ("spring", "autumn"):
        with_none, without = (
            getattr(find_freezes(record_of(r), 0.0, southern=False), side) for r in (hidden, left_out)
        )
        for column in ("years", "freeze", "freezes", "missing"):
            assert getattr(with_none, column).tolist() == getattr(without, column).tolist()


def test_an_empty_record_has_no_years():
    freezes = find_freezes(record_of([]), 0.0, southern=False)
    assert (len(freezes.spring.years), freezes.spring.n_usable, freezes.autumn.share) == (0, 0, 0.0)


@pytest.mark.parametrize(
    ("tmin_c", "fahrenheit", "freezes"),
    [
        (-2.2, 28, True),
        (-2.1, 28, False),
        (-2.22, 28, True),
        (-2.21, 28, False),
        (2.2, 36, True),
        (2.22, 36, True),
        (2.23, 36, False),
        (2.3, 36, False),
        (0.0, 32, True),
        (0.1, 32, False),
        (-20 / 9, 28, True),
        (-20 / 9 + 0.001, 28, False),
    ],
)
def test_a_day_of_just_the_threshold_freezes_however_the_record_was_rounded(tmin_c, fahrenheit, freezes):
    # 28 F is -2.222 C; a service that keeps tenths writes -2.2, one that keeps hundredths -2.22.
    record = days(date(2019, 1, 1), date(2019, 12, 31))
    record.tmin_c[120] = tmin_c
    found = find_freezes(record, (fahrenheit - 32) * 5 / 9, southern=False)
    assert found.spring.freezes.tolist() == [freezes]


class TestFrostDates:
    """What frost dates a record gives."""

    def test_fewer_than_ten_years_are_refused_and_fewer_than_twenty_warned(self):
        for years, warns in ((10, True), (19, True), (20, False)):
            freezes = freezes_of(STEADY[:years])
            freezes.require_years()
            assert freezes.warns == warns
        with pytest.raises(TooFewYearsError, match=r"9 usable years for spring; it takes 10\. Enter a published table"):
            frost_of_record(freezes_of(STEADY[:9]), FrostLaw.NORMAL, season=2027)

    def test_a_half_with_too_few_usable_years_is_named(self):
        years = [(last, "missing") if number < 11 else (last, first) for number, (last, first) in enumerate(STEADY)]
        with pytest.raises(TooFewYearsError, match="9 usable years for autumn"):
            frost_of_record(freezes_of(years), FrostLaw.NORMAL, season=2027)

    @pytest.mark.parametrize("law", FrostLaw)
    def test_years_without_a_freeze_stay_in_the_denominator(self, law):
        # Half the springs freeze, all on dates from 1 to 10 May: a risk of 25 % is the middle of those.
        years = [(last, first) if number < 10 else (None, first) for number, (last, first) in enumerate(STEADY)]
        freezes = freezes_of(years)
        assert freezes.spring.share == 0.5
        frost = frost_of_record(freezes, law, season=2027)
        assert frost.spring_on(0.25) == date(2027, 5, 6)  # the middle is 5.5 May
        assert frost.chance_on_or_after(date(2027, 5, 6)) < 0.25
        for risk in (0.5, 0.6):
            with pytest.raises(NoFrostDateError, match="50% of years: too rarely"):
                frost.spring_on(risk)

    @pytest.mark.parametrize("law", FrostLaw)
    @pytest.mark.parametrize("autumns", [0, 1, 2])
    def test_hardly_any_freezes_are_no_law(self, law, autumns):
        years = [(last, first if number < autumns else None) for number, (last, first) in enumerate(STEADY)]
        frost = frost_of_record(freezes_of(years), law, season=2027)
        with pytest.raises(NoFrostDateError, match="too rarely"):
            frost.autumn_on(0.5)

    @pytest.mark.parametrize(
        ("risk", "autumn_risk", "half"), [(0.1, 0.5, "spring"), (0.7, 0.1, "spring"), (0.1, 0.95, "autumn")]
    )
    def test_a_garden_needs_the_even_dates_and_those_of_its_risks(self, risk, autumn_risk, half):
        springs = 8 if autumn_risk == 0.5 else 13
        years = [
            (last if number < springs else None, first if number < 18 else None)
            for number, (last, first) in enumerate(STEADY)
        ]
        freezes = freezes_of(years)
        with pytest.raises(NoFrostDateError, match=rf"too rarely .* in {half}\. Enter a published table"):
            usable_frost(freezes, FrostLaw.NORMAL, season=2027, risk=risk, autumn_risk=autumn_risk)

    def test_a_garden_can_go_by_a_record_of_which_it_asks_what_is_there(self):
        frost = usable_frost(freezes_of(STEADY), FrostLaw.EMPIRICAL, season=2027, risk=0.1, autumn_risk=0.5)
        # Twenty dates from 1 to 20 May at i/21: 0.9 x 21 = 18.9, so 18.9 May, rounded up.
        assert frost.spring_on(0.1) == date(2027, 5, 19)
        assert frost.autumn_on(0.5) == date(2027, 10, 10)  # 10.5 October, rounded down

    def test_equal_dates_in_all_years_are_a_step(self):
        frost = frost_of_record(freezes_of([("05-10", "10-01")] * 12), FrostLaw.NORMAL, season=2027)
        assert {frost.spring_on(risk) for risk in (0.01, 0.5, 0.99)} == {date(2027, 5, 10)}

    def test_a_southern_record_gives_the_dates_of_a_northern_one_half_a_year_on(self):
        rows = temperatures(1991, 2020)
        north = find_freezes(record_of(rows), 0.0, southern=False)
        south = find_freezes(
            record_of([(day + timedelta(days=184), low, high) for day, low, high in rows]), 0.0, southern=True
        )
        for law in FrostLaw:
            ours, theirs = (frost_of_record(freezes, law, season=2027) for freezes in (north, south))
            for risk in (0.1, 0.5, 0.9):
                # From a day of 2027 back to the growing year 2027 of the south: 365 - 184. Leap days fall elsewhere.
                for dated, moved in ((ours.spring_on, theirs.spring_on), (ours.autumn_on, theirs.autumn_on)):
                    assert abs((dated(risk) - moved(risk)).days - 181) <= 1


@pytest.mark.parametrize("southern", [False, True])
def test_a_record_of_the_other_half_of_the_earth_is_told(southern):
    record = record_of(temperatures(2019, 2020, southern=southern))
    require_hemisphere(record, southern=southern)
    with pytest.raises(OtherHemisphereError, match="Correct the latitude"):
        require_hemisphere(record, southern=not southern)


@pytest.mark.parametrize(
    "rows", [temperatures(2019, 2020, swing=1.0), temperatures(2019, 2020)[:200]], ids=["near the equator", "short"]
)
def test_a_record_without_clear_seasons_may_be_anywhere(rows):
    for southern in (False, True):
        require_hemisphere(record_of(rows), southern=southern)


SPRING = st.dates(date(2001, 1, 1), date(2001, 7, 31))
AUTUMN = st.dates(date(2001, 8, 1), date(2001, 12, 31))
YEARS = st.lists(st.tuples(st.none() | SPRING, st.none() | AUTUMN), min_size=1, max_size=4)


@given(years=YEARS)
def test_every_freeze_that_was_put_into_a_record_is_found(years):
    put = [tuple(None if day is None else f"{day:%m-%d}" for day in pair) for pair in years]
    freezes = find_freezes(record_of(rows_of(put)), 0.0, southern=False)
    for half, position in ((freezes.spring, 0), (freezes.autumn, 1)):
        expected = [0 if pair[position] is None else pair[position].timetuple().tm_yday for pair in years]
        assert half.freeze.tolist() == expected
        assert half.is_usable.all()


@given(
    days=st.lists(st.integers(60, 200), min_size=10, max_size=40),
    confidence=st.sampled_from([0.8, 0.9, 0.95, 0.99]),
)
def test_the_trend_is_the_one_of_scipy(days, confidence):
    years = np.arange(1980, 1980 + len(days))
    ours = theil_sen(years, np.array(days), confidence)
    theirs = theilslopes(days, years, confidence)
    assert (ours.slope, ours.low, ours.high) == pytest.approx((theirs.slope, theirs.low_slope, theirs.high_slope))


def test_a_trend_takes_ten_years_and_is_clear_when_its_interval_leaves_out_zero():
    years = np.arange(1990, 2020)
    assert theil_sen(years[:9], years[:9]) is None
    rising = theil_sen(years, 2 * years)
    assert (rising.slope, rising.is_clear) == (2.0, True)
    assert not theil_sen(years, np.tile([120, 130, 140], 10)).is_clear
