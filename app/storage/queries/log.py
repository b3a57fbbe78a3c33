"""The log: for the plan as columns, for people as rows."""

from collections.abc import Collection
from datetime import date
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import ColumnElement, Date, ScalarSelect, case, func, literal, select, type_coerce
from sqlalchemy.orm import Session, aliased

from app.core.log.entries import CAUSES, HARDENED, KINDS, LOOKED, NO_CAUSE, NO_LOT, UNCOVERED, Log
from app.core.words import Cause, LogKind, Tick
from app.storage.models import Account, Crop, Grower, LogEntry, Sowing, Ticked, Tray
from app.storage.queries.days import day_number
from app.storage.queries.dealt import positions_in
from app.storage.queries.rows import PAGE_ROWS, get_row, ordered

Ints = NDArray[np.int64]

_KIND = case({kind.value: index for index, kind in enumerate(KINDS)}, value=LogEntry.kind, else_=-1)
_CAUSE = case({cause.value: index for index, cause in enumerate(CAUSES)}, value=LogEntry.cause, else_=NO_CAUSE)
_TICKS = {Tick.HARDEN: HARDENED, Tick.LOOK: LOOKED, Tick.UNCOVER: UNCOVERED}
_TICK = case({tick.value: number for tick, number in _TICKS.items()}, value=Ticked.task, else_=-1)
_NOTHING = literal(0)
COLUMNS = (
    select(
        LogEntry.id,
        LogEntry.sowing_id,
        _KIND,
        day_number(type_coerce(LogEntry.date, Date)),
        LogEntry.count,
        func.coalesce(LogEntry.seeds, 0),
        func.coalesce(LogEntry.tray_id, 0),
        func.coalesce(LogEntry.supersedes_id, 0),
        func.coalesce(LogEntry.made_at, 0.0),
        _CAUSE,
        func.coalesce(LogEntry.seed_lot_id, 0),
    )
    .union_all(
        # Under ids of their own: below 0 no entry is meant.
        select(
            (-Ticked.id).label("id"),
            Ticked.sowing_id,
            _TICK,
            day_number(type_coerce(Ticked.date, Date)),
            literal(1),
            _NOTHING,
            _NOTHING,
            _NOTHING,
            func.coalesce(Ticked.made_at, 0.0),
            literal(NO_CAUSE),
            _NOTHING,
        )
    )
    .order_by("id")
)


class EntryRow(NamedTuple):
    """An entry as people read it; `number` is its count, `grower` did it, and `whose` is the sowing's grower."""

    id: int
    name: str
    sowing_id: int
    kind: LogKind
    date: date
    number: int
    seeds: int | None
    tray: int | None
    cause: Cause | None
    note: str | None
    cells: str | None
    grower: str | None
    typed_by: str | None
    typed_by_id: int | None
    made_at: float
    supersedes_id: int | None
    superseded_by: int | None
    sowing: str
    crop: str
    variety: str | None
    whose: str


def get_log(session: Session, sowing_ids: Ints, lot_ids: Ints) -> Log:
    """Return all entries as columns.

    Args:
        session: Where to look.
        sowing_ids: Row numbers of the garden's sowings, in their order. Shape (n_sowings,).
        lot_ids: Row numbers of its seed lots, likewise. Shape (n_lots,).
    """
    rows = session.connection().execute(COLUMNS).cursor.fetchall()
    if not rows:
        return Log()
    whole = (*range(8), 9, 10)
    ids, sowing, kind, day, count, seeds, tray, supersedes, cause, lot = (
        np.array([row[column] for row in rows], dtype=np.int64) for column in whole
    )
    return Log(
        ids=ids,
        sowing=positions_in(sowing_ids, sowing),
        kind=kind,
        day=day,
        count=count,
        seeds=seeds,
        tray=tray,
        supersedes=supersedes,
        made_at=np.array([row[8] for row in rows], dtype=float),
        cause=cause,
        seed_lot=np.where(lot == 0, NO_LOT, positions_in(lot_ids, lot)) if len(lot_ids) else np.full_like(lot, NO_LOT),
    )


def get_entry(session: Session, entry_id: int) -> LogEntry:
    """Return an entry, or raise NotFoundError."""
    return get_row(session, LogEntry, entry_id, "entry")


def get_entries(session: Session, sowing_id: int) -> list[LogEntry]:
    """Return all entries of a sowing, in the order in which they were made."""
    return list(session.scalars(select(LogEntry).where(LogEntry.sowing_id == sowing_id).order_by(LogEntry.id)))


def next_entry_name(session: Session) -> str:
    """Return a name that no entry has; whoever gives it calls `hold_writes` before."""
    number = count_entries(session) + 1
    while session.scalar(select(LogEntry.id).where(LogEntry.name == f"E-{number}")) is not None:
        number += 1
    return f"E-{number}"


def count_entries(
    session: Session,
    *,
    sowing_id: int | None = None,
    grower_id: int | None = None,
    whose_id: int | None = None,
    kind: LogKind | None = None,
) -> int:
    """Return how many entries there are; as for `list_entries`."""
    query = select(func.count(LogEntry.id)).join(Sowing, Sowing.id == LogEntry.sowing_id)
    return session.scalar(query.where(*_of(sowing_id, grower_id, whose_id, kind))) or 0


def list_entries(
    session: Session,
    *,
    sowing_id: int | None = None,
    grower_id: int | None = None,
    whose_id: int | None = None,
    kind: LogKind | None = None,
    sort: str = "entry",
    down: bool = True,
    page: int | None = None,
) -> list[EntryRow]:
    """Return entries; of a sowing, by a grower, of a grower's sowings, of a kind if given.

    Args:
        session: Where to look.
        sowing_id: Of this sowing alone.
        grower_id: Done by this grower alone.
        whose_id: Of this grower's sowings alone, whoever did it.
        kind: Of this kind alone.
        sort: `entry` (as they were made), `day`, `sowing` (its crop and key) or `grower` (whose it is).
        down: The last first.
        page: Which page, from 1; None for all.
    """
    columns: dict[str, tuple[ColumnElement[Any], ...]] = {
        "entry": (LogEntry.id.expression,),
        "day": (LogEntry.date.expression,),
        "sowing": (Crop.name.expression, Sowing.name.expression),
        "grower": (_Whose.name.expression,),
    }
    order = (ordered(column, down=down) for column in columns[sort])
    query = _ROWS.where(*_of(sowing_id, grower_id, whose_id, kind)).order_by(*order, LogEntry.id.desc())
    if page is not None:
        query = query.limit(PAGE_ROWS).offset((page - 1) * PAGE_ROWS)
    return [EntryRow._make(row) for row in session.execute(query)]


def list_entries_of_sowings(session: Session, sowing_ids: Collection[int]) -> list[EntryRow]:
    """Return the entries of some sowings, those made last first."""
    query = _ROWS.where(LogEntry.sowing_id.in_(sowing_ids)).order_by(LogEntry.id.desc())
    return [EntryRow._make(row) for row in session.execute(query)]


def list_entries_of_trays(session: Session, tray_ids: Collection[int]) -> list[EntryRow]:
    """Return the entries made of some trays, those made last first."""
    query = _ROWS.where(LogEntry.tray_id.in_(tray_ids)).order_by(LogEntry.id.desc())
    return [EntryRow._make(row) for row in session.execute(query)]


def has_entries(session: Session, sowing_id: int) -> bool:
    """Return whether anything was ever written down of a sowing, corrected or not."""
    return session.scalars(select(LogEntry.id).where(LogEntry.sowing_id == sowing_id).limit(1)).first() is not None


def find_ticked(session: Session, sowing_id: int, task: Tick, day: date) -> Ticked | None:
    """Return that a task was ticked off on a day, or None."""
    query = select(Ticked).where(Ticked.sowing_id == sowing_id, Ticked.task == task, Ticked.date == day)
    return session.scalars(query).one_or_none()


def list_ticked(session: Session) -> list[tuple[int, Tick, date]]:
    """Return sowing, task and day of everything that was ticked off, by day."""
    query = select(Ticked.sowing_id, Ticked.task, Ticked.date).order_by(Ticked.date, Ticked.id)
    return [(sowing, task, day) for sowing, task, day in session.execute(query)]


_Later, _Whose = aliased(LogEntry), aliased(Grower)


def _superseded_by() -> ScalarSelect[int]:
    return select(_Later.id).where(_Later.supersedes_id == LogEntry.id).scalar_subquery()


_ROWS = (
    select(
        LogEntry.id,
        LogEntry.name,
        LogEntry.sowing_id,
        LogEntry.kind,
        LogEntry.date,
        LogEntry.count,
        LogEntry.seeds,
        Tray.number,
        LogEntry.cause,
        LogEntry.note,
        LogEntry.cells,
        Grower.name,
        Account.name,
        LogEntry.account_id,
        LogEntry.made_at,
        LogEntry.supersedes_id,
        _superseded_by(),
        Sowing.name,
        Crop.name,
        Sowing.variety,
        _Whose.name,
    )
    .join(Sowing, Sowing.id == LogEntry.sowing_id)
    .join(Crop, Crop.id == Sowing.crop_id)
    .join(_Whose, _Whose.id == Sowing.grower_id)
    .outerjoin(Tray, Tray.id == LogEntry.tray_id)
    .outerjoin(Grower, Grower.id == LogEntry.grower_id)
    .outerjoin(Account, Account.id == LogEntry.account_id)
)


def _of(
    sowing_id: int | None, grower_id: int | None, whose_id: int | None, kind: LogKind | None
) -> list[ColumnElement[bool]]:
    wanted: tuple[tuple[Any, Any], ...] = (
        (LogEntry.sowing_id, sowing_id),
        (LogEntry.grower_id, grower_id),
        (Sowing.grower_id, whose_id),
        (LogEntry.kind, kind),
    )
    return [column == value for column, value in wanted if value is not None]
