"""Containers: the list, adding, changing, removing."""

from flask import Blueprint, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.language import N_, _
from app.services import containers
from app.services.containers import GridIsSownError, RowsAndColumnsError
from app.services.names import NameTakenError
from app.services.removal import InUseError, used_by
from app.sheets.names import name_words
from app.sheets.words import count_words
from app.storage.queries.containers import get_container, list_containers
from app.storage.queries.rows import row_values
from app.storage.queries.uses import list_crops_of_container, list_trays_of_container
from app.web.access import Who, open_to
from app.web.forms.containers import ContainerForm
from app.web.gone import open_row
from app.web.kept import kept
from app.web.once import revise, save

bp = Blueprint("containers", __name__, url_prefix="/containers")

TAKEN = N_("Another container has this name.")


@bp.get("")
@open_to(Who.MEMBERS)
@kept
def index() -> ResponseReturnValue:
    """List containers."""
    return render_template("containers/index.html", rows=list_containers(db.session))


@bp.route("/new", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def new() -> ResponseReturnValue:
    """Add a container."""
    form = ContainerForm()
    if form.validate_on_submit():
        try:
            container = containers.add_container(db.session, form.values())
        except NameTakenError:
            form.name.errors = [_(TAKEN)]
        except RowsAndColumnsError as error:
            form.rows.errors = [f"{error}."]
        else:
            return save(
                url_for("containers.index", _anchor=f"container-{container.id}"),
                _("%(name)s added", name=name_words(container.name)),
            )
    return render_template("containers/new.html", form=form)


@bp.route("/<int:container_id>/edit", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def edit(container_id: int) -> ResponseReturnValue:
    """Change a container."""
    container = open_row(get_container, container_id, lambda: ("containers/new.html", {"form": ContainerForm()}))
    form = ContainerForm(obj=container)
    if form.validate_on_submit():
        try:
            containers.change_container(db.session, container_id, form.values())
        except NameTakenError:
            form.name.errors = [_(TAKEN)]
        except RowsAndColumnsError as error:
            form.rows.errors = [f"{error}."]
        except GridIsSownError as error:
            sown = count_words(error.trays.count, "tray of it is sown", "trays of it are sown")
            form.cells_per_tray.errors = [
                _("%(sown)s: their cells stay as they are. Add another container.", sown=sown)
            ]
        else:
            return save(
                url_for("containers.index", _anchor=f"container-{container_id}"),
                _("%(name)s saved", name=name_words(container.name)),
            )
    return render_template("containers/edit.html", form=form, container=container)


@bp.route("/<int:container_id>/delete", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def delete(container_id: int) -> ResponseReturnValue:
    """Ask before a container is removed, and remove it; refuse while crop cards use it or there are trays of it."""
    container = get_container(db.session, container_id)
    lists = (list_crops_of_container, list_trays_of_container)
    uses, status = used_by(*(list_uses(db.session, container_id) for list_uses in lists)), 200
    changed = revise(row_values(container))
    if request.method == "POST" and not changed:
        try:
            name = containers.remove_container(db.session, container_id)
        except InUseError as error:
            uses, status = error.uses, 409
        else:
            return save(url_for("containers.index"), _("%(name)s removed", name=name_words(name)))
    return render_template("containers/delete.html", changed=changed, container=container, uses=uses), status
