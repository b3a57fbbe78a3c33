"""Who changed what and when."""

import json
from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, Select, String, cast, func, literal, or_, select, union_all
from sqlalchemy.orm import Session

from app.core.words import Via
from app.storage.history import NOUNS
from app.storage.models import Account, Container, Crop, Grower, History, SeedLot, Shelf, Sowing, Tray
from app.storage.queries.rows import Choice

HISTORY_ROWS = 100  # of one page
BATCH = 200
# What has a row number and is called something, with the column that says what.
NAMED: tuple[tuple[Any, Any], ...] = (
    (Account, Account.name),
    (Container, Container.name),
    (Crop, Crop.name),
    (Grower, Grower.name),
    (SeedLot, SeedLot.name),
    (Shelf, Shelf.name),
    (Sowing, Sowing.name),
    (Tray, Tray.number),
)


class HistoryRow(NamedTuple):
    """One change as the history shows it."""

    id: int
    at: float
    via: Via
    account_id: int | None
    who: str | None
    noun: str
    subject_id: int | None
    subject: str
    action: str
    changes: list[tuple[str, object, object]]


class Wanted(NamedTuple):
    """Which entries are wanted; None for any."""

    noun: str | None = None
    subject_id: int | None = None
    account_id: int | None = None


def count_history(session: Session, wanted: Wanted) -> int:
    """Return how many entries there are."""
    return session.scalar(select(func.count(History.id)).where(*_chosen(wanted))) or 0


def list_history(session: Session, wanted: Wanted, page: int = 1) -> list[HistoryRow]:
    """Return a page of entries, the newest first."""
    query = (
        select(
            History.id,
            History.at,
            History.via,
            History.account_id,
            Account.name,
            History.noun,
            History.subject_id,
            History.subject,
            History.action,
            History.changes,
        )
        .outerjoin(Account, Account.id == History.account_id)
        .where(*_chosen(wanted))
        .order_by(History.id.desc())
        .limit(HISTORY_ROWS)
        .offset((page - 1) * HISTORY_ROWS)
    )
    return [HistoryRow(*row) for row in session.execute(query)]


def list_added_since(session: Session, noun: str, at: float) -> list[int]:
    """Return the row numbers of what was added from an instant on, by noun. [s since 1970, UTC]"""
    query = select(History.subject_id).where(History.noun == noun, History.action == "added", History.at >= at)
    return [row_id for row_id in session.scalars(query.distinct().order_by(History.subject_id)) if row_id is not None]


def list_history_nouns(session: Session) -> list[str]:
    """Return what has ever been changed, by name."""
    return list(session.scalars(select(History.noun).distinct().order_by(History.noun)))


def list_who_changed(session: Session) -> list[Choice]:
    """Return who has ever changed anything and has an account still, by name."""
    query = select(Account.id, Account.name).where(Account.id.in_(select(History.account_id).distinct()))
    return [Choice(*row) for row in session.execute(query.order_by(Account.name_key))]


def list_history_of(
    session: Session, account_id: int | None, *, noun: str | None = None, subject_id: int | None = None
) -> Sequence[History]:
    """Return the entries that an account made, or those of a thing, the oldest first."""
    return session.scalars(_entries(*_chosen(Wanted(noun, subject_id, account_id)))).all()


def list_history_to_hand_out(session: Session, account_id: int, grower_id: int | None) -> Sequence[History]:
    """Return the entries that an account made, and those of it and of its grower, the oldest first."""
    which = (History.account_id == account_id) | (History.noun == "account") & (History.subject_id == account_id)
    if grower_id is not None:
        which |= (History.noun == "grower") & (History.subject_id == grower_id)
    return session.scalars(_entries(which)).all()


def list_history_naming(session: Session, names: Sequence[str]) -> Iterable[History]:
    """Yield the entries in which one of these names stands as a whole value, or is what the thing is called."""
    if not names:
        return
    text = cast(History.changes, String)
    found = or_(History.subject.in_(names), *(text.contains(json.dumps(name), autoescape=True) for name in names))
    ids = session.scalars(select(History.id).where(found).order_by(History.id)).all()
    for begin in range(0, len(ids), BATCH):
        yield from session.scalars(_entries(History.id.in_(ids[begin : begin + BATCH])))


def _entries(*which: ColumnElement[bool]) -> Select[History]:
    return select(History).where(*which).order_by(History.id)


def _chosen(wanted: Wanted) -> Iterable[ColumnElement[bool]]:
    pairs = zip((History.noun, History.subject_id, History.account_id), wanted, strict=True)
    return [column == value for column, value in pairs if value is not None]


def list_present_names(session: Session, wanted: dict[str, set[int]]) -> dict[tuple[str, int], str]:
    """Return what rows are called now, in one query.

    Args:
        session: Where to look.
        wanted: Row numbers by noun, as `app.storage.history.NOUNS` has them; those without a name are left out.

    Returns:
        The name by noun and row number, of those that are there.
    """
    queries = []
    for model, column in NAMED:
        ids = wanted.get(NOUNS[model])
        if ids:
            query = select(literal(NOUNS[model]), model.id, cast(column, String))
            queries.append(query.where(model.id.in_(sorted(ids))))
    if not queries:
        return {}
    return {(noun, row_id): name for noun, row_id, name in session.execute(union_all(*queries))}
