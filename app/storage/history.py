"""Who changed what and when, written down by itself with every change of what people keep."""

import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from enum import Enum
from typing import Any

from sqlalchemy import event, insert, inspect
from sqlalchemy.orm import Session

from app.core.words import Via
from app.storage.base import Base
from app.storage.models import (
    Account,
    CareRound,
    Container,
    Crop,
    Draft,
    FrostPoint,
    Garden,
    Grower,
    History,
    House,
    LabelStock,
    Printer,
    PublicAddress,
    SeedLot,
    SeedTest,
    Shelf,
    Sowing,
    SpareGift,
    SpareOffer,
    SpareRequest,
    Tray,
)

ACTOR = "actor"
BATCH = "batch"
LONGEST_SUBJECT = 200
LONGEST_VALUE = 200

# What is written down row by row, and what a row of it is called there.
NOUNS: dict[type[Base], str] = {
    Account: "account",
    CareRound: "care round",
    Container: "container",
    Crop: "crop card",
    Draft: "sowing of last season",
    FrostPoint: "frost date",
    Garden: "garden",
    Grower: "grower",
    House: "house",
    LabelStock: "label stock",
    Printer: "printer",
    PublicAddress: "address on paper",
    SeedLot: "seed lot",
    SeedTest: "test of seed",
    Shelf: "shelf",
    Sowing: "sowing",
    SpareGift: "gift of spare plants",
    SpareOffer: "offer of spare plants",
    SpareRequest: "request for spare plants",
    Tray: "tray",
}
# That they were changed is said, not from what to what.
SECRET = frozenset({"passphrase", "pin", "wifi_passphrase", "mail_passphrase"})
# They say nothing that a person would ask for.
LEFT_OUT = frozenset({"id", "name_key", "made_at", "record_mark"})


@dataclass(frozen=True)
class Actor:
    """Who makes the changes of a session.

    Attributes:
        account_id: The account; None for nobody who is signed in.
        via: The way in.
    """

    account_id: int | None
    via: Via


def set_actor(session: Session, actor: Actor) -> None:
    """Say who makes the changes of this session from here on."""
    session.info[ACTOR] = actor


def leave_actor(session: Session, account_id: int) -> None:
    """Let further changes of this session be nobody's, where they would be of an account that goes."""
    actor: Actor | None = session.info.get(ACTOR)
    if actor is not None and actor.account_id == account_id:
        set_actor(session, Actor(None, actor.via))


@contextmanager
def in_batch(session: Session, batch_id: int) -> Iterator[None]:
    """Note of all that is changed meanwhile that it was changed together."""
    session.flush()
    session.info[BATCH] = batch_id
    try:
        yield
        session.flush()
    finally:
        session.info.pop(BATCH, None)


def note_history(
    session: Session,
    noun: str,
    action: str,
    *,
    subject: str = "",
    subject_id: int | None = None,
    changes: Iterable[tuple[str, Any, Any]] = (),
) -> None:
    """Write down a change that no flush tells of, such as one statement over many rows.

    Args:
        session: Its transaction takes it.
        noun: What was changed.
        action: What was done to it, such as `added`, `changed` or `removed`.
        subject: What it is called.
        subject_id: Its id.
        changes: Column, value before and value after of each.
    """
    session.add(_row(session, noun, action, subject, subject_id, changes))


def note_many(
    session: Session, noun: str, action: str, rows: Iterable[tuple[int, str, Iterable[tuple[str, Any, Any]]]]
) -> None:
    """Write down what one statement has changed in many rows, in one statement.

    Args:
        session: Its transaction takes it.
        noun: What was changed.
        action: What was done to each.
        rows: Id, name and changes of each, as `note_history` takes them.
    """
    session.flush()
    names = ("at", "via", "account_id", "noun", "subject_id", "subject", "action", "changes", "batch_id")
    models = (_row(session, noun, action, name, row_id, changes) for row_id, name, changes in rows)
    values = [{column: getattr(model, column) for column in names} for model in models]
    if values:  # an empty list would be taken for one row of nothing
        session.execute(insert(History), values)


def _row(
    session: Session,
    noun: str,
    action: str,
    subject: str,
    subject_id: int | None,
    changes: Iterable[tuple[str, Any, Any]],
) -> History:
    actor: Actor = session.info.get(ACTOR, Actor(None, Via.PROGRAM))
    return History(
        at=time.time(),
        via=actor.via,
        account_id=actor.account_id,
        noun=noun,
        subject_id=subject_id,
        subject=subject[:LONGEST_SUBJECT],
        action=action,
        changes=[[column, plain_value(before), plain_value(after)] for column, before, after in changes],
        batch_id=session.info.get(BATCH),
    )


@event.listens_for(Session, "before_flush")
def _note_before_flush(session: Session, _context: object, _rows: object) -> None:
    """Write down what is changed and removed; what is added has no id yet."""
    for row in session.dirty:
        noun = NOUNS.get(type(row))
        if noun is not None and (changes := _changes(row)):
            session.add(_row(session, noun, "changed", _name(row), _id(row), changes))
    for row in session.deleted:
        noun = NOUNS.get(type(row))
        if noun is not None:
            session.add(_row(session, noun, "removed", _name(row), _id(row), _gone(row)))


@event.listens_for(Session, "after_flush")
def _note_after_flush(session: Session, _context: object) -> None:
    """Write down what was added; the next flush stores it."""
    for row in list(session.new):
        noun = NOUNS.get(type(row))
        if noun is not None:
            session.info.setdefault(_ADDED, []).append(
                _row(session, noun, "added", _name(row), _id(row), _columns(row))
            )


def _note_old_value(_row: Base, _new: object, _old: object, _event: object) -> None:
    """Do nothing: that somebody listens for the old value makes the session read it before it is replaced."""


for _model in NOUNS:
    for _column in inspect(_model).column_attrs:
        event.listen(getattr(_model, _column.key), "set", _note_old_value, active_history=True)


_ADDED = "rows of the history that wait for the end of the flush"


@event.listens_for(Session, "after_flush_postexec")
def _store_added(session: Session, _context: object) -> None:
    session.add_all(session.info.pop(_ADDED, []))


@event.listens_for(Session, "after_rollback")
def _forget_added(session: Session) -> None:
    session.info.pop(_ADDED, None)


def _changes(row: Base) -> list[tuple[str, Any, Any]]:
    found = []
    state = inspect(row)
    for column in state.mapper.column_attrs:
        if column.key in LEFT_OUT:
            continue
        history = state.attrs[column.key].history
        if history.has_changes():
            before = history.deleted[0] if history.deleted else None
            after = history.added[0] if history.added else None
            if before != after:
                found.append(_shown(column.key, before, after))
    return found


def _columns(row: Base) -> list[tuple[str, Any, Any]]:
    """Return the columns of a new row that hold anything."""
    values = ((column.key, getattr(row, column.key)) for column in inspect(row).mapper.column_attrs)
    return [_shown(name, None, value) for name, value in values if name not in LEFT_OUT and not _is_nothing(value)]


def _gone(row: Base) -> list[tuple[str, Any, Any]]:
    """Return the columns of a row that is removed, as they are stored."""
    found, state = [], inspect(row)
    for column in state.mapper.column_attrs:
        history = state.attrs[column.key].load_history()
        before = [*(history.deleted or ()), *(history.unchanged or ())]
        if before and column.key not in LEFT_OUT and not _is_nothing(before[0]):
            found.append(_shown(column.key, before[0], None))
    return found


def _is_nothing(value: Any) -> bool:  # noqa: ANN401 - any column's
    return value is None or value is False or value == ""


def _shown(column: str, before: Any, after: Any) -> tuple[str, Any, Any]:  # noqa: ANN401 - any column's
    if column in SECRET:
        return column, None, None
    return column, before, after


def plain_value(value: Any) -> Any:  # noqa: ANN401 - any column's
    """Return a value as JSON holds it, cut if it is long."""
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, str) and len(value) > LONGEST_VALUE:
        return value[: LONGEST_VALUE - 1] + "…"
    return value


def _name(row: Base) -> str:
    for column in ("name", "number", "address"):
        value = getattr(row, column, None)
        if value is not None:
            return str(value)
    if isinstance(row, CareRound):
        return row.date.isoformat()
    if isinstance(row, FrostPoint):
        return f"{row.side} {row.chance_percent} %"
    return ""


def _id(row: Base) -> int | None:
    value = getattr(row, "id", None)
    return value if isinstance(value, int) else None
