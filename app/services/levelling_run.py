"""One levelling from reading the garden to storing the answer, with a sign of life every second."""

import logging
import time
from dataclasses import replace
from threading import Event, Thread
from typing import TYPE_CHECKING

from app.core.calendar import as_day
from app.core.errors import CoreError
from app.core.fitting.levelling import level
from app.core.words import LevellingState
from app.language import N_
from app.services.levelling import BROKE_OFF, fail_levelling, with_extra
from app.storage.engine import make_engine
from app.storage.errors import DatabaseError
from app.storage.levelling import end_levelling, store_answer, store_beat, store_mark
from app.storage.opening import session_on
from app.storage.queries.levelling import get_order
from app.storage.queries.plan import NoGardenError, get_garden
from app.storage.queries.version import get_mark

if TYPE_CHECKING:
    from collections.abc import Callable

    from app.core.cards import Garden
    from app.core.fitting.answer import Answer, Progress
    from app.storage import Engine, Session
    from app.storage.queries.levelling import Order

BEAT_SECONDS = 1.0
# An answer is worth waiting for, where somebody else writes for long.
STORE_TRIES = 60

log = logging.getLogger(__name__)


def run_levelling(url: str, levelling_id: int, stop: Event, tell: "Callable[[Progress], None] | None" = None) -> None:
    """Run a levelling that was started, to its end; what comes of it stands in the database.

    Args:
        url: Address of the database.
        levelling_id: Which.
        stop: Set from elsewhere, it ends the search and keeps the best so far.
        tell: Is told how far it is.

    Raises:
        DatabaseError: The database cannot be reached, read or written.
        NotFoundError: There is no such levelling any more.
    """
    engine = make_engine(url)
    try:
        _Run(engine, levelling_id, stop, tell).run()
    finally:
        engine.dispose()


class _Run:
    """A levelling that runs; the search has a thread of its own, so that it never keeps a sign of life waiting."""

    def __init__(
        self, engine: "Engine", levelling_id: int, stop: Event, tell: "Callable[[Progress], None] | None"
    ) -> None:
        self._engine = engine
        self._id = levelling_id
        self._stop = stop
        self._tell = tell
        self._progress: Progress | None = None
        self._answer: Answer | None = None
        self._fault = BROKE_OFF
        self._is_over = Event()

    def run(self) -> None:
        """Read, search and store; broken off from outside, it is stopped without an answer."""
        try:
            found = self._read()
            if found is not None:
                Thread(target=self._search, args=found, daemon=True).start()
                while not self._is_over.wait(BEAT_SECONDS):
                    self._beat()
                self._store(found[1])
        except KeyboardInterrupt:
            with session_on(self._engine) as session:
                end_levelling(session, self._id, LevellingState.STOPPED, time.time(), None)
            raise

    def _read(self) -> "tuple[Garden, Order] | None":
        """Return the garden as it is now, and what is wanted; None where no plan can be made of it."""
        try:
            with session_on(self._engine, read_only=True) as session:
                order = get_order(session, self._id)
                garden, mark = get_garden(session), get_mark(session)
        except (CoreError, NoGardenError) as error:
            self._fault = str(error) or N_("There is no garden any more.")
            self._store(None)
            return None
        with session_on(self._engine) as session:
            store_mark(session, self._id, mark)
        return with_extra(replace(garden, today=as_day(order.today)), order.extra), order

    def _search(self, garden: "Garden", order: "Order") -> None:
        try:
            answer = level(
                garden,
                seconds=order.seconds,
                report=self._note,
                is_stopped=self._stop.is_set,
            )
            _ = answer.before, answer.after  # made here, so that storing them does not take long
            self._answer = answer
        except CoreError as error:
            self._fault = str(error)
        except Exception as error:
            log.error("Making it fit, search %d broke off: %r", self._id, error)  # noqa: TRY400 - the rest follows
            log.debug("How it came to that:", exc_info=error)
        finally:
            self._is_over.set()

    def _note(self, progress: "Progress") -> None:
        self._progress = progress
        if self._tell is not None:
            self._tell(progress)

    def _beat(self) -> None:
        progress = self._progress
        told = None if progress is None else (progress.phase, progress.reached)
        try:
            with session_on(self._engine) as session:
                goes_on = store_beat(session, self._id, now=time.time(), progress=told)
        except DatabaseError as error:
            log.warning("Making it fit, search %d: %s", self._id, error)
            return
        if not goes_on:
            self._stop.set()

    def _store(self, order: "Order | None") -> None:
        for tries_left in reversed(range(STORE_TRIES)):
            try:
                with session_on(self._engine) as session:
                    self._store_in(session, order)
            except DatabaseError:
                if not tries_left:
                    raise
                time.sleep(BEAT_SECONDS)
            else:
                return

    def _store_in(self, session: "Session", order: "Order | None") -> None:
        answer = self._answer
        if answer is None or order is None:
            fail_levelling(session, self._id, self._fault)
            return
        state = LevellingState.STOPPED if self._stop.is_set() and answer.is_stopped else LevellingState.FINISHED
        store_answer(session, self._id, answer, today=order.today, now=time.time(), state=state)
