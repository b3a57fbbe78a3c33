"""The pages: views, forms, templates and the rules that hold for every answer."""

from flask import Flask

from app.web import (
    access,
    acting,
    compressed,
    context,
    cookies,
    crowd,
    errors,
    filters,
    guides,
    headers,
    hosts,
    ids,
    kept,
    languages,
    once,
    request_log,
    static_files,
    topics,
    trails,
    waiting_words,
)
from app.web.views import BLUEPRINTS


def init_app(app: Flask) -> None:
    """Add the pages and what belongs to every one of them."""
    for part in (
        compressed,  # what is added first is done last to an answer
        ids,
        request_log,
        cookies,
        headers,
        languages,
        crowd,
        access,
        once,
        context,
        filters,
        guides,
        kept,
        static_files,
        topics,
        trails,
        waiting_words,
        errors,
        hosts,
    ):
        part.init_app(app)
    for blueprint in BLUEPRINTS:
        app.register_blueprint(blueprint)
    acting.init_app(app)
