"""A database opened for one piece of work, with every failure said in words."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import URL, Engine, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError
from sqlalchemy.orm import Session

from app.storage.backup import BackupError, copy_database
from app.storage.engine import make_engine, reading, writing
from app.storage.errors import DatabaseError
from app.storage.place import require_own_disk
from app.storage.schema import NewerSchemaError, newest_revision, upgrade

__all__ = ["AddressError", "DatabaseError", "open_engine", "open_session", "same_database", "session_on"]

log = logging.getLogger(__name__)


class AddressError(DatabaseError):
    """The address is not one of a database."""


@contextmanager
def open_engine(url: str, *, must_exist: bool = False) -> Iterator[Engine]:
    """Give an engine of a database, whose schema stays as it is.

    Args:
        url: A database address, `sqlite:///...` or `postgresql+psycopg://...`.
        must_exist: Whether an SQLite file that is missing is an error; otherwise it is made when it is used.

    Raises:
        AddressError: The address cannot be read.
        DatabaseError: The database cannot be reached, read or written, or lies on another computer's disk.
    """
    try:
        engine = make_engine(url)
        try:
            _check_place(engine)
            if must_exist and engine.dialect.name == "sqlite" and not Path(str(engine.url.database)).is_file():
                raise DatabaseError(f"There is no database {engine.url.render_as_string()}.")
            yield engine
        finally:
            engine.dispose()
    except (ArgumentError, NoSuchModuleError, ImportError) as error:
        message = "The database address cannot be read; write sqlite:///FILE or postgresql+psycopg://USER@HOST/NAME."
        raise AddressError(message) from error
    except NewerSchemaError as error:
        raise DatabaseError(str(error)) from error
    except DBAPIError as error:
        raise DatabaseError(_words(make_url(url), error)) from error


@contextmanager
def open_session(url: str, *, read_only: bool = False) -> Iterator[Session]:
    """Give a session on a database whose schema is up to date; it is committed at the end, unless there was an error.

    An SQLite database whose schema is older is first copied into `NAME-before-REVISION` beside it.

    Args:
        url: A database address, `sqlite:///...` or `postgresql+psycopg://...`.
        read_only: Whether nothing will be written, so that writers need not wait.

    Raises:
        AddressError: The address cannot be read.
        DatabaseError: The database cannot be reached, read or written.
    """
    with open_engine(url) as engine:
        upgrade(engine, before=lambda revision: _keep_copy(engine, revision))
        with session_on(engine, read_only=read_only) as session:
            yield session


@contextmanager
def session_on(engine: Engine, *, read_only: bool = False) -> Iterator[Session]:
    """Give a session on an engine; it is committed at the end, unless there was an error.

    Args:
        engine: An engine of a database whose schema is up to date.
        read_only: Whether nothing will be written, so that writers need not wait.

    Raises:
        DatabaseError: The database cannot be reached, read or written.
    """
    try:
        with Session(engine) as session:
            with reading() if read_only else writing():
                session.connection()
            yield session
            with writing():
                session.commit()
    except DBAPIError as error:
        raise DatabaseError(_words(engine.url, error)) from error


def _check_place(engine: Engine) -> None:
    """Refuse a database on another computer's disk, and warn of one that may be."""
    if engine.dialect.name == "sqlite" and engine.url.database not in {None, "", ":memory:"}:
        warning = require_own_disk(str(engine.url.database))
        if warning is not None:
            log.warning("%s", warning)


def _keep_copy(engine: Engine, revision: str | None) -> None:
    """Copy an SQLite database that holds anything into a file beside it, before its schema is changed."""
    if revision is None or engine.dialect.name != "sqlite" or engine.url.database in {None, "", ":memory:"}:
        return
    database = Path(str(engine.url.database))
    copy = database.with_name(f"{database.stem}-before-{newest_revision()}{database.suffix}")
    try:
        copy_database(engine, copy)
    except (OSError, DatabaseError) as error:
        reason = error.strerror if isinstance(error, OSError) else error
        raise DatabaseError(
            f"The database has to be brought up to date, and stays as it is: no copy of it could be made first at "
            f"{copy}: {reason}. Make room there, then start again."
        ) from error
    except BackupError as error:
        raise DatabaseError(f"The database has to be brought up to date, and stays as it is. {error}") from error


def same_database(one: str, other: str) -> bool:
    """Return whether two addresses are of the same database, as far as can be told from them."""
    try:
        first, second = make_url(one), make_url(other)
    except ArgumentError:
        return False
    if first.database and second.database and first.get_backend_name() == second.get_backend_name() == "sqlite":
        return Path(first.database).resolve() == Path(second.database).resolve()
    return first == second


def _words(address: URL, error: DBAPIError) -> str:
    reason = str(error.orig).strip().partition("\n")[0].rstrip(".")
    path = Path(address.database) if address.get_backend_name() == "sqlite" and address.database else None
    if path is not None and not path.absolute().parent.is_dir():
        reason = f"there is no folder {path.absolute().parent}"
    return f"The database {address.render_as_string(hide_password=True)} cannot be used: {reason}."
