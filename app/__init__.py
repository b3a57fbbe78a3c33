"""Traymates: sowing dates, trays and shelf space of a community garden's seedling program."""

from datetime import timedelta
from inspect import iscoroutinefunction
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from flask import Flask

    from app.settings import Settings

LARGEST_REQUEST_BYTES = 1024 * 1024
# The server itself lets more through to where a page says what is too large; past this it breaks off.
LARGEST_BODY_BYTES = 512 * 1024 * 1024
LONGEST_SESSION = timedelta(days=366)  # a season


def create_app(settings: "Settings") -> "Flask":
    """Return the web application for these settings; it touches no table."""
    # Imported here so that the pure packages and the commands load without the web.
    from flask import Flask

    from app import web
    from app.extensions import csrf, db
    from app.settings import kept_secret_key
    from app.storage.engine import engine_options, listen

    app = Flask(
        __name__,
        instance_path=str(settings.instance),
        static_folder="web/static",
        template_folder="web/templates",
    )
    app.config.from_mapping(
        SETTINGS=settings,
        SECRET_KEY=settings.secret_key or kept_secret_key(settings.instance),
        SQLALCHEMY_ENGINES={"default": engine_options(settings.database_url)},
        MAX_CONTENT_LENGTH=LARGEST_REQUEST_BYTES,
        SESSION_COOKIE_NAME="traymates",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        PERMANENT_SESSION_LIFETIME=LONGEST_SESSION,
        WTF_CSRF_TIME_LIMIT=None,  # a form lives as long as its session
    )
    db.init_app(app)
    # There are no asynchronous sessions; to close them, each request would begin a thread and an event loop of its own.
    app.teardown_appcontext_funcs = [end for end in app.teardown_appcontext_funcs if not iscoroutinefunction(end)]
    csrf.init_app(app)
    with app.app_context():
        listen(db.engine)
    web.init_app(app)
    return app
