"""Care rounds."""

from collections.abc import Collection, Sequence
from datetime import date
from typing import Any, NamedTuple

from sqlalchemy import Select, delete, func, insert, select, update
from sqlalchemy.orm import Session, aliased

from app.storage.errors import NotFoundError
from app.storage.models import CareRound, Grower
from app.storage.queries.rows import LARGEST_ID, get_row

_Doer = aliased(Grower)


class RoundRow(NamedTuple):
    """A care round as pages show it; `grower` is whose it is, `done_by` who did it."""

    id: int
    day: date
    grower_id: int | None
    grower: str | None
    is_offered: bool
    is_swapped: bool
    done_on: date | None
    done_by_id: int | None
    done_by: str | None
    note: str | None


class Coming(NamedTuple):
    """A grower, and the weekdays they can come, separated by spaces; None for any."""

    id: int
    name: str
    days: str | None


_ROWS: Select[*tuple[Any, ...]] = (
    select(
        CareRound.id,
        CareRound.date,
        CareRound.grower_id,
        Grower.name,
        CareRound.is_offered,
        CareRound.is_swapped,
        CareRound.done_on,
        CareRound.done_by_id,
        _Doer.name,
        CareRound.note,
    )
    .outerjoin(Grower, Grower.id == CareRound.grower_id)
    .outerjoin(_Doer, _Doer.id == CareRound.done_by_id)
)


def get_round(session: Session, round_id: int) -> CareRound:
    """Return a care round, or raise NotFoundError."""
    return get_row(session, CareRound, round_id, "care round")


def get_round_row(session: Session, round_id: int) -> RoundRow:
    """Return a care round as pages show it, or raise NotFoundError."""
    row = session.execute(_ROWS.where(CareRound.id == round_id)).first() if 0 < round_id <= LARGEST_ID else None
    if row is None:
        raise NotFoundError("care round", round_id)
    return RoundRow._make(row)


def list_rounds(session: Session) -> list[RoundRow]:
    """Return every care round, by day."""
    return [RoundRow._make(row) for row in session.execute(_ROWS.order_by(CareRound.date))]


def list_missed_and_of(session: Session, today: date) -> list[RoundRow]:
    """Return the care rounds before a day that nobody has done, and that of the day itself, by day."""
    is_missed = (CareRound.date < today) & CareRound.done_on.is_(None)
    query = _ROWS.where(is_missed | (CareRound.date == today)).order_by(CareRound.date)
    return [RoundRow._make(row) for row in session.execute(query)]


def list_rounds_between(session: Session, first: date, end: date) -> list[RoundRow]:
    """Return the care rounds on the days of [first, end), by day."""
    query = _ROWS.where(CareRound.date >= first, CareRound.date < end).order_by(CareRound.date)
    return [RoundRow._make(row) for row in session.execute(query)]


def find_last_round(session: Session, day: date, today: date) -> date | None:
    """Return the day of the last round before a day: one that was done, or that is still to come by then."""
    was_or_will_be = CareRound.done_on.is_not(None) | (CareRound.date >= today)
    return session.scalar(select(func.max(CareRound.date)).where(CareRound.date < day, was_or_will_be))


def list_coming(session: Session) -> list[Coming]:
    """Return every grower by name, with the days they can come."""
    query = select(Grower.id, Grower.name, Grower.days).order_by(Grower.name, Grower.id)
    return [Coming._make(row) for row in session.execute(query)]


def remove_rounds(session: Session, round_ids: Collection[int]) -> None:
    """Remove care rounds."""
    session.execute(delete(CareRound).where(CareRound.id.in_(round_ids)))


def store_rounds(
    session: Session, added: Sequence[tuple[date, int | None]], given: Sequence[tuple[int, int | None]]
) -> None:
    """Add care rounds, and give others to somebody.

    Args:
        session: Its transaction takes it.
        added: Day and grower of each new one.
        given: Id and new grower of each that is there.
    """
    fresh = {"is_offered": False, "is_swapped": False}
    if added:
        session.execute(insert(CareRound), [{"date": day, "grower_id": who, **fresh} for day, who in added])
    if given:
        session.execute(update(CareRound), [{"id": row, "grower_id": who, **fresh} for row, who in given])
    session.expire_all()
