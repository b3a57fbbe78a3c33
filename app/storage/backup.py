"""A copy of a whole database as one file, taken while people write, and the check of such a file.

The file is an SQLite database of any schema that the program knows, whichever engine it was taken from.
"""

import errno
import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pysqlite3.dbapi2
from sqlalchemy import (
    Connection,
    Engine,
    MetaData,
    NullPool,
    Table,
    create_engine,
    func,
    insert,
    inspect,
    select,
    table,
)
from sqlalchemy.exc import DBAPIError

from app.language import N_
from app.storage.engine import engine_options, make_engine, reading
from app.storage.errors import FullError
from app.storage.given_ids import raise_given_ids, read_given_ids
from app.storage.schema import find_revision, known_revisions, upgrade
from app.storage.trouble import of_sqlite
from app.storage.whole_files import written_aside

BATCH_ROWS = 10_000
VERSION_TABLE = "alembic_version"

# The head of an SQLite file, as sqlite.org describes it in "Database File Format", 1.3.
MAGIC = b"SQLite format 3\0"
HEAD_BYTES = 100
PAGE_SIZE_AT, FORMAT_AT, PAGES_AT = slice(16, 18), slice(18, 20), slice(28, 32)
LARGEST_PAGE = 65_536  # is written as 1
ROLLBACK_FORMAT = b"\x01\x01"  # a database in use has 2, for its write-ahead log
"""A finished backup needs no second file beside it; a database copied by hand says here that it does."""

NO_ROOM = frozenset({"database or disk is full", "disk I/O error"})


# Why a backup that the program makes by itself may fail. It is kept and logged in English.
THE_COPY = N_("the copy")
NO_GARDEN = N_("The database holds no garden yet, so there is nothing to back up.")
OTHER_ROWS = N_("The copy holds other rows than the database did when it was taken.")
NOT_COPIED = N_("The database cannot be copied: %(reason)s.")
LOOSE = N_("%(name)s is damaged: a row of %(table)s belongs to a row that is missing.")
DAMAGED = N_("%(name)s is damaged: %(fault)s.")
FAULTS = (THE_COPY, NO_GARDEN, OTHER_ROWS, NOT_COPIED, LOOSE, DAMAGED)


class BackupError(Exception):
    """A file is no backup that can be restored; the message says why, and begins with what the file is."""


@dataclass(frozen=True, kw_only=True)
class BackupFacts:
    """What a check of a backup has found.

    Attributes:
        revision: Its schema.
        counts: The number of rows of each table.
        size_bytes: The size of the file. [B]
    """

    revision: str
    counts: dict[str, int]
    size_bytes: int

    @property
    def rows(self) -> int:
        """The number of rows of all tables."""
        return sum(self.counts.values())


def copy_database(engine: Engine, path: Path) -> BackupFacts:
    """Copy a database into a file, as it is at one moment; nobody who reads or writes waits for it.

    The copy is opened and checked before it gets its name, and holds as many rows of each table as the database
    had at that moment. It is readable by its owner alone.

    Args:
        engine: An engine of the database, whatever schema of the program it has.
        path: The file; one that is there is replaced, once the copy is whole.

    Returns:
        What the check of the copy has found.

    Raises:
        OSError: The file cannot be written, or there is no room for it.
        BackupError: The database holds nothing of this program, or is damaged, so that no copy of it can be used.
        DatabaseError: The database cannot be reached or read.
    """
    with written_aside(path) as aside, _copying_words(path):
        with reading(), engine.connect() as source:
            if find_revision(source) is None:
                raise BackupError(NO_GARDEN)
            counts = _count_rows(source, inspect(source).get_table_names())
            if source.dialect.name == "sqlite":
                _copy_pages(source, aside)
            else:
                _copy_rows(source, aside)
        facts = check_backup(aside, named=THE_COPY)
        if facts.counts != counts:
            raise BackupError(OTHER_ROWS)
    return facts


def check_backup(path: Path, *, named: str | None = None) -> BackupFacts:
    """Open a backup as a restore would, and check that it is whole and of this program.

    Args:
        path: The file.
        named: What it is called in messages; its name by default.

    Raises:
        BackupError: It cannot be restored.
        OSError: It cannot be read.
    """
    name = named or path.name
    _check_head(path, name)
    engine = _plain_engine(path)
    try:
        with engine.connect() as connection:
            connection.exec_driver_sql("PRAGMA query_only = ON")
            faults = connection.exec_driver_sql("PRAGMA integrity_check").scalars().all()
            if faults != ["ok"]:
                raise BackupError(DAMAGED % {"name": name, "fault": faults[0]})
            names = inspect(connection).get_table_names()
            revision = find_revision(connection)
            if revision is None:
                raise BackupError(f"{name} is no backup of a garden: it is a database of something else.")
            if revision not in known_revisions():
                raise BackupError(
                    f"{name} comes from a newer version of the program: its schema {revision} is not known here. "
                    "Install that version or a later one, then restore."
                )
            loose = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
            if loose:
                raise BackupError(LOOSE % {"name": name, "table": loose[0][0]})
            counts = _count_rows(connection, names)
    except DBAPIError as error:
        raise BackupError(DAMAGED % {"name": name, "fault": error.orig}) from error
    finally:
        engine.dispose()
    return BackupFacts(revision=revision, counts=counts, size_bytes=path.stat().st_size)


@contextmanager
def _copying_words(path: Path) -> Iterator[None]:
    """Say what goes wrong with a copy as an error of its file, where it is one."""
    try:
        yield
    except (DBAPIError, pysqlite3.dbapi2.Error) as error:
        cause: Any = error.orig if isinstance(error, DBAPIError) else error
        # The driver gives no code for what goes wrong between two databases, only the words that SQLite has for it.
        if of_sqlite(getattr(cause, "sqlite_errorcode", 0)) is FullError or str(cause) in NO_ROOM:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(path.parent)) from error
        raise BackupError(NOT_COPIED % {"reason": cause}) from error


def _check_head(path: Path, name: str) -> None:
    """Raise an error unless the file begins as a finished backup does, and is as long as it says."""
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
    if not head.startswith(MAGIC):
        raise BackupError(f"{name} is no backup: a backup is a file that `traymates backup` has written.")
    size_bytes, page_bytes = path.stat().st_size, int.from_bytes(head[PAGE_SIZE_AT], "big")
    page_bytes = LARGEST_PAGE if page_bytes == 1 else page_bytes
    wanted_bytes = page_bytes * int.from_bytes(head[PAGES_AT], "big")
    if len(head) < HEAD_BYTES or size_bytes < wanted_bytes:
        raise BackupError(
            f"{name} ends too early: it has {size_bytes:,} of {wanted_bytes:,} bytes. "
            "It was not copied to its end; take another copy of it, or another backup."
        )
    if head[FORMAT_AT] != ROLLBACK_FORMAT:
        raise BackupError(
            f"{name} is a database file copied by hand, not a backup: what was written last may be missing in it. "
            "Make a backup with `traymates backup` and restore that."
        )


def _plain_engine(path: Path) -> Engine:
    """Return an engine that leaves the file as it is: no write-ahead log, nothing beside it."""
    return create_engine(**engine_options(f"sqlite:///{path.absolute().as_posix()}"), poolclass=NullPool)


def _count_rows(connection: Connection, names: Iterable[str]) -> dict[str, int]:
    return {
        name: connection.execute(select(func.count()).select_from(table(name))).scalar_one()
        for name in sorted(names)
        if name != VERSION_TABLE
    }


def _copy_pages(source: Connection, path: Path) -> None:
    """Copy an SQLite database page by page, in one step: one of several would begin anew whenever somebody writes."""
    engine = _plain_engine(path)
    try:
        with engine.connect() as target:
            driver = target.connection.driver_connection
            driver.isolation_level = None  # type: ignore[union-attr]  # an open connection has its driver
            target.exec_driver_sql("PRAGMA synchronous = OFF")  # it is synced once it is whole
            source.connection.driver_connection.backup(driver, pages=-1)  # type: ignore[union-attr]  # same
            target.exec_driver_sql("PRAGMA journal_mode = DELETE")  # one file, without a log beside it
    finally:
        engine.dispose()


def _copy_rows(source: Connection, path: Path) -> None:
    """Copy every row of every table into an SQLite file of the same schema."""
    engine = make_engine(f"sqlite:///{path.absolute().as_posix()}")
    try:
        upgrade(engine, find_revision(source) or "head")
        with engine.begin() as target:
            for into in _tables_of(target):
                target.execute(into.delete())  # what migrations have put there
                rows = source.execution_options(yield_per=BATCH_ROWS).execute(select(into))
                for batch in rows.mappings().partitions(BATCH_ROWS):
                    target.execute(insert(into), [dict(row) for row in batch])
            raise_given_ids(target, read_given_ids(source))
    finally:
        engine.dispose()
    engine = _plain_engine(path)
    with engine.connect() as target:
        target.exec_driver_sql("PRAGMA journal_mode = DELETE")
    engine.dispose()


def _tables_of(connection: Connection) -> list[Table]:
    """Return the tables that a database has, those that others refer to first."""
    metadata = MetaData()
    metadata.reflect(connection)
    return [found for found in metadata.sorted_tables if found.name != VERSION_TABLE]
