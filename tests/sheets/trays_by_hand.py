"""One dealt sowing, put together by hand without the database.

The usual sowing of tests/factories.py, by tests/sheets/test_weekly_sheet.py: sown on Sat 1 May, up on Fri 7 May, to
harden on Sat 12 Jun, out on Sat 19 Jun. Its 9 cells of a tray of 6 by 12 are the first column and, coming back up the
second, its lower half: A1 to F1 and D2 to F2.
"""

from datetime import date

import numpy as np

from app.core.space.dealt import Dealt
from app.core.words import CellState, Place
from app.storage.queries.trays import CellRow, StayRow

SOWN, UP, HARDENS, OUT = date(2027, 5, 1), date(2027, 5, 7), date(2027, 6, 12), date(2027, 6, 19)
NINE = [*((row, 1) for row in range(1, 7)), *((row, 2) for row in range(4, 7))]


def dealt(*parts, filled=SOWN, pots=(), container=0):
    """Return dealt trays with ids 101, 102 ... and numbers 1, 2 ...; a part is (tray, sowing, cells), from 0."""
    n = max((tray for tray, *_ in parts), default=-1) + 1
    columns = np.array(parts, dtype=np.int64).reshape(-1, 3).T
    return Dealt(
        ids=np.arange(101, 101 + n),
        number=np.arange(1, n + 1),
        container=np.full(n, container),
        filled=np.full(n, filled.toordinal()),
        is_potted_on=np.isin(np.arange(n), pots),
        is_pinned=np.zeros(n, dtype=bool),
        part_tray=columns[0],
        part_lot=columns[1],
        part_cells=columns[2],
        part_filled=np.zeros(len(parts), dtype=np.int64),
    )


def cells(places=NINE, *, tray=101, sowing=1, state=CellState.EMPTY, **changes):
    """Return the cells of a sowing, given as rows and columns."""
    fields = {"grower_id": 1, "grower": "Ines Moreau", "crop_id": 1, "crop": "Tomato", "variety": None} | changes
    return [
        CellRow(tray_id=tray, row=row, column=column, state=state, sowing_id=sowing, sowing=f"S{sowing:03d}", **fields)
        for row, column in places
    ]


def stay(place, begin, end, *, tray=101, number=1, shelf="Heat bench", level=1, slot=2):
    """Return where a tray stands; without a shelf it waits."""
    at = (None, None, None, None) if shelf is None else (1, shelf, level, slot)
    return StayRow(0, tray, number, place, *at, begin, end, False)


def usual_stays():
    """Return the three stays of the usual sowing."""
    return [
        stay(Place.HEAT, SOWN, UP),
        stay(Place.LAMP, UP, HARDENS, shelf="Lamp rack", level=2, slot=3),
        stay(Place.HARDENING, HARDENS, OUT, shelf=None),
    ]
