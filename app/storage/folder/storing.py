"""Putting a garden folder into the database."""

from collections.abc import Callable, Iterable, Iterator
from itertools import islice
from typing import Any

from sqlalchemy import Table, insert
from sqlalchemy.orm import Session

from app.storage.base import table_of
from app.storage.folder.layout import LAYOUTS
from app.storage.folder.reading import GardenFolder
from app.storage.models import FrostPoint, Garden
from app.storage.queries.version import renew_mark
from app.storage.tables import restart_ids

BATCH_ROWS = 10_000


def store_folder(session: Session, folder: GardenFolder) -> dict[str, int]:
    """Insert everything that a folder holds into a database without a garden.

    Args:
        session: Its transaction takes it all; nothing is committed here.
        folder: A folder without faults.

    Returns:
        The number of rows from each file.
    """
    connection = session.connection()
    connection.execute(insert(table_of(Garden)), [{"id": 1, **folder.settings.garden}])
    points = [
        {"side": side, "chance_percent": percent, "month_day": month_day}
        for side, percent, month_day in folder.settings.frost_points
    ]
    connection.execute(insert(table_of(FrostPoint)), points)
    counts = {}
    for layout in LAYOUTS:
        values = folder.values.get(layout.file)
        counts[layout.file] = 0 if values is None else values.count
        if values is not None:
            columns: dict[str, Iterable[Any]] = {"id": range(1, values.count + 1)}
            columns |= {column.attribute: values.columns[column.name] for column in layout.columns}
            _insert(session, layout.table, columns)
    restart_ids(session)
    renew_mark(session)
    return counts


def _insert(session: Session, table: Table, columns: dict[str, Iterable[Any]]) -> None:
    """Insert rows given by column, in batches, through the driver: building each row's parameters takes longest."""
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


def _for_driver(values: Iterable[Any], process: Callable[[Any], Any] | None) -> Iterable[Any]:
    """Return values as the driver takes them; each different one is turned once."""
    if process is None:
        return values
    values = list(values)
    turned = {value: process(value) for value in set(values)}
    return [turned[value] for value in values]
