"""Levellings in words: how far one is that runs, and what became of those that are over."""

from dataclasses import dataclass
from datetime import datetime

from app.core.fitting.answer import Goal, Phase
from app.core.words import LevellingState
from app.language import N_, _
from app.services.levelling import ExtraShelf, LevellingRow
from app.sheets.levelling_goals import PHASES, GoalLine, gap_words, goal_lines
from app.sheets.words import NO_BREAK_SPACE, count_words, day_words, number_words, percent_words

MINUTE = 60

ON_SHELVES = {
    "heat": N_("on heat"),
    "lamp": N_("under lamps"),
    "window": N_("at a window"),
    "hardening": N_("for hardening"),
}


@dataclass(frozen=True, kw_only=True)
class RunLine:
    """A levelling in the list of all: its id, when it was started, what for, what it came to and what became of it."""

    id: int
    started: str
    what: str
    share: str
    gap: str
    state: str


@dataclass(frozen=True, kw_only=True)
class ProgressPage:
    """A levelling that runs.

    Attributes:
        id: Its id.
        started: When it was started.
        what: What it looks for.
        phase: What it is doing.
        elapsed: For how long it has been looking.
        limit: For how long it may.
        bar_width: The one as a share of the other. [0 to 100]
        phases: All it does, in order, each with `done`, `now` or `next`.
        goals: The goals so far.
        is_stopping: Whether it has been told to stop.
    """

    id: int
    started: str
    what: str
    phase: str
    elapsed: str
    limit: str
    bar_width: float
    phases: tuple[tuple[str, str], ...]
    goals: tuple[GoalLine, ...]
    is_stopping: bool


def run_line(row: LevellingRow) -> RunLine:
    """Return a levelling as a line of the list."""
    share = next((one.value for one in row.reached if one.goal is Goal.SHARE), None)
    return RunLine(
        id=row.id,
        started=instant_words(row.started_at),
        what=what_words(row.extra),
        share="–" if share is None or not row.has_answer else percent_words(share),
        gap=gap_words(row.gap) if row.has_answer else "–",
        state=state_words(row),
    )


def progress_page(row: LevellingRow) -> ProgressPage:
    """Return how far a levelling is that runs."""
    phases = list(Phase)
    at = phases.index(row.phase)
    return ProgressPage(
        id=row.id,
        started=instant_words(row.started_at),
        what=what_words(row.extra),
        phase=_(PHASES[row.phase]),
        elapsed=time_words(row.elapsed),
        limit=time_words(row.seconds),
        bar_width=round(min(100.0, 100 * row.elapsed / row.seconds), 1),
        phases=tuple(
            (_(PHASES[phase]), "done" if number < at else "now" if number == at else "next")
            for number, phase in enumerate(phases)
        ),
        goals=goal_lines(row.reached),
        is_stopping=row.is_stopping,
    )


def what_words(extra: ExtraShelf | None) -> str:
    """Return for what a plan was looked for."""
    return _("the shelves there are") if extra is None else _("with %(room)s", room=shelf_words(extra))


def shelf_words(extra: ExtraShelf) -> str:
    """Return the room of a shelf that is not there: 4 more positions under lamps."""
    return f"{count_words(extra.positions, 'more position', 'more positions')} {_(ON_SHELVES[extra.place.value])}"


def state_words(row: LevellingRow) -> str:
    """Return what became of a levelling."""
    count = count_words(row.changes, "change", "changes")
    accepted = count
    if row.accepted != row.changes:
        accepted = _("%(accepted)s of %(changes)s", accepted=number_words(row.accepted), changes=count)
    if row.is_open:
        return _open_words(row, count)
    return {
        LevellingState.RUNNING: _("is being looked for"),
        LevellingState.FAILED: _("failed"),
        LevellingState.ACCEPTED: _("accepted, %(changes)s", changes=accepted),
        LevellingState.TAKEN_BACK: _("accepted, %(changes)s, and taken back", changes=accepted),
        LevellingState.THROWN_AWAY: _("thrown away"),
    }.get(row.state, _("stopped before there was a plan"))


def _open_words(row: LevellingRow, count: str) -> str:
    if row.is_stale:
        return _("out of date: something has changed since")
    if row.extra is not None:
        return _("to be read")
    return _("%(changes)s to be accepted", changes=count) if row.changes else _("nothing to change")


def head_words(row: LevellingRow, *, fits: bool) -> str:
    """Return the heading of a levelling that is over.

    Args:
        row: The levelling.
        fits: Whether everything has a position in its plan.
    """
    if row.is_open:
        return _open_head(row, fits=fits)
    return {
        LevellingState.FAILED: _("No plan was found"),
        LevellingState.ACCEPTED: _("An accepted plan"),
        LevellingState.TAKEN_BACK: _("A plan that was taken back"),
        LevellingState.THROWN_AWAY: _("A plan that was thrown away"),
    }.get(row.state, _("Stopped before there was a plan"))


def _open_head(row: LevellingRow, *, fits: bool) -> str:
    if row.is_stale:
        return _("A plan that is out of date")
    if row.extra is not None:
        return _("With %(room)s", room=shelf_words(row.extra))
    if not row.changes:
        return _("Nothing better was found") if fits else _("Nothing that fits was found")
    return _("A plan that fits") if fits else _("The best plan that was found")


def found_words(row: LevellingRow, *, is_stopped: bool) -> str:
    """Return when and how long a plan was looked for.

    Args:
        row: The levelling.
        is_stopped: Whether it ended before every goal was proven.
    """
    instant, time = instant_words(row.started_at), time_words(row.elapsed)
    if is_stopped:
        return _(
            "Looked for on %(instant)s, for %(time)s; stopped before the best was proven.", instant=instant, time=time
        )
    return _("Looked for on %(instant)s, for %(time)s.", instant=instant, time=time)


def instant_words(instant: datetime) -> str:
    """Return an instant by the clock of this machine: Sat 10 Apr, 14:02."""
    return f"{day_words(instant.date())}, {instant:%H:%M}"


def time_words(seconds: float) -> str:
    """Return a length of time: 12 s, or 3 min 5 s."""
    minutes, rest = divmod(round(seconds), MINUTE)
    parts = [f"{minutes}{NO_BREAK_SPACE}min"] * bool(minutes) + [f"{rest}{NO_BREAK_SPACE}s"] * bool(rest or not minutes)
    return " ".join(parts)
