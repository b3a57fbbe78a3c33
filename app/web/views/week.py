"""This week: what is due, by day and task."""

from dataclasses import dataclass
from datetime import date

from flask import Blueprint, abort, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.core.calendar import week_start
from app.core.plan import Plan
from app.core.week import Due, Task
from app.extensions import db
from app.services.plan import get_plan
from app.sheets.tasks import (
    HANDLES_MIX,
    DayOfWeek,
    days_of,
    due_in_week,
    due_words,
    next_due,
    next_sowing_day,
    over_in_week,
    totals_of,
)
from app.sheets.words import count_words, day_words, list_words
from app.web.access import Who, open_to
from app.web.backup_notice import backup_notice
from app.web.clock_notice import clock_notice
from app.web.context import current_day
from app.web.kept import kept_with
from app.web.paging import Paging, read_number, read_paging
from app.web.weeks import addresses, read_week, week_name

bp = Blueprint("week", __name__)

ROWS = 600  # of one page; a garden of 500 sowings has half of that in its fullest week


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
        days: What is due, by day and task.
        total: Tasks of the week.
        handles_mix: The tasks with which potting mix is handled.
        first_mix: The day where the caution of its dust stands; None where none is handled.
        paging: Where this page stands among the rows.
        previous: Address of the week before.
        next: Address of the week after.
        present: Address of the week of today.
        growers: Id and name of every grower to choose from.
        grower: Id and name of the chosen one; None for all.
        ahead: The first task after an empty week in words, and the address of its week; None after the last.
    """

    monday: date
    name: str
    today: date
    is_now: bool
    is_over: bool
    facts: list[tuple[str, str]]
    days: tuple[DayOfWeek, ...]
    total: int
    handles_mix: frozenset[Task]
    first_mix: date | None
    paging: Paging
    previous: str
    next: str
    present: str
    growers: list[tuple[int, str]]
    grower: tuple[int, str] | None
    ahead: tuple[str, str] | None


@bp.get("/")
@open_to(Who.MEMBERS)
@kept_with(lambda: backup_notice() + clock_notice())
def index() -> ResponseReturnValue:
    """Show what is due in a week; week and grower stand in the address."""
    plan, today = get_plan(db.session), current_day()
    page = page_of(plan, read_week(request.args.get("week"), plan, today), today, read_grower(plan))
    return render_template(
        "week/index.html",
        page=page,
        grower_address=addresses("growers.show", "grower_id"),
        backup_notice=backup_notice(),
        clock_notice=clock_notice(),
    )


def read_grower(plan: Plan) -> int | None:
    """Return the index of the grower in the address, None where there is none, or answer that there is no such one."""
    wanted = read_number("grower")
    if wanted is None:
        return None
    found = next((index for index, grower in enumerate(plan.garden.growers) if grower.id == wanted), None)
    return abort(404) if found is None else found


def page_of(plan: Plan, monday: date, today: date, chosen: int | None) -> WeekPage:
    """Return the page of a week."""
    due = due_in_week(plan, monday, grower=chosen)
    paging = read_paging(len(due), ROWS)
    days = days_of(plan, due, slice(max(paging.first - 1, 0), paging.last))
    grower = None if chosen is None else plan.garden.growers[chosen]
    ahead = None if due else next_due(plan, max(monday, today), grower=chosen)

    def address(week: str | None) -> str:
        return url_for("week.index", week=week, grower=None if grower is None else grower.id)

    return WeekPage(
        monday=monday,
        name=week_name(monday),
        today=today,
        is_now=week_start(today) == monday,
        is_over=bool(over_in_week(plan, monday)),
        facts=facts_of(plan, monday, today, due),
        days=days,
        total=len(due),
        handles_mix=HANDLES_MIX,
        first_mix=next((day.day for day in days if any(part.task in HANDLES_MIX for part in day.tasks)), None),
        paging=paging,
        previous=address(week_name(monday, -1)),
        next=address(week_name(monday, 1)),
        present=address(None),
        growers=[(one.id, one.name) for one in plan.garden.growers],
        grower=None if grower is None else (grower.id, grower.name),
        ahead=(due_words(plan, ahead), address(week_name(date.fromordinal(ahead.day)))) if ahead else None,
    )


def facts_of(plan: Plan, monday: date, today: date, due: list[Due]) -> list[tuple[str, str]]:
    """Return the line of facts: how many of each task, the next sowing day, places that are over-full."""
    facts = [(task.capitalize(), count_words(count, "sowing")) for task, count in totals_of(due)]
    sowing_day = next_sowing_day(plan, today)
    if sowing_day:
        facts.append(("Next sowing day", "today" if sowing_day == today else day_words(sowing_day)))
    facts.append(("Over-full", list_words(list(over_in_week(plan, monday))) or "no place"))
    return facts
