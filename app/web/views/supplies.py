"""Supplies: what the season takes, to order from, and as files."""

from flask import Blueprint, Response, render_template
from flask.typing import ResponseReturnValue

from app.core.calendar import week_start
from app.core.words import Units
from app.extensions import db
from app.services.plan import get_plan
from app.sheets.supplies import Season, make_supplies_page, order_rows, season_of, week_rows
from app.sheets.tables import Table, csv_text
from app.storage.queries.supplies import find_brought, list_sown_lots
from app.web.access import Who, open_to
from app.web.context import current_day, current_garden
from app.web.kept import kept
from app.web.readers import in_english

bp = Blueprint("supplies", __name__)


@bp.get("/supplies")
@open_to(Who.MEMBERS)
@kept
def index() -> ResponseReturnValue:
    """Show what the season takes."""
    garden = current_garden()
    page = make_supplies_page(current_season(), garden.units if garden else Units.METRIC)
    return render_template("supplies/index.html", page=page, this_monday=week_start(current_day()))


@bp.get("/supplies.csv")
@open_to(Who.MEMBERS)
@kept
@in_english
def order_csv() -> ResponseReturnValue:
    """Hand out the order list, seeds included, as a file."""
    season = current_season()
    return send_table(season, order_rows(season), "supplies")


@bp.get("/supplies/weeks.csv")
@open_to(Who.MEMBERS)
@kept
@in_english
def weeks_csv() -> ResponseReturnValue:
    """Hand out what each week takes as a file."""
    season = current_season()
    return send_table(season, week_rows(season), "supplies-by-week")


def current_season() -> Season:
    """Return what the season of the garden takes."""
    return season_of(get_plan(db.session), list_sown_lots(db.session), find_brought(db.session))


def send_table(season: Season, table: Table, name: str) -> Response:
    """Answer with a table as a file that is named after the growing year."""
    file = f"{name}-{season.plan.garden.settings.season}.csv"
    return Response(
        csv_text(table), mimetype="text/csv", headers={"Content-Disposition": f'attachment; filename="{file}"'}
    )
