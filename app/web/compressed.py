"""Answers are sent compressed, where that gives nothing away."""

import gzip

from flask import Flask, Response, request

COMPRESSED = frozenset(
    {"text/html", "text/css", "text/javascript", "text/csv", "text/calendar", "application/json", "image/svg+xml"}
)
SMALLEST_BYTES = 1024  # what is smaller fits into one packet as it is
LEVEL = 6
SAFE_SITES = frozenset({"same-origin", "none"})


def init_app(app: Flask) -> None:
    """Compress each answer last of all; what is static, once for all."""
    static: dict[bytes, bytes] = {}

    @app.after_request
    def compress(response: Response) -> Response:
        if response.mimetype not in COMPRESSED:
            return response
        response.vary.add("Accept-Encoding")
        is_static = request.endpoint == "static"
        if response.status_code != 200 or not _is_wanted() or not (is_static or _is_safe()):  # noqa: PLR2004 - whole
            return response
        if is_static:
            response.direct_passthrough = False
        elif response.is_streamed:
            return response
        body = response.get_data()
        if len(body) < SMALLEST_BYTES:
            return response
        if is_static and body not in static:
            static[body] = gzip.compress(body, mtime=0)
        response.set_data(static[body] if is_static else gzip.compress(body, LEVEL, mtime=0))
        response.content_encoding = "gzip"
        etag = response.get_etag()[0]
        if etag is not None:  # the same page, but not the same bytes
            response.set_etag(etag, weak=True)
        return response


def _is_wanted() -> bool:
    return request.accept_encodings["gzip"] > 0


def _is_safe() -> bool:
    """Return whether nobody else can have made the browser ask.

    The length of a compressed page tells whether it holds twice what was asked for. Whoever can both make a browser
    ask and see the length of what is sent learns the page's secrets by many questions ("BREACH", 2013). Only TLS hides
    the page itself, and browsers say there which site made them ask.
    """
    return not request.is_secure or request.headers.get("Sec-Fetch-Site") in SAFE_SITES
