"""Degree-days against printed examples and the definitions of McMaster & Wilhelm 1997 (degree_days.csv)."""

from datetime import date
from importlib import metadata

import numpy as np
import pytest

from app.core.dates.heat import degree_days
from app.core.words import HeatMethod
from tests.conftest import STRICT
from tests.published.tables import read_rows

ROWS = read_rows("degree_days.csv")
DAYS = [row for row in ROWS if row["tmin"]]
SERIES = [row for row in ROWS if row["first"]]


def celsius(text, unit, freezing=32):
    """Return a temperature of a row in degrees Celsius."""
    return float(text) if unit == "C" else (float(text) - freezing) * 5 / 9


def heat_of(row, tmin_c, tmax_c):
    """Return degree-days by a row's base, cap and method, in the row's unit."""
    heat_cd = degree_days(
        tmin_c,
        tmax_c,
        base_c=celsius(row["base"], row["unit"]),
        method=HeatMethod(row["method"]),
        cap_c=celsius(row["cap"], row["unit"]) if row["cap"] else None,
    )
    return heat_cd if row["unit"] == "C" else heat_cd * 9 / 5


@pytest.fixture(scope="module")
def champion():
    """Return day numbers, minima and maxima of Champion, Nebraska, from the package that carries them."""
    try:
        path = metadata.distribution("aquacrop").locate_file("aquacrop/data/champion_climate.txt")
    except metadata.PackageNotFoundError:
        (pytest.fail if STRICT else pytest.skip)("the package aquacrop, which carries the record, is not installed")
    columns = np.loadtxt(str(path), skiprows=1)
    days = [date(int(year), int(month), int(day)).toordinal() for day, month, year in columns[:, :3]]
    return np.array(days), columns[:, 3], columns[:, 4]


def test_the_table_has_printed_days_of_two_services_and_sums_of_a_record():
    assert {row["source"] for row in ROWS if row["kind"] == "published"} == {"Wisconsin", "MRCC"}
    assert len(SERIES) == 12
    assert len(DAYS) + len(SERIES) == len(ROWS) == 36
    assert {row["method"] for row in DAYS} == {row["method"] for row in SERIES} == set(HeatMethod)


@pytest.mark.parametrize("row", DAYS, ids=lambda row: f"{row['method']} {row['tmin']} to {row['tmax']} {row['source']}")
def test_a_day_has_the_degree_days_of_the_table(row):
    low, high = (np.array([celsius(row[name], row["unit"])]) for name in ("tmin", "tmax"))
    assert heat_of(row, low, high)[0] == pytest.approx(float(row["value"]), abs=float(row["tolerance"]))


def test_the_three_days_of_the_wisconsin_example_sum_to_what_is_printed():
    # 43, University of Wisconsin-Madison Extension, 25 April 2018.
    example = [row for row in DAYS if row["source"] == "Wisconsin"]
    low, high = (np.array([celsius(row[name], "F") for row in example]) for name in ("tmin", "tmax"))
    assert heat_of(example[0], low, high).sum() == pytest.approx(43)


@pytest.mark.parametrize("row", SERIES, ids=lambda row: f"{row['method']} {row['first']} to {row['last']}")
def test_a_stretch_of_the_champion_record_has_the_sum_of_the_table(row, champion):
    day, tmin_c, tmax_c = champion
    first, last = (date.fromisoformat(row[name]).toordinal() for name in ("first", "last"))
    here = (day >= first) & (day <= last)
    total = heat_of(row, tmin_c, tmax_c)[here].sum()
    assert total == pytest.approx(float(row["value"]), abs=float(row["tolerance"]))
