"""What a database's errors mean: busy, full, not to be written to, away; in words that say what to do."""

import errno

from app.language import N_
from app.storage.errors import AwayError, BusyError, CrossedError, DatabaseError, FullError, ReadOnlyError

# Primary result codes of SQLite (sqlite.org, rescode.html); extended ones hold them in their lowest byte.
SQLITE_BUSY, SQLITE_LOCKED, SQLITE_READONLY, SQLITE_IOERR, SQLITE_FULL, SQLITE_CANTOPEN = 5, 6, 8, 10, 13, 14
# SQLSTATE codes of PostgreSQL (its manual, appendix A).
SQLSTATES: dict[str, type[DatabaseError]] = {
    "55P03": BusyError,  # lock not available in time
    "53300": BusyError,  # too many connections
    "40001": CrossedError,  # serialization failure
    "40P01": CrossedError,  # deadlock
    "53100": FullError,  # disk full
    "25006": ReadOnlyError,
}
AWAY_CLASSES = ("08", "57P0")  # connection exceptions; shutting down, crashed, starting

WORDS: dict[type[DatabaseError], str] = {
    BusyError: N_("others are writing to it, and the turn did not come in time. Nothing was changed; try again."),
    CrossedError: N_("somebody else changed the same at the same moment. Nothing was changed; try again."),
    FullError: N_("there is no room left where it is kept. Nothing was changed; make room, then try again."),
    ReadOnlyError: N_("its file or folder may not be written to. Nothing was changed; let this user write there."),
    AwayError: N_("its server does not let the program in: %(reason)s."),
}
UNUSABLE = N_("The database %(name)s cannot be used: %(why)s")
# They are kept and logged in English.
FAULTS = (UNUSABLE, *WORDS.values())


def of_sqlite(code: int) -> type[DatabaseError] | None:
    """Return the trouble that a result code of SQLite stands for, None where it is another."""
    return {
        SQLITE_BUSY: BusyError,
        SQLITE_LOCKED: BusyError,
        SQLITE_READONLY: ReadOnlyError,
        SQLITE_CANTOPEN: ReadOnlyError,
        SQLITE_IOERR: FullError,
        SQLITE_FULL: FullError,
    }.get(code & 0xFF)


def of_postgresql(state: str | None) -> type[DatabaseError] | None:
    """Return the trouble that an SQLSTATE stands for, None where it is another; without a state there was no answer."""
    if state is None or state.startswith(AWAY_CLASSES):
        return AwayError
    return SQLSTATES.get(state)


def of_file(error: OSError) -> type[DatabaseError]:
    """Return the trouble with a file beside the database."""
    return FullError if error.errno in {errno.ENOSPC, errno.EDQUOT, errno.EFBIG} else ReadOnlyError


def said(kind: type[DatabaseError], name: str, error: BaseException) -> DatabaseError:
    """Return an error with its words.

    Args:
        kind: What it is.
        name: The database's address, without a password.
        error: The driver's own.
    """
    why = WORDS[kind] % {"reason": str(error).strip().partition("\n")[0].rstrip(".")}
    return kind(UNUSABLE % {"name": name, "why": why})
