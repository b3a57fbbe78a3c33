"""What a levelling writes about itself, and what accepting it writes.

Only accepting and taking back change anything that a plan is made from, so only they renew the mark of the data.
"""

from collections.abc import Collection
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import ColumnElement, delete, func, insert, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from app.core.calendar import as_date
from app.core.fitting.answer import Answer, Phase, Reached
from app.core.words import PLACES, LevellingState, Light
from app.storage.base import table_of
from app.storage.errors import ClashError
from app.storage.models import Levelling, LevellingChange, Sowing
from app.storage.queries.levelling import SILENT_SECONDS, ExtraShelf
from app.storage.queries.version import get_mark, renew_mark
from app.storage.tables import BATCH_ROWS, insert_columns

Ints = NDArray[np.int64]

_UNMARKED = {"mark": True}  # see app.storage.queries.version
_RUNNING = Levelling.state == LevellingState.RUNNING


def insert_levelling(session: Session, *, seconds: int, today: date, extra: ExtraShelf | None, now: float) -> int:
    """Insert a levelling that runs from now on, and return its id.

    Raises:
        ClashError: Another one is running; the transaction is to be rolled back.
    """
    values = {
        "state": LevellingState.RUNNING,
        "started_at": now,
        "beat_at": now,
        "stop_wanted": False,
        "mark": get_mark(session),
        "today": today,
        "seconds": seconds,
        "extra_place": None if extra is None else extra.place,
        "extra_positions": None if extra is None else extra.positions,
        "phase": Phase.DATES,
        "reached": [],
        "changes": 0,
        "accepted": 0,
    }
    statement = insert(Levelling).values(values).returning(Levelling.id)
    try:
        return session.execute(statement, execution_options=_UNMARKED).scalar_one()
    except IntegrityError as error:
        raise ClashError from error


def end_silent(session: Session, now: float) -> None:
    """Mark as stopped what runs by its row, but has given no sign of life for long."""
    _write(session, _RUNNING & (Levelling.beat_at < now - SILENT_SECONDS), _ended(LevellingState.STOPPED, now))


def end_levelling(session: Session, levelling_id: int, state: LevellingState, now: float, fault: str | None) -> None:
    """Mark a levelling as ended without an answer, unless it has ended already."""
    values = _ended(state, now) | {"fault": fault and fault[:500]}
    _write(session, _RUNNING & (Levelling.id == levelling_id), values)


def _ended(state: LevellingState, now: float) -> dict[str, Any]:
    return {"state": state, "ended_at": now}


def want_stop(session: Session, levelling_id: int) -> None:
    """Ask a levelling to stop."""
    _write(session, _RUNNING & (Levelling.id == levelling_id), {"stop_wanted": True})


def store_mark(session: Session, levelling_id: int, mark: str) -> None:
    """Store the mark of the data that a levelling has read."""
    _write(session, _RUNNING & (Levelling.id == levelling_id), {"mark": mark})


def store_beat(
    session: Session, levelling_id: int, *, now: float, progress: tuple[Phase, tuple[Reached, ...]] | None
) -> bool:
    """Store a sign of life and how far a levelling is; return whether it is to go on.

    Args:
        session: A short transaction of its own.
        levelling_id: Which.
        now: The present instant, in seconds since 1970. [s]
        progress: What it is doing and what it has reached; None while it has said nothing.
    """
    values: dict[str, Any] = {"beat_at": now}
    if progress is not None:
        values |= {"phase": progress[0], "reached": _reached(progress[1])}
    runs = _write(session, _RUNNING & (Levelling.id == levelling_id), values)
    return runs and not session.scalar(select(Levelling.stop_wanted).where(Levelling.id == levelling_id))


def _write(session: Session, which: ColumnElement[bool], values: dict[str, Any]) -> bool:
    """Change levellings; return whether there were any."""
    statement = update(Levelling).where(which).values(values).returning(Levelling.id)
    return bool(session.execute(statement, execution_options=_UNMARKED).all())


def _reached(goals: tuple[Reached, ...]) -> list[list[Any]]:
    return [[goal.goal.value, float(goal.value), float(goal.bound)] for goal in goals]


def store_answer(
    session: Session, levelling_id: int, answer: Answer, *, today: date, now: float, state: LevellingState
) -> None:
    """Store an answer and what it changes; one that was taken for dead meanwhile gets it all the same.

    Args:
        session: A transaction of its own.
        levelling_id: Which; where there is none any more, nothing is stored.
        answer: What was found.
        today: The day that was taken for today.
        now: The present instant, in seconds since 1970. [s]
        state: Whether it came to its end, or was stopped.
    """
    changed = np.flatnonzero(answer.choices.is_changed(answer.garden))
    waits = Levelling.state.in_((LevellingState.RUNNING, LevellingState.STOPPED)) & Levelling.answer.is_(None)
    values = {
        **_ended(state, now),
        "beat_at": now,
        "reached": _reached(answer.reached),
        "answer": _answer(answer),
        "changes": len(changed),
        "good_until": _good_until(answer, changed, today.toordinal()),
    }
    if _write(session, waits & (Levelling.id == levelling_id), values):
        insert_columns(session, table_of(LevellingChange), _changes(levelling_id, answer, changed))


def _answer(answer: Answer) -> dict[str, Any]:
    extra, sowings = answer.extra, answer.garden.sowings
    stored: dict[str, Any] = {
        "is_stopped": answer.is_stopped,
        "stuck": [[int(each) for each in (s.place, s.first, s.last, s.over)] for s in answer.stuck],
        "extra": None,
    }
    if extra is not None:
        at = np.flatnonzero(extra.choices.is_changed(answer.garden))
        columns = (sowings.ids, extra.choices.sow_on, extra.choices.light, extra.choices.placed)
        stored["extra"] = {
            "positions": [int(count) for count in extra.positions],
            "bound": int(extra.bound),
            "choices": [column[at].tolist() for column in columns],
        }
    return stored


def _good_until(answer: Answer, changed: Ints, today: int) -> date | None:
    days = answer.after.timeline.sow_on[changed]
    days = days[days >= today]
    return as_date(int(days.min())) if len(days) else None


def _changes(levelling_id: int, answer: Answer, changed: Ints) -> dict[str, list[Any]]:
    garden, plans = answer.garden, {"before": answer.before, "after": answer.after}
    columns: dict[str, list[Any]] = {
        "levelling_id": [levelling_id] * len(changed),
        "sowing_id": garden.sowings.ids[changed].tolist(),
        "is_accepted": [False] * len(changed),
        "wanted": garden.sowings.plants[changed].tolist(),
    }
    for when, chosen in (("before", garden.sowings), ("after", answer.choices)):
        places = plans[when].light_place[changed].tolist()
        columns |= {
            f"sow_on_{when}": [as_date(day) for day in chosen.sow_on[changed].tolist()],
            f"light_{when}": [None if light < 0 else Light(PLACES[light]) for light in chosen.light[changed].tolist()],
            f"placed_{when}": [None if placed < 0 else placed for placed in chosen.placed[changed].tolist()],
            f"day_{when}": [as_date(day) for day in plans[when].timeline.sow_on[changed].tolist()],
            f"place_{when}": [None if place < 0 else PLACES[place] for place in places],
        }
    return columns


def apply_changes(session: Session, levelling_id: int, sowings: Collection[int] | None) -> int:
    """Write what a levelling changes to its sowings.

    Args:
        session: Its transaction takes it all.
        levelling_id: Which.
        sowings: The ids of the sowings whose change is accepted; None for all.

    Returns:
        The number of sowings changed. [1]
    """
    of_it = LevellingChange.levelling_id == levelling_id
    if sowings is None:
        _accept(session, of_it)
    else:
        ids = sorted(sowings)
        for begin in range(0, len(ids), BATCH_ROWS):
            _accept(session, of_it & LevellingChange.sowing_id.in_(ids[begin : begin + BATCH_ROWS]))
    accepted = session.scalar(select(func.count()).where(of_it, LevellingChange.is_accepted)) or 0
    _put(session, levelling_id, "after")
    values = {"state": LevellingState.ACCEPTED, "accepted": accepted}
    _write(session, Levelling.id == levelling_id, values)
    return accepted


def take_back_changes(session: Session, levelling_id: int) -> None:
    """Write what stood in its sowings before the accepted changes of a levelling."""
    _put(session, levelling_id, "before")
    _write(session, Levelling.id == levelling_id, {"state": LevellingState.TAKEN_BACK})


def _accept(session: Session, which: ColumnElement[bool]) -> None:
    statement = update(LevellingChange).where(which).values(is_accepted=True)
    session.execute(statement, execution_options={"synchronize_session": False})


def _put(session: Session, levelling_id: int, when: str) -> None:
    """Write one side of the accepted changes of a levelling to the columns of the sowings."""
    change = table_of(LevellingChange)
    which = (change.c.levelling_id == levelling_id) & change.c.is_accepted & (change.c.sowing_id == Sowing.id)
    values = {name: change.c[f"{name}_{when}"] for name in ("sow_on", "light", "placed")}
    session.execute(update(Sowing).where(which).values(values), execution_options={"synchronize_session": False})
    renew_mark(session)
    session.expire_all()


def throw_away(session: Session, levelling_id: int) -> None:
    """Forget the answer of a levelling."""
    _write(session, Levelling.id == levelling_id, {"state": LevellingState.THROWN_AWAY, "answer": None})
    statement = delete(LevellingChange).where(LevellingChange.levelling_id == levelling_id)
    session.execute(statement, execution_options=_UNMARKED | {"synchronize_session": False})
