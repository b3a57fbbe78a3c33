"""Light: what the lamps give and the crops want, and the day at the window."""

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from app.core.calendar import week_start
from app.extensions import db
from app.services.plan import get_plan
from app.sheets.light_page import make_light_page
from app.web.access import Who, open_to
from app.web.context import current_day
from app.web.kept import kept

bp = Blueprint("light", __name__)


@bp.get("/light")
@open_to(Who.MEMBERS)
@kept
def index() -> ResponseReturnValue:
    """Show the light of lamps and windows through the season."""
    page = make_light_page(get_plan(db.session))
    return render_template("light/index.html", page=page, this_monday=week_start(current_day()))
