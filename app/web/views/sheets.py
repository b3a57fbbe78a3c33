"""Sheets: what is printed for the shelves, for a grower and for a hand-out day, as pages and as PDF."""

import re
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from flask import Blueprint, Response, abort, current_app, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.core.calendar import DAYS_IN_WEEK, monday_of, week_start
from app.core.plan import Plan
from app.core.words import Units
from app.extensions import db
from app.language import N_, _
from app.services.plan import get_plan
from app.sheets.grower_sheet import SheetFacts, make_grower_sheet
from app.sheets.hand_out import (
    HandOutFacts,
    HandOutSheet,
    hand_out_days,
    make_hand_out_sheet,
    next_hand_out_day,
    sowings_handed_out,
    sowings_not_collected,
)
from app.sheets.pdf import Paper, PdfError, Template, make_pdf, usual_paper
from app.sheets.sowing_sheet import BenchFacts, SowingSheet, fill_days, make_sowing_sheet, next_fill_day, trays_of_day
from app.sheets.tables import csv_text, deadline_rows
from app.sheets.weekly import WeeklySheet, make_weekly_sheet
from app.storage.errors import NotFoundError
from app.storage.queries.sheets import list_cells_of_sowings, list_saved_cucurbits, list_seed
from app.storage.queries.trays import list_cells_of_grower, list_stays, list_stays_between
from app.web.access import Who, open_to, require_own, way
from app.web.context import current_day, current_garden, is_timed
from app.web.forms.typed import FIRST_YEAR, LAST_YEAR
from app.web.kept import kept
from app.web.public_address import current_public_address
from app.web.readers import in_english, speak_to, speak_to_all
from app.web.weeks import read_week, week_name

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

bp = Blueprint("sheets", __name__)

PAPERS = {Paper.A4: "A4", Paper.LETTER: N_("US letter")}
DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


@dataclass(frozen=True, kw_only=True)
class SheetsPage:
    """What can be printed, for a chosen week and paper.

    Attributes:
        monday: First day of the chosen week.
        name: The week as it stands in addresses.
        is_now: Whether today lies in the week.
        weeks: Name and Monday of each week to choose from.
        previous: Address of the week before.
        next: Address of the week after.
        papers: Name and words of each size of paper.
        paper: The chosen one.
        fill: The next day on which trays are filled; None where there is none.
        fill_days: Every such day.
        hand_out: The next hand-out day; None where there is none.
        hand_out_days: Every hand-out day.
        growers: Id and name of every grower.
    """

    monday: date
    name: str
    is_now: bool
    weeks: list[tuple[str, date]]
    previous: str
    next: str
    papers: list[tuple[str, str]]
    paper: Paper
    fill: date | None
    fill_days: tuple[date, ...]
    hand_out: date | None
    hand_out_days: tuple[date, ...]
    growers: list[tuple[int, str]]


@bp.get("/sheets")
@open_to(Who.MEMBERS)
@kept
def index() -> ResponseReturnValue:
    """Show what can be printed; week and paper stand in the address."""
    plan, today, paper = get_plan(db.session), current_day(), read_paper()
    monday = read_week(request.args.get("week"), plan, today)
    mondays = sorted({monday, week_start(today), *map(monday_of, plan.ledger.weeks)})
    page = SheetsPage(
        monday=monday,
        name=week_name(monday),
        is_now=monday == week_start(today),
        weeks=[(week_name(day), day) for day in mondays],
        previous=url_for("sheets.index", week=week_name(monday, -1), paper=paper),
        next=url_for("sheets.index", week=week_name(monday, 1), paper=paper),
        papers=[(one.value, _(words)) for one, words in PAPERS.items()],
        paper=paper,
        fill=next_fill_day(plan, today),
        fill_days=fill_days(plan),
        hand_out=next_hand_out_day(plan, today),
        hand_out_days=hand_out_days(plan),
        growers=[(grower.id, grower.name) for grower in plan.garden.growers],
    )
    return render_template("sheets/index.html", page=page)


@bp.get("/sheets/week/<week>")
@open_to(Who.VISITORS)
@kept
def weekly(week: str) -> ResponseReturnValue:
    """Show the shelf sheet of a week, made to be printed."""
    sheet, monday = weekly_sheet(week)
    return render_template(
        "sheets/weekly.html", sheet=sheet, before=week_name(monday, -1), after=week_name(monday, 1), paper=read_paper()
    )


@bp.get("/sheets/week/<week>.pdf")
@open_to(Who.VISITORS)
@kept
def weekly_pdf(week: str) -> ResponseReturnValue:
    """Hand out the shelf sheet of a week as PDF."""
    get_plan(db.session)  # the garden comes with it
    speak_to_all()
    sheet, _monday = weekly_sheet(week)
    page = url_for("sheets.weekly", week=sheet.iso)
    return send_pdf(Template.WEEKLY, sheet, f"shelf-sheet-{sheet.iso}.pdf", page)


@dataclass(frozen=True, kw_only=True)
class SowingPage:
    """The sowing sheet of a day, and the way to others.

    Attributes:
        sheet: The sheet.
        day: Its day.
        days: Every day on which trays are filled.
        before: The last of them before this one; None where there is none.
        after: The first of them after this one; None where there is none.
        deal: Address of the page that deals the trays of this day; empty for whoever may not open it.
        paper: The size of paper.
    """

    sheet: SowingSheet
    day: date
    days: tuple[date, ...]
    before: date | None
    after: date | None
    deal: str
    paper: Paper


@bp.get("/sheets/sowing")
@open_to(Who.MEMBERS)
@kept
def sowing() -> ResponseReturnValue:
    """Show the sowing sheet of a day, of the next day on which trays are filled where none is given."""
    plan = get_plan(db.session)
    sheet, day = sowing_sheet(plan)
    days = fill_days(plan)
    page = SowingPage(
        sheet=sheet,
        day=day,
        days=days,
        before=max((other for other in days if other < day), default=None),
        after=min((other for other in days if other > day), default=None),
        deal=way("deal.index", day=day),
        paper=read_paper(),
    )
    return render_template("sheets/sowing.html", page=page)


@bp.get("/sheets/sowing.pdf")
@open_to(Who.MEMBERS)
@kept
def sowing_pdf() -> ResponseReturnValue:
    """Hand out the sowing sheet of a day as PDF."""
    plan = get_plan(db.session)
    speak_to_all()
    sheet, _day = sowing_sheet(plan)
    page = url_for("sheets.sowing", day=sheet.iso)
    return send_pdf(Template.SOWING, sheet, f"sowing-{sheet.iso}.pdf", page)


@bp.get("/sheets/hand-out")
@open_to(Who.MEMBERS)
@kept
def hand_out() -> ResponseReturnValue:
    """Show the hand-out sheet of a day, of the next hand-out day where none is given."""
    plan = get_plan(db.session)
    sheet = hand_out_sheet(plan)
    return render_template("sheets/hand_out.html", sheet=sheet, days=hand_out_days(plan), paper=read_paper())


@bp.get("/sheets/hand-out.pdf")
@open_to(Who.MEMBERS)
@kept
def hand_out_pdf() -> ResponseReturnValue:
    """Hand out the hand-out sheet of a day as PDF."""
    plan = get_plan(db.session)
    speak_to_all()
    sheet = hand_out_sheet(plan)
    page = url_for("sheets.hand_out", day=sheet.iso)
    return send_pdf(Template.HAND_OUT, sheet, f"hand-out-{sheet.iso}.pdf", page)


@bp.get("/growers/<int:grower_id>/sheet.pdf")
@open_to(Who.MEMBERS)
@kept
def grower_pdf(grower_id: int) -> ResponseReturnValue:
    """Hand out the sheet of a grower as PDF."""
    require_own(grower_id)
    plan = get_plan(db.session)
    speak_to(grower_id)
    index = next((at for at, grower in enumerate(plan.garden.growers) if grower.id == grower_id), None)
    if index is None:
        raise NotFoundError("grower", grower_id)
    cells = list_cells_of_grower(db.session, grower_id)
    facts = SheetFacts(
        units=current_units(),
        today=current_day(),
        saved_cucurbits=list_saved_cucurbits(db.session),
        cells=cells,
        stays=list_stays(db.session, {cell.tray_id for cell in cells}),
        is_timed=is_timed(),
    )
    page = url_for("growers.show", grower_id=grower_id)
    return send_pdf(Template.GROWER, make_grower_sheet(plan, index, facts), f"grower-{grower_id}.pdf", page)


@bp.get("/sheets/deadlines.csv")
@open_to(Who.COORDINATORS)
@kept
@in_english
def deadlines_csv() -> ResponseReturnValue:
    """Hand out the deadlines of every sowing as a file."""
    plan = get_plan(db.session)
    name = f"sowing-deadlines-{plan.garden.settings.season}.csv"
    return send_file(csv_text(deadline_rows(plan)), "text/csv", name)


def weekly_sheet(week: str) -> tuple[WeeklySheet, date]:
    """Return the shelf sheet of a week in an address, and its Monday, or answer that there is no such week."""
    plan, today = get_plan(db.session), current_day()
    monday = read_week(week, plan, today)
    around = monday - timedelta(days=1), monday + timedelta(days=DAYS_IN_WEEK)
    stays = list_stays_between(db.session, *around) if len(plan.garden.dealt) else []
    sheet = make_weekly_sheet(plan, monday, units=current_units(), today=today, stays=stays, is_timed=is_timed())
    return sheet, monday


def hand_out_sheet(plan: Plan) -> HandOutSheet:
    """Return the hand-out sheet of the day in the address; without one, of the next hand-out day, or of today."""
    today = current_day()
    day = read_day() or next_hand_out_day(plan, today) or today
    listed = sowings_handed_out(plan, day) + sowings_not_collected(plan, day, today)
    sowings = plan.garden.sowings.ids[listed].tolist() if len(plan.garden.dealt) else []
    facts = HandOutFacts(
        today=today,
        saved_cucurbits=list_saved_cucurbits(db.session),
        cells=list_cells_of_sowings(db.session, sowings) if sowings else [],
        stays=list_stays_between(db.session, day - timedelta(days=1), day) if sowings else [],
        is_timed=is_timed(),
    )
    return make_hand_out_sheet(plan, day, facts)


def sowing_sheet(plan: Plan) -> tuple[SowingSheet, date]:
    """Return the sowing sheet of the day in the address, and the day; without one, of the next day of filling."""
    today = current_day()
    day = read_day() or next_fill_day(plan, today) or today
    found = trays_of_day(plan, day)
    address = current_public_address()
    facts = BenchFacts(
        cells=list_cells_of_sowings(db.session, found.sowings),
        stays=list_stays(db.session, found.trays),
        seed=list_seed(db.session, found.sowings),
        units=current_units(),
        today=today,
        address="" if address is None else f"{address}{url_for('trays.index')}",
    )
    return make_sowing_sheet(plan, day, facts), day


def read_day() -> date | None:
    """Return the day in the address, None where there is none, or answer that there is no such day."""
    text = request.args.get("day")
    if not text:
        return None
    if not DAY.fullmatch(text):
        abort(404)
    try:
        day = date.fromisoformat(text)
    except ValueError:
        abort(404)
    return day if FIRST_YEAR <= day.year <= LAST_YEAR else abort(404)


def read_paper() -> Paper:
    """Return the paper in the address, the usual one of the garden's units where none is given."""
    text = request.args.get("paper")
    if not text:
        return usual_paper(current_units())
    return Paper(text) if text in {paper.value for paper in Paper} else abort(404)


def current_units() -> Units:
    """Return the units in which the garden reads figures."""
    garden = current_garden()
    return garden.units if garden else Units.METRIC


def send_pdf(template: Template, sheet: "DataclassInstance", name: str, page: str) -> ResponseReturnValue:
    """Answer with a sheet as PDF; if it cannot be set, say where the same is printed from the browser.

    Args:
        template: The layout.
        sheet: What it says.
        name: Name of the file.
        page: Address of the page with the same contents.
    """
    try:
        pdf = make_pdf(template, sheet, read_paper())
    except PdfError:
        current_app.logger.exception("No PDF of %s", name)
        return render_template("sheets/no_pdf.html", page=page), 500
    return send_file(pdf, "application/pdf", name)


def send_file(body: str | bytes, mimetype: str, name: str) -> Response:
    """Answer with a file to be saved under a name."""
    return Response(body, mimetype=mimetype, headers={"Content-Disposition": f'attachment; filename="{name}"'})
