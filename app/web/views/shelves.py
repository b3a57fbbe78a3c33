"""Shelves: the list with their positions, adding, changing, removing."""

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.services import shelves
from app.services.names import NameTakenError
from app.services.plan import get_plan
from app.services.shelves import list_shelf_room
from app.storage.queries.shelves import get_shelf
from app.web.forms.shelves import ShelfForm
from app.web.kept import kept

bp = Blueprint("shelves", __name__, url_prefix="/shelves")

TAKEN = "Another shelf has this name."


@bp.get("")
@kept
def index() -> ResponseReturnValue:
    """List shelves."""
    return render_template("shelves/index.html", room=list_shelf_room(db.session, get_plan(db.session)))


@bp.route("/new", methods=["GET", "POST"])
def new() -> ResponseReturnValue:
    """Add a shelf."""
    form = ShelfForm()
    if form.validate_on_submit():
        try:
            shelf = shelves.add_shelf(db.session, form.values())
        except NameTakenError:
            form.name.errors = [TAKEN]
        else:
            db.session.commit()
            flash(f"{shelf.name} added")
            return redirect(url_for("shelves.index"))
    return render_template("shelves/new.html", form=form)


@bp.route("/<int:shelf_id>/edit", methods=["GET", "POST"])
def edit(shelf_id: int) -> ResponseReturnValue:
    """Change a shelf."""
    shelf = get_shelf(db.session, shelf_id)
    form = ShelfForm(obj=shelf)
    if form.validate_on_submit():
        try:
            shelves.change_shelf(db.session, shelf_id, form.values())
        except NameTakenError:
            form.name.errors = [TAKEN]
        else:
            db.session.commit()
            flash(f"{shelf.name} saved")
            return redirect(url_for("shelves.index"))
    return render_template("shelves/edit.html", form=form, shelf=shelf)


@bp.route("/<int:shelf_id>/delete", methods=["GET", "POST"])
def delete(shelf_id: int) -> ResponseReturnValue:
    """Ask before a shelf is removed, and remove it."""
    shelf = get_shelf(db.session, shelf_id)
    if request.method == "POST":
        name = shelves.remove_shelf(db.session, shelf_id)
        db.session.commit()
        flash(f"{name} removed")
        return redirect(url_for("shelves.index"))
    return render_template("shelves/delete.html", shelf=shelf, room=list_shelf_room(db.session, get_plan(db.session)))
