"""Whole tables: whether there is anything in them, emptying them, copying them, and their next ids."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import islice
from typing import Any

from sqlalchemy import Connection, Table, delete, func, insert, select, text
from sqlalchemy.orm import Session

from app.storage.base import Base, table_of
from app.storage.models import (
    Account,
    Batch,
    DataVersion,
    Feed,
    FeedEvent,
    History,
    House,
    LabelPrint,
    LabelStock,
    LastNumber,
    Printer,
    PublicAddress,
    Reminder,
)
from app.storage.numbers import note_numbers

BATCH_ROWS = 10_000
# They stay when a garden is loaded anew: people, printers, paper and labels that were made are still there.
OF_THE_HOUSE = tuple(
    table_of(model)
    for model in (
        *(Account, Batch, Feed, FeedEvent, History, House, LastNumber, Reminder),
        *(Printer, LabelStock, PublicAddress, LabelPrint),
    )
)
TRANSIENT = frozenset(table_of(mapper.class_) for mapper in Base.registry.mappers if mapper.class_.is_transient)


def _tables() -> list[Table]:
    """Return the tables that hold anything that people keep, those that others refer to first."""
    left_out = TRANSIENT | {table_of(DataVersion)}
    return [table for table in Base.metadata.sorted_tables if table not in left_out]


def _of_garden() -> list[Table]:
    """Return the tables that hold a garden, those that others refer to first."""
    return [table for table in _tables() if table not in OF_THE_HOUSE]


def delete_transient(session: Session) -> None:
    """Sign everybody out, and forget one-time links, failed tries and forms that were sent."""
    session.expire_all()
    for table in reversed(Base.metadata.sorted_tables):
        if table in TRANSIENT:
            session.connection().execute(delete(table))


def is_empty(session: Session) -> bool:
    """Return whether no table holds a row."""
    return not _has_rows(session, _tables())


def holds_garden(session: Session) -> bool:
    """Return whether any table holds a row of a garden."""
    return _has_rows(session, _of_garden())


def _has_rows(session: Session, tables: list[Table]) -> bool:
    connection = session.connection()
    return any(connection.execute(select(select(table).exists())).scalar_one() for table in tables)


def delete_all(session: Session) -> None:
    """Delete every row of the garden; the session forgets what it had loaded, numbers on paper count on."""
    session.expire_all()
    note_numbers(session)
    for table in reversed(_of_garden()):
        session.connection().execute(delete(table))


def restart_ids(session: Session) -> None:
    """Let PostgreSQL count on from the largest id of each table, which rows inserted with their ids leave behind.

    Where an id is never given twice, it counts on from the last one that was given. SQLite does so by itself.
    """
    connection = session.connection()
    if connection.dialect.name != "postgresql":
        return
    for table in _tables():
        if "id" not in table.c or table.c.id.autoincrement is False:
            continue
        largest = select(func.coalesce(func.max(table.c.id), 0) + 1).scalar_subquery()
        sequence = func.pg_get_serial_sequence(table.name, "id")
        is_used_once = table.dialect_options["sqlite"]["autoincrement"]
        following = func.greatest(largest, func.nextval(sequence)) if is_used_once else largest
        connection.execute(select(func.setval(sequence, following, text("false"))))


def insert_columns(
    session: Session,
    table: Table,
    columns: Mapping[str, Iterable[Any]],
    tell: Callable[[int], None] = lambda _rows: None,
) -> None:
    """Insert rows given by column, in batches, through the driver: building each row's parameters takes longest.

    Args:
        session: Its transaction takes it all.
        table: Where the rows go.
        columns: The values of each column, all equally many.
        tell: Is called with the number of rows of each batch.
    """
    connection = session.connection()
    statement = insert(table).compile(dialect=connection.dialect, column_keys=list(columns))
    order = statement.positiontup or list(columns)
    kinds = [table.c[name].type.dialect_impl(connection.dialect) for name in order]
    cells = [
        _for_driver(columns[name], kind.bind_processor(connection.dialect))
        for name, kind in zip(order, kinds, strict=True)
    ]
    rows: Iterator[Any] = zip(*cells, strict=True)
    if not statement.positional:
        rows = (dict(zip(order, row, strict=True)) for row in rows)
    while batch := list(islice(rows, BATCH_ROWS)):
        connection.exec_driver_sql(str(statement), batch)
        tell(len(batch))


def _for_driver(values: Iterable[Any], process: Callable[[Any], Any] | None) -> Iterable[Any]:
    """Return values as the driver takes them; each different one is turned once."""
    if process is None:
        return values
    values = list(values)
    turned = {value: process(value) for value in set(values)}
    return [turned[value] for value in values]


def copy_tables(source: Connection, target: Connection) -> dict[str, int]:
    """Copy every row with its id from one database into another one without rows.

    Returns:
        The number of rows of each table.
    """
    copy = _copy_as_stored if source.dialect.name == target.dialect.name == "sqlite" else _copy_by_type
    return {table.name: copy(source, target, table) for table in _tables()}


def _copy_by_type(source: Connection, target: Connection, table: Table) -> int:
    """Copy the rows of a table; each value is read as one engine stores it and written as the other does."""
    count = 0
    rows = source.execution_options(yield_per=BATCH_ROWS).execute(select(table).order_by(*table.primary_key))
    for batch in rows.mappings().partitions(BATCH_ROWS):
        target.execute(insert(table), [dict(row) for row in batch])
        count += len(batch)
    return count


def _copy_as_stored(source: Connection, target: Connection, table: Table) -> int:
    """Copy the rows of a table between databases that store values alike, many times faster."""
    count = 0
    query = select(table).order_by(*table.primary_key).compile(dialect=source.dialect)
    statement = str(insert(table).compile(dialect=target.dialect, column_keys=table.c.keys()))
    for batch in source.exec_driver_sql(str(query)).partitions(BATCH_ROWS):
        target.exec_driver_sql(statement, [tuple(row) for row in batch])
        count += len(batch)
    return count
