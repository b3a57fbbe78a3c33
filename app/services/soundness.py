"""Whether a database can be used, as far as reading it tells: nothing of it is changed."""

import time
from dataclasses import dataclass
from datetime import datetime

from app.services.clock_fault import find_clock_fault
from app.storage.errors import DatabaseError
from app.storage.opening import open_engine, session_on
from app.storage.queries.engine_version import engine_words
from app.storage.schema import find_revision, known_revisions, newest_revision

__all__ = ["DatabaseError", "DatabaseLook", "look_at_database"]


@dataclass(frozen=True, kw_only=True)
class DatabaseLook:
    """What was found.

    Attributes:
        kind: The kind of database and its version, such as `SQLite 3.53.4`.
        schema: Its schema's revision; None where there is none yet.
        is_newer: Whether that is of a newer version of the program.
        is_older: Whether the next start brings it up to date.
        newest: The newest entry, where it lies in the future by this computer's clock; None where it does not.
    """

    kind: str
    schema: str | None
    is_newer: bool
    is_older: bool
    newest: datetime | None


def look_at_database(url: str) -> DatabaseLook:
    """Return how a database is.

    Raises:
        DatabaseError: It cannot be reached or read; the message says why.
    """
    with open_engine(url) as engine, session_on(engine, read_only=True) as session:
        schema = find_revision(session.connection())
        is_present = schema == newest_revision()
        return DatabaseLook(
            kind=engine_words(session),
            schema=schema,
            is_newer=schema is not None and schema not in known_revisions(),
            is_older=not is_present and (schema is None or schema in known_revisions()),
            newest=find_clock_fault(session, time.time()) if is_present else None,
        )
