"""How views act: done again as a whole where two changes crossed, and only reading once they have saved."""

from collections.abc import Callable
from functools import wraps
from typing import Any, cast

from flask import Flask, request
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.storage.engine import is_reading, reading_after_commit
from app.storage.errors import CrossedError
from app.web import once
from app.web.headers import READING_METHODS

TRIES = 3

View = Callable[..., ResponseReturnValue]


def init_app(app: Flask) -> None:
    """Let every view that is there act so; it comes after the views."""
    for endpoint, view in app.view_functions.items():
        app.view_functions[endpoint] = _acting(cast("View", view))


def has_saved() -> bool:
    """Return whether what was sent with this request is saved already."""
    return request.method not in READING_METHODS and is_reading()


def _acting(view: View) -> View:
    @wraps(view)
    def act(*args: Any, **kwargs: Any) -> ResponseReturnValue:  # noqa: ANN401 - whatever the address holds
        for tries_left in reversed(range(TRIES)):
            try:
                with reading_after_commit():
                    # Done again, it is to look again, and once more while nobody else writes.
                    answered = once.answer_again() if tries_left < TRIES - 1 else None
                    return view(*args, **kwargs) if answered is None else answered
            except CrossedError:
                db.session.rollback()
                if has_saved() or not tries_left:
                    raise
                for file in request.files.values():
                    file.stream.seek(0)
        raise AssertionError("the last try returns or raises")

    return act
