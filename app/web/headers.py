"""What every request starts with and every answer carries."""

from flask import Flask, Response, current_app, request

from app import clock
from app.extensions import db
from app.storage.engine import set_reading
from app.storage.queries.days import set_today

SECURITY_HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; connect-src 'self'; style-src 'self'; img-src 'self'; "
        "font-src 'self'; form-action 'self'; "
        "base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    # not "no-referrer": behind TLS, the check of forms compares the referrer
    "Referrer-Policy": "same-origin",
}
# Sent under TLS alone: on the garden's network there is none, and a name once marked stays so on every port (RFC 6797).
# A year is what OWASP ASVS 5.0.0, 3.4.1 asks for.
STRICT_TRANSPORT = f"max-age={365 * 24 * 3600}"
READING_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})


def init_app(app: Flask) -> None:
    """Choose the kind of transaction for each request and add the headers after it."""

    @app.before_request
    def choose_transaction() -> None:
        set_reading(request.method in READING_METHODS)
        set_today(db.session, clock.today(current_app.config["SETTINGS"]))

    @app.teardown_request
    def end_reading(_error: BaseException | None) -> None:
        set_reading(False)  # whoever uses this thread next says for themselves

    @app.after_request
    def add_headers(response: Response) -> Response:
        response.headers.update(SECURITY_HEADERS)
        if request.is_secure:
            response.headers["Strict-Transport-Security"] = STRICT_TRANSPORT
        if response.mimetype == "application/pdf":
            # the browser's own viewer needs the styles and scripts that this policy forbids to pages
            del response.headers["Content-Security-Policy"]
        return response
