"""Error pages: what happened and what to do, in plain words, mapped in one place."""

from contextlib import suppress

from flask import Flask, current_app, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from flask_wtf.csrf import CSRFError
from werkzeug.exceptions import HTTPException, InternalServerError, MethodNotAllowed

from app.core.dates.record import TooFewYearsError
from app.core.errors import CoreError, NoFrostDateError
from app.extensions import db
from app.language import N_, _
from app.sheets.nouns import missing_words
from app.storage.errors import BusyError, DatabaseError, FullError, NotFoundError, ReadOnlyError
from app.storage.queries.plan import NoGardenError
from app.web.acting import has_saved
from app.web.context import NO_MENU
from app.web.headers import READING_METHODS
from app.web.kept_form import kept_form_page, posted_fields
from app.web.request_log import Noted, note

PAGES = (400, 403, 404, 405, 413)
MEGABYTE = 1024 * 1024
TRY_AGAIN_LATER, NO_ROOM = 503, 507
RETRY_AFTER_S = 3
# Title, reason and status for each way in which the database cannot be used.
UNUSABLE: dict[type[DatabaseError], tuple[str, str, int]] = {
    BusyError: (
        N_("Others are saving just now"),
        N_("Somebody else has been saving for some seconds, and your turn did not come in time."),
        TRY_AGAIN_LATER,
    ),
    FullError: (
        N_("There is no room left"),
        N_("The disk on which the garden is kept takes nothing more. Tell whoever runs the program: it may be full."),
        NO_ROOM,
    ),
    ReadOnlyError: (
        N_("The garden cannot be opened for writing"),
        N_("The program may not write where the garden is kept. Tell whoever runs it: its user needs the right to."),
        TRY_AGAIN_LATER,
    ),
    DatabaseError: (
        N_("The garden cannot be reached"),
        N_("The database in which the garden is kept does not answer. Tell whoever runs the program if it stays so."),
        TRY_AGAIN_LATER,
    ),
}


def init_app(app: Flask) -> None:
    """Answer errors with pages of our own."""
    app.register_error_handler(CSRFError, show_expired_form)
    for code in PAGES:
        app.register_error_handler(code, show_error)
    app.register_error_handler(InternalServerError, show_failure)
    app.register_error_handler(NotFoundError, show_missing)
    app.register_error_handler(NoGardenError, go_to_start)
    app.register_error_handler(DatabaseError, show_unusable)
    for error in (TooFewYearsError, NoFrostDateError):
        app.register_error_handler(error, show_no_dates)


def show_expired_form(_error: CSRFError) -> ResponseReturnValue:
    """Answer a form whose session has gone; what was typed is given back to be sent again."""
    note(Noted.OTHER_SESSION)
    if posted_fields():
        reason = _(
            "The page was opened in another session, so this form could not be told from a forged one. "
            "Look at it once more, and send it again."
        )
        return kept_form_page(_("Nothing was saved yet"), reason, 400)
    return render_template("errors/400.html", expired=True), 400


def show_error(error: HTTPException) -> ResponseReturnValue:
    """Answer a request that cannot be served."""
    limit = (request.max_content_length or 0) // MEGABYTE
    answer = current_app.make_response((render_template(f"errors/{error.code}.html", limit=limit), error.code or 400))
    if isinstance(error, MethodNotAllowed):
        answer.headers["Allow"] = ", ".join(sorted(error.valid_methods or ()))  # RFC 9110, 15.5.6
    return answer


def show_failure(_error: InternalServerError) -> ResponseReturnValue:
    """Answer a fault of the program, without the database, which may be the cause."""
    db.session.rollback()
    return _render_without_database("errors/500.html"), 500


def show_unusable(error: DatabaseError) -> ResponseReturnValue:
    """Answer while the database cannot be used, without it; a form is given back to be sent again."""
    with suppress(DatabaseError):
        db.session.rollback()
    kind = next(kind for kind in type(error).__mro__ if kind in UNUSABLE)
    *words, status = UNUSABLE[kind]
    title, reason = map(_, words)
    if request.method in READING_METHODS or has_saved():
        page = _render_without_database("errors/unusable.html", title=title, reason=reason, is_saved=has_saved())
        answer = current_app.make_response((page, status))
    else:
        reason = _("%(reason)s Nothing was saved.", reason=reason)
        answer = current_app.make_response(kept_form_page(title, reason, status, render=_render_without_database))
    if status == TRY_AGAIN_LATER:
        answer.headers["Retry-After"] = str(RETRY_AFTER_S)
    if kind is not BusyError:
        current_app.logger.error("%s", error)
    return answer


def busy_page() -> str:
    """Return the page for those who sign in while too many others do, made without the database."""
    return _render_without_database(
        "errors/unusable.html",
        title=_("Many people are signing in at this moment"),
        reason=_("Nothing was done. Wait a few seconds, go back, and send it again."),
    )


def _render_without_database(name: str, **values: object) -> str:
    return current_app.jinja_env.get_template(name).render(garden=None, menu=NO_MENU, **values)


def show_missing(error: NotFoundError) -> ResponseReturnValue:
    """Answer a request for something that is not there, or no longer."""
    return render_template("errors/404.html", missing=missing_words(error)), 404


def show_no_dates(error: CoreError) -> ResponseReturnValue:
    """Answer for a garden whose station's record gives no dates, which its settings refuse but time may bring."""
    return render_template("errors/no_dates.html", reason=str(error)), 409


def go_to_start(_error: NoGardenError) -> ResponseReturnValue:
    """Lead whoever opens a page before there is a garden to where it is set up."""
    return redirect(url_for("first_steps.index"))
