"""Forms that change something which somebody else has removed meanwhile."""

from collections.abc import Callable
from typing import Any, TypeVar

from flask import abort, make_response, render_template, request

from app.extensions import db
from app.language import N_, _
from app.storage import Session
from app.storage.errors import NotFoundError

Row = TypeVar("Row")

GONE = N_(
    "Somebody removed this after you opened it. What you typed stands below: add it as a new one if it should be "
    "there, or leave the page."
)


def open_row(get: Callable[[Session, int], Row], row_id: int, add: Callable[[], tuple[str, dict[str, Any]]]) -> Row:
    """Return the row that a page changes; if it is gone, what was typed is answered as a form that adds it anew.

    Args:
        get: Query that returns the row or raises NotFoundError.
        row_id: Its id.
        add: Returns the template of the page that adds such a row, and what it shows: its form as it was sent.

    Raises:
        NotFoundError: There is no such row, and nothing was typed.
    """
    try:
        return get(db.session, row_id)
    except NotFoundError:
        if request.method != "POST":
            raise
        db.session.rollback()
        template, shown = add()
        shown["form"].refuse(_("It was removed meanwhile"), _(GONE))
        abort(make_response(render_template(template, **shown), 404))
