"""Under which names the program answers: its own; a page under any other says the right one.

A name that somebody else can point at this machine would let their pages read ours (DNS rebinding), and links would
carry it. A number of a network of one's own cannot be pointed anywhere, so those always pass.
"""

import ipaddress
import re
import time
from collections.abc import Iterable
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from flask import Flask
from werkzeug.middleware.proxy_fix import ProxyFix

from app.extensions import db
from app.language import speaking
from app.network import address_of, is_private, own_addresses, possible_names, working_addresses
from app.settings import Settings
from app.storage.opening import DatabaseError, session_on
from app.storage.queries.printing import find_public_address
from app.web.headers import SECURITY_HEADERS
from app.web.languages import preferred
from app.web.request_log import NOTED, Noted, RequestLog

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

# RFC 3986, 3.2.2 and 3.2.3, without what has no place in a Host header (RFC 9110, 7.2).
HOST = re.compile(r"(?P<name>\[[0-9A-Fa-f:.]{2,45}\]|[A-Za-z0-9._-]{1,253})(?::[0-9]{0,5})?")
# What an address may hold to be shown with the right name before it.
PATH = re.compile(r"/(?![/\\])[A-Za-z0-9._~/-]{0,200}")
ENTERED_SECONDS = 5.0
WRONG_HOST, NO_HOST = "421 Misdirected Request", "400 Bad Request"


def read_host(header: str | None) -> str | None:
    """Return the name or number in a Host header in small letters, without port and brackets; None if it is none."""
    match = HOST.fullmatch(header or "")
    if match is None:
        return None
    return match["name"].lower().strip("[]").rstrip(".") or None


def passes(host: str, named: Iterable[str]) -> bool:
    """Return whether the program answers under a name or number.

    Args:
        host: As `read_host` gives it.
        named: Hosts of the addresses that were set for the program.
    """
    if host == "localhost" or host in named:
        return True
    try:
        ip = ipaddress.ip_address(host)
    except ValueError:
        return host in possible_names()
    return is_private(ip) or ip in own_addresses()


class HostGate:
    """Lets requests under the program's own names through, and answers the others without the database."""

    def __init__(self, app: Flask, application: "WSGIApplication", settings: Settings) -> None:
        """Stand before an application; `app` gives the page of those that do not pass."""
        self.app, self.application, self.settings = app, application, settings
        self.set_address = settings.public_url
        self.set_host = host_of(settings.public_url)
        self._entered: str | None = None
        self._entered_until = 0.0

    def __call__(self, environ: "WSGIEnvironment", start_response: "StartResponse") -> Iterable[bytes]:
        """Answer a request."""
        host = read_host(environ.get("HTTP_HOST"))
        if host is None:
            return self.refuse(NO_HOST, environ, start_response)
        named = {self.set_host} if self.set_host else set[str]()
        if not passes(host, named) and host != host_of(self.entered_address()):
            return self.refuse(WRONG_HOST, environ, start_response)
        if host == self.set_host and (self.set_address or "").startswith("https:"):
            environ["wsgi.url_scheme"] = "https"  # what stands before the program has done the TLS
        return self.application(environ, start_response)

    def entered_address(self) -> str | None:
        """Return the address that was entered in the program, asked for now and then; None if it cannot be asked."""
        if self.set_address is None and time.monotonic() >= self._entered_until:
            self._entered_until = time.monotonic() + ENTERED_SECONDS  # at first, so that one request asks and no other
            try:
                with self.app.app_context(), session_on(db.engine, read_only=True) as session:
                    row = find_public_address(session)
                    self._entered = None if row is None else row.address
            except DatabaseError:
                self._entered = None
            self._entered_until = time.monotonic() + ENTERED_SECONDS
        return self._entered

    def refuse(self, status: str, environ: "WSGIEnvironment", start_response: "StartResponse") -> Iterable[bytes]:
        """Answer with the right address."""
        environ[NOTED] = Noted.OTHER_HOST
        right = self.set_address or self.entered_address()
        addresses = [right] if right else list(working_addresses(self.settings.host, self.settings.port))
        path = environ.get("PATH_INFO", "")
        template = self.app.jinja_env.get_template("errors/other_host.html")
        with speaking(preferred(environ)):
            page = template.render(
                addresses=addresses,
                here=address_of("127.0.0.1", self.settings.port),
                path=path if PATH.fullmatch(path) else "/",
                style=f"{addresses[0]}/static/traymates.css" if addresses else None,
            ).encode()
        headers = SECURITY_HEADERS | {"Content-Type": "text/html; charset=utf-8", "Content-Length": str(len(page))}
        if addresses:
            parts = urlsplit(addresses[0])
            origin = f"{parts.scheme}://{parts.netloc}"
            headers["Content-Security-Policy"] = f"default-src 'none'; style-src {origin}; base-uri 'none'"
        headers["Cache-Control"] = "no-store"
        start_response(status, list(headers.items()))
        return [] if environ.get("REQUEST_METHOD") == "HEAD" else [page]


def host_of(address: str | None) -> str | None:
    """Return the name or number in an address, as `read_host` gives it; None without an address."""
    return read_host(urlsplit(address).netloc) if address else None


def init_app(app: Flask) -> None:
    """Put the check of names, the log and what a proxy in front says before the application."""
    settings: Settings = app.config["SETTINGS"]
    gate = RequestLog(HostGate(app, app.wsgi_app, settings))
    proxies = settings.trusted_proxies
    app.wsgi_app = (  # type: ignore[method-assign]  # as Flask's documents have it
        ProxyFix(gate, x_for=proxies, x_proto=proxies, x_host=proxies, x_port=0, x_prefix=proxies) if proxies else gate
    )
