"""Frost dates of open daily records against tables made apart from the program, and a count in plain Python."""

from datetime import date, timedelta
from functools import cache

import numpy as np
import pytest
from scipy.stats import norm, theilslopes

from app.core.dates.frost import frost_of_record
from app.core.dates.record import find_freezes
from app.core.dates.trend import theil_sen
from app.core.words import FrostLaw
from tests.published.daily_records import NAMES, read_daily
from tests.published.tables import read_rows
from tests.stations import record_of

YEARS = read_rows("station_record_years.csv")
STATISTICS = read_rows("station_record_statistics.csv")
CASES = sorted({(row["dataset"], float(row["threshold_c"])) for row in YEARS})
SEASON = 2027


@cache
def freezes_of(name, threshold_c):
    return find_freezes(record_of(read_daily(name)), threshold_c, southern=False)


def rows_of(rows, name, threshold_c):
    return [row for row in rows if (row["dataset"], float(row["threshold_c"])) == (name, threshold_c)]


def number_of(day):
    """Return the number of a day in a year of 365 days, 29 February having that of 1 March."""
    return (date(2001, 3, 1) if (day.month, day.day) == (2, 29) else day.replace(year=2001)).timetuple().tm_yday


def test_the_tables_cover_three_records_at_four_thresholds():
    assert len(YEARS) == 241
    assert {name for name, _ in CASES} == set(NAMES)


@pytest.mark.parametrize(("name", "threshold_c"), CASES)
def test_every_yearly_date_is_the_one_of_the_table(name, threshold_c):
    freezes = freezes_of(name, threshold_c)
    rows = rows_of(YEARS, name, threshold_c)
    assert freezes.spring.years.tolist() == [int(row["growing_year"]) for row in rows]
    for half, column in ((freezes.spring, "last_day"), (freezes.autumn, "first_day")):
        expected = [int(row[column]) if row[column] else None for row in rows]
        found = [int(day) if has else None for day, has in zip(half.freeze, half.freezes, strict=True)]
        assert found == expected
        assert half.is_usable.all()


@pytest.mark.parametrize(("name", "threshold_c"), CASES)
def test_counts_means_and_spreads_are_those_of_the_table(name, threshold_c):
    freezes = freezes_of(name, threshold_c)
    found = {"spring": freezes.spring.days, "autumn": freezes.autumn.days, "difference": freezes.lengths}
    halves = {"spring": freezes.spring, "autumn": freezes.autumn}
    measures = {
        "n_event": len,
        "min": np.min,
        "max": np.max,
        "mean": np.mean,
        "sd": lambda values: np.std(values, ddof=1),
    }
    for row in rows_of(STATISTICS, name, threshold_c):
        if row["statistic"] in measures:
            value = measures[row["statistic"]](found[row["element"]])
            assert value == pytest.approx(float(row["value"]), abs=0.5e-4), row
        elif row["statistic"] == "n_years" and row["element"] in halves:
            assert halves[row["element"]].n_usable == int(row["value"])


@pytest.mark.parametrize(("name", "threshold_c"), CASES)
def test_the_normal_law_gives_the_days_and_dates_of_the_table(name, threshold_c):
    frost = frost_of_record(freezes_of(name, threshold_c), FrostLaw.NORMAL, season=SEASON)
    seen = 0
    for row in rows_of(STATISTICS, name, threshold_c):
        if row["statistic"] not in {"mixed", "mixed_rule"}:
            continue
        risk, curve = int(row["risk_pct"]) / 100, getattr(frost, row["element"])
        if row["statistic"] == "mixed":
            chance = risk / curve.share
            deviate = norm.ppf(1 - chance if row["element"] == "spring" else chance)
            assert curve.day_at(deviate) == pytest.approx(float(row["value"]), abs=0.5e-3), row
        else:
            dated = frost.spring_on(risk) if row["element"] == "spring" else frost.autumn_on(risk)
            assert f"{dated:%m-%d}" == row["value"], row
        seen += 1
    assert seen >= 20


@pytest.mark.parametrize(("name", "threshold_c"), CASES)
def test_the_empirical_law_gives_the_weibull_quantiles_of_the_table_and_of_numpy(name, threshold_c):
    freezes = freezes_of(name, threshold_c)
    frost = frost_of_record(freezes, FrostLaw.EMPIRICAL, season=SEASON)
    for side, half in (("spring", freezes.spring), ("autumn", freezes.autumn)):
        curve = getattr(frost, side)
        for chance in np.linspace(0.01, 0.99, 99):  # past the ends NumPy holds the extreme year as well
            expected = np.quantile(half.days, chance, method="weibull")
            assert curve.day_at(norm.ppf(chance)) == pytest.approx(expected, abs=1e-9)
    for row in rows_of(STATISTICS, name, threshold_c):
        if row["statistic"] == "weibull":
            risk = int(row["risk_pct"]) / 100
            deviate = norm.ppf(1 - risk if row["element"] == "spring" else risk)
            assert getattr(frost, row["element"]).day_at(deviate) == pytest.approx(float(row["value"]), abs=0.05 + 1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_the_trend_is_that_of_scipy(name):
    freezes = freezes_of(name, 0.0)
    for half in (freezes.spring, freezes.autumn):
        ours, theirs = theil_sen(half.days_years, half.days), theilslopes(half.days, half.days_years, 0.95)
        assert (ours.slope, ours.low, ours.high) == pytest.approx((theirs.slope, theirs.low_slope, theirs.high_slope))


def counted(rows, threshold_c, southern):
    """Return last and first freeze of each growing year as a plain walk over the days finds them, None for none."""
    found = {}
    for day, low, _ in rows:
        spring_months = {7, 8, 9, 10, 11, 12, 1} if southern else range(1, 8)
        year = day.year + (southern and day.month >= 7)
        last, first = found.get(year, (None, None))
        if low <= threshold_c:
            if day.month in spring_months:
                last = day
            elif first is None:
                first = day
        found[year] = (last, first)
    return found


def shifted(rows):
    """Return a record moved by half a year, as a station at the same place south of the equator would have it."""
    return [(day + timedelta(days=184), low, high) for day, low, high in rows]


@pytest.mark.parametrize("southern", [False, True], ids=["north", "south"])
@pytest.mark.parametrize(("name", "threshold_c"), CASES)
def test_a_count_in_plain_python_finds_the_same_freezes(name, threshold_c, southern):
    rows = shifted(read_daily(name)) if southern else read_daily(name)
    freezes = find_freezes(record_of(rows), threshold_c, southern=southern)
    expected = counted(rows, threshold_c, southern)
    assert freezes.spring.years.tolist() == sorted(expected)
    for position, half in ((0, freezes.spring), (1, freezes.autumn)):
        for index, year in enumerate(half.years.tolist()):
            day = expected[year][position]
            assert bool(half.freezes[index]) == (day is not None)
            if day is not None:
                assert half.freeze[index] == number_of(day) + 365 * (day.year - year)


def test_figures_that_were_printed_for_champion_come_out():
    # Direct counts over the file: a freeze on or after 15 May in 9 of 37 years, 20 May in 6, 1 June in 2.
    days = freezes_of("champion", 0.0).spring.days
    assert [int((days >= number).sum()) for number in (135, 140, 152)] == [9, 6, 2]
    frost = frost_of_record(freezes_of("champion", 0.0), FrostLaw.NORMAL, season=SEASON)
    dates = [frost.spring_on(risk) for risk in (0.1, 0.5, 0.9)] + [frost.autumn_on(risk) for risk in (0.1, 0.5, 0.9)]
    assert [f"{day:%m-%d}" for day in dates] == ["05-26", "05-10", "04-24", "09-15", "09-27", "10-09"]
