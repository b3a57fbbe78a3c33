"""The moves of a week: what is carried where, as a walking list."""

from dataclasses import dataclass
from datetime import date, timedelta

from flask import Blueprint, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.core.calendar import week_start
from app.extensions import db
from app.services.moves import count_dealt_otherwise, list_moves_and_waiting
from app.services.plan import get_plan
from app.sheets.moves import MovesSheet, WeekOfMoves, make_moves_sheet
from app.sheets.pdf import Paper, Template
from app.web.access import Who, open_to
from app.web.context import current_day
from app.web.kept import kept
from app.web.paging import Paging, read_paging
from app.web.readers import speak_to_all
from app.web.views.sheets import read_paper, send_pdf
from app.web.weeks import addresses, read_week, week_name

bp = Blueprint("moves", __name__)

ROWS = 600  # of one page


@dataclass(frozen=True, kw_only=True)
class MovesPage:
    """The moves of a week as their page shows them.

    Attributes:
        sheet: The moves in words.
        monday: First day of the week.
        is_now: Whether today lies in the week.
        today: The day that is taken for today, as in addresses.
        has_trays: Whether any tray has been dealt.
        paper: The paper of the PDF.
        paging: Where this page stands among the moves.
        previous: Address of the week before.
        next: Address of the week after.
    """

    sheet: MovesSheet
    monday: date
    is_now: bool
    today: str
    has_trays: bool
    paper: Paper
    paging: Paging
    previous: str
    next: str


@bp.get("/moves")
@open_to(Who.MEMBERS)
@kept
def index() -> ResponseReturnValue:
    """Show the moves of a week; the week stands in the address."""
    plan, today = get_plan(db.session), current_day()
    of = week_of_moves()
    paging = read_paging(len(of.moves), ROWS)
    page = MovesPage(
        sheet=make_moves_sheet(plan, of, slice(max(paging.first - 1, 0), paging.last)),
        monday=of.monday,
        is_now=week_start(today) == of.monday,
        today=today.isoformat(),
        has_trays=len(plan.garden.dealt) > 0,
        paper=read_paper(),
        paging=paging,
        previous=url_for("moves.index", week=week_name(of.monday, -1)),
        next=url_for("moves.index", week=week_name(of.monday, 1)),
    )
    return render_template("moves/index.html", page=page, tray_address=addresses("trays.show", "number"))


@bp.get("/moves.pdf")
@open_to(Who.MEMBERS)
@kept
def pdf() -> ResponseReturnValue:
    """Hand out the moves of a week as PDF."""
    speak_to_all()
    sheet = make_moves_sheet(get_plan(db.session), week_of_moves())
    return send_pdf(Template.MOVES, sheet, f"moves-{sheet.iso}.pdf", url_for("moves.index", week=sheet.iso))


def week_of_moves() -> WeekOfMoves:
    """Return what is carried in the week in the address."""
    plan, today = get_plan(db.session), current_day()
    monday = read_week(request.args.get("week"), plan, today)
    end = monday + timedelta(weeks=1)
    moves, waiting = list_moves_and_waiting(db.session, monday, end)
    return WeekOfMoves(
        monday=monday,
        today=today,
        moves=moves,
        waiting=waiting,
        outdated=count_dealt_otherwise(db.session, plan, monday, end, today),
    )
