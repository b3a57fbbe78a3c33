"""So many may sign in at once as leaves threads to those who are signed in.

To look at a passphrase takes time on purpose. Whoever comes while that is done for others is told to come again, before
the application itself is asked: a refusal costs a fraction of a page, so that a flood of tries leaves the pages quick.
"""

import threading
from collections.abc import Iterable
from functools import cached_property
from typing import TYPE_CHECKING

from flask import Flask, Response
from werkzeug.exceptions import HTTPException

from app.language import LANGUAGES, speaking
from app.web.errors import RETRY_AFTER_S, TRY_AGAIN_LATER, busy_page
from app.web.languages import preferred
from app.web.request_log import NOTED, ROUTE, Noted

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

AT_ONCE = 3
# Where a passphrase or PIN is looked at.
ENDPOINTS = frozenset({"sign_in.index", "sign_in.slip", "bench.person", "bench.end"})


class Crowd:
    """Lets a few at a time through to where a passphrase is looked at, and refuses whoever is too many."""

    def __init__(self, app: Flask, application: "WSGIApplication") -> None:
        """Stand before an application, that of `app`."""
        self.app = app
        self.application = application
        self.turns = threading.BoundedSemaphore(AT_ONCE)

    def __call__(self, environ: "WSGIEnvironment", start_response: "StartResponse") -> Iterable[bytes]:
        """Answer a request; whoever gets a turn has it until there is an answer."""
        if environ["REQUEST_METHOD"] != "POST" or (route := self._find_route(environ)) is None:
            return self.application(environ, start_response)
        if not self.turns.acquire(blocking=False):
            environ[ROUTE], environ[NOTED] = route, Noted.CROWD
            return self._refusals[preferred(environ)](environ, start_response)
        try:  # the passphrase has been looked at once there is an answer; nothing of it is made while it goes out
            return self.application(environ, start_response)
        finally:
            self.turns.release()

    def _find_route(self, environ: "WSGIEnvironment") -> str | None:
        """Return the pattern of the address where it takes a passphrase, else None."""
        try:
            rule, _ = self.app.url_map.bind_to_environ(environ).match(return_rule=True)
        except HTTPException:
            return None
        return rule.rule if rule.endpoint in ENDPOINTS else None

    @cached_property
    def _refusals(self) -> dict[str, Response]:
        """The answers to all who are too many, by language: the page of nobody, with the headers of every page."""
        return {code: self._refuse_in(code) for code in LANGUAGES}

    def _refuse_in(self, code: str) -> Response:
        with self.app.test_request_context(), speaking(code):
            headers = {"Retry-After": str(RETRY_AFTER_S)}
            response = self.app.process_response(self.app.make_response((busy_page(), TRY_AGAIN_LATER, headers)))
        response.freeze()
        return response


def init_app(app: Flask) -> None:
    """Refuse whoever is too many, before anything is done for them."""
    app.wsgi_app = Crowd(app, app.wsgi_app)  # type: ignore[method-assign]  # as Flask's documents have it
