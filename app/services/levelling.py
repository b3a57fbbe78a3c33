"""Making it fit: starting and stopping a levelling, reading its answer, accepting it and taking it back."""

import threading
import time
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from app.core.cards import Garden, ShelfCard
from app.core.fitting.answer import Answer
from app.core.words import LevellingState
from app.language import N_, _
from app.services.plan import get_plan
from app.storage.errors import ClashError
from app.storage.history import note_many
from app.storage.levelling import (
    apply_changes,
    end_levelling,
    insert_levelling,
    take_back_changes,
    want_stop,
)
from app.storage.levelling import end_silent as _end_silent
from app.storage.levelling import throw_away as _throw_away
from app.storage.queries import levelling as queries
from app.storage.queries.days import find_today
from app.storage.queries.garden import find_garden
from app.storage.queries.levelling import (
    ChangeRow,
    ExtraShelf,
    LevellingRow,
    SowingName,
    count_levellings,
    list_changes,
)
from app.storage.queries.plan import NoGardenError
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from collections.abc import Collection
    from datetime import date

    from app.storage import Session

__all__ = [
    "BROKE_OFF",
    "AlreadyRunningError",
    "CannotTakeBackError",
    "ChangeRow",
    "ExtraShelf",
    "ExtraShelfError",
    "LevellingRow",
    "NoAnswerError",
    "NothingChosenError",
    "Obstacles",
    "SowingName",
    "StaleLevellingError",
    "accept_levelling",
    "count_levellings",
    "end_silent_levellings",
    "fail_levelling",
    "find_answer",
    "find_latest_levelling",
    "find_obstacles",
    "get_levelling",
    "list_changes",
    "list_levellings",
    "start_levelling",
    "stop_levelling",
    "take_back_levelling",
    "throw_levelling_away",
]


BROKE_OFF = N_("The search broke off. Start it again; if it breaks off again, what the program prints says why.")


class AlreadyRunningError(Exception):
    """Another levelling is running; the transaction is to be rolled back."""

    def __init__(self) -> None:
        """Say so."""
        super().__init__(_("A plan that fits is being looked for already. Wait for it, or stop it."))


class NoAnswerError(Exception):
    """There is no answer to be accepted or thrown away: none was found, or somebody was first."""


class StaleLevellingError(Exception):
    """Something has changed since the garden was read, or a day that was chosen has passed."""


class ExtraShelfError(Exception):
    """The answer counts on a shelf that is not there."""


class NothingChosenError(Exception):
    """No change was chosen to be accepted."""


@dataclass(frozen=True, kw_only=True)
class Obstacles:
    """Why an accepted answer cannot be taken back.

    Attributes:
        sown: Sowings of it that are sown by now.
        changed: Sowings of it that somebody has changed since.
    """

    sown: tuple[SowingName, ...]
    changed: tuple[SowingName, ...]

    def __bool__(self) -> bool:
        """Whether there are any."""
        return bool(self.sown or self.changed)


class CannotTakeBackError(Exception):
    """The answer cannot be taken back: it was not accepted, or there are obstacles."""

    def __init__(self, obstacles: Obstacles) -> None:
        """Keep the obstacles; there are none where it was not accepted."""
        super().__init__(f"{len(obstacles.sown)} sown, {len(obstacles.changed)} changed")
        self.obstacles = obstacles


def start_levelling(session: "Session", *, seconds: int, today: "date", extra: ExtraShelf | None = None) -> int:
    """Write down that a levelling begins, and return its id.

    It is run once this is committed: in a process of its own by
    `levelling_children.launch_levelling`, or by `levelling_run.run_levelling` in this one.

    Args:
        session: Where the garden is; the mark of its data stays as it is.
        seconds: How long it may look. [s]
        today: No sowing is moved to a day before it, unless the season is over.
        extra: A shelf that it takes to be there beside the others, to see what it would bring.

    Raises:
        AlreadyRunningError: Another one is running; the transaction is to be rolled back.
        NoGardenError: The database holds no garden yet.
    """
    if find_garden(session) is None:
        raise NoGardenError
    now = time.time()
    _end_silent(session, now)
    try:
        return insert_levelling(session, seconds=seconds, today=today, extra=extra, now=now)
    except ClashError as error:
        raise AlreadyRunningError from error


def stop_levelling(session: "Session", levelling_id: int) -> None:
    """Ask a levelling to stop and keep the best so far; it does within a second or two. One that is over stays so."""
    want_stop(session, levelling_id)


def fail_levelling(session: "Session", levelling_id: int, fault: str = BROKE_OFF) -> None:
    """Mark a levelling that still runs by its row as failed.

    Args:
        session: Where it is.
        levelling_id: Which.
        fault: Why, in words for people.
    """
    end_levelling(session, levelling_id, LevellingState.FAILED, time.time(), fault)


def end_silent_levellings(session: "Session") -> None:
    """Mark as stopped what a server left running when it was killed."""
    _end_silent(session, time.time())


def get_levelling(session: "Session", levelling_id: int, *, today: "date") -> LevellingRow:
    """Return how far a levelling is, or what became of it.

    Raises:
        NotFoundError: There is no such levelling.
    """
    return queries.get_levelling(session, levelling_id, today=today, now=time.time())


def find_latest_levelling(session: "Session", *, today: "date") -> LevellingRow | None:
    """Return the levelling that was started last; None where there was none."""
    return queries.find_latest_levelling(session, today=today, now=time.time())


def list_levellings(session: "Session", *, today: "date", page: int = 1) -> list[LevellingRow]:
    """Return a page of all levellings, the newest first."""
    return queries.list_levellings(session, today=today, now=time.time(), page=page)


def with_extra(garden: Garden, extra: ExtraShelf | None) -> Garden:
    """Return a garden with one shelf more."""
    if extra is None:
        return garden
    shelf = ShelfCard(
        id=0,
        name="",
        place=extra.place,
        positions=extra.positions,
        bench_temp_c=None,
        width_cm=0.0,
        depth_cm=0.0,
        levels=1,
        ppfd=None,
        hours_per_day=None,
        watts=None,
        pan_depth_mm=None,
    )
    return replace(garden, shelves=(*garden.shelves, shelf))


class _Keeper:
    """The answer read last in this process: its two plans are worth keeping."""

    kept: "tuple[tuple[int, str, date | None], Answer] | None" = None
    reading = threading.Lock()


def find_answer(session: "Session", row: LevellingRow) -> Answer | None:
    """Return the answer of a levelling over the present garden.

    It is reckoned with the day from which the session looks at the garden, whichever day it was found on. The same
    answer is handed out again as long as nothing changes, with its plans made.

    Returns:
        None where it has none, where it is stale, or where it was accepted, taken back or thrown away; what it
        changes is still in `list_changes`.
    """
    if not row.is_open or row.is_stale:
        return None
    key = (row.id, row.mark, find_today(session))
    kept = _Keeper.kept
    if kept is None or kept[0] != key:
        with _Keeper.reading:
            kept = _Keeper.kept
            if kept is None or kept[0] != key:
                kept = _Keeper.kept = (key, _read_answer(session, row))
    return kept[1]


def _read_answer(session: "Session", row: LevellingRow) -> Answer:
    plan = get_plan(session)
    garden = with_extra(plan.garden, row.extra)
    stored = queries.find_answer(session, row.id) or {}
    answer = Answer(
        garden=garden,
        choices=queries.get_choices(session, row.id, garden.sowings),
        reached=row.reached,
        extra=queries.read_extra(stored["extra"], garden.sowings),
        stuck=queries.read_stuck(stored["stuck"]),
        is_stopped=stored["is_stopped"],
    )
    if garden is plan.garden:
        vars(answer)["before"] = plan  # made already
    return answer


def accept_levelling(
    session: "Session", levelling_id: int, sowings: "Collection[int] | None" = None, *, today: "date"
) -> int:
    """Write what a levelling found to the sowings.

    The trays that are dealt stay as they are until somebody deals again.

    Args:
        session: Its transaction takes it all.
        levelling_id: Which.
        sowings: The ids of the sowings whose change is accepted, others are left out; None for all.
        today: The day that is taken for today.

    Returns:
        The number of sowings changed. [1]

    Raises:
        NotFoundError: There is no such levelling.
        NoAnswerError: It has no answer that is still open.
        StaleLevellingError: The answer is not one for the garden as it is now.
        ExtraShelfError: It is one for a garden with a shelf more.
        NothingChosenError: No sowing that it changes is among those given.
    """
    hold_writes(session)
    row = get_levelling(session, levelling_id, today=today)
    if not row.is_open:
        raise NoAnswerError
    if row.is_stale:
        raise StaleLevellingError
    if row.extra is not None:
        raise ExtraShelfError
    accepted = apply_changes(session, levelling_id, sowings)
    if not accepted:
        raise NothingChosenError
    _note(session, levelling_id, N_("made to fit"), is_back=False)
    return accepted


def throw_levelling_away(session: "Session", levelling_id: int, *, today: "date") -> None:
    """Forget the answer of a levelling.

    Raises:
        NotFoundError: There is no such levelling.
        NoAnswerError: It has no answer that is still open.
    """
    hold_writes(session)
    if not get_levelling(session, levelling_id, today=today).is_open:
        raise NoAnswerError
    _throw_away(session, levelling_id)


def find_obstacles(session: "Session", levelling_id: int) -> Obstacles:
    """Return why an accepted answer cannot be taken back; none where it can."""
    return Obstacles(
        sown=tuple(queries.list_sown_changes(session, levelling_id)),
        changed=tuple(queries.list_overtaken_changes(session, levelling_id)),
    )


def take_back_levelling(session: "Session", levelling_id: int, *, today: "date") -> int:
    """Put back what stood in the sowings before an answer was accepted; sowings removed since stay removed.

    Returns:
        The number of sowings whose change had been accepted. [1]

    Raises:
        NotFoundError: There is no such levelling.
        CannotTakeBackError: It is not accepted, or some of its sowings are sown or were changed since.
    """
    hold_writes(session)
    row = get_levelling(session, levelling_id, today=today)
    obstacles = find_obstacles(session, levelling_id)
    if row.state is not LevellingState.ACCEPTED or obstacles:
        raise CannotTakeBackError(obstacles)
    take_back_changes(session, levelling_id)
    _note(session, levelling_id, N_("put back as before it was made to fit"), is_back=True)
    return row.accepted


def _note(session: "Session", levelling_id: int, action: str, *, is_back: bool) -> None:
    """Write down what accepting an answer, or taking it back, has changed of each sowing."""
    rows = queries.list_accepted_values(session, levelling_id)
    note_many(
        session,
        "sowing",
        action,
        (
            (row_id, name, [(column, *(pair[::-1] if is_back else pair)) for column, pair in values])
            for row_id, name, values in rows
        ),
    )
