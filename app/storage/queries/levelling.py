"""Levellings as pages show them, and what each changes."""

from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import ColumnElement, Date, and_, case, func, or_, select, type_coerce
from sqlalchemy.orm import Session

from app.core.cards import Sowings
from app.core.fitting.answer import Choices, Extra, Goal, Phase, Reached, Stuck
from app.core.words import PLACES, CellState, LevellingState, Light, Place
from app.storage.base import table_of
from app.storage.errors import NotFoundError
from app.storage.models import Cell, Crop, Grower, Levelling, LevellingChange, Sowing
from app.storage.queries.days import day_number
from app.storage.queries.dealt import positions_in
from app.storage.queries.rows import LARGEST_ID, PAGE_ROWS, get_row
from app.storage.queries.version import get_mark

Ints = NDArray[np.int64]

# One that gives no sign of life for so long has died with its server; it gives one every second. [s]
SILENT_SECONDS = 15.0
_OPEN = (LevellingState.FINISHED, LevellingState.STOPPED)


@dataclass(frozen=True, kw_only=True)
class ExtraShelf:
    """A shelf that is not there, to see what it would bring.

    Attributes:
        place: The kind of space it would be.
        positions: Trays that would stand on it. [1]
    """

    place: Place
    positions: int


class Order(NamedTuple):
    """What a levelling is to do: the day taken for today, how long it may look [s], and a shelf more or none."""

    today: date
    seconds: int
    extra: ExtraShelf | None


@dataclass(frozen=True, kw_only=True)
class LevellingRow:
    """One levelling.

    Attributes:
        state: What became of it.
        started_at: When it was started, by the clock of this machine.
        ended_at: When it ended; None while it runs.
        elapsed: How long it has been running, or ran. [s]
        seconds: How long it may look. [s]
        today: The day that was taken for today.
        mark: The mark of the data that it was made from.
        extra: The shelf that it takes to be there beside the others; None for none.
        phase: What it is doing, or did last.
        reached: The goals for which there is an answer or a bound, in order.
        is_stopping: Whether somebody wants it to stop, and it still runs.
        is_stale: Whether something has changed since it looked at the garden, or a day that it chose has passed.
        has_answer: Whether it found a plan that can be looked at.
        changes: Sowings that it changes. [1]
        accepted: Sowings of these whose change was accepted. [1]
        fault: Why it failed, in words; None where it did not, or nobody knows.
    """

    id: int
    state: LevellingState
    started_at: datetime
    ended_at: datetime | None
    elapsed: float
    seconds: int
    today: date
    mark: str
    extra: ExtraShelf | None
    phase: Phase
    reached: tuple[Reached, ...]
    is_stopping: bool
    is_stale: bool
    has_answer: bool
    changes: int
    accepted: int
    fault: str | None

    @property
    def is_running(self) -> bool:
        """Whether it still looks."""
        return self.state is LevellingState.RUNNING

    @property
    def is_open(self) -> bool:
        """Whether it has an answer that nobody has accepted or thrown away yet."""
        return self.has_answer and self.state in _OPEN

    @property
    def can_be_accepted(self) -> bool:
        """Whether its answer can be applied."""
        return self.is_open and not self.is_stale and self.extra is None and self.changes > 0

    @property
    def gap(self) -> float:
        """The largest gap of any goal. [fraction]"""
        return max((reached.gap for reached in self.reached), default=0.0)


class ChangeRow(NamedTuple):
    """What a levelling changes of a sowing, as the columns hold it and as the days and places it comes to."""

    sowing_id: int
    sowing: str
    grower_id: int
    grower: str
    crop_id: int
    crop: str
    variety: str | None
    is_accepted: bool
    sow_on_before: date | None
    sow_on_after: date | None
    light_before: Light | None
    light_after: Light | None
    placed_before: int | None
    placed_after: int | None
    wanted: int
    day_before: date | None
    day_after: date | None
    place_before: Place | None
    place_after: Place | None

    @property
    def plants_before(self) -> int:
        """Plants that had room. [1]"""
        return self.wanted if self.placed_before is None else self.placed_before

    @property
    def plants_after(self) -> int:
        """Plants that would have room. [1]"""
        return self.wanted if self.placed_after is None else self.placed_after


class SowingName(NamedTuple):
    """A sowing by its key."""

    id: int
    name: str


# The answer itself is left where it is: it may be large.
ROWS = select(
    *(column for column in table_of(Levelling).columns if column.key != "answer"),
    Levelling.answer.is_not(None).label("has_answer"),
).order_by(Levelling.id.desc())


def get_levelling(session: Session, levelling_id: int, *, today: date, now: float) -> LevellingRow:
    """Return a levelling.

    Args:
        session: Where it is.
        levelling_id: Which.
        today: The day that is taken for today.
        now: The present instant, in seconds since 1970. [s]

    Raises:
        NotFoundError: There is no such levelling.
    """
    query = ROWS.where(Levelling.id == levelling_id)
    row = session.execute(query).mappings().one_or_none() if 0 < levelling_id <= LARGEST_ID else None
    if row is None:
        raise NotFoundError("levelling", levelling_id)
    return _row(dict(row), get_mark(session), today, now)


def get_order(session: Session, levelling_id: int) -> Order:
    """Return what a levelling is to do, or raise NotFoundError."""
    row = get_row(session, Levelling, levelling_id, "levelling")
    return Order(row.today, row.seconds, _extra(row.extra_place, row.extra_positions))


def list_levellings(session: Session, *, today: date, now: float, page: int = 1) -> list[LevellingRow]:
    """Return a page of all levellings, the newest first; arguments as `get_levelling`."""
    query = ROWS.limit(PAGE_ROWS).offset((page - 1) * PAGE_ROWS)
    rows = session.execute(query).mappings().all()
    mark = get_mark(session)
    return [_row(dict(row), mark, today, now) for row in rows]


def find_latest_levelling(session: Session, *, today: date, now: float) -> LevellingRow | None:
    """Return the levelling that was started last; arguments as `get_levelling`."""
    row = session.execute(ROWS.limit(1)).mappings().one_or_none()
    return None if row is None else _row(dict(row), get_mark(session), today, now)


def count_levellings(session: Session) -> int:
    """Return how many levellings there were. [1]"""
    return session.scalar(select(func.count(Levelling.id))) or 0


def _row(row: dict[str, Any], mark: str, today: date, now: float) -> LevellingRow:
    state, ended_at, beat_at = row["state"], row["ended_at"], row["beat_at"]
    if state is LevellingState.RUNNING and now - beat_at > SILENT_SECONDS:
        state, ended_at = LevellingState.STOPPED, beat_at
    good_until = row["good_until"]
    return LevellingRow(
        id=row["id"],
        state=state,
        started_at=_instant(row["started_at"]),
        ended_at=None if ended_at is None else _instant(ended_at),
        elapsed=max(0.0, (now if ended_at is None else ended_at) - row["started_at"]),
        seconds=row["seconds"],
        today=row["today"],
        mark=row["mark"],
        extra=_extra(row["extra_place"], row["extra_positions"]),
        phase=row["phase"],
        reached=read_reached(row["reached"]),
        is_stopping=state is LevellingState.RUNNING and row["stop_wanted"],
        is_stale=row["mark"] != mark or (good_until is not None and good_until < today),
        has_answer=row["has_answer"],
        changes=row["changes"],
        accepted=row["accepted"],
        fault=row["fault"],
    )


def _extra(place: Place | None, positions: int | None) -> ExtraShelf | None:
    return None if place is None or positions is None else ExtraShelf(place=place, positions=positions)


def _instant(seconds: float) -> datetime:
    return datetime.fromtimestamp(seconds, UTC).astimezone()


def read_reached(stored: list[Any]) -> tuple[Reached, ...]:
    """Return goals as they are stored."""
    return tuple(Reached(goal=Goal(goal), value=value, bound=bound) for goal, value, bound in stored)


def find_answer(session: Session, levelling_id: int) -> dict[str, Any] | None:
    """Return what is stored of an answer beside its changes, None where there is none."""
    return session.scalar(select(Levelling.answer).where(Levelling.id == levelling_id))


def read_stuck(stored: list[Any]) -> tuple[Stuck, ...]:
    """Return the places that stay over-full, as they are stored."""
    return tuple(Stuck(place=place, first=first, last=last, over=over) for place, first, last, over in stored)


def read_extra(stored: dict[str, Any] | None, sowings: Sowings) -> Extra | None:
    """Return what it would take for everything to fit, as it is stored, over the sowings that it was stored for."""
    if stored is None:
        return None
    columns = [np.array(column, dtype=np.int64) for column in stored["choices"]]
    return Extra(positions=tuple(stored["positions"]), bound=stored["bound"], choices=_choices(sowings, *columns))


def get_choices(session: Session, levelling_id: int, sowings: Sowings) -> Choices:
    """Return what a levelling would write to the sowings for which it was made."""
    change = LevellingChange
    light = case({place.value: index for index, place in enumerate(PLACES)}, value=change.light_after, else_=-1)
    query = select(
        change.sowing_id,
        func.coalesce(day_number(type_coerce(change.sow_on_after, Date)), 0),
        light,
        func.coalesce(change.placed_after, -1),
    ).where(change.levelling_id == levelling_id)
    rows = session.connection().execute(query).cursor.fetchall()
    table = np.array(rows, dtype=np.int64).reshape(-1, 4)
    return _choices(sowings, *table.T)


def _choices(sowings: Sowings, ids: Ints, sow_on: Ints, light: Ints, placed: Ints) -> Choices:
    at = positions_in(sowings.ids, ids)
    columns = {"sow_on": sow_on, "light": light, "placed": placed}
    whole = {name: getattr(sowings, name).copy() for name in columns}
    for name, values in columns.items():
        whole[name][at] = values
    return Choices(**whole)


def list_changes(session: Session, levelling_id: int) -> list[ChangeRow]:
    """Return what a levelling changes, by sowing."""
    change = LevellingChange
    query = (
        select(
            Sowing.id,
            Sowing.name,
            Grower.id,
            Grower.name,
            Crop.id,
            Crop.name,
            Sowing.variety,
            change.is_accepted,
            change.sow_on_before,
            change.sow_on_after,
            change.light_before,
            change.light_after,
            change.placed_before,
            change.placed_after,
            change.wanted,
            change.day_before,
            change.day_after,
            change.place_before,
            change.place_after,
        )
        .join(Sowing, change.sowing_id == Sowing.id)
        .join(Sowing.grower)
        .join(Sowing.crop)
        .where(change.levelling_id == levelling_id)
        .order_by(Sowing.id)
    )
    return [ChangeRow._make(row) for row in session.execute(query)]


def list_sown_changes(session: Session, levelling_id: int) -> list[SowingName]:
    """Return the sowings whose change was accepted and that are sown by now, in cells or in pots."""
    is_sown = select(Cell.tray_id).where(Cell.sowing_id == Sowing.id, Cell.state != CellState.EMPTY).exists()
    return _accepted(session, levelling_id, is_sown)


def list_overtaken_changes(session: Session, levelling_id: int) -> list[SowingName]:
    """Return the sowings that no longer are as they were accepted, or could no longer be as they were before."""
    change = LevellingChange
    pairs = (
        (Sowing.sow_on, change.sow_on_after),
        (Sowing.light, change.light_after),
        (Sowing.placed, change.placed_after),
        (Sowing.plants, change.wanted),
    )
    is_other = or_(*(now.is_distinct_from(then) for now, then in pairs))
    had_any = or_(change.sow_on_before.is_not(None), change.light_before.is_not(None))
    is_outside = and_(Crop.id == Sowing.crop_id, Crop.start_container_id.is_(None), had_any)
    return _accepted(session, levelling_id, or_(is_other, select(Crop.id).where(is_outside).exists()))


def _accepted(session: Session, levelling_id: int, holds: ColumnElement[bool]) -> list[SowingName]:
    change = LevellingChange
    query = (
        select(Sowing.id, Sowing.name)
        .join(change, change.sowing_id == Sowing.id)
        .where(change.levelling_id == levelling_id, change.is_accepted, holds)
        .order_by(Sowing.id)
    )
    return [SowingName(*row) for row in session.execute(query)]


def list_accepted_values(
    session: Session, levelling_id: int
) -> list[tuple[int, str, list[tuple[str, tuple[Any, Any]]]]]:
    """Return id and key of each sowing whose change was accepted, with each column before and after it."""
    columns = ("sow_on", "light", "placed")
    pairs = [getattr(LevellingChange, f"{name}_{when}") for name in columns for when in ("before", "after")]
    query = select(Sowing.id, Sowing.name, *pairs).join(Sowing, Sowing.id == LevellingChange.sowing_id)
    query = query.where(LevellingChange.levelling_id == levelling_id, LevellingChange.is_accepted).order_by(Sowing.id)
    found = []
    for row_id, key, *values in session.execute(query):
        both = zip(columns, zip(values[::2], values[1::2], strict=True), strict=True)
        found.append((row_id, key, [(name, pair) for name, pair in both if pair[0] != pair[1]]))
    return found
