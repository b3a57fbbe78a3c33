"""Whether the program can do its work, as a machine that watches it asks; it says nothing about people."""

import shutil
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from app.services.backups import find_last
from app.storage.engine import wal_bytes
from app.storage.opening import DatabaseError, session_on
from app.storage.schema import find_revision, newest_revision

if TYPE_CHECKING:
    from app.storage import Engine

_newest = cache(newest_revision)
# Less than this, and the next backup or upgrade may not fit. [B]
LEAST_FREE_BYTES = 200 * 1024 * 1024


@dataclass(frozen=True, kw_only=True)
class Health:
    """What was found.

    Attributes:
        database: Whether the database answers.
        schema: Whether it holds what this version of the program writes.
        wal_bytes: Size of SQLite's write-ahead log; None for PostgreSQL or without an answer. [B]
        free_bytes: Room on the disk of the instance folder; None where that is not there. [B]
        backup_age_s: Time since the last good backup; None where there is none. [s]
    """

    database: bool
    schema: bool
    wal_bytes: int | None
    free_bytes: int | None
    backup_age_s: float | None

    @property
    def is_well(self) -> bool:
        """Whether requests can be answered."""
        return self.database and self.schema

    @property
    def is_short_of_room(self) -> bool:
        """Whether the disk is nearly full."""
        return self.free_bytes is not None and self.free_bytes < LEAST_FREE_BYTES


def check_health(engine: "Engine", instance: Path, backups: Path, now: float) -> Health:
    """Return how the program is; it only reads, and waits for no writer.

    Args:
        engine: The database's.
        instance: Folder of the machine's own files.
        backups: Folder of the automatic backups.
        now: The present moment. [s since 1970]
    """
    database, schema = True, False
    try:
        with session_on(engine, read_only=True) as session:
            schema = find_revision(session.connection()) == _newest()
    except DatabaseError:
        database = False
    last = find_last(backups, now)
    return Health(
        database=database,
        schema=schema,
        wal_bytes=wal_bytes(engine) if database else None,
        free_bytes=shutil.disk_usage(instance).free if instance.is_dir() else None,
        backup_age_s=None if last is None else max(0.0, now - last.at),
    )
