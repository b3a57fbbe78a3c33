"""Bringing in many rows at once: pasted from a spreadsheet or handed in as a file, seen first and then saved."""

from flask import Blueprint, abort, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.language import _, ngettext
from app.services.garden import get_garden
from app.sheets.words import count_words, list_words, number_words
from app.web.access import Who, open_to
from app.web.bring_in import TablePage, make_page
from app.web.forms.tables.columns import KINDS, TableKind
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
            return save(url_for("batches.show", batch_id=page.taken.batch_id), _saved_words(page, kind))
        db.session.rollback()
        form.seen.raw_data, form.seen.data = None, page.mark if page is not None else ""
    return render_template("bring_in/index.html", form=form, page=page, kind=kind, back=url_for(LISTS[table]))


def _saved_words(page: TablePage, kind: TableKind) -> str:
    """Return what was added, and what was left out."""
    rows = count_words(page.new, *kind.nouns)
    if page.growers:
        added = _("%(rows)s added, and %(names)s as grower.", rows=rows, names=list_words(list(page.growers)))
    else:
        added = _("%(rows)s added.", rows=rows)
    left = ngettext(
        "%(num)s row was left out.", "%(num)s rows were left out.", page.wrong, num=number_words(page.wrong)
    )
    return " ".join([added, *([left] if page.wrong else []), _("It can be undone whole.")])
