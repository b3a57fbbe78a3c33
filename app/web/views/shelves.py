"""Shelves: the list with their positions, one as it stands on a day, adding, changing, removing."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from flask import Blueprint, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.core.words import Place, Units
from app.extensions import db
from app.language import N_, _
from app.services import shelves
from app.services.moves import list_moves
from app.services.names import NameTakenError
from app.services.plan import get_plan
from app.services.removal import InUseError, used_by
from app.services.shelves import list_shelf_room
from app.sheets.shelf_page import ShelfOnDay, ShelfPage, days_of_moves, make_shelf_page
from app.storage.queries.rows import row_values
from app.storage.queries.shelves import get_shelf, has_shelves
from app.storage.queries.trays import list_stays_between
from app.storage.queries.uses import list_trays_on_shelf
from app.web.access import Who, open_to
from app.web.context import current_day
from app.web.forms.deal import DayForm
from app.web.forms.shelves import ShelfForm
from app.web.gone import open_row
from app.web.kept import kept
from app.web.once import revise, save
from app.web.views.sheets import current_units
from app.web.weeks import YEARS_AROUND, addresses, week_name

bp = Blueprint("shelves", __name__, url_prefix="/shelves")

TAKEN = N_("Another shelf has this name.")
# What the first shelf is filled in as: common practice, a rack of 4 by 2 feet with lamps over three levels.
USUAL: dict[Units, dict[str, Any]] = {
    units: {"name": N_("Lamp rack"), "place": Place.LAMP, "width_cm": width, "depth_cm": depth, "levels": 3}
    for units, width, depth in ((Units.METRIC, 122.0, 61.0), (Units.US, 121.92, 60.96))
}
# How far a shelf's page looks for who comes next.
AHEAD = timedelta(days=366)


@dataclass(frozen=True, kw_only=True)
class ShelfView:
    """A shelf on a day as its page shows it.

    Attributes:
        page: What stands on it, in words.
        day: The day.
        is_today: Whether that is the day that is taken for today.
        days: Words and address of the days around it: a week and a day before, a day and a week after.
        here: Address of the page of today.
        moves: Address of the moves of the day's week.
    """

    page: ShelfPage
    day: date
    is_today: bool
    days: list[tuple[str, str]]
    here: str
    moves: str


@bp.get("")
@open_to(Who.MEMBERS)
@kept
def index() -> ResponseReturnValue:
    """List shelves."""
    return render_template("shelves/index.html", room=list_shelf_room(db.session, get_plan(db.session)))


@bp.get("/<int:shelf_id>")
@open_to(Who.MEMBERS)
@kept
def show(shelf_id: int) -> ResponseReturnValue:
    """Show a shelf as it stands on the day in the address, level by level."""
    shelf, plan, today = get_shelf(db.session, shelf_id), get_plan(db.session), current_day()
    form = DayForm(request.args if request.args.get("day") else None, data={"day": today})
    day = form.day.data if form.validate() else today
    if abs(day.year - plan.garden.settings.season) > YEARS_AROUND:
        form.day.errors, day = [_("The season is %(season)s.", season=plan.garden.settings.season)], today
    first, end = days_of_moves(day)
    of = ShelfOnDay(
        card=next(card for card in plan.garden.shelves if card.id == shelf_id),
        has_fan=shelf.fan,
        day=day,
        stays=list_stays_between(db.session, day, day + AHEAD, shelf_id=shelf_id),
        moves=list_moves(db.session, first, end, shelf_id=shelf_id),
        units=current_units(),
    )
    view = ShelfView(
        page=make_shelf_page(plan, of),
        day=day,
        is_today=day == today,
        days=[
            (words, url_for("shelves.show", shelf_id=shelf_id, day=(day + timedelta(days=away)).isoformat()))
            for words, away in (
                (_("Week before"), -7),
                (_("Day before"), -1),
                (_("Day after"), 1),
                (_("Week after"), 7),
            )
        ],
        here=url_for("shelves.show", shelf_id=shelf_id),
        moves=url_for("moves.index", week=week_name(day)),
    )
    return render_template(
        "shelves/show.html",
        shelf=shelf,
        view=view,
        form=form,
        tray_address=addresses("trays.show", "number"),
        grower_address=addresses("growers.show", "grower_id"),
    )


@bp.route("/new", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def new() -> ResponseReturnValue:
    """Add a shelf; the first one is filled in as a usual lamp rack."""
    form = ShelfForm(**({} if has_shelves(db.session) else usual_shelf(current_units())))
    if form.validate_on_submit():
        try:
            shelf = shelves.add_shelf(db.session, form.values())
        except NameTakenError:
            form.name.errors = [_(TAKEN)]
        else:
            return save(url_for("shelves.index", _anchor=f"shelf-{shelf.id}"), _("%(name)s added", name=shelf.name))
    return render_template("shelves/new.html", form=form, is_filled_in=form.name.object_data is not None)


def usual_shelf(units: Units) -> dict[str, Any]:
    """Return what the first shelf is filled in as."""
    usual = USUAL[units]
    return usual | {"name": _(usual["name"])}


@bp.route("/<int:shelf_id>/edit", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def edit(shelf_id: int) -> ResponseReturnValue:
    """Change a shelf."""
    shelf = open_row(get_shelf, shelf_id, lambda: ("shelves/new.html", {"form": ShelfForm()}))
    form = ShelfForm(obj=shelf)
    if form.validate_on_submit():
        try:
            shelves.change_shelf(db.session, shelf_id, form.values())
        except NameTakenError:
            form.name.errors = [_(TAKEN)]
        else:
            return save(url_for("shelves.index", _anchor=f"shelf-{shelf_id}"), _("%(name)s saved", name=shelf.name))
    return render_template("shelves/edit.html", form=form, shelf=shelf)


@bp.route("/<int:shelf_id>/delete", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def delete(shelf_id: int) -> ResponseReturnValue:
    """Ask before a shelf is removed, and remove it; refuse while trays stand on it, or will."""
    shelf, today = get_shelf(db.session, shelf_id), current_day()
    uses, status = used_by(list_trays_on_shelf(db.session, shelf_id, today)), 200
    changed = revise(row_values(shelf))
    if request.method == "POST" and not changed:
        try:
            name = shelves.remove_shelf(db.session, shelf_id, today=today)
        except InUseError as error:
            uses, status = error.uses, 409
        else:
            return save(url_for("shelves.index"), _("%(name)s removed", name=name))
    room = list_shelf_room(db.session, get_plan(db.session))
    return render_template("shelves/delete.html", changed=changed, shelf=shelf, room=room, uses=uses), status
