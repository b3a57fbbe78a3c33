"""The cookie of the browser's session: under TLS for TLS alone, on the garden's network without it."""

from hashlib import sha256

from flask import Flask, Request, request
from flask.sessions import SecureCookieSession, SecureCookieSessionInterface
from itsdangerous import BadSignature

# A browser takes a cookie of such a name only over TLS, for this host alone and from its root (RFC 6265bis, 4.1.3.2).
PREFIX = "__Host-"


class Cookie(SecureCookieSessionInterface):
    """Decides for each request, since one server may answer over TLS and, in the garden, without."""

    digest_method = staticmethod(sha256)  # the library's own is SHA-1

    def open_session(self, app: Flask, request: Request) -> SecureCookieSession | None:
        """Return the session of a request's cookie, however old that says it is.

        Who is signed in until when stands in the database. A clock that was set back must not sign everybody out
        whose cookie is of later.
        """
        serializer = self.get_signing_serializer(app)
        if serializer is None:
            return None
        try:
            kept = serializer.loads(request.cookies.get(self.get_cookie_name(app), ""))
        except BadSignature:
            kept = None
        return self.session_class(kept)

    def get_cookie_name(self, app: Flask) -> str:
        """Return the name of the cookie."""
        name = super().get_cookie_name(app)
        return PREFIX + name if request.is_secure else name

    def get_cookie_secure(self, app: Flask) -> bool:  # noqa: ARG002 - as Flask has it
        """Return whether the browser may send the cookie over TLS alone."""
        return request.is_secure

    def get_cookie_path(self, app: Flask) -> str:  # noqa: ARG002 - as Flask has it
        """Return the path below which the browser sends the cookie."""
        return "/"


def init_app(app: Flask) -> None:
    """Give the application such cookies."""
    app.session_interface = Cookie()
