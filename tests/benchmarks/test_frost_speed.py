"""A hundred years of days to all frost figures, held against the same by groupby in pandas."""

from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pandas as pd
import pytest

from app.core.dates.frost import frost_of_record
from app.core.dates.record import find_freezes
from app.core.words import FrostLaw
from tests.benchmarks.timing import ratio, report
from tests.stations import record_of, temperatures

THRESHOLDS_C = tuple((fahrenheit - 32) * 5 / 9 for fahrenheit in (28, 32, 36))
RISKS = (0.1, 0.2, 0.5, 0.9)
DEVIATES = [NormalDist().inv_cdf(risk) for risk in RISKS]
ROWS = temperatures(1921, 2020)


@pytest.fixture(scope="module")
def record():
    return record_of(ROWS)


@pytest.fixture(scope="module")
def table():
    days = pd.to_datetime([row[0] for row in ROWS]).as_unit("s")
    return pd.DataFrame({"day": days, "tmin": [row[1] for row in ROWS]})


def by_the_program(record):
    """Return missing days of the halves and both laws' days at the risks, for each threshold."""
    record = replace(record)  # a fresh one: nothing is kept from the round before
    figures = []
    for threshold_c in THRESHOLDS_C:
        freezes = find_freezes(record, threshold_c, southern=False)
        frosts = [frost_of_record(freezes, law, season=2027) for law in FrostLaw]
        figures.append(
            (
                freezes.spring.missing.tolist(),
                freezes.autumn.missing.tolist(),
                [frost.spring.day_at(-deviate) for frost in frosts for deviate in DEVIATES],
                [frost.autumn.day_at(deviate) for frost in frosts for deviate in DEVIATES],
            )
        )
    return figures


def common_number(days):
    """Return numbers in a year of 365 days."""
    return days.dt.day_of_year - (days.dt.is_leap_year & (days.dt.day_of_year > 60))


def by_pandas(table):
    """Return the same figures, each column worked on as a whole and the years by groupby."""
    figures = []
    year = table.day.dt.year
    midsummer_of = pd.Series({one: pd.Timestamp(one, 7, 24) for one in year.unique()})
    midsummer = year.map(midsummer_of)
    for threshold_c in THRESHOLDS_C:
        freezing = table[table.tmin <= round(threshold_c, 1)]
        is_spring = freezing.day.dt.month < 8
        years = freezing.day.dt.year
        last = freezing.day[is_spring].groupby(years[is_spring]).max()
        first = freezing.day[~is_spring].groupby(years[~is_spring]).min()
        thawed, frozen = year.map(last), year.map(first)
        seen = ((table.day > thawed) & (table.day <= midsummer)).groupby(year).sum()
        seen_later = ((table.day >= midsummer) & (table.day < frozen)).groupby(year).sum()
        halves = []
        for side, dates in (("spring", last), ("autumn", first)):
            numbers = common_number(dates)
            sign = -1 if side == "spring" else 1
            normal = [numbers.mean() + sign * deviate * numbers.std() for deviate in DEVIATES]
            chances = [1 - risk if side == "spring" else risk for risk in RISKS]
            halves.append(normal + np.quantile(numbers, chances, method="weibull").tolist())
        figures.append(
            (
                ((midsummer_of - last).dt.days - seen).tolist(),
                ((first - midsummer_of).dt.days - seen_later).tolist(),
                *halves,
            )
        )
    return figures


def test_all_frost_figures_of_a_hundred_years_are_ten_times_faster_than_by_pandas(record, table):
    assert len(ROWS) > 36_500
    for ours, theirs in zip(by_the_program(record), by_pandas(table), strict=True):
        assert ours[:2] == theirs[:2]
        for side in (2, 3):
            assert ours[side] == pytest.approx(theirs[side])
    share = ratio(lambda: by_the_program(record), lambda: by_pandas(table), calls=5)
    report("frost figures, pandas over the program", 1 / share, 10)
    assert share <= 1 / 10
