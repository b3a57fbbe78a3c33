"""Season fit: which crops this summer carries, and what would help those it does not."""

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from app.core.plants.season import Verdict
from app.extensions import db
from app.services.plan import get_plan
from app.sheets.season_page import make_season_page
from app.web.access import Who, open_to
from app.web.kept import kept

bp = Blueprint("season", __name__)

WANTED = "wanted"


@bp.get("/season")
@open_to(Who.MEMBERS)
@kept
def index() -> ResponseReturnValue:
    """Show the verdict on every crop; verdict and whether it is wanted here stand in the address."""
    verdict = next((one for one in Verdict if one == request.args.get("verdict")), None)
    is_wanted = request.args.get("crops") == WANTED
    page = make_season_page(get_plan(db.session), verdict=verdict, is_wanted=is_wanted)
    return render_template("season/index.html", page=page, verdicts=list(Verdict), verdict=verdict, is_wanted=is_wanted)
