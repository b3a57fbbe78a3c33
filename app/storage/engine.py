"""How a database is opened: one SQLite library, its safe settings, and who may write when."""

import os
import weakref
from collections.abc import Callable
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pysqlite3.dbapi2
from sqlalchemy import Engine, create_engine, event, make_url
from sqlalchemy.exc import InternalError, OperationalError
from sqlalchemy.orm import Session

from app.storage.errors import BusyError, DatabaseError, ReadOnlyError
from app.storage.queue import QueueTimeoutError, WriteQueue, queue_of
from app.storage.trouble import of_file, of_postgresql, of_sqlite, said

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sqlalchemy import Connection, Pool
    from sqlalchemy.engine import ExceptionContext
    from sqlalchemy.engine.interfaces import DBAPIConnection
    from sqlalchemy.pool import ConnectionPoolEntry

BUSY_TIMEOUT_MS = 5_000
# How long PostgreSQL waits for a row that somebody else has locked, and for one who is silent inside a transaction.
LOCK_TIMEOUT_MS = 5_000
SILENT_TIMEOUT_MS = 300_000

# The first of each line of releases without the fault at which a checkpoint loses a commit (sqlite.org, wal.html,
# "The WAL Reset Bug"); what came before 3.7.0 has no write-ahead log.
SOUND_SQLITE = ((3, 44, 6), (3, 50, 7), (3, 51, 3))

_reading: ContextVar[bool] = ContextVar("reading", default=False)
_reads_after_commit: ContextVar[bool] = ContextVar("reads_after_commit", default=False)


class OldLibraryError(DatabaseError):
    """The SQLite library can lose what was written."""


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
    with _said(_reading, value=True):
        yield


@contextmanager
def writing() -> "Iterator[None]":
    """Begin transactions inside the block as writers, whatever holds around it."""
    with _said(_reading, value=False), _said(_reads_after_commit, value=False):
        yield


@contextmanager
def reading_after_commit() -> "Iterator[None]":
    """Begin transactions as readers once a session inside the block has committed; leave it so when the block ends.

    What is saved is saved: whoever then looks at it to say so must not wait for a turn to write, or be refused one.
    """
    with _said(_reads_after_commit, value=True):
        yield


@contextmanager
def _said(what: ContextVar[bool], *, value: bool) -> "Iterator[None]":
    token = what.set(value)
    try:
        yield
    finally:
        what.reset(token)


def require_sound_sqlite(version: tuple[int, ...] = pysqlite3.dbapi2.sqlite_version_info) -> None:
    """Raise OldLibraryError where an SQLite library has the fault at which a checkpoint loses a commit.

    Args:
        version: Of the library, by default of the one that is used.
    """
    is_sound = version >= SOUND_SQLITE[-1] or any(
        fixed <= version and fixed[:2] == version[:2] for fixed in SOUND_SQLITE
    )
    if not is_sound:
        raise OldLibraryError(
            f"SQLite {'.'.join(map(str, version))} can lose what was written, and is not used. "
            "Install the program's packages again as requirements.lock names them: pysqlite3 brings a newer one."
        )


class QueuedConnection(pysqlite3.dbapi2.Connection):  # type: ignore[misc] # the library comes without types
    """A connection whose writing transactions wait in the queue of their database, and leave it when they end.

    However one ends (commit, rollback, return to the pool, being closed or swept up), its connection sees it.
    """

    _queue: WriteQueue | None = None
    path: str | None = None

    def wait_to_write(self) -> None:
        """Wait for the turn to write; it ends with the transaction.

        Raises:
            QueueTimeoutError: The turn did not come in time.
            OSError: The files beside the database cannot be made or locked.
        """
        queue = queue_of(self.path)
        queue.enter()
        self._queue = queue

    def commit(self) -> None:
        """Commit, or roll back: after a failed commit the library asks for no rollback, and the lock would stay."""
        try:
            super().commit()
        except BaseException:
            self.rollback()
            raise
        self._leave_if_over()

    def rollback(self) -> None:
        """Roll back."""
        try:
            super().rollback()
        finally:
            self._leave_if_over()

    def close(self) -> None:
        """Close the connection."""
        try:
            super().close()
        finally:
            self._leave()

    def __del__(self) -> None:
        """Leave the queue where nobody has closed the connection."""
        if self._queue is not None:
            self.close()

    def _leave_if_over(self) -> None:
        if self._queue is not None and not self.in_transaction:
            self._leave()

    def _leave(self) -> None:
        queue, self._queue = self._queue, None
        if queue is not None:
            queue.leave()


def _connect(path: str | None) -> Callable[..., QueuedConnection]:
    def make(*args: Any, **kwargs: Any) -> QueuedConnection:  # noqa: ANN401 - as the library has it
        connection = QueuedConnection(*args, **kwargs)
        connection.path = path
        return connection

    return make


def engine_options(url: str) -> dict[str, Any]:
    """Return what `create_engine` needs for a database address, the address included.

    Args:
        url: A database address, `sqlite:///...` or `postgresql+psycopg://...`.

    Raises:
        OldLibraryError: The SQLite library can lose what was written.
    """
    address = make_url(url)
    if address.get_backend_name() == "sqlite":
        require_sound_sqlite()
        if address.database not in {None, "", ":memory:"} and "uri" not in address.query:
            # From where the command was called; the web library would take the instance folder, and find another file.
            address = address.set(database=str(Path(str(address.database)).absolute()))
        # One library in the process: two would undo each other's locks.
        return {
            "url": address,
            "module": pysqlite3.dbapi2,
            "connect_args": {"factory": _connect(address.database)},
        }
    return {"url": url, "pool_pre_ping": True}


def make_engine(url: str) -> Engine:
    """Return an engine with the program's own settings."""
    engine = create_engine(**engine_options(url))
    listen(engine)
    return engine


def listen(engine: Engine) -> None:
    """Put the safe settings on every connection that the engine opens, and say its errors in words."""
    if engine.dialect.name == "sqlite":
        event.listen(engine, "connect", _on_connect)
        event.listen(engine, "begin", _begin_sqlite)
    else:
        event.listen(engine, "connect", _on_connect_postgresql)
        event.listen(engine, "begin", _begin_postgresql)
    event.listen(engine, "handle_error", _in_words)
    _Inherited.engines.add(engine)


def wal_bytes(engine: Engine) -> int | None:
    """Return the size of an SQLite database's write-ahead log; it grows as long as somebody reads without end. [B]

    Returns:
        None for another database, or one in memory.
    """
    if engine.dialect.name != "sqlite" or engine.url.database in {None, "", ":memory:"}:
        return None
    log = Path(f"{engine.url.database}-wal")
    return log.stat().st_size if log.exists() else 0


class _Inherited:
    """Engines of this process, and pools that it has from the one it was split from.

    A connection is of the process that opened it: another one that used or even closed it would undo its locks.
    """

    engines: "weakref.WeakSet[Engine]" = weakref.WeakSet()  # noqa: RUF012 - one for the whole process
    pools: "list[Pool]" = []  # noqa: RUF012 - one for the whole process

    @classmethod
    def begin_anew(cls) -> None:
        """Let each engine open connections of its own from here on, and never close those it came with."""
        for engine in list(cls.engines):
            cls.pools.append(engine.pool)
            engine.dispose(close=False)


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_Inherited.begin_anew)


def _on_connect(connection: "DBAPIConnection", _record: "ConnectionPoolEntry") -> None:
    connection.isolation_level = None  # transactions are begun below, not by the driver
    cursor = connection.cursor()
    for pragma in (
        "journal_mode = WAL",
        "foreign_keys = ON",
        "synchronous = FULL",
        f"busy_timeout = {BUSY_TIMEOUT_MS}",
        "journal_size_limit = 67108864",
        "secure_delete = ON",  # who is erased is gone from the file, and so from its copies
    ):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _on_connect_postgresql(connection: "DBAPIConnection", _record: "ConnectionPoolEntry") -> None:
    cursor = connection.cursor()
    cursor.execute(f"SET lock_timeout = {LOCK_TIMEOUT_MS}")
    cursor.execute(f"SET idle_in_transaction_session_timeout = {SILENT_TIMEOUT_MS}")
    cursor.close()
    connection.commit()


def _begin_sqlite(connection: "Connection") -> None:
    if _reading.get():
        connection.exec_driver_sql("BEGIN")
        return
    own: Any = connection.connection.dbapi_connection
    try:
        own.wait_to_write()
    except QueueTimeoutError as error:
        raise said(BusyError, _name(connection.engine), error) from error
    except OSError as error:
        raise said(of_file(error), _name(connection.engine), error) from error
    try:
        connection.exec_driver_sql("BEGIN IMMEDIATE")
    except BaseException:
        own.rollback()
        raise


@event.listens_for(Session, "after_commit")
def _after_commit(session: Session) -> None:
    """Read from here on. The database has confirmed the commit by now, unlike at the event of the engine."""
    if _reads_after_commit.get() and not session.in_nested_transaction():
        _reading.set(True)


def _begin_postgresql(connection: "Connection") -> None:
    if _reading.get():
        # All queries of a page see one state of the garden, as they do on SQLite.
        connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")


def _in_words(context: "ExceptionContext") -> DatabaseError | None:
    """Return an error of the database as one of ours, where it is not a fault of the program."""
    if not isinstance(context.sqlalchemy_exception, OperationalError | InternalError):
        return None
    error: Any = context.original_exception
    if context.engine is None:
        return None
    if context.dialect.name == "sqlite":
        kind = of_sqlite(getattr(error, "sqlite_errorcode", 0))
        if kind is ReadOnlyError and not Path(str(context.engine.url.database)).parent.is_dir():
            return None  # said where it is opened
    else:
        kind = of_postgresql(getattr(error, "sqlstate", None))
        if kind is ReadOnlyError and _reading.get():
            return None  # a fault of the program: only readers begin so
    return None if kind is None else said(kind, _name(context.engine), error)


def _name(engine: Engine) -> str:
    return engine.url.render_as_string(hide_password=True)
