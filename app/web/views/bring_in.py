"""Bringing in many rows at once: pasted from a spreadsheet or handed in as a file, seen first and then saved."""

from flask import Blueprint, abort, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.services.garden import get_garden
from app.sheets.words import count_words, list_words
from app.web.access import Who, open_to
from app.web.bring_in import make_page
from app.web.forms.tables.columns import KINDS
from app.web.forms.tables.form import TableForm
from app.web.forms.tables.grid import NoTableError
from app.web.once import save

bp = Blueprint("bring_in", __name__, url_prefix="/bring-in")

LISTS = {
    "growers": "growers.index",
    "shelves": "shelves.index",
    "seed-lots": "seed_lots.index",
    "sowings": "sowings.index",
}


@bp.route("/<table>", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def index(table: str) -> ResponseReturnValue:
    """Read a table, show it as it was understood, and save it once it was seen so."""
    kind = KINDS.get(table) or abort(404)
    get_garden(db.session)
    form, page = TableForm(), None
    if form.validate_on_submit():
        try:
            page = make_page(form, kind)
        except NoTableError as error:
            form.text.errors = [str(error)]
        if page is not None and page.can_save and "save" in request.form and form.seen.data == page.mark:
            left = f" {count_words(page.wrong, 'row was', 'rows were')} left out." if page.wrong else ""
            growers = f", and {list_words(list(page.growers))} as grower" if page.growers else ""
            said = f"{count_words(page.new, kind.one, kind.many)} added{growers}.{left} It can be undone whole."
            return save(url_for("batches.show", batch_id=page.taken.batch_id), said)
        db.session.rollback()
        form.seen.raw_data, form.seen.data = None, page.mark if page is not None else ""
    return render_template("bring_in/index.html", form=form, page=page, kind=kind, back=url_for(LISTS[table]))
