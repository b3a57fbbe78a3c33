"""A person with a browser: opens pages, fills forms, and tells what became of what was sent."""

import http.client
import re
from dataclasses import dataclass
from html import unescape
from urllib.parse import urlencode

from flask import Flask
from sqlalchemy.orm import Session

from app.services.accounts import add_sign_in
from app.services.passphrases import comparable
from app.storage.queries.people import find_account
from app.web.access import TOKEN
from app.web.cookies import Cookie
from tests.people import add_account
from tests.reliability.checker import Result

SECRET = "for tests only " * 3
COOKIE = "traymates"
INPUT = re.compile(r"<input[^>]*>")
NAME, VALUE, TYPE = (re.compile(rf' {name}="([^"]*)"') for name in ("name", "value", "type"))
SELECT = re.compile(r'<select[^>]* name="([^"]*)"[^>]*>(.*?)</select>', re.DOTALL)
OPTION = re.compile(r"<option[^>]*>")
FORM = re.compile(r'<form([^>]*method="post"[^>]*)>(.*?)</form>', re.DOTALL)
ACTION = re.compile(r' action="([^"]*)"')
REFUSED = frozenset({400, 401, 403, 404, 409, 413, 429, 503, 507})


class NotSentError(ConnectionError):
    """The server could not be reached, so that nothing was sent."""


@dataclass(frozen=True)
class Answer:
    """What a server answers.

    Attributes:
        status: The status.
        text: The page.
        location: Where it leads; None for nowhere.
    """

    status: int
    text: str
    location: str | None

    @property
    def result(self) -> Result:
        """What became of a form: a page that leads on says that it is saved, one that does not says why it is not."""
        if self.status in {302, 303}:
            return Result.OK
        if self.status == 200 or self.status in REFUSED:
            return Result.FAIL
        return Result.UNKNOWN


@dataclass(frozen=True)
class Form:
    """A form of a page, with the inputs that it holds."""

    action: str
    fields: dict[str, str]


class Browser:
    """Holds one connection open and keeps one cookie, as a browser does."""

    def __init__(self, port, cookie=None, *, timeout=30, source=None):
        self.port, self.cookie, self.timeout = port, cookie, timeout
        self.source = (source, 0) if source else None  # the address that it asks from
        self._connection = None

    def ask(self, method, address, body=None, headers=None):
        """Send a request and return its answer.

        Raises:
            NotSentError: Nobody listens.
            OSError, http.client.HTTPException: It was sent, and the answer did not come.
        """
        headers = dict(headers or {})
        if self.cookie:
            headers["Cookie"] = f"{COOKIE}={self.cookie}"
        if body is not None:
            headers.setdefault("Content-Type", "application/x-www-form-urlencoded")
        if self._connection is None:
            self._connection = http.client.HTTPConnection(
                "127.0.0.1", self.port, timeout=self.timeout, source_address=self.source
            )
            try:
                self._connection.connect()
            except ConnectionRefusedError as error:
                self.close()
                raise NotSentError from error
        try:
            self._connection.request(method, address, body, headers)
            answer = self._connection.getresponse()
            page = self._body(answer)
        except (OSError, http.client.HTTPException):
            self.close()
            raise
        for value in answer.headers.get_all("Set-Cookie") or []:
            name, _, rest = value.partition("=")
            if name == COOKIE:
                self.cookie = rest.partition(";")[0]
        return Answer(answer.status, page.decode(errors="replace"), answer.headers.get("Location"))

    def _body(self, answer):
        """Return the page; a browser that is led elsewhere goes there without waiting for the rest of it."""
        try:
            return answer.read()
        except (OSError, http.client.HTTPException):
            self.close()
            if answer.status in {302, 303}:
                return b""
            raise

    def get(self, address):
        return self.ask("GET", address)

    def form(self, address, action=None):
        """Open a page and return its form; with an action that of this one, else the first that is no sign-out."""
        answer = self.get(address)
        assert answer.status == 200, (address, answer.status, answer.location, answer.text[-500:])
        return form_of(answer.text, action, address)

    def send(self, form, **fields):
        """Send a form as it was opened, with some fields filled in."""
        body = urlencode(form.fields | fields, doseq=True)
        return self.ask("POST", form.action, body, {"Origin": f"http://127.0.0.1:{self.port}"})

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    def close(self):
        if self._connection is not None:
            self._connection.close()
            self._connection = None


def form_of(page, action=None, address=""):
    """Return the form of a page, as it is when nobody has typed yet; one that says nothing goes to its own address."""
    for said, inside in FORM.findall(page):
        goes = ACTION.search(said)
        found = unescape(goes[1]) if goes else address
        if action is None and not found.startswith(("/sign-out", "/account")):
            return Form(found, dict(_inputs(inside)))
        if action is not None and found.partition("?")[0] == action:
            return Form(found, dict(_inputs(inside)))
    raise AssertionError(f"the page has no form {action or ''}")


def _inputs(inside):
    for tag in INPUT.findall(inside):
        name, value, kind = (pattern.search(tag) for pattern in (NAME, VALUE, TYPE))
        is_choice = kind is not None and kind[1] in {"checkbox", "radio"}
        if name is not None and (not is_choice or " checked" in tag):
            yield unescape(name[1]), unescape(value[1]) if value else ""
    for name, options in SELECT.findall(inside):
        tags = OPTION.findall(options)
        chosen = next((tag for tag in tags if " selected" in tag), tags[0] if tags else "")
        value = VALUE.search(chosen)
        yield unescape(name), unescape(value[1]) if value else ""


def cookie_of(token, secret=SECRET):
    """Return the cookie of a device that is signed in by a token."""
    app = Flask(__name__)
    app.secret_key = secret
    return Cookie().get_signing_serializer(app).dumps({TOKEN: token})


def cookies_for(engine, names, secret=SECRET):
    """Return the cookies of people who are signed in as coordinators, made if they are not there."""
    cookies = []
    with Session(engine) as session:
        for name in names:
            account = find_account(session, comparable(name)) or add_account(session, name)
            token = add_sign_in(session, account, own_device=True, device="Test")
            cookies.append(cookie_of(token, secret))
        session.commit()
    return cookies
