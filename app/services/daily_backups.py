"""The thread of a server that looks after the backups."""

import logging
import time
from pathlib import Path
from threading import Event, Thread

from app.services.backups import look_after_backups, words_of
from app.storage.errors import DatabaseError

LOOK_EVERY_S = 3600.0

log = logging.getLogger(__name__)


class DailyBackups:
    """Looks after the backups at once and then every hour, until it is stopped.

    Every process of a server may have one: whoever comes first makes the day's backup.
    """

    def __init__(self, url: str, folder: Path, *, every_s: float = LOOK_EVERY_S) -> None:
        """Start looking.

        Args:
            url: The database's address.
            folder: Where the backups are.
            every_s: How long to wait between two looks. [s]
        """
        self._url, self._folder, self._every_s = url, folder, every_s
        self._stopped = Event()
        # A daemon: a copy that is under way does not keep the server from ending, and leaves nothing half done.
        self._thread = Thread(target=self._run, name="backups", daemon=True)
        self._thread.start()

    def stop(self, seconds: float = 0.0) -> None:
        """End it, and wait for a copy that is under way for so long at most. [s]"""
        self._stopped.set()
        self._thread.join(seconds)

    def _run(self) -> None:
        while not self._stopped.is_set():
            self._look()
            self._stopped.wait(self._every_s)

    def _look(self) -> None:
        try:
            look = look_after_backups(self._url, self._folder, time.time())
        except (OSError, DatabaseError) as error:
            log.warning("No backup was made: %s", words_of(error))
        except Exception:  # whatever it is, the next look may succeed
            log.exception("No backup was made")
        else:
            if look is None:
                return
            if look.made is not None:
                log.info("Backup made: %s", look.made.path.name)
            if look.fault is not None:
                log.warning("No backup was made: %s", look.fault)
            if look.second_fault is not None:
                log.warning("The second folder got no copy of the backup: %s", look.second_fault)
