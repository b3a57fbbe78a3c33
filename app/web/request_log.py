"""One line in the log for each request, by the pattern of its address and never by the address itself."""

import logging
import secrets
import time
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from flask import Flask, request
from werkzeug.wsgi import ClosingIterator

from app.logs import FIELDS, REQUESTS, request_id

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

ROUTE = "traymates.route"
ID_BYTES = 8
METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})

log = logging.getLogger(REQUESTS)


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
            log.info("request", extra={FIELDS: fields})
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
