"""Error pages: what happened and what to do, in plain words, mapped in one place."""

from flask import Flask, current_app, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from flask_wtf.csrf import CSRFError
from werkzeug.exceptions import HTTPException, InternalServerError

from app.core.errors import CoreError, NoFrostDateError
from app.core.record import TooFewYearsError
from app.extensions import db
from app.storage.errors import NotFoundError
from app.storage.queries.plan import NoGardenError
from app.web.context import NO_MENU
from app.web.kept_form import kept_form_page, posted_fields

PAGES = (400, 403, 404, 413)
MEGABYTE = 1024 * 1024


def init_app(app: Flask) -> None:
    """Answer errors with pages of our own."""
    app.register_error_handler(CSRFError, show_expired_form)
    for code in PAGES:
        app.register_error_handler(code, show_error)
    app.register_error_handler(InternalServerError, show_failure)
    app.register_error_handler(NotFoundError, show_missing)
    app.register_error_handler(NoGardenError, go_to_start)
    for error in (TooFewYearsError, NoFrostDateError):
        app.register_error_handler(error, show_no_dates)


def show_expired_form(_error: CSRFError) -> ResponseReturnValue:
    """Answer a form whose session has gone; what was typed is given back to be sent again."""
    if posted_fields():
        reason = "The page was opened in another session, so this form could not be told from a forged one."
        return kept_form_page("Nothing was saved yet", f"{reason} Look at it once more, and send it again.", 400)
    return render_template("errors/400.html", expired=True), 400


def show_error(error: HTTPException) -> ResponseReturnValue:
    """Answer a request that cannot be served."""
    limit = (request.max_content_length or 0) // MEGABYTE
    return render_template(f"errors/{error.code}.html", limit=limit), error.code or 400


def show_failure(_error: InternalServerError) -> ResponseReturnValue:
    """Answer a fault of the program, without the database, which may be the cause."""
    db.session.rollback()
    template = current_app.jinja_env.get_template("errors/500.html")
    return template.render(garden=None, menu=NO_MENU), 500


def show_missing(error: NotFoundError) -> ResponseReturnValue:
    """Answer a request for something that is not there, or no longer."""
    return render_template("errors/404.html", missing=str(error)), 404


def show_no_dates(error: CoreError) -> ResponseReturnValue:
    """Answer for a garden whose station's record gives no dates, which its settings refuse but time may bring."""
    return render_template("errors/no_dates.html", reason=str(error)), 409


def go_to_start(_error: NoGardenError) -> ResponseReturnValue:
    """Lead whoever opens a page before there is a garden to where it is set up."""
    return redirect(url_for("setup.index"))
