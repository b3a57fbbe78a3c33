"""How a database is opened: one SQLite library, its safe settings, and who may write when."""

from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pysqlite3.dbapi2
from sqlalchemy import Engine, create_engine, event, make_url

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sqlalchemy import Connection
    from sqlalchemy.engine.interfaces import DBAPIConnection
    from sqlalchemy.pool import ConnectionPoolEntry

BUSY_TIMEOUT_MS = 5_000

_reading: ContextVar[bool] = ContextVar("reading", default=False)


def set_reading(value: bool) -> None:  # noqa: FBT001 - a switch, set once at the start of a request
    """Say whether the transactions begun from here on only read.

    A reader begins without a lock. Everyone else takes SQLite's write lock at once, since a
    transaction that reads first and writes later fails under load, whatever its time-out.
    """
    _reading.set(value)


def is_reading() -> bool:
    """Return whether transactions begun now only read."""
    return _reading.get()


@contextmanager
def reading() -> "Iterator[None]":
    """Begin transactions inside the block as readers."""
    token = _reading.set(True)
    try:
        yield
    finally:
        _reading.reset(token)


def engine_options(url: str) -> dict[str, Any]:
    """Return what `create_engine` needs for a database address, the address included.

    Args:
        url: A database address, `sqlite:///...` or `postgresql+psycopg://...`.
    """
    address = make_url(url)
    if address.get_backend_name() == "sqlite":
        if address.database not in {None, "", ":memory:"} and "uri" not in address.query:
            # From where the command was called; the web library would take the instance folder, and find another file.
            address = address.set(database=str(Path(str(address.database)).absolute()))
        # The library that comes with an old system can lose a commit at a checkpoint (fixed in 3.51.3).
        return {"url": address, "module": pysqlite3.dbapi2}
    return {"url": url, "pool_pre_ping": True}


def make_engine(url: str) -> Engine:
    """Return an engine with the program's own settings."""
    engine = create_engine(**engine_options(url))
    listen(engine)
    return engine


def listen(engine: Engine) -> None:
    """Put the safe settings on every connection that the engine opens."""
    if engine.dialect.name == "sqlite":
        event.listen(engine, "connect", _on_connect)
        event.listen(engine, "begin", _begin_sqlite)
    else:
        event.listen(engine, "begin", _begin_postgresql)


def _on_connect(connection: "DBAPIConnection", _record: "ConnectionPoolEntry") -> None:
    connection.isolation_level = None  # transactions are begun below, not by the driver
    cursor = connection.cursor()
    for pragma in (
        "journal_mode = WAL",
        "foreign_keys = ON",
        "synchronous = FULL",
        f"busy_timeout = {BUSY_TIMEOUT_MS}",
        "journal_size_limit = 67108864",
    ):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _begin_sqlite(connection: "Connection") -> None:
    connection.exec_driver_sql("BEGIN" if _reading.get() else "BEGIN IMMEDIATE")


def _begin_postgresql(connection: "Connection") -> None:
    if _reading.get():
        # All queries of a page see one state of the garden, as they do on SQLite.
        connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
