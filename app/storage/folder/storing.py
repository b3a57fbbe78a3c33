"""Putting a garden folder into the database."""

from collections.abc import Callable, Iterable
from typing import Any

from sqlalchemy import bindparam, insert, select, update
from sqlalchemy.orm import Session

from app.storage.base import table_of
from app.storage.folder.columns import Values
from app.storage.folder.layout import CELLS_FILE, LAYOUTS, Layout
from app.storage.folder.reading import GardenFolder, read_usual_cards
from app.storage.folder.station_layout import RECORD_FILE
from app.storage.folder.tray_cells import all_cells
from app.storage.models import Container, Crop, FrostPoint, Garden
from app.storage.progress import Progress, Tell, silent
from app.storage.queries.record import replace_record
from app.storage.queries.version import renew_mark
from app.storage.tables import insert_columns, restart_ids


def store_folder(session: Session, folder: GardenFolder, tell: Tell = silent) -> dict[str, int]:
    """Insert everything that a folder holds into a database without a garden.

    Args:
        session: Its transaction takes it all; nothing is committed here.
        folder: A folder without faults.
        tell: Is called with the rows stored so far and the rows in all.

    Returns:
        The number of rows from each file that there was.
    """
    connection = session.connection()
    connection.execute(insert(table_of(Garden)), [{"id": 1, **folder.settings.garden}])
    points = [
        {"side": side, "chance_percent": percent, "month_day": month_day}
        for side, percent, month_day in folder.settings.frost_points
    ]
    if points:  # an empty list would be taken for one row of nothing
        connection.execute(insert(table_of(FrostPoint)), points)
    counts = {file: values.count for file, values in folder.values.items()}
    cells = all_cells(folder.values)
    total = sum(counts.values()) - counts.get(CELLS_FILE, 0) + len(cells["state"])
    total += 0 if folder.station is None else len(folder.station.record.day)
    told = Progress(tell, total)
    for layout in LAYOUTS:
        if layout.file == CELLS_FILE:
            insert_columns(session, layout.table, cells, told.add)
        elif layout.file in folder.values:
            _insert(session, layout, folder.values[layout.file], told.add)
    if folder.station is not None and len(folder.station.record.day):
        replace_record(session, folder.station.record, told.add)
        counts[RECORD_FILE] = len(folder.station.record.day)
    restart_ids(session)
    renew_mark(session)
    return counts


def store_usual_cards(session: Session) -> None:
    """Insert the containers and crop cards that come with the program, into a database that has neither."""
    if any(session.scalar(select(select(table_of(model)).exists())) for model in (Container, Crop)):
        return
    usual = read_usual_cards()
    for layout in LAYOUTS:
        if layout.file in usual:
            _insert(session, layout, usual[layout.file], Progress(silent, 0).add)
    restart_ids(session)
    renew_mark(session)


def _insert(session: Session, layout: Layout, values: Values, add: Callable[[int], None]) -> None:
    columns: dict[str, Iterable[Any]] = {"id": range(1, values.count + 1)}
    columns |= {column.attribute: values.columns[column.name] for column in layout.columns}
    # Rows may refer to later ones of their own file.
    within = {column.attribute: columns.pop(column.attribute) for column in layout.within}
    insert_columns(session, layout.table, columns, add)
    for attribute, references in within.items():
        found = [{"row": row, "to": to} for row, to in zip(columns["id"], references, strict=True) if to is not None]
        if found:
            statement = update(layout.table).where(layout.table.c.id == bindparam("row"))
            session.connection().execute(statement.values({attribute: bindparam("to")}), found)
