"""The mark that says whether anything has changed since somebody last looked."""

import secrets

from sqlalchemy import event, select, update
from sqlalchemy.orm import ORMExecuteState, Session

from app.storage.engine import is_reading
from app.storage.models import DataVersion

_CHANGED = "changed since the mark was renewed"
_SEEN = "the mark that a reading transaction has seen"
# A plain string: every page asks this, and a statement built by the library costs ten times as much.
_MARK_SQL = "SELECT mark FROM data_version WHERE id = 1"
_HELD = select(DataVersion.mark).with_for_update()


def get_mark(session: Session) -> str:
    """Return the present mark; equal marks mean equal data, in whichever process they were read.

    A transaction that only reads sees one state of the data, and asks for its mark once.
    """
    transaction, mark = session.info.get(_SEEN, (None, ""))
    if transaction is not None and transaction is session.get_transaction():
        return str(mark)
    mark = str(session.connection().exec_driver_sql(_MARK_SQL).scalar_one())
    note_mark(session, mark)
    return mark


def note_mark(session: Session, mark: str) -> None:
    """Keep the mark that a query of this transaction has read along with something else."""
    if is_reading():
        session.info[_SEEN] = (session.get_transaction(), mark)


def renew_mark(session: Session) -> None:
    """Give the data a mark that no data had before.

    The session does this by itself for whatever passes through the mapped classes; only statements
    sent to the driver by hand need the call.
    """
    session.info.pop(_SEEN, None)
    session.execute(update(DataVersion).values(mark=secrets.token_hex(16)), execution_options={"mark": True})


def has_unmarked_changes(session: Session) -> bool:
    """Return whether this session has changed rows that the mark in the database does not yet tell of."""
    session.flush()
    return bool(session.info.get(_CHANGED))


@event.listens_for(Session, "after_flush")
def _note_flush(session: Session, _context: object) -> None:
    if any(row.marks_data for rows in (session.new, session.dirty, session.deleted) for row in rows):
        session.info[_CHANGED] = True


@event.listens_for(Session, "do_orm_execute")
def _note_statement(state: ORMExecuteState) -> None:
    changes = state.is_insert or state.is_update or state.is_delete
    mapper = state.bind_mapper
    marks_data = mapper is None or mapper.class_.marks_data
    if changes and marks_data and not state.execution_options.get("mark"):
        state.session.info[_CHANGED] = True


@event.listens_for(Session, "before_commit")
def _renew_before_commit(session: Session) -> None:
    session.flush()
    if session.info.pop(_CHANGED, False):
        renew_mark(session)


@event.listens_for(Session, "after_rollback")
def _forget_after_rollback(session: Session) -> None:
    session.info.pop(_CHANGED, None)


def hold_writes(session: Session) -> None:
    """Wait for other writers, and let none in until the transaction ends.

    Whoever looks first and writes after (a free name, the next key, what nobody depends on) calls it before
    looking. On SQLite every writer has done so already by beginning; PostgreSQL locks the row of the mark.
    """
    if session.connection().dialect.name == "postgresql":
        session.connection().execute(_HELD)
        session.expire_all()  # what was read before the wait may have changed during it
