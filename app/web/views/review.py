"""Looking back on the season: a page, the same as PDF, and its tables as files."""

from flask import Blueprint, abort, render_template, url_for
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.language import _
from app.services.review import get_review
from app.sheets.pdf import Template
from app.sheets.review import make_review_page
from app.sheets.review_tables import TABLES
from app.sheets.review_words import looked_into_of
from app.sheets.tables import csv_text
from app.web.access import Who, open_to
from app.web.context import current_day
from app.web.kept import kept
from app.web.paging import read_paging
from app.web.readers import in_english
from app.web.views.sheets import read_paper, send_file, send_pdf

bp = Blueprint("review", __name__, url_prefix="/looking-back")

# Sowings that a page lists: on a phone each is a block of its own.
ROWS = 40
# Sowings that the sheet lists; the file has them all.
ON_PAPER = 400


@bp.get("")
@open_to(Who.MEMBERS)
@kept
def index() -> ResponseReturnValue:
    """Show the season looked back on."""
    review = get_review(db.session)
    paging = read_paging(len(looked_into_of(review)), ROWS)
    page = make_review_page(review, current_day(), slice(max(paging.first - 1, 0), paging.last))
    tables = [(name, _(words)) for name, (words, _rows) in TABLES.items()]
    return render_template("review/index.html", page=page, paging=paging, tables=tables, paper=read_paper())


@bp.get("/season.pdf")
@open_to(Who.MEMBERS)
@kept
def pdf() -> ResponseReturnValue:
    """Hand out the season looked back on as PDF."""
    page = make_review_page(get_review(db.session), current_day(), slice(ON_PAPER))
    return send_pdf(Template.REVIEW, page, f"looking-back-{page.season}.pdf", url_for("review.index"))


@bp.get("/<table>.csv")
@open_to(Who.MEMBERS)
@kept
@in_english
def csv(table: str) -> ResponseReturnValue:
    """Hand out one table of the season as a file."""
    if table not in TABLES:
        abort(404)
    review = get_review(db.session)
    _words, rows = TABLES[table]
    name = f"looking-back-{table}-{review.plan.garden.settings.season}.csv"
    return send_file(csv_text(rows(review)), "text/csv", name)
