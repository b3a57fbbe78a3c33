"""Error pages: what happened and what to do, in plain words, mapped in one place."""

from flask import Flask, current_app, render_template
from flask.typing import ResponseReturnValue
from flask_wtf.csrf import CSRFError
from werkzeug.exceptions import HTTPException, InternalServerError

from app.extensions import db
from app.web.context import MENU

PAGES = (400, 403, 404, 413)


def init_app(app: Flask) -> None:
    """Answer errors with pages of our own."""
    app.register_error_handler(CSRFError, show_expired_form)
    for code in PAGES:
        app.register_error_handler(code, show_error)
    app.register_error_handler(InternalServerError, show_failure)


def show_expired_form(_error: CSRFError) -> ResponseReturnValue:
    """Answer a form whose session has gone."""
    return render_template("errors/400.html", expired=True), 400


def show_error(error: HTTPException) -> ResponseReturnValue:
    """Answer a request that cannot be served."""
    return render_template(f"errors/{error.code}.html"), error.code or 400


def show_failure(_error: InternalServerError) -> ResponseReturnValue:
    """Answer a fault of the program, without the database, which may be the cause."""
    db.session.rollback()
    template = current_app.jinja_env.get_template("errors/500.html")
    return template.render(garden=None, menu=MENU), 500
