"""A backup opened, brought up to date, and put in the place of everything in a database."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection, delete, insert, select, text, update
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from app.storage.backup import BackupError, BackupFacts, check_backup
from app.storage.base import Base, table_of
from app.storage.engine import make_engine, reading
from app.storage.errors import DatabaseError
from app.storage.given_ids import raise_given_ids, read_given_ids
from app.storage.models import DataVersion, LastNumber
from app.storage.numbers import note_numbers
from app.storage.queries.version import hold_writes, renew_mark
from app.storage.schema import upgrade
from app.storage.tables import copy_tables, restart_ids
from app.storage.whole_files import passing_folder

# What SQLite keeps beside a database that is in use.
BESIDE = ("-wal", "-journal")


@contextmanager
def opened_backup(path: Path, room: Path) -> Iterator[tuple[BackupFacts, Connection]]:
    """Give what the check of a backup has found, and a connection to a copy of it with the newest schema.

    The file itself is only read: it may lie on a disk that cannot be written, and come from an older version.

    Args:
        path: The backup.
        room: A folder for the copy, which is gone afterwards.

    Raises:
        BackupError: It cannot be restored.
        OSError: It cannot be read, or there is no room for the copy.
    """
    with passing_folder(room) as folder:
        copied = folder / "backup.sqlite3"
        shutil.copyfile(path, copied)
        facts = check_backup(copied, named=path.name)
        for ending in BESIDE:
            beside = path.with_name(path.name + ending)
            if beside.exists() and beside.stat().st_size:
                raise BackupError(
                    f"{path.name} is in use, or was: {beside.name} beside it holds what is missing in it. "
                    "Make a backup with `traymates backup` and restore that."
                )
        engine = make_engine(f"sqlite:///{copied.as_posix()}")
        try:
            try:
                upgrade(engine)
            except (DBAPIError, DatabaseError, RuntimeError) as error:
                reason = f"{path.name} has schema {facts.revision} and cannot be brought up to date"
                raise BackupError(f"{reason}: {error}") from error
            with reading(), engine.connect() as connection:
                yield facts, connection
        finally:
            engine.dispose()


def hold_everything(session: Session) -> None:
    """Keep everybody else from writing anything until the session's transaction ends; they can read."""
    hold_writes(session)  # first, as everybody else does
    connection = session.connection()
    if connection.dialect.name == "postgresql":  # on SQLite, who writes holds everything
        quote = connection.dialect.identifier_preparer.format_table
        names = ", ".join(quote(table) for table in Base.metadata.sorted_tables)
        connection.execute(text(f"LOCK TABLE {names} IN EXCLUSIVE MODE"))


def replace_everything(session: Session, source: Connection) -> dict[str, int]:
    """Put what another database holds in the place of all there is, in the session's transaction.

    Everybody is signed out, and one-time links and forms that were sent are forgotten. Numbers that were given,
    here or there, are not given again: they may stand on paper.

    Args:
        session: Its transaction takes it all; it should hold everything.
        source: A connection to a database with the newest schema.

    Returns:
        The number of rows of each table.
    """
    connection = session.connection()
    session.expire_all()
    note_numbers(session)
    numbers = _last_numbers(connection)
    for table in reversed(Base.metadata.sorted_tables):
        if table is not table_of(DataVersion):
            connection.execute(delete(table))
    counts = copy_tables(source, connection)
    _raise_last_numbers(connection, numbers)
    restart_ids(session)
    raise_given_ids(connection, read_given_ids(source))
    renew_mark(session)
    return counts


def _last_numbers(connection: Connection) -> dict[str, int]:
    table = table_of(LastNumber)
    return {row.kind: row.last for row in connection.execute(select(table))}


def _raise_last_numbers(connection: Connection, numbers: dict[str, int]) -> None:
    table = table_of(LastNumber)
    here = _last_numbers(connection)
    for kind, last in numbers.items():
        if kind not in here:
            connection.execute(insert(table).values(kind=kind, last=last))
        elif here[kind] < last:
            connection.execute(update(table).where(table.c.kind == kind).values(last=last))
