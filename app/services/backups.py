"""Backups: taken by hand and every day, checked, kept as long as the garden wants, and restored."""

import errno
import hashlib
import json
import re
import shutil
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from app.core.house.retention import Keeping, choose_kept
from app.core.words import Via
from app.language import N_
from app.services.folder import NotEmptyError
from app.storage import Engine, Session
from app.storage.backup import BackupError, BackupFacts, copy_database
from app.storage.errors import DatabaseError
from app.storage.history import Actor, note_history, set_actor
from app.storage.opening import open_engine, open_session, same_database
from app.storage.queries.house import find_house, get_house
from app.storage.queries.version import hold_writes
from app.storage.restoring import hold_everything, opened_backup, replace_everything
from app.storage.tables import is_empty
from app.storage.whole_files import clear_parts, passing_folder, written_aside

__all__ = ["BackupError", "BackupFacts", "DatabaseError", "Keeping", "NotEmptyError"]

FOLDER = "backups"  # in the instance folder
LOCK_FILE = ".lock"
STATE_FILE = "last.json"
OWNER_ONLY = 0o700

DAY_S = 86_400
# One a day, looked for once an hour: a little less than a day, so that the hour stays the same.
DUE_S = 23.5 * 3600
# After so long without a good one people are told. [s]
LATE_S = 2 * DAY_S
# What a program that was killed left half written is gone after so long. [s]
PART_S = DAY_S
# Copies of what a restore has replaced, however old they are.
KEPT_BEFORE = 5

_STAMP = "%Y-%m-%dT%H%M%SZ"
BEFORE_RESTORE, OF_SEASON = "-before-restore", "-season-"
_NAME = re.compile(r"traymates-(\d{4}-\d{2}-\d{2}T\d{6}Z)(-before-restore|-season-\d+)?\.sqlite3")


DIFFERS = N_("what is read from it differs from what was written")
# Why a backup failed, without and with the place. It is kept and logged in English.
_FULL = (N_("there is no room left in the folder"), N_("there is no room left in %(place)s"))
_FORBIDDEN = (N_("the program may not write to the folder"), N_("the program may not write to %(place)s"))
_READ_ONLY = (N_("the disk of the folder can only be read"), N_("the disk of %(place)s can only be read"))
_NOT_THERE = (N_("the folder is not there:"), N_("the folder is not there: %(place)s"))
_BROKEN = (
    N_("the disk of the folder does not work: %(reason)s"),
    N_("the disk of %(place)s does not work: %(reason)s"),
)
_BY_NUMBER = {
    errno.ENOSPC: _FULL, errno.EDQUOT: _FULL, errno.EFBIG: _FULL, errno.EACCES: _FORBIDDEN, errno.EPERM: _FORBIDDEN,
    errno.EROFS: _READ_ONLY, errno.ENOENT: _NOT_THERE, errno.ENOTDIR: _NOT_THERE,
}  # fmt: skip
FAULTS = (DIFFERS, *_FULL, *_FORBIDDEN, *_READ_ONLY, *_NOT_THERE, *_BROKEN)


@dataclass(frozen=True, kw_only=True)
class KeptBackup:
    """A finished backup in a folder.

    Attributes:
        path: The file.
        at: When it was taken. [s since 1970]
        size_bytes: Its size. [B]
    """

    path: Path
    at: float
    size_bytes: int


@dataclass(frozen=True, kw_only=True)
class LastState:
    """What the program knows of its last backups beyond the files themselves.

    Attributes:
        tried_at: When one was last tried. [s since 1970]
        fault: Why that failed; None where it did not.
        name: The file whose check the following are of.
        revision: Its schema.
        rows: Its rows.
        tables: Its tables.
        second_at: When the second folder last got one. [s since 1970]
        second_fault: Why the last try to copy into the second folder failed; None where it did not.
    """

    tried_at: float | None = None
    fault: str | None = None
    name: str | None = None
    revision: str | None = None
    rows: int | None = None
    tables: int | None = None
    second_at: float | None = None
    second_fault: str | None = None


@dataclass(frozen=True, kw_only=True)
class BackupSettings:
    """How backups are kept.

    Attributes:
        keeping: How many.
        second_folder: Another folder that gets a copy of each, as it is written; None for none.
    """

    keeping: Keeping
    second_folder: str | None


@dataclass(frozen=True, kw_only=True)
class Overview:
    """Everything that the page of the backups shows.

    Attributes:
        last: The last good one; None where there is none.
        kept: All that are there, the newest first.
        before: Copies of what restores have replaced, the newest first.
        seasons: Copies of seasons that ended, the newest first.
        state: What is known of the last tries.
        settings: How they are kept.
        second: Those in the second folder, the newest first; None where the folder is not there or not set.
        is_same_disk: The second folder is on the disk of the first.
        is_late: The last good one is so old, or missing, that people are told.
    """

    last: KeptBackup | None
    kept: list[KeptBackup]
    before: list[KeptBackup]
    seasons: list[KeptBackup]
    state: LastState
    settings: BackupSettings
    second: list[KeptBackup] | None
    is_same_disk: bool
    is_late: bool


@dataclass(frozen=True, kw_only=True)
class Look:
    """What a look after the backups came to.

    Attributes:
        made: The backup that was made; None where none was due, or it failed.
        facts: What its check has found.
        last: The last good one afterwards.
        fault: Why none could be made; None where it could, or none was due.
        second_fault: Why the second folder has no copy; None where it has, or none is wanted, or it is not there.
    """

    made: KeptBackup | None = None
    facts: BackupFacts | None = None
    last: KeptBackup | None = None
    fault: str | None = None
    second_fault: str | None = None


@dataclass(frozen=True, kw_only=True)
class Restored:
    """What a restore came to.

    Attributes:
        facts: What the check of the backup has found, before it was brought up to date.
        before: Where what was there before is kept; None where there was nothing.
    """

    facts: BackupFacts
    before: Path | None


def backup_folder(instance: Path) -> Path:
    """Return the folder for automatic backups, which is made if it is missing; only its owner can look into it."""
    folder = instance / FOLDER
    folder.mkdir(mode=OWNER_ONLY, parents=True, exist_ok=True)
    return folder


def backup_name(at: float, *, before_restore: bool = False, season: int | None = None) -> str:
    """Return the file name of a backup that is taken at a moment. [s since 1970]

    Args:
        at: The moment. [s since 1970]
        before_restore: It is of what a restore replaces.
        season: It is of a season that ends.
    """
    ending = BEFORE_RESTORE if before_restore else "" if season is None else f"{OF_SEASON}{season}"
    return f"traymates-{datetime.fromtimestamp(at, UTC):{_STAMP}}{ending}.sqlite3"


def list_kept(folder: Path, *, before_restore: bool = False, of_seasons: bool = False) -> list[KeptBackup]:
    """Return the finished backups in a folder, the newest first.

    Args:
        folder: The folder; one that is not there has none.
        before_restore: Whether to list what restores have replaced instead.
        of_seasons: Whether to list those of seasons that ended instead, which nothing but people removes.
    """
    found = []
    wanted = BEFORE_RESTORE if before_restore else OF_SEASON if of_seasons else ""
    try:
        entries = list(folder.iterdir())
    except OSError:
        return []
    for path in entries:
        match = _NAME.fullmatch(path.name)
        if match is None or (match[2] or "").rstrip("0123456789") != wanted:
            continue
        try:
            at = datetime.strptime(match[1], _STAMP).replace(tzinfo=UTC).timestamp()
            found.append(KeptBackup(path=path, at=at, size_bytes=path.stat().st_size))
        except (OSError, ValueError):  # just removed, or named so by somebody
            continue
    return sorted(found, key=lambda kept: kept.at, reverse=True)


def find_last(folder: Path, now: float) -> KeptBackup | None:
    """Return the last good backup: a file gets its name only once it is whole and checked.

    Args:
        folder: The folder.
        now: The present moment; what seems to be later was taken while the clock was ahead. [s since 1970]
    """
    return next((kept for kept in list_kept(folder) if kept.at <= now), None)


def is_late(last: KeptBackup | None, now: float) -> bool:
    """Return whether the last good backup is missing or so old that people are told."""
    return last is None or now - last.at > LATE_S


def back_up(url: str, path: Path) -> BackupFacts:
    """Copy a database into a file while people write; its schema stays as it is.

    Args:
        url: The database's address.
        path: The file; one that is there is replaced, once the copy is whole.

    Raises:
        OSError: The file cannot be written.
        BackupError: The database is damaged or holds nothing.
        DatabaseError: The database cannot be reached or read.
    """
    if _is_database(url, path):
        raise BackupError(f"{path.name} is the database itself. Say another file for its backup.")
    with open_engine(url, must_exist=True) as engine:
        return copy_database(engine, path)


@contextmanager
def fresh_backup(url: str, folder: Path) -> Iterator[Path]:
    """Give a new backup to be handed out, which is gone afterwards; errors as `back_up` raises them.

    Args:
        url: The database's address.
        folder: Where the backups are; it has room for one more.
    """
    with passing_folder(folder) as room:
        path = room / backup_name(time.time())
        back_up(url, path)
        yield path


def _is_database(url: str, path: Path) -> bool:
    return same_database(url, f"sqlite:///{path.absolute().as_posix()}")


def look_after_backups(url: str, folder: Path, now: float, *, at_once: bool = False) -> Look | None:
    """Make a backup if one is due, remove those that need not be kept, and see to the second folder.

    Old ones go only after a new one is there, whole and checked. Whoever calls it, in whichever process, one is at
    work at a time.

    Args:
        url: The database's address.
        folder: Where the backups are.
        now: The present moment. [s since 1970]
        at_once: Whether to make one that is not due.

    Returns:
        What was done; None where another process is at it.

    Raises:
        OSError: The folder cannot be used at all.
        DatabaseError: The database cannot be reached or read.
    """
    try:
        with FileLock(folder / LOCK_FILE, timeout=0):
            return _look(url, folder, now, at_once=at_once)
    except Timeout:
        return None


def _look(url: str, folder: Path, now: float, *, at_once: bool) -> Look:
    clear_parts(folder, before=now - PART_S)
    state = read_state(folder)
    look = Look()
    with open_session(url, read_only=True) as session:
        settings = get_settings(session)
        last = find_last(folder, now)
        if (at_once or last is None or now - last.at >= DUE_S) and not is_empty(session):
            look, state = _make(engine_of(session), folder, now, state)
    if look.made is not None:
        remove_unkept(folder, now, settings.keeping)
    last = find_last(folder, now)
    if settings.second_folder is not None and last is not None:
        state = _copy_to_second(Path(settings.second_folder), last, now, settings.keeping, state)
    if state != read_state(folder):
        _write_state(folder, state)
    second_fault = state.second_fault if settings.second_folder else None
    return replace(look, last=last, second_fault=second_fault)


def _make(engine: Engine, folder: Path, now: float, state: LastState) -> tuple[Look, LastState]:
    path = folder / backup_name(now)
    try:
        facts = copy_database(engine, path)
    except (OSError, BackupError, DatabaseError) as error:
        fault = words_of(error)
        return Look(fault=fault), replace(state, tried_at=now, fault=fault)
    made = KeptBackup(path=path, at=float(int(now)), size_bytes=facts.size_bytes)
    state = LastState(
        tried_at=now,
        name=path.name,
        revision=facts.revision,
        rows=facts.rows,
        tables=len(facts.counts),
        second_at=state.second_at,
        second_fault=state.second_fault,
    )
    return Look(made=made, facts=facts), state


def remove_unkept(folder: Path, now: float, keeping: Keeping) -> list[Path]:
    """Remove the backups of a folder that need not be kept; return which."""
    kept = list_kept(folder)
    moments = {backup.path: datetime.fromtimestamp(backup.at, UTC) for backup in kept}
    chosen = choose_kept(moments.values(), datetime.fromtimestamp(now, UTC), keeping)
    unkept = [path for path, moment in moments.items() if moment not in chosen]
    removed = []
    for path in unkept:
        try:
            path.unlink(missing_ok=True)
        except OSError:  # it stays until the next time
            continue
        removed.append(path)
    return removed


def _copy_to_second(folder: Path, last: KeptBackup, now: float, keeping: Keeping, state: LastState) -> LastState:
    """Copy the last good backup into the second folder if it is there and lacks it; read it back and compare."""
    try:
        if not folder.is_dir():
            return state
        target = folder / last.path.name
        if not target.exists():
            clear_parts(folder, before=now - PART_S)
            _copy_compared(last.path, target)
            remove_unkept(folder, now, keeping)
            return replace(state, second_at=now, second_fault=None)
        return replace(state, second_fault=None)
    except OSError as error:
        return replace(state, second_fault=words_of(error))


def _copy_compared(source: Path, target: Path) -> None:
    with written_aside(target) as aside:
        shutil.copyfile(source, aside)
        if _digest(aside) != _digest(source):
            raise OSError(errno.EIO, DIFFERS, str(target.parent))


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "blake2b").hexdigest()


def restore_backup(url: str, path: Path, folder: Path, now: float, *, replace: bool = False) -> Restored:
    """Put a backup in the place of everything in a database, in one transaction; people can read meanwhile.

    Args:
        url: The database's address, of either engine.
        path: The backup, taken from either engine, by this version of the program or an earlier one.
        folder: Where the backups are: what was there before is kept in it.
        now: The present moment. [s since 1970]
        replace: Whether what is there may go.

    Raises:
        BackupError: The file cannot be restored.
        NotEmptyError: There is something in the database, and it is not to be replaced.
        OSError: The file cannot be read, or there is no room.
        DatabaseError: The database cannot be reached or written.
    """
    if _is_database(url, path):
        raise BackupError(f"{path.name} is the database itself, not a backup of it.")
    clear_parts(folder, before=now - PART_S)
    with opened_backup(path, folder) as (facts, source), open_session(url) as session:
        set_actor(session, Actor(None, Via.COMMAND))
        hold_everything(session)
        before = None
        if not is_empty(session):
            if not replace:
                raise NotEmptyError
            before = folder / backup_name(now, before_restore=True)
            try:
                copy_database(engine_of(session), before)
            except BackupError as error:
                raise BackupError(
                    f"What is there now cannot be kept, so nothing was replaced: {str(error).rstrip('.')}. "
                    "Stop the program, move the database's files away, and restore again."
                ) from error
        replace_everything(session, source)
        note_history(session, "backup", "restored", subject=path.name)
    _remove_oldest(list_kept(folder, before_restore=True)[KEPT_BEFORE:])
    return Restored(facts=facts, before=before)


def _remove_oldest(backups: Iterable[KeptBackup]) -> None:
    for backup in backups:
        backup.path.unlink(missing_ok=True)


def get_settings(session: Session) -> BackupSettings:
    """Return how backups are kept."""
    house = find_house(session)
    keeping = Keeping(days=house.keep_days, weeks=house.keep_weeks, months=house.keep_months)
    return BackupSettings(keeping=keeping, second_folder=house.second_folder)


def change_settings(session: Session, settings: BackupSettings) -> None:
    """Set how backups are kept."""
    hold_writes(session)
    house = get_house(session)
    house.keep_days, house.keep_weeks = settings.keeping.days, settings.keeping.weeks
    house.keep_months, house.second_folder = settings.keeping.months, settings.second_folder
    session.flush()


def get_overview(session: Session, folder: Path, now: float) -> Overview:
    """Return what the page of the backups shows.

    Args:
        session: Where the settings are.
        folder: Where the backups are.
        now: The present moment. [s since 1970]
    """
    settings = get_settings(session)
    last = find_last(folder, now)
    second = Path(settings.second_folder) if settings.second_folder else None
    is_there = second is not None and second.is_dir()
    return Overview(
        last=last,
        kept=list_kept(folder),
        before=list_kept(folder, before_restore=True),
        seasons=list_kept(folder, of_seasons=True),
        state=read_state(folder),
        settings=settings,
        second=list_kept(second) if second is not None and is_there else None,
        is_same_disk=second is not None and is_there and second.stat().st_dev == folder.stat().st_dev,
        is_late=is_late(last, now),
    )


def read_state(folder: Path) -> LastState:
    """Return what is known of the last tries; nothing where the file is missing or damaged."""
    try:
        known: dict[str, Any] = json.loads((folder / STATE_FILE).read_text(encoding="utf-8"))
        return LastState(**known)
    except (OSError, ValueError, TypeError):
        return LastState()


def _write_state(folder: Path, state: LastState) -> None:
    try:
        with written_aside(folder / STATE_FILE) as aside:
            aside.write_text(json.dumps(asdict(state)), encoding="utf-8")
    except OSError:  # the disk is full, most likely: the age of the last good one tells as much
        return


def words_of(error: Exception) -> str:
    """Return in plain words why a backup failed, as the end of a sentence without its full stop; in English."""
    if not isinstance(error, OSError):
        return str(error).rstrip(".")
    without_place, with_place = _BY_NUMBER.get(error.errno or 0, _BROKEN)
    return (with_place if error.filename else without_place) % {"place": error.filename, "reason": error.strerror}


def engine_of(session: Session) -> Engine:
    """Return the engine of a session, for a copy of its database by a connection of its own."""
    engine = session.get_bind()
    if not isinstance(engine, Engine):
        raise TypeError("The session has no engine of its own")
    return engine
