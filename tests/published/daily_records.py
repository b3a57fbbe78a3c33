"""The open daily records that the installed package aquacrop carries as text files; it is never imported."""

from datetime import date
from importlib import metadata

import pytest

from tests.conftest import STRICT

NAMES = ("champion", "north_yorks", "lincolnshire")


def read_daily(name):
    """Return (day, tmin, tmax) of every day of a record; without the package skip, or fail if strict."""
    try:
        path = metadata.distribution("aquacrop").locate_file(f"aquacrop/data/{name}_climate.txt")
    except metadata.PackageNotFoundError:
        (pytest.fail if STRICT else pytest.skip)("the package aquacrop with the daily records is not installed")
    rows = []
    with path.open(encoding="utf-8") as file:
        next(file)
        for line in file:
            day, month, year, low, high, *_ = line.split()
            rows.append((date(int(year), int(month), int(day)), float(low), float(high)))
    return rows
