"""Making it fit: looking for a plan, how far it is, and what it would change."""

from dataclasses import dataclass

from flask import Blueprint, flash, make_response, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.core.fitting.answer import Answer
from app.core.words import LevellingState
from app.extensions import db
from app.language import _
from app.services import levelling
from app.services.levelling import AlreadyRunningError, ExtraShelf, LevellingRow, Obstacles
from app.services.levelling_children import launch_levelling
from app.services.levelling_explained import explain_answer
from app.services.plan import get_plan
from app.sheets.ledger_page import over_words
from app.sheets.levelling_changes import ChangeGroup, groups_of_rows
from app.sheets.levelling_goals import GoalLine, goal_lines
from app.sheets.levelling_page import AnswerPage, CompareLine, compare_shelf, make_answer_page
from app.sheets.levelling_runs import RunLine, found_words, head_words, progress_page, run_line
from app.storage.engine import reading
from app.web.access import Who, open_to
from app.web.context import current_day, current_settings
from app.web.forms.levelling import ShelfForm, StartForm
from app.web.once import save
from app.web.paging import Paging, read_paging
from app.web.weeks import addresses

bp = Blueprint("levelling", __name__, url_prefix="/fit")

REFRESH_SECONDS = 2
ROWS = 150  # of one page of changes; what is accepted is all of them


@dataclass(frozen=True, kw_only=True)
class IndexPage:
    """Where a plan is looked for.

    Attributes:
        over: What is over-full now, in a sentence; empty where nothing is.
        has_trays: Whether any tray stands on the shelves at all.
        running: The levelling that runs; None where none does.
        runs: Those there were, the latest first.
        paging: Where this page stands in their list.
    """

    over: str
    has_trays: bool
    running: RunLine | None
    runs: tuple[RunLine, ...]
    paging: Paging


@dataclass(frozen=True, kw_only=True)
class OpenPage:
    """An answer that can still be accepted, or read.

    Attributes:
        id: Its levelling.
        title: What it is.
        lead: When and how long it was looked for.
        answer: The answer.
        changes: Its changes, of this page of the list.
        paging: Where this page stands in the list.
        can_be_accepted: Whether there is anything that could be.
        is_with_shelf: Whether it counts on a shelf that is not there.
        shelf: What that would bring, beside the best plan without it; empty where there is none to compare.
    """

    id: int
    title: str
    lead: str
    answer: AnswerPage
    changes: tuple[ChangeGroup, ...]
    paging: Paging
    can_be_accepted: bool
    is_with_shelf: bool
    shelf: tuple[CompareLine, ...]


@dataclass(frozen=True, kw_only=True)
class PastPage:
    """A levelling that is over and whose answer, if any, can no longer be accepted.

    Attributes:
        id: Its id.
        title: What became of it.
        lead: When and how long it was looked for.
        state: What became of it, as the program says it.
        fault: Why it failed; empty where it did not, or nobody knows.
        goals: The goals, and how far they were reached.
        changes: What it changes or would have changed, of this page of the list.
        count: Sowings that it changes. [1]
        left: Changes of these that were left aside. [1]
        obstacles: Why it cannot be taken back; None where it is not accepted.
        paging: Where this page stands in the list.
    """

    id: int
    title: str
    lead: str
    state: LevellingState
    fault: str
    goals: tuple[GoalLine, ...]
    changes: tuple[ChangeGroup, ...]
    count: int
    left: int
    obstacles: Obstacles | None
    paging: Paging


@bp.get("")
@open_to(Who.COORDINATORS)
def index() -> ResponseReturnValue:
    """Show what is over-full, and offer to look for a plan that fits."""
    return show_index(StartForm(), ShelfForm(prefix="shelf-"))


@bp.post("")
@open_to(Who.COORDINATORS)
def start() -> ResponseReturnValue:
    """Look for a plan."""
    form = StartForm()
    if not form.validate_on_submit():
        with reading():
            return show_index(form, ShelfForm(None, prefix="shelf-"))
    return begin(form.seconds.data, None)


@bp.post("/with-shelf")
@open_to(Who.COORDINATORS)
def start_with_shelf() -> ResponseReturnValue:
    """Look for a plan with one shelf more, to see what it would bring."""
    form = ShelfForm(prefix="shelf-")
    if not form.validate_on_submit():
        with reading():
            return show_index(StartForm(None), form)
    return begin(form.seconds.data, ExtraShelf(place=form.place.data, positions=form.positions.data))


@bp.get("/<int:run_id>")
@open_to(Who.COORDINATORS)
def show(run_id: int) -> ResponseReturnValue:
    """Show how far a levelling is, or what it answers, or what became of it."""
    row = levelling.get_levelling(db.session, run_id, today=current_day())
    if row.is_running:
        return show_running(row)
    answer = levelling.find_answer(db.session, row)
    return show_past(row) if answer is None else show_open(row, answer)


@bp.post("/<int:run_id>/stop")
@open_to(Who.COORDINATORS)
def stop(run_id: int) -> ResponseReturnValue:
    """Ask a levelling to stop; it keeps the best so far."""
    levelling.stop_levelling(db.session, run_id)
    return save(url_for("levelling.show", run_id=run_id))


def begin(seconds: int, extra: ExtraShelf | None) -> ResponseReturnValue:
    """Start a levelling in a process of its own, and lead to its page; where one runs, to that."""
    try:
        run_id = levelling.start_levelling(db.session, seconds=seconds, today=current_day(), extra=extra)
    except AlreadyRunningError as error:
        db.session.rollback()
        flash(str(error))
        return redirect(url_for("levelling.index"))
    answer = save(url_for("levelling.show", run_id=run_id))
    launch_levelling(current_settings().database_url, run_id)
    return answer


def show_index(form: StartForm, shelf: ShelfForm) -> ResponseReturnValue:
    """Return the page on which a levelling is started; with a form that is not right, the page says so."""
    plan, today = get_plan(db.session), current_day()
    paging = read_paging(levelling.count_levellings(db.session))
    latest = levelling.find_latest_levelling(db.session, today=today)
    page = IndexPage(
        over=over_words(plan.ledger),
        has_trays=bool(len(plan.ledger.needed)),
        running=run_line(latest) if latest is not None and latest.is_running else None,
        runs=tuple(map(run_line, levelling.list_levellings(db.session, today=today, page=paging.page))),
        paging=paging,
    )
    return render_template("levelling/index.html", page=page, form=form, shelf=shelf)


def show_running(row: LevellingRow) -> ResponseReturnValue:
    """Return how far a levelling is; the browser asks again by itself, unless the address keeps it still."""
    refreshes = 0 if request.args.get("still") else REFRESH_SECONDS
    answer = make_response(render_template("levelling/running.html", page=progress_page(row), refreshes=refreshes))
    if refreshes:
        answer.headers["Refresh"] = str(refreshes)
    return answer


def show_open(row: LevellingRow, answer: Answer) -> ResponseReturnValue:
    """Return what an answer would change, and why."""
    explained = explain_answer(answer)
    said = make_answer_page(answer, explained)
    paging = read_paging(len(said.changes), ROWS)
    page = OpenPage(
        id=row.id,
        title=head_words(row, fits=not said.ledgers.over_after),
        lead=found_words(row, is_stopped=answer.is_stopped),
        answer=said,
        changes=said.changes[max(paging.first - 1, 0) : paging.last],
        paging=paging,
        can_be_accepted=row.can_be_accepted,
        is_with_shelf=row.extra is not None,
        shelf=() if row.extra is None else beside_the_best_without(row, said),
    )
    return render_template("levelling/show.html", page=page, **links())


def beside_the_best_without(row: LevellingRow, said: AnswerPage) -> tuple[CompareLine, ...]:
    """Return what a shelf more would bring beside the latest plan found for the same garden without it."""
    rows = levelling.list_levellings(db.session, today=row.today)
    base = next((one for one in rows if one.is_open and one.mark == row.mark and one.extra is None), None)
    return () if base is None else compare_shelf(base.reached, levelling.list_changes(db.session, base.id), said)


def show_past(row: LevellingRow) -> ResponseReturnValue:
    """Return what became of a levelling."""
    is_accepted = row.state is LevellingState.ACCEPTED
    was_accepted = is_accepted or row.state is LevellingState.TAKEN_BACK
    rows = levelling.list_changes(db.session, row.id)
    changes = groups_of_rows(one for one in rows if one.is_accepted or not was_accepted)
    paging = read_paging(len(changes), ROWS)
    page = PastPage(
        id=row.id,
        title=head_words(row, fits=True),
        lead=found_words(row, is_stopped=row.state is LevellingState.STOPPED),
        state=row.state,
        fault=_(row.fault) if row.fault else "",
        goals=goal_lines(row.reached) if row.has_answer else (),
        changes=changes[max(paging.first - 1, 0) : paging.last],
        count=row.accepted if was_accepted else row.changes,
        left=row.changes - row.accepted if was_accepted else 0,
        obstacles=levelling.find_obstacles(db.session, row.id) if is_accepted else None,
        paging=paging,
    )
    return render_template("levelling/past.html", page=page, **links())


def links() -> dict[str, object]:
    """Return what templates write addresses with."""
    return {
        "grower_address": addresses("growers.show", "grower_id"),
        "sowing_address": addresses("sowings.edit", "sowing_id"),
        "day_address": addresses("sowings.day", "sowing_id"),
    }
