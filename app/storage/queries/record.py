"""A station's daily record, and the freezes in it; both are kept in the process until the record is another."""

import hashlib
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date

import numpy as np
from sqlalchemy import Date, delete, select, type_coerce
from sqlalchemy.orm import Session

from app.core.dates.record import DailyRecord, Floats, Freezes, find_freezes
from app.storage.base import table_of
from app.storage.models import DailyTemperature, Garden
from app.storage.queries.days import day_number
from app.storage.tables import insert_columns

MARK_BYTES = 16
MOST_FREEZES_KEPT = 16

_RECORD = select(
    day_number(type_coerce(DailyTemperature.date, Date)), DailyTemperature.tmin_c, DailyTemperature.tmax_c
).order_by(DailyTemperature.date)


class NoRecordError(Exception):
    """The garden has no station's record."""


@dataclass
class _Kept:
    """A record that was read, by its mark, with the freezes that were found in it."""

    mark: str
    record: DailyRecord
    freezes: dict[tuple[float, bool], Freezes] = field(default_factory=dict)


class _Keeper:
    """The record read last in this process."""

    kept: _Kept | None = None
    reading = threading.Lock()


def mark_of(record: DailyRecord) -> str:
    """Return the mark of a record; two records have the same one only if they are the same day by day."""
    digest = hashlib.blake2b(digest_size=MARK_BYTES)
    for values in (record.day, record.tmin_c, record.tmax_c):
        # Adding zero makes one kind of zero of two that are equal, and one kind of "missing".
        digest.update(np.where(np.isnan(values), np.nan, values + 0.0).tobytes())
    return digest.hexdigest()


def has_record(session: Session) -> bool:
    """Return whether the garden has a station's record."""
    return session.scalar(select(Garden.record_mark)) is not None


def get_record(session: Session) -> DailyRecord:
    """Return the station's record, or raise NoRecordError."""
    return _get_kept(session, session.scalar(select(Garden.record_mark))).record


def get_freezes(session: Session, mark: str | None, threshold_c: float, *, southern: bool) -> Freezes:
    """Return the freezes in the station's record.

    Args:
        session: Where the record is.
        mark: Its mark, as the garden's row has it.
        threshold_c: A day freezes when its minimum is at or below this. [C]
        southern: Whether the garden lies south of the equator.

    Raises:
        NoRecordError: There is no mark, and so no record.
    """
    kept = _get_kept(session, mark)
    key = (threshold_c, southern)
    freezes = kept.freezes.get(key)
    if freezes is None:
        freezes = find_freezes(kept.record, threshold_c, southern=southern)
        if len(kept.freezes) >= MOST_FREEZES_KEPT:
            kept.freezes.clear()
        kept.freezes[key] = freezes
    return freezes


def replace_record(session: Session, record: DailyRecord, tell: Callable[[int], None] = lambda _days: None) -> None:
    """Put a record in place of the one there is, and give the garden its mark.

    Args:
        session: Its transaction takes it all; the garden must be there.
        record: The record, checked.
        tell: Is called with the number of days stored since it was called last.
    """
    session.connection().execute(delete(table_of(DailyTemperature)))
    insert_columns(session, table_of(DailyTemperature), record_columns(record), tell)
    _set_mark(session, mark_of(record))


def delete_record(session: Session) -> None:
    """Remove the record; where there is none, nothing changes."""
    session.connection().execute(delete(table_of(DailyTemperature)))
    _set_mark(session, None)


def _set_mark(session: Session, mark: str | None) -> None:
    session.get_one(Garden, 1).record_mark = mark
    session.flush()


def record_columns(record: DailyRecord) -> dict[str, list[date] | list[float | None]]:
    """Return a record as columns of its table."""
    return {
        "date": [date.fromordinal(day) for day in record.day.tolist()],
        "tmin_c": _or_none(record.tmin_c),
        "tmax_c": _or_none(record.tmax_c),
    }


def _or_none(values: Floats) -> list[float | None]:
    return [None if value != value else value for value in values.tolist()]  # noqa: PLR0124 - NaN


def _get_kept(session: Session, mark: str | None) -> _Kept:
    if mark is None:
        raise NoRecordError("There is no station’s record yet")
    kept = _Keeper.kept
    if kept is not None and kept.mark == mark:
        return kept
    with _Keeper.reading:
        if _Keeper.kept is None or _Keeper.kept.mark != mark:
            kept = _Kept(mark, _read(session))
            if mark_of(kept.record) != mark:  # it was replaced between the reading of the mark and that of its days
                return kept
            _Keeper.kept = kept
        return _Keeper.kept


def _read(session: Session) -> DailyRecord:
    # The driver's own rows, as for sowings; a missing temperature comes as None and becomes NaN.
    rows = session.connection().execute(_RECORD).cursor.fetchall()
    day, tmin_c, tmax_c = zip(*rows, strict=True) if rows else ((), (), ())
    record = DailyRecord(
        day=np.array(day, dtype=np.int64),
        tmin_c=np.array(tmin_c, dtype=np.float64),
        tmax_c=np.array(tmax_c, dtype=np.float64),
    )
    for values in (record.day, record.tmin_c, record.tmax_c):
        values.setflags(write=False)  # it is handed out again and again
    return record
