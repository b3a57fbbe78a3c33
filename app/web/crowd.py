"""So many may sign in at once as leaves threads to those who are signed in.

To look at a passphrase takes time on purpose. Whoever comes while that is done for others is told to come again, at
once and without the database: a refusal costs a fiftieth of a page, so that a flood of tries leaves the pages quick.
"""

import threading

from flask import Flask, g, request
from flask.typing import ResponseReturnValue

from app.web.errors import RETRY_AFTER_S, TRY_AGAIN_LATER, busy_page

AT_ONCE = 3
# Where a passphrase or PIN is looked at.
ENDPOINTS = frozenset({"sign_in.index", "sign_in.slip", "bench.person", "bench.end"})


def init_app(app: Flask) -> None:
    """Refuse whoever is too many, before anything is done for them."""
    turns = threading.BoundedSemaphore(AT_ONCE)
    pages: list[str] = []

    @app.before_request
    def take_turn() -> ResponseReturnValue | None:
        if request.method != "POST" or request.endpoint not in ENDPOINTS:
            return None
        if turns.acquire(blocking=False):
            g.has_turn = True
            return None
        if not pages:
            with app.test_request_context():  # the page of nobody, since it is kept for everybody
                pages.append(busy_page())
        return pages[0], TRY_AGAIN_LATER, {"Retry-After": str(RETRY_AFTER_S)}

    @app.teardown_request
    def give_turn_back(_error: BaseException | None) -> None:
        if g.pop("has_turn", False):
            turns.release()
