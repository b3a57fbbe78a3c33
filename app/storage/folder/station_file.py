"""Reading a station's daily record, as our own table of days or as a GHCN-Daily file of a weather service.

Source of the second form:
    NOAA NCEI, Global Historical Climatology Network daily, readme: TMIN and TMAX in tenths of a degree
    Celsius; the attributes are measurement, quality and source flag, and a value with a quality flag
    has failed a check.
"""

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from app.core.dates.record import DailyRecord, Flags, Floats
from app.language import _, grouped, ngettext
from app.storage.folder.columns import WRONG, Values, read_values
from app.storage.folder.faults import Fault, Faults
from app.storage.folder.layout import Layout
from app.storage.folder.sheets import Sheet, sheet_of, text_of
from app.storage.folder.station_layout import (
    GHCN_DATE,
    GHCN_FLAGS,
    GHCN_LAYOUT,
    GHCN_STATION,
    GHCN_TMAX,
    GHCN_TMIN,
    RECORD_LAYOUT,
)
from app.storage.folder.station_units import find_wrong_unit

MOST_BYTES = 32 * 1024 * 1024
MEGABYTE = 1024 * 1024
FIRST_STATIONS = 3


@dataclass(frozen=True, kw_only=True)
class StationFile:
    """What a file holds.

    Attributes:
        record: The days that have a temperature, in order; none where the file has only its header.
        notes: What was done to the file's rows on the way, each in a sentence.
    """

    record: DailyRecord
    notes: tuple[str, ...]


def read_station_path(path: Path, faults: Faults) -> StationFile | None:
    """Return what a station's file holds, None if it has a fault; one that is too large is not read."""
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            faults.add(too_large(path.name, size))
            return None
        data = path.read_bytes()
    except OSError as error:
        faults.add(Fault(file=path.name, right=f"the file cannot be read: {error.strerror}"))
        return None
    return read_station(data, path.name, faults)


def too_large(file: str, size: int) -> Fault:
    """Return the fault of a file of too many bytes."""
    right = _(
        "the file has %(size)s MB; a station’s record of 100 years takes about 1 MB, and at most %(most)s MB are read. "
        "Take out columns other than the date and the temperatures",
        size=grouped(round(size / MEGABYTE)),
        most=MOST_BYTES // MEGABYTE,
    )
    return Fault(file=file, right=right)


def read_station(data: bytes, file: str, faults: Faults) -> StationFile | None:
    """Return what the bytes of a station's file hold, None if they have a fault.

    Args:
        data: The bytes.
        file: Its name, for the faults.
        faults: Takes the faults, all of them at once.
    """
    before = faults.total
    text = text_of(data, file, faults)
    layout = GHCN_LAYOUT if _is_ghcn(text) else RECORD_LAYOUT
    sheet = sheet_of(text, file, layout, faults)
    if sheet is None:
        return None
    notes: list[str] = []
    if layout is GHCN_LAYOUT:
        _check_one_station(sheet, faults)
        sheet = _without_flagged(sheet, notes)
    wrong_unit = find_wrong_unit(sheet, layout)
    if wrong_unit is not None:
        faults.add(wrong_unit)
        layout = replace(layout, columns=layout.columns[:1])  # the dates are checked all the same
    values = read_values(sheet, layout, {}, faults)
    if wrong_unit is not None:
        return None
    day, tmin_c, tmax_c = (values.columns[column.name] for column in layout.columns[:3])
    low, high = _numbers(tmin_c), _numbers(tmax_c)
    _check_order(values, layout, low > high, faults)
    if faults.total > before:
        return None
    return StationFile(record=_sorted(day, low, high, notes), notes=tuple(notes))


def _is_ghcn(text: str) -> bool:
    try:
        header = {name.strip() for name in next(csv.reader(io.StringIO(text)), [])}
    except csv.Error:
        return False
    return GHCN_DATE in header and bool({GHCN_TMIN, GHCN_TMAX} & header)


def _check_one_station(sheet: Sheet, faults: Faults) -> None:
    stations = sheet.columns.get(GHCN_STATION, ())
    names = list(dict.fromkeys(name.strip() for name in stations if name.strip()))
    if len(names) <= 1:
        return
    row = next(index for index, name in enumerate(stations) if name.strip() not in {"", names[0]})
    said = {"count": grouped(len(names)), "names": ", ".join(names[:FIRST_STATIONS])}
    if len(names) > FIRST_STATIONS:
        right = _("the file has %(count)s stations (%(names)s and others); keep the rows of one", **said)
    else:
        right = _("the file has %(count)s stations (%(names)s); keep the rows of one", **said)
    faults.add(
        Fault(
            file=sheet.file, row=sheet.row_numbers[row], column=GHCN_STATION, found=stations[row].strip(), right=right
        )
    )


def _without_flagged(sheet: Sheet, notes: list[str]) -> Sheet:
    """Return the sheet without the temperatures that failed a check of the service."""
    columns, dropped = dict(sheet.columns), 0
    for name, flags in GHCN_FLAGS.items():
        if name not in columns or flags not in columns:
            continue
        failed = {flag for flag in set(columns[flags]) if _has_failed(flag)}
        wrong = [index for index, flag in enumerate(columns[flags]) if flag in failed]
        kept = list(columns[name])
        dropped += sum(bool(kept[index].strip()) for index in wrong)
        for index in wrong:
            kept[index] = ""
        columns[name] = kept
    if dropped:
        notes.append(
            ngettext(
                "Left out: %(num)s temperature that failed a check of the weather service.",
                "Left out: %(num)s temperatures that failed a check of the weather service.",
                dropped,
                num=grouped(dropped),
            )
        )
    return replace(sheet, columns=columns)


def _has_failed(attributes: str) -> bool:
    """Return whether attributes such as `,X,7` have a quality flag."""
    parts = attributes.split(",")
    return len(parts) > 1 and bool(parts[1].strip())


def _numbers(values: Sequence[Any]) -> Floats:
    known = {value: float(value) for value in set(values) if value is not None and value is not WRONG}
    return np.array([known.get(value, np.nan) for value in values], dtype=np.float64)


def _check_order(values: Values, layout: Layout, crossed: Flags, faults: Faults) -> None:
    """Report days whose lowest temperature is above their highest."""
    low, high = layout.columns[1].name, layout.columns[2].name
    wrong = [index for index in np.flatnonzero(crossed).tolist() if index not in values.sheet.broken]
    shown = wrong[: faults.room]
    for index in shown:
        highest = values.sheet.columns[high][index].strip()
        right = _("the %(column)s of that day is lower: %(found)s; one of the two is wrong", column=high, found=highest)
        faults.add(values.fault(index, low, right))
    faults.count(len(wrong) - len(shown))


def _sorted(day: Sequence[date], low: Floats, high: Floats, notes: list[str]) -> DailyRecord:
    """Return the days that have a temperature, in order."""
    number = np.array([each.toordinal() for each in day], dtype=np.int64)
    late = int((np.diff(number) < 0).sum())
    if late:
        notes.append(
            ngettext(
                "The days did not stand in order (%(num)s step back); they were sorted.",
                "The days did not stand in order (%(num)s steps back); they were sorted.",
                late,
                num=grouped(late),
            )
        )
    known = ~(np.isnan(low) & np.isnan(high))
    order = np.argsort(number[known], kind="stable")
    return DailyRecord(day=number[known][order], tmin_c=low[known][order], tmax_c=high[known][order])
