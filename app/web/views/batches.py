"""Batches: what was changed together, and undoing it together."""

from collections import Counter

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.language import _, ngettext
from app.services.batches import BatchStandsError, BatchUndoneError, find_in_the_way, undo_batch
from app.sheets.backup_words import moment_words
from app.sheets.batch_words import say_batch, say_in_the_way, say_net
from app.sheets.words import number_words
from app.storage.errors import NotFoundError
from app.storage.queries.batches import count_batches, find_batch_row, list_batches, list_nets
from app.web.access import Who, open_to
from app.web.once import revise, save
from app.web.paging import read_paging

bp = Blueprint("batches", __name__, url_prefix="/history/batches")

MOST_SHOWN = 200


@bp.get("")
@open_to(Who.COORDINATORS)
def index() -> ResponseReturnValue:
    """List what was changed together, the newest first."""
    paging = read_paging(count_batches(db.session))
    rows = [say_batch(row) for row in list_batches(db.session, paging.page)]
    return render_template("batches/index.html", rows=rows, paging=paging, moment=moment_words)


@bp.get("/<int:batch_id>")
@open_to(Who.COORDINATORS)
def show(batch_id: int) -> ResponseReturnValue:
    """Show what was changed together, and whether it can be undone."""
    return page_of(batch_id)


@bp.post("/<int:batch_id>/undo")
@open_to(Who.COORDINATORS)
def undo(batch_id: int) -> ResponseReturnValue:
    """Undo a batch whole, or nothing of it."""
    row = find_batch_row(db.session, batch_id)
    if row is None:
        raise NotFoundError("batch", batch_id)
    if revise(row.undone_at):
        return page_of(batch_id)
    try:
        count = undo_batch(db.session, batch_id)
    except BatchUndoneError:
        db.session.rollback()
        flash(_("It was undone before. Nothing was changed now"))
        return redirect(url_for("batches.show", batch_id=batch_id))
    except BatchStandsError:
        db.session.rollback()
        return page_of(batch_id, refused=True), 409
    return save(
        url_for("batches.show", batch_id=batch_id),
        ngettext(
            "Undone: %(num)s row is as it was before.",
            "Undone: %(num)s rows are as they were before.",
            count,
            num=number_words(count),
        ),
    )


def page_of(batch_id: int, *, refused: bool = False) -> str:
    """Return the page of a batch."""
    row = find_batch_row(db.session, batch_id)
    if row is None:
        raise NotFoundError("batch", batch_id)
    revise(row.undone_at)
    nets = list_nets(db.session, batch_id)
    in_the_way = [] if row.undone_at is not None else find_in_the_way(db.session, batch_id)
    return render_template(
        "batches/show.html",
        row=say_batch(row),
        nets=[say_net(net) for net in nets[:MOST_SHOWN]],
        more=max(0, len(nets) - MOST_SHOWN),
        counts=sorted(Counter(net.noun for net in nets).items()),
        in_the_way=[say_in_the_way(one) for one in in_the_way[:MOST_SHOWN]],
        many=len(in_the_way),
        refused=refused,
        moment=moment_words,
    )
