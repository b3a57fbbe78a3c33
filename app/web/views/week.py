"""This week: what is due and what is done, by day or along the shelves, and ticking it off."""

import re
from dataclasses import dataclass
from datetime import date, timedelta

from flask import Blueprint, abort, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.core.calendar import DAYS_IN_WEEK, as_day, week_start
from app.core.log.rules import LogRuleError
from app.core.plan import Plan
from app.core.work.week import Task
from app.core.work.work import work_of
from app.extensions import db
from app.language import _, ngettext
from app.services.plan import get_plan
from app.services.work import NotOpenError, Pick, sow_again, take_back_done, tick_off
from app.sheets.failing import FailingLine
from app.sheets.fixed_words import say
from app.sheets.log_words import rule_words
from app.sheets.pdf import Template
from app.sheets.tasks import (
    HANDLES_MIX,
    Section,
    WeekOfTasks,
    next_sowing_day,
    next_work,
    over_in_week,
    sections_by_day,
    sections_by_shelf,
    tasks_of_week,
    totals_of,
    work_words,
)
from app.sheets.words import count_words, day_words, list_words, number_words
from app.sheets.work_sheet import make_work_sheet
from app.storage.queries.sowings import get_sowing
from app.storage.queries.trays import StayRow, list_stays_between
from app.web.access import Who, current_account_id, is_coordinator, may_log, me, open_to, require_own
from app.web.backup_notice import backup_notice
from app.web.clock_notice import clock_notice
from app.web.context import current_day, is_timed
from app.web.failing import failing_lines, first_failing, spares_address
from app.web.first_steps import find_steps
from app.web.kept import kept, kept_with
from app.web.once import save
from app.web.paging import Paging, read_number, read_paging
from app.web.rounds_notice import rounds_notice
from app.web.views.sheets import send_pdf
from app.web.views.sowings import say_dates
from app.web.weeks import addresses, read_week, week_name

bp = Blueprint("week", __name__)

ROWS = 200  # of one page; a garden of 500 sowings has about that in its fullest week
SHELF, DAY = "shelf", "day"
PICK = re.compile(r"([a-z_]{3,20})\.([0-9]{1,9})")
TASKS = {task.name.lower(): task for task in Task}


@dataclass(frozen=True, kw_only=True)
class WeekPage:
    """A week of tasks as its page shows it.

    Attributes:
        monday: First day of the week.
        name: The week as it stands in addresses.
        today: The day that is taken for today.
        is_now: Whether today lies in the week.
        is_over: Whether some place is over-full in the week.
        facts: The line of facts under the heading.
        by: How the list is ordered: by `day` or by `shelf`.
        sections: What is due and done.
        total: Tasks of the week, open and done.
        handles_mix: The tasks with which potting mix is handled.
        first_mix: The section where the caution of its dust stands; None where none is handled.
        paging: Where this page stands among the rows.
        previous: Address of the week before.
        next: Address of the week after.
        present: Address of the week of today.
        other_order: Address of the same in the other order.
        pdf: Address of the list as PDF.
        growers: Id and name of every grower to choose from.
        grower: Id and name of the chosen one; None for all.
        everybody: Address of the tasks of all growers.
        ahead: The first task after an empty week in words, and the address of its week; None after the last.
        may_tick: Whether whoever looks may tick off any of it.
        failing: In the week of today, the first sowings that are late or have failed.
        n_failing: How many they are in all.
    """

    monday: date
    name: str
    today: date
    is_now: bool
    is_over: bool
    facts: list[tuple[str, str]]
    by: str
    sections: tuple[Section, ...]
    total: int
    handles_mix: frozenset[Task]
    first_mix: str | None
    paging: Paging
    previous: str
    next: str
    present: str
    other_order: str
    pdf: str
    growers: list[tuple[int, str]]
    grower: tuple[int, str] | None
    everybody: str
    ahead: tuple[str, str] | None
    may_tick: bool
    failing: list[FailingLine]
    n_failing: int


@bp.get("/")
@open_to(Who.MEMBERS)
@kept_with(lambda: backup_notice() + clock_notice())
def index() -> ResponseReturnValue:
    """Show what is due in a week; week, grower and order stand in the address."""
    plan, today = get_plan(db.session), current_day()
    if is_coordinator() and not len(plan.garden.sowings) and not request.args.get("week"):
        steps = find_steps()
        if steps.is_first:
            return render_template(
                "first_steps/index.html",
                page=steps,
                begins=True,
                backup_notice=backup_notice(),
                clock_notice=clock_notice(),
            )
    page = page_of(plan, read_week(request.args.get("week"), plan, today), today, read_grower(plan))
    return render_template(
        "week/index.html",
        page=page,
        grower_address=addresses("growers.show", "grower_id"),
        may_log=may_log,
        spares=spares_address(),
        log_address=addresses("log.sowing", "sowing_id"),
        backup_notice=backup_notice(),
        clock_notice=clock_notice(),
        rounds=rounds_notice(),
        has_shelves=bool(plan.garden.shelves),
    )


@bp.get("/week.pdf")
@open_to(Who.MEMBERS)
@kept
def pdf() -> ResponseReturnValue:
    """Hand out what is open in a week as PDF; week, grower and order stand in the address."""
    plan, today = get_plan(db.session), current_day()
    monday, chosen = read_week(request.args.get("week"), plan, today), read_grower(plan)
    week = tasks_of_week(plan, work_of(plan, grower=chosen), monday, today, list_stays_around(plan, monday))
    sheet = make_work_sheet(
        plan,
        week,
        grower="" if chosen is None else plan.garden.growers[chosen].name,
        by_shelf=read_by() == SHELF,
        is_timed=is_timed(),
    )
    page = url_for("week.index", week=sheet.iso, grower=request.args.get("grower"))
    return send_pdf(Template.WORK, sheet, f"tasks-{sheet.iso}.pdf", page)


@bp.post("/tick")
@open_to(Who.MEMBERS)
def tick() -> ResponseReturnValue:
    """Tick off tasks as done: the one whose button was pressed, or all that are marked."""
    picks = [read_pick(text) for text in [request.form.get("one", "")] if text] or [
        read_pick(text) for text in request.form.getlist("done")
    ]
    require_may_log(picks)
    address = back()
    if not picks:
        return save(address, _("Nothing was marked. Mark what is done, then press the button below the list."))
    day = read_done_day()
    if day is None:
        return save(address, _("Nothing was ticked off: the day is not one up to today. Choose the day it was done."))
    try:
        count = tick_off(
            db.session,
            picks,
            day,
            today=current_day(),
            account_id=current_account_id(),
            grower_id=me().grower_id,
        )
    except NotOpenError:
        db.session.rollback()
        return refused(_("Nothing was ticked off: somebody was there before. Below is what is open now."))
    except LogRuleError as error:
        db.session.rollback()
        return refused(_("Nothing was ticked off. %(rule)s", rule=rule_words(error.rule, error.limit)))
    return save(
        address,
        ngettext(
            "%(num)s task ticked off as done on %(day)s.",
            "%(num)s tasks ticked off as done on %(day)s.",
            count,
            num=number_words(count),
            day=day_words(day),
        ),
    )


@bp.post("/untick")
@open_to(Who.MEMBERS)
def untick() -> ResponseReturnValue:
    """Take back that a task was done."""
    if not request.form.get("undo"):
        return save(back(), _("Nothing was taken back. Press the button beside what is to be taken back."))
    text, _at, day_text = request.form["undo"].partition("@")
    pick, day = read_pick(text), read_iso(day_text)
    if day is None:
        abort(400)
    require_may_log([pick])
    try:
        take_back_done(db.session, pick, day, today=current_day(), account_id=current_account_id())
    except NotOpenError:
        db.session.rollback()
        return refused(_("Nothing was taken back: it is not there as done on that day any more."))
    except LogRuleError as error:
        db.session.rollback()
        return refused(
            _(
                "Nothing was taken back; take back first what was done after it. %(rule)s",
                rule=rule_words(error.rule, error.limit),
            )
        )
    return save(back(), _("Taken back: %(task)s, %(day)s.", task=say(pick[0]), day=day_words(day)))


@bp.post("/sowings/<int:sowing_id>/again")
@open_to(Who.MEMBERS)
def again(sowing_id: int) -> ResponseReturnValue:
    """Add a sowing for the plants that will be missing of one that failed.

    It is open after wishes have closed too: no more plants are wished for than before.
    """
    grower_id = get_sowing(db.session, sowing_id).grower_id
    require_own(grower_id)
    plan, address = get_plan(db.session), url_for("growers.show", grower_id=grower_id)
    line = next(iter(failing_lines(plan, sowing=plan.index_of[sowing_id])), None)
    if line is None or not line.again:
        flash(_("Nothing was added: nothing is missing of this sowing any more, or it cannot be sown again."))
        return redirect(address)
    added = sow_again(db.session, sowing_id, line.plants)
    return save(
        address,
        lambda: _("%(sowing)s added for the missing plants. %(dates)s", sowing=added.name, dates=say_dates(added.id)),
    )


def read_pick(text: str) -> Pick:
    """Return a task and the row number of its sowing, or answer that the form is none of ours."""
    found = PICK.fullmatch(text)
    if found is None or found[1] not in TASKS:
        abort(400)
    return TASKS[found[1]], int(found[2])


def require_may_log(picks: list[Pick]) -> None:
    """Refuse what is of other growers."""
    if is_coordinator():
        return
    for _task, sowing_id in picks:
        if not may_log([get_sowing(db.session, sowing_id).grower_id]):
            abort(403)


def read_iso(text: str) -> date | None:
    """Return a day as browsers send it, None where it is none."""
    try:
        return date.fromisoformat(text) if len(text) == len("2027-04-10") else None
    except ValueError:
        return None


def read_done_day() -> date | None:
    """Return the day on which things were done, today where none is given, None where it has not come or is none."""
    text = request.form.get("day", "")
    day = read_iso(text) if text else current_day()
    return day if day is not None and day <= current_day() else None


def back() -> str:
    """Return the address of the list from which a form was sent."""
    week, grower, by = (request.form.get(name) for name in ("week", "grower", "by"))
    return url_for("week.index", week=week, grower=grower, by=by)


def refused(words: str) -> ResponseReturnValue:
    """Show the list as it is now, and why nothing was saved."""
    flash(words)
    return redirect(back())


def read_grower(plan: Plan) -> int | None:
    """Return the index of the grower in the address, or answer that there is no such one.

    None for all: that is what an empty one says, and none at all for whoever has no sowings of their own to see first.
    """
    wanted = read_number("grower")
    if request.args.get("grower") is None and not is_coordinator():
        own = me().grower_id
        return next((index for index, grower in enumerate(plan.garden.growers) if grower.id == own), None)
    if wanted is None:
        return None
    found = next((index for index, grower in enumerate(plan.garden.growers) if grower.id == wanted), None)
    return abort(404) if found is None else found


def read_by() -> str:
    """Return the order in the address, by day where none is given."""
    return SHELF if request.args.get("by") == SHELF else DAY


def list_stays_around(plan: Plan, monday: date) -> list[StayRow]:
    """Return where trays stand from the day before a week to its end."""
    if not len(plan.garden.dealt):
        return []
    return list_stays_between(db.session, monday - timedelta(days=1), monday + timedelta(days=DAYS_IN_WEEK))


def page_of(plan: Plan, monday: date, today: date, chosen: int | None) -> WeekPage:
    """Return the page of a week."""
    begin = as_day(monday)
    work = work_of(plan, grower=chosen, begin=begin, end=begin + DAYS_IN_WEEK)
    week = tasks_of_week(plan, work, monday, today, list_stays_around(plan, monday))
    by = read_by()
    total = len(week.all)
    paging = read_paging(total, ROWS)
    rows = slice(max(paging.first - 1, 0), paging.last)
    sections = sections_by_shelf(plan, week, rows) if by == SHELF else sections_by_day(plan, week, rows)
    grower = None if chosen is None else plan.garden.growers[chosen]
    failing, n_failing = first_failing(plan, grower=chosen) if week_start(today) == monday else ([], 0)
    ahead = None if total else next_work(plan, max(monday, today), grower=chosen)
    said = request.args.get("grower")

    def address(week: str | None, order: str = by) -> str:
        return url_for("week.index", week=week, grower=said, by=None if order == DAY else order)

    def handles_mix(section: Section) -> bool:
        return any(group.task in HANDLES_MIX for group in section.groups)

    return WeekPage(
        monday=monday,
        name=week_name(monday),
        today=today,
        is_now=week_start(today) == monday,
        is_over=bool(over_in_week(plan, monday)),
        facts=facts_of(plan, week),
        by=by,
        sections=sections,
        total=total,
        handles_mix=HANDLES_MIX,
        first_mix=next((section.anchor for section in sections if handles_mix(section)), None),
        paging=paging,
        previous=address(week_name(monday, -1)),
        next=address(week_name(monday, 1)),
        present=address(None),
        other_order=address(week_name(monday), DAY if by == SHELF else SHELF),
        pdf=url_for("week.pdf", week=week_name(monday), grower=said, by=None if by == DAY else by),
        growers=[(one.id, one.name) for one in plan.garden.growers],
        grower=None if grower is None else (grower.id, grower.name),
        everybody=url_for("week.index", week=week_name(monday), grower="", by=None if by == DAY else by),
        ahead=(work_words(plan, ahead), address(week_name(date.fromordinal(ahead.day)))) if ahead else None,
        may_tick=total > 0 and (is_coordinator() or (me().grower_id is not None and may_tick_any(plan, week))),
        failing=failing,
        n_failing=n_failing,
    )


def may_tick_any(plan: Plan, week: WeekOfTasks) -> bool:
    """Return whether whoever looks may tick off any of a week's tasks."""
    growers = {plan.garden.growers[int(plan.garden.sowings.grower[one.sowing])].id for one in week.all}
    return may_log(growers)


def facts_of(plan: Plan, week: WeekOfTasks) -> list[tuple[str, str]]:
    """Return the line of facts: how many of each task are open, the next sowing day, places that are over-full."""
    facts = [(say(task).capitalize(), count_words(count, "sowing", "sowings")) for task, count in totals_of(week.all)]
    sowing_day = next_sowing_day(plan, week.today)
    if sowing_day:
        facts.append((_("Next sowing day"), _("today") if sowing_day == week.today else day_words(sowing_day)))
    facts.append((_("Over-full"), list_words(list(over_in_week(plan, week.monday))) or _("no place")))
    return facts
