"""Search: one box for growers, sowings, crops, seed lots, shelves and the numbers of trays."""

from typing import Any

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.services.search import Kind, search
from app.storage.queries.search import Name
from app.web.access import Who, me, open_to

bp = Blueprint("search", __name__)

LONGEST_SEARCH = 80
# Where a hit leads, and the name of its id in that address; a sowing is a row of its grower's page.
PAGES = {
    Kind.GROWERS: ("growers.show", "grower_id"),
    Kind.CROPS: ("crops.show", "crop_id"),
    Kind.SEED_LOTS: ("seed_lots.show", "seed_lot_id"),
    Kind.SHELVES: ("shelves.show", "shelf_id"),
}


def read_search() -> str:
    """Return what was typed into a box for searching, without what no name can hold."""
    text = request.args.get("q", "").encode("utf-8", "replace").decode("utf-8").replace("\0", "")
    return " ".join(text.split())[:LONGEST_SEARCH]


@bp.get("/search")
@open_to(Who.MEMBERS)
def index() -> ResponseReturnValue:
    """Show what was found, each kind by itself; a tray's number leads straight to the tray."""
    text, person = read_search(), me()
    found = search(db.session, text, grower_id=person.grower_id, is_coordinator=person.is_coordinator)
    if found.tray is not None:
        return redirect(url_for("trays.show", number=found.tray))
    groups = [(group, [(address_of(group.kind, hit), hit) for hit in group.hits]) for group in found.groups]
    return render_template("search/index.html", search=text, asked=found.asked, groups=groups)


def address_of(kind: Kind, hit: Name) -> str:
    """Return where something that was found is shown."""
    if kind is Kind.SOWINGS:
        return url_for("growers.show", grower_id=hit.grower_id, _anchor=f"sowing-{hit.id}")
    page, argument = PAGES[kind]
    return url_for(page, **dict[str, Any]({argument: hit.id}))
