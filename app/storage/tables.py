"""Whole tables: whether there is anything in them, emptying them, copying them, and their next ids."""

from sqlalchemy import Connection, Table, delete, func, insert, select, text
from sqlalchemy.orm import Session

from app.storage.base import Base, table_of
from app.storage.models import DataVersion

BATCH_ROWS = 10_000


def _tables() -> list[Table]:
    """Return the tables that hold a garden, those that others refer to first."""
    return [table for table in Base.metadata.sorted_tables if table is not table_of(DataVersion)]


def is_empty(session: Session) -> bool:
    """Return whether no table holds a row of a garden."""
    connection = session.connection()
    return not any(connection.execute(select(select(table).exists())).scalar_one() for table in _tables())


def delete_all(session: Session) -> None:
    """Delete every row of the garden; the session forgets what it had loaded."""
    session.expire_all()
    for table in reversed(_tables()):
        session.connection().execute(delete(table))


def restart_ids(session: Session) -> None:
    """Let PostgreSQL count on from the largest id of each table, which rows inserted with their ids leave behind.

    SQLite does so by itself.
    """
    connection = session.connection()
    if connection.dialect.name != "postgresql":
        return
    for table in _tables():
        if table.c.id.autoincrement is False:
            continue
        largest = select(func.coalesce(func.max(table.c.id), 0) + 1).scalar_subquery()
        sequence = func.pg_get_serial_sequence(table.name, "id")
        connection.execute(select(func.setval(sequence, largest, text("false"))))


def copy_tables(source: Connection, target: Connection) -> dict[str, int]:
    """Copy every row with its id from one database into another one without rows.

    Returns:
        The number of rows of each table.
    """
    counts = {}
    for table in _tables():
        counts[table.name] = 0
        rows = source.execution_options(yield_per=BATCH_ROWS).execute(select(table).order_by(table.c.id))
        for batch in rows.mappings().partitions(BATCH_ROWS):
            target.execute(insert(table), [dict(row) for row in batch])
            counts[table.name] += len(batch)
    return counts
