"""One line in the log for each request, by the pattern of its address and never by the address itself."""

import logging
import secrets
import time
from collections.abc import Iterable
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from flask import Flask, request
from werkzeug.wsgi import ClosingIterator

from app.logs import FIELDS, REQUESTS, request_id

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

ROUTE = "traymates.route"
NOTED = "traymates.noted"
ID_BYTES = 8
METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})

log = logging.getLogger(REQUESTS)


class Noted(StrEnum):
    """What a request was about to those who watch over the program, said in its line beside its status."""

    SIGNED_IN = "signed in"
    BY_SLIP = "signed in by slip"
    BY_PIN = "signed in by PIN"
    SIGNED_OUT = "signed out"
    WRONG = "wrong passphrase or PIN"
    TOO_MANY = "too many tries"
    CROWD = "too many at once"
    NOT_ALLOWED = "not allowed"
    OTHER_SESSION = "form of another session"
    OTHER_HOST = "other host"


# Told where only errors are: somebody may be trying what they should not. A flood is not told of each time, nor is
# whoever came by another name.
WARNED = frozenset({Noted.WRONG, Noted.TOO_MANY, Noted.NOT_ALLOWED, Noted.OTHER_SESSION})


def note(what: Noted) -> None:
    """Say in the line of the request at hand what it was about."""
    request.environ[NOTED] = what


class RequestLog:
    """Gives each request a number, and says at its end what became of it."""

    def __init__(self, application: "WSGIApplication") -> None:
        """Stand before an application."""
        self.application = application

    def __call__(self, environ: "WSGIEnvironment", start_response: "StartResponse") -> Iterable[bytes]:
        """Answer a request, and write its line once the answer is out."""
        began = time.perf_counter()
        number = secrets.token_hex(ID_BYTES)
        request_id.set(number)
        status = 500

        def start(line: str, headers: list[tuple[str, str]], *rest: Any) -> Any:  # noqa: ANN401 - as PEP 3333
            nonlocal status
            status = int(line.partition(" ")[0])
            return start_response(line, [*headers, ("X-Request-Id", number)], *rest)

        def write() -> None:
            method = environ.get("REQUEST_METHOD", "")
            fields = {
                "method": method if method in METHODS else "other",
                "route": environ.get(ROUTE),
                "status": status,
                "ms": round((time.perf_counter() - began) * 1000, 1),
                "id": number,
            }
            noted = environ.get(NOTED)
            if noted is not None:
                fields["noted"] = noted
            log.log(logging.WARNING if noted in WARNED else logging.INFO, "request", extra={FIELDS: fields})
            request_id.set(None)  # what this thread says next belongs to no request

        try:
            answer = self.application(environ, start)
        except BaseException:
            write()
            raise
        return ClosingIterator(answer, [write])


def init_app(app: Flask) -> None:
    """Note the pattern of each request's address for its line, before anything may refuse the request."""
    app.jinja_env.globals["request_number"] = request_id.get

    @app.before_request
    def note_route() -> None:
        if request.url_rule is not None:
            request.environ[ROUTE] = request.url_rule.rule
