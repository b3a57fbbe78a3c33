"""Growers: the list, adding, changing, removing."""

from flask import Blueprint, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.language import N_, _
from app.services import growers
from app.services.names import NameTakenError
from app.services.removal import InUseError, used_by
from app.services.search import find_growers
from app.sheets.grower_page import weekdays_of
from app.storage.queries.growers import count_growers, get_grower, list_growers
from app.storage.queries.rows import row_values
from app.storage.queries.uses import list_sowings_of_grower
from app.web.access import Who, open_to
from app.web.forms.growers import GrowerForm
from app.web.gone import open_row
from app.web.kept import kept
from app.web.once import revise, save
from app.web.ordering import Column, read_ordering
from app.web.paging import read_paging
from app.web.views.search import read_search

bp = Blueprint("growers", __name__, url_prefix="/growers")

COLUMNS = (
    Column(words=N_("Grower"), key="name"),
    Column(words=N_("Plot"), key="plot"),
    Column(words=N_("Sowings"), key="sowings", down=True, shape="n"),
    Column(words=N_("Plants"), key="plants", down=True, shape="n"),
    Column(words=N_("Can come")),
)


@bp.get("")
@open_to(Who.COORDINATORS)
@kept
def index() -> ResponseReturnValue:
    """List growers; search and order stand in the address."""
    search, ordering = read_search(), read_ordering(COLUMNS, "name")
    ids = find_growers(db.session, search) if search else None
    paging = read_paging(count_growers(db.session) if ids is None else len(ids))
    rows = list_growers(db.session, ids=ids, sort=ordering.key, down=ordering.down, page=paging.page)
    return render_template(
        "growers/index.html", rows=rows, search=search, ordering=ordering, paging=paging, weekdays_of=weekdays_of
    )


@bp.route("/new", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def new() -> ResponseReturnValue:
    """Add a grower."""
    form = GrowerForm()
    if form.validate_on_submit():
        try:
            grower = growers.add_grower(db.session, form.values())
        except NameTakenError:
            form.name.errors = [_("Another grower has this name.")]
        else:
            return save(url_for("growers.show", grower_id=grower.id), _("%(name)s added", name=grower.name))
    return render_template("growers/new.html", form=form)


@bp.route("/<int:grower_id>/edit", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def edit(grower_id: int) -> ResponseReturnValue:
    """Change a grower."""
    grower = open_row(get_grower, grower_id, lambda: ("growers/new.html", {"form": GrowerForm()}))
    form = GrowerForm(obj=grower, weekdays=(grower.days or "").split())
    if form.validate_on_submit():
        try:
            growers.change_grower(db.session, grower_id, form.values())
        except NameTakenError:
            form.name.errors = [_("Another grower has this name.")]
        else:
            return save(url_for("growers.show", grower_id=grower_id), _("%(name)s saved", name=grower.name))
    return render_template("growers/edit.html", form=form, grower=grower)


@bp.route("/<int:grower_id>/delete", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def delete(grower_id: int) -> ResponseReturnValue:
    """Ask before a grower is removed, and remove them; refuse while they have sowings."""
    grower = get_grower(db.session, grower_id)
    uses, status = used_by(list_sowings_of_grower(db.session, grower_id)), 200
    changed = revise(row_values(grower))
    if request.method == "POST" and not changed:
        try:
            name = growers.remove_grower(db.session, grower_id)
        except InUseError as error:
            uses, status = error.uses, 409
        else:
            return save(url_for("growers.index"), _("%(name)s removed", name=name))
    return render_template("growers/delete.html", changed=changed, grower=grower, uses=uses), status
