"""Stations' records for tests. Their weather is invented: one wave a year, and freezes where a test puts them."""

import math
from datetime import date, timedelta

import numpy as np

from app.core.dates.record import DailyRecord

MIDWINTER, MIDSUMMER_DAY = 20, 202


def temperatures(first=1991, last=2020, *, southern=False, warm=15.0, swing=15.0, spread=10.0):
    """Return (day, tmin, tmax) of every day: a wave between warm - swing and warm + swing, some days colder.

    The night of each 10th day of a year's count is a few degrees off, by its date alone.
    """
    rows = []
    day = date(first, 1, 1)
    while day.year <= last:
        phase = (day.timetuple().tm_yday - MIDSUMMER_DAY) / 365 * 2 * math.pi + (math.pi if southern else 0)
        noise = ((day.toordinal() * 7919) % 101 - 50) / 10
        high = round(warm + swing * math.cos(phase) + noise, 1)
        rows.append((day, round(high - spread, 1), high))
        day += timedelta(days=1)
    return rows


def record_of(rows):
    """Return rows of (day, tmin, tmax), None where missing, as a record."""
    return DailyRecord(
        day=np.array([row[0].toordinal() for row in rows], dtype=np.int64),
        tmin_c=np.array([np.nan if row[1] is None else row[1] for row in rows], dtype=np.float64),
        tmax_c=np.array([np.nan if row[2] is None else row[2] for row in rows], dtype=np.float64),
    )


def text_of(rows):
    """Return rows as our own file of days."""
    cells = (["" if value is None else f"{value:g}" for value in row[1:]] for row in rows)
    lines = (f"{row[0]},{','.join(pair)}" for row, pair in zip(rows, cells, strict=True))
    return "\n".join(["date,tmin_c,tmax_c", *lines]) + "\n"


def ghcn_text_of(rows, *, station="XX000012345", flags=None):
    """Return rows as a GHCN-Daily file, with the quality flags of some days: day to flag of TMIN."""
    lines = ['"STATION","DATE","LATITUDE","NAME","PRCP","TMAX","TMAX_ATTRIBUTES","TMIN","TMIN_ATTRIBUTES"']
    for day, low, high in rows:
        tenths = ["" if value is None else f"{round(value * 10):5d}" for value in (high, low)]
        flag = (flags or {}).get(day, "")
        lines.append(f'"{station}","{day}","47.1","WREN MOOR, XX","12","{tenths[0]}",",,S","{tenths[1]}",",{flag},S"')
    return "\n".join(lines) + "\n"
