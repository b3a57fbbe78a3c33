"""Writing a garden folder from the database."""

import os
import shutil
import tempfile
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.storage.base import table_of
from app.storage.folder.cells import Reference
from app.storage.folder.faults import FolderError
from app.storage.folder.layout import LAYOUTS, SETTINGS_FILE, Column, Layout
from app.storage.folder.settings_file import settings_text
from app.storage.folder.station_layout import RECORD_FILE, RECORD_LAYOUT
from app.storage.models import Garden
from app.storage.queries.garden import list_frost_points

OUR_FILES = frozenset({SETTINGS_FILE, *(layout.file for layout in LAYOUTS), RECORD_FILE})


class FolderInUseError(FolderError):
    """The folder to write into has files that would be lost."""


def write_folder(session: Session, folder: Path, *, replace: bool = False) -> dict[str, int]:
    """Write the garden into a folder that is new or empty; either all of it is there afterwards or nothing.

    Args:
        session: Where the garden is.
        folder: The folder.
        replace: Whether the files of an earlier garden folder may go. Files that are none of ours never do.

    Returns:
        The number of rows in each file.

    Raises:
        FolderInUseError: The folder has files in it.
        FolderError: The database holds no garden, or the folder cannot be written.
    """
    folder = folder.absolute()
    try:
        _check_target(folder, replace=replace)
        files, counts = folder_files(session)
        _swap_in(folder, files)
    except OSError as error:
        raise FolderError(f"The folder {folder} cannot be written: {error.strerror}.") from None
    return counts


def folder_files(session: Session) -> tuple[dict[str, bytes], dict[str, int]]:
    """Return the contents of each file of the garden's folder, and the number of rows of each CSV file.

    Raises:
        FolderError: The database holds no garden.
    """
    garden = session.connection().execute(select(table_of(Garden))).mappings().one_or_none()
    if garden is None:
        raise FolderError("The database holds no garden yet; there is nothing to write.")
    files = {SETTINGS_FILE: settings_text(dict(garden), list_frost_points(session)).encode()}
    counts = {}
    names: dict[str, dict[int, Any]] = {}
    for layout in LAYOUTS:
        files[layout.file], counts[layout.file] = _file_text(layout, _cells(session, layout, names))
    if garden["record_mark"] is not None:
        days = RECORD_LAYOUT.table
        rows = session.connection().execute(select(days).order_by(*days.primary_key)).all()
        cells = [
            _column_cells(column.kind.write, values)
            for column, values in zip(RECORD_LAYOUT.columns, zip(*rows, strict=True), strict=True)
        ]
        files[RECORD_FILE], counts[RECORD_FILE] = _file_text(RECORD_LAYOUT, cells)
    return files, counts


def _file_text(layout: Layout, columns: list[list[str]]) -> tuple[bytes, int]:
    lines = [",".join(column.name for column in layout.columns), *map(",".join, zip(*columns, strict=True))]
    return ("\n".join(lines) + "\n").encode(), len(lines) - 1


def _cells(session: Session, layout: Layout, names: dict[str, dict[int, Any]]) -> list[list[str]]:
    """Return the cells of each column, and keep the rows' names for the files that refer to them."""
    table = layout.table
    wanted = [table.c[column.attribute] for column in layout.columns]
    if layout.is_named:
        wanted.append(table.c.id)
    query = select(*wanted).where(layout.written).order_by(*(layout.order or [table.c.id]))
    rows = session.connection().execute(query).all()
    columns = list(zip(*rows, strict=True)) if rows else [()] * len(wanted)
    if layout.is_named:
        names[layout.file] = dict(zip(columns.pop(), columns[0], strict=True))
    return [
        _column_cells(_writer(column, names), values) for column, values in zip(layout.columns, columns, strict=True)
    ]


def _writer(column: Column, names: dict[str, dict[int, Any]]) -> Callable[[Any], str]:
    kind = column.kind
    if isinstance(kind, Reference) and kind.file in names:
        known = names[kind.file]
        return lambda value: kind.write(known[value])
    return kind.write


def _column_cells(write: Callable[[Any], str], values: Iterable[Any]) -> list[str]:
    """Return the cells of a column; each different value is written once."""
    written = {value: "" if value is None else _quoted(write(value)) for value in set(values)}
    return [written[value] for value in values]


def _quoted(cell: str) -> str:
    """Return a cell with quotes around it where a reader would otherwise take it apart."""
    if any(character in cell for character in ',"\r\n'):
        return '"' + cell.replace('"', '""') + '"'
    return cell


def _check_target(folder: Path, *, replace: bool) -> None:
    if not folder.exists():
        return
    if not folder.is_dir():
        raise FolderInUseError(f"{folder} is a file; give a new or empty folder.")
    names = sorted(path.name for path in folder.iterdir())
    strange = [name for name in names if name not in OUR_FILES]
    if strange:
        raise FolderInUseError(
            f"The folder {folder} has files that are not of a garden folder ({_listed(strange)}); "
            "give a new or empty folder."
        )
    if names and not replace:
        raise FolderInUseError(f"The folder {folder} holds a garden folder already; give a new folder, or --replace.")


def _listed(names: Sequence[str], most: int = 3) -> str:
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def _swap_in(folder: Path, files: dict[str, bytes]) -> None:
    """Write the files beside the folder and put them in its place as a whole."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    aside = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    try:
        new, old = aside / "new", aside / "old"
        new.mkdir()
        for name, content in files.items():
            with (new / name).open("wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
        if folder.exists():
            folder.rename(old)
        try:
            new.rename(folder)
        except OSError:
            if old.exists():
                old.rename(folder)
            raise
    finally:
        shutil.rmtree(aside, ignore_errors=True)
