"""The queue of those who want to write to an SQLite file: first come, first served, in one process and over several.

SQLite lets one transaction write at a time, and leaves it to chance which of those who wait is next: under load
somebody waits until their time is up while others pass. Here everybody joins the end of a line before they begin.
"""

import contextlib
import os
import time
from collections import deque
from collections.abc import Iterator
from pathlib import Path
from threading import Event, Lock

from filelock import FileLock, Timeout

WAIT_SECONDS = 5.0
# Behind one who has been in for so long, no more than so many wait: threads must be left for those who only read.
PATIENCE_SECONDS, MOST_WAITING = 2.0, 4
# How often those of other processes look whether it is their turn. [s]
POLL_SECONDS = 0.002


class QueueTimeoutError(Exception):
    """The turn to write did not come in time."""


class Line:
    """A line of threads: who joins first is let in first."""

    def __init__(self) -> None:
        """Begin with nobody inside."""
        self._mutex = Lock()
        self._is_taken = False
        self._since = 0.0
        self._waiting: deque[Event] = deque()
        self._left: deque[None] = deque()

    def enter(self, seconds: float) -> bool:
        """Wait for the own turn, no longer than a time in seconds; return whether it came."""
        mine, now = Event(), time.monotonic()
        with self._mutex:
            is_stuck = now - self._since > PATIENCE_SECONDS and len(self._waiting) >= MOST_WAITING
            if not self._is_taken:
                self._is_taken, self._since = True, now
                mine.set()
            elif not is_stuck:
                self._waiting.append(mine)
        self._serve()
        if is_stuck and not mine.is_set():
            return False
        try:
            came = mine.wait(seconds)
        except BaseException:  # Ctrl-C while waiting
            if not self._give_up(mine):
                self.leave()
            raise
        return came or not self._give_up(mine)

    def leave(self) -> None:
        """Let the next one in. It never waits: a connection that is swept up may call it at any point of any thread."""
        self._left.append(None)
        self._serve()

    def _give_up(self, mine: Event) -> bool:
        """Leave the line; return False where the turn came at the last moment."""
        with self._mutex:
            came = mine.is_set()
            if not came:
                self._waiting.remove(mine)
        self._serve()
        return not came

    def _serve(self) -> None:
        """Let in as many as have left; whoever holds the mutex meanwhile does it in our place, once it is free."""
        while self._left and self._mutex.acquire(blocking=False):
            try:
                while self._left:
                    self._left.popleft()
                    if self._waiting:
                        self._since = time.monotonic()
                        self._waiting.popleft().set()
                    else:
                        self._is_taken = False
            finally:
                self._mutex.release()


class WriteQueue:
    """The queue of one database file.

    The threads of a process stand in a line; its first takes two locks on files beside the database that other
    processes take too: one says who is next, the other who writes. So a process in which many write lets another
    one in between.
    """

    def __init__(self, path: str) -> None:
        """Take the path of the database file, empty for a database that no other process can reach."""
        self._line = Line()
        self._path = path
        # Of the process, not of a thread: who is swept up may be so in another thread.
        self._next, self._writer = (
            (FileLock(f"{path}-{name}.lock", thread_local=False) if path else None) for name in ("next", "writer")
        )
        self._have_been_made = not path

    def enter(self, seconds: float = WAIT_SECONDS) -> None:
        """Wait until nobody else writes; nobody else will, until `leave`.

        Args:
            seconds: How long to wait at most. [s]

        Raises:
            QueueTimeoutError: It was not our turn in this time.
            OSError: The files beside the database cannot be made or locked.
        """
        end = time.monotonic() + seconds
        if not self._line.enter(seconds):
            raise QueueTimeoutError
        try:
            self._lock_files(end)
        except BaseException:
            if self._writer is not None:
                self._writer.release(force=True)  # nothing, unless Ctrl-C came right after it was taken
            self._line.leave()
            raise

    def leave(self) -> None:
        """Let the next one write; anybody who entered calls it once, in any thread."""
        try:
            if self._writer is not None:
                self._writer.release()
        finally:
            self._line.leave()

    @contextlib.contextmanager
    def held(self, seconds: float = WAIT_SECONDS) -> Iterator[None]:
        """Keep everybody from writing inside the block; errors as `enter` raises them."""
        self.enter(seconds)
        try:
            yield
        finally:
            self.leave()

    def _lock_files(self, end: float) -> None:
        if self._next is None or self._writer is None:
            return
        if not self._have_been_made:
            for lock in (self._next, self._writer):
                _make(Path(lock.lock_file), Path(self._path))
            self._have_been_made = True
        try:
            with self._next.acquire(timeout=max(0.0, end - time.monotonic()), poll_interval=POLL_SECONDS):
                self._writer.acquire(timeout=max(0.0, end - time.monotonic()), poll_interval=POLL_SECONDS)
        except Timeout as error:
            raise QueueTimeoutError from error


def _make(lock: Path, database: Path) -> None:
    """Make a lock file that those who may write to the database can open, whoever comes first."""
    like = database.stat() if database.exists() else None
    try:
        os.close(os.open(lock, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600 if like is None else like.st_mode & 0o666))
    except FileExistsError:
        return
    if like is not None and hasattr(os, "geteuid") and os.geteuid() == 0:
        os.chown(lock, like.st_uid, like.st_gid)


class _Queues:
    """The queues of this process, by the path of their databases."""

    by_path: dict[str, WriteQueue] = {}  # noqa: RUF012 - one for the whole process
    lock = Lock()

    @classmethod
    def begin_anew(cls) -> None:
        """Forget what a process had before it was split: whoever held or waited there is not here."""
        cls.by_path, cls.lock = {}, Lock()


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_Queues.begin_anew)


def queue_of(path: str | None) -> WriteQueue:
    """Return the one queue of a database file, by whichever path it is reached.

    Args:
        path: The file; None or empty for a database in memory, which gets a queue of its own.
    """
    if not path or path == ":memory:":
        return WriteQueue("")
    real = os.path.realpath(path)
    with _Queues.lock:
        queue = _Queues.by_path.get(real)
        if queue is None:
            queue = _Queues.by_path[real] = WriteQueue(real)
        return queue
