"""Board notice: what to sow in a week, by crop, whether or not anyone here wants it."""

from dataclasses import dataclass

from flask import Blueprint, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.core.calendar import monday_of_iso_week, week_start
from app.extensions import db
from app.services.garden import get_garden
from app.services.plan import get_plan
from app.sheets.notice import BoardNotice, NoticeFacts, make_board_notice
from app.sheets.pdf import Paper, Template
from app.storage.queries.sheets import list_cucurbits
from app.web.access import Who, open_to
from app.web.context import current_day
from app.web.kept import kept
from app.web.readers import speak_to_all
from app.web.views.sheets import current_units, read_paper, send_pdf
from app.web.weeks import addresses, read_week, week_name

bp = Blueprint("notice", __name__)


@dataclass(frozen=True, kw_only=True)
class NoticePage:
    """A board notice as its page shows it.

    Attributes:
        notice: What it says.
        is_now: Whether today lies in the week.
        previous: Address of the week before.
        next: Address of the week after.
        present: Address of the week of today.
        paper: Paper of the PDF.
    """

    notice: BoardNotice
    is_now: bool
    previous: str
    next: str
    present: str
    paper: Paper


@bp.get("/notice")
@open_to(Who.MEMBERS)
@kept
def index() -> ResponseReturnValue:
    """Show the notice of a week; the week stands in the address."""
    notice, paper = read_notice(), read_paper()
    monday = monday_of_iso_week(notice.iso)
    chosen = request.args.get("paper")  # stays only where it was chosen
    page = NoticePage(
        notice=notice,
        is_now=week_start(current_day()) == monday,
        previous=url_for("notice.index", week=week_name(monday, -1), paper=chosen),
        next=url_for("notice.index", week=week_name(monday, 1), paper=chosen),
        present=url_for("notice.index", paper=chosen),
        paper=paper,
    )
    return render_template("notice/index.html", page=page, notice=notice, card=addresses("crops.show", "crop_id"))


@bp.get("/notice.pdf")
@open_to(Who.MEMBERS)
@kept
def pdf() -> ResponseReturnValue:
    """Hand out the notice of a week as PDF."""
    speak_to_all()
    notice = read_notice()
    page = url_for("notice.index", week=notice.iso)
    return send_pdf(Template.NOTICE, notice, f"board-notice-{notice.iso}.pdf", page)


def read_notice() -> BoardNotice:
    """Return the notice of the week in the address, of today's week where none is given."""
    plan, today = get_plan(db.session), current_day()
    facts = NoticeFacts(
        units=current_units(),
        today=today,
        cucurbits=list_cucurbits(db.session),
        frost_source=get_garden(db.session).frost_source,
    )
    return make_board_notice(plan.garden, read_week(request.args.get("week"), plan, today), facts)
