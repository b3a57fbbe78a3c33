"""Putting a garden folder into the database."""

from collections.abc import Iterable
from typing import Any

from sqlalchemy import insert
from sqlalchemy.orm import Session

from app.storage.base import table_of
from app.storage.folder.layout import LAYOUTS
from app.storage.folder.reading import GardenFolder
from app.storage.models import FrostPoint, Garden
from app.storage.queries.version import renew_mark
from app.storage.tables import insert_columns, restart_ids


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
            insert_columns(session, layout.table, columns)
    restart_ids(session)
    renew_mark(session)
    return counts
