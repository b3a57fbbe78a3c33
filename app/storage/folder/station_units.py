"""Temperatures in another unit than the file says, guessed from what no weather has ever been.

The limits are chosen. The hottest day on record had 56.7 °C, the warmest night 42.6 °C (both from memory),
and no garden lies where a whole year passes without a day of 13 °C or a night of 8 °C.
"""

import re
from collections.abc import Sequence

import numpy as np

from app.core.dates.record import Floats
from app.language import N_, _, grouped
from app.storage.folder.faults import Fault
from app.storage.folder.layout import Layout
from app.storage.folder.sheets import Sheet
from app.storage.folder.station_layout import GHCN_LAYOUT, GHCN_TMAX, GHCN_TMIN, TENTHS

# A few such days are slips, each told by itself.
FEWEST_DAYS = 10
HOTTEST_NIGHT_C, HOTTEST_DAY_C = 43.0, 57.0
LIKELY_TENTHS = 115.0  # half the hot days of a record in tenths are above it, of one in Fahrenheit hardly any
DAYS_OF_A_YEAR = 300
COOLEST_WARMEST_DAY, COOLEST_WARMEST_NIGHT = 130, 80  # tenths
HOTTEST_DAY_WHOLE_C, HOTTEST_NIGHT_WHOLE_C = 57, 43

_NUMBER = re.compile(r"\s*-?[0-9]{1,6}(?:\.[0-9]{0,6})?\s*")
_MISSING = -9999.0
# By whether the file is one of tenths, and whether the figures are too high for degrees Fahrenheit too.
_GUESSES = {
    (False, True): N_("these look like tenths of a degree; give degrees Celsius, such as 12.3"),
    (False, False): N_("these look like degrees Fahrenheit; give degrees Celsius, which are (°F − 32) × 5/9"),
    (True, True): N_("these are not tenths of a degree Celsius"),
    (True, False): N_(
        "these look like degrees Fahrenheit; give tenths of a degree Celsius, which are (°F − 32) × 50/9"
    ),
}


def find_wrong_unit(sheet: Sheet, layout: Layout) -> Fault | None:
    """Return the fault of a file whose temperatures are in another unit, with a guess which; None if they are not."""
    low, high = (column.name for column in layout.columns[1:3])
    cells = {name: _numbers(sheet.columns.get(name, ())) for name in (low, high)}
    if layout is GHCN_LAYOUT:
        return _decimals(sheet) or _whole_degrees(sheet, cells) or _too_hot(sheet, cells, scale=TENTHS)
    return _too_hot(sheet, cells, scale=1)


def _numbers(cells: Sequence[str]) -> Floats:
    known = {cell: float(cell) for cell in set(cells) if _NUMBER.fullmatch(cell) and float(cell) != _MISSING}
    return np.array([known.get(cell, np.nan) for cell in cells], dtype=np.float64)


def _too_hot(sheet: Sheet, cells: dict[str, Floats], *, scale: int) -> Fault | None:
    """Return the fault of a file with many days hotter than any ever was."""
    for (name, values), limit in zip(cells.items(), (HOTTEST_NIGHT_C, HOTTEST_DAY_C), strict=True):
        hot = np.flatnonzero(values > limit * scale)
        if len(hot) < FEWEST_DAYS:
            continue
        highest = float(values[hot].max())
        is_past_fahrenheit = float(np.median(values[hot])) > LIKELY_TENTHS * scale
        right = _(
            "%(count)s such figures are hotter than any weather, the highest %(highest)s; %(guess)s",
            count=grouped(len(hot)),
            highest=grouped(highest),
            guess=_(_GUESSES[scale > 1, is_past_fahrenheit]),
        )
        return _fault(sheet, name, int(hot[0]), right)
    return None


def _decimals(sheet: Sheet) -> Fault | None:
    for name in (GHCN_TMIN, GHCN_TMAX):
        cells = sheet.columns.get(name, ())
        with_point = [index for index, cell in enumerate(cells) if "." in cell and _NUMBER.fullmatch(cell)]
        if len(with_point) >= FEWEST_DAYS:
            right = _(
                "%(count)s figures have decimals and look like whole degrees; GHCN-Daily has tenths of a degree "
                "Celsius without a point. Ask the service for that form, or name the columns date, tmin_c, tmax_c if "
                "they are in degrees Celsius",
                count=grouped(len(with_point)),
            )
            return _fault(sheet, name, with_point[0], right)
    return None


def _whole_degrees(sheet: Sheet, cells: dict[str, Floats]) -> Fault | None:
    """Return the fault of a year or more whose hottest day would be cold if the figures were tenths."""
    kinds = (
        (GHCN_TMAX, COOLEST_WARMEST_DAY, HOTTEST_DAY_WHOLE_C),
        (GHCN_TMIN, COOLEST_WARMEST_NIGHT, HOTTEST_NIGHT_WHOLE_C),
    )
    for name, coolest, hottest_whole_c in kinds:
        values = cells[name]
        if np.count_nonzero(~np.isnan(values)) < DAYS_OF_A_YEAR:
            continue
        highest = float(np.nanmax(values))
        if highest > coolest:
            continue
        unit = "Celsius" if highest <= hottest_whole_c else "Fahrenheit"
        right = _(
            "the highest %(name)s of all days, %(highest)s, would be %(celsius)s °C; these look like whole degrees "
            "%(unit)s. GHCN-Daily has tenths of a degree Celsius: 12.3 °C is written 123",
            name=name,
            highest=grouped(highest),
            celsius=grouped(highest / TENTHS),
            unit=unit,
        )
        return _fault(sheet, name, int(np.nanargmax(values)), right)
    return None


def _fault(sheet: Sheet, name: str, index: int, right: str) -> Fault:
    return Fault(
        file=sheet.file,
        row=sheet.row_numbers[index],
        column=name,
        found=sheet.columns[name][index].strip(),
        right=right,
    )
