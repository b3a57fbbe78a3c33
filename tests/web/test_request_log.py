"""What is written down of requests and errors: everything one needs to find a fault, and nothing about anybody."""

import io
import json
import logging

import pytest
from flask.testing import FlaskClient
from sqlalchemy import delete, text

from app.core.words import Role
from app.extensions import db
from app.logs import REQUESTS, JsonFormatter, log_config
from app.services.accounts import MOST_TRIES
from app.services.passphrases import hash_secret
from app.storage.models import FailedTry
from app.web import request_log
from app.web.request_log import Noted
from tests.people import add_account
from tests.rules.tree import ROOT
from tests.web.filling import form_values

# Hostile and personal values in every place of a request that a person fills.
SECRETS = [
    "Ann O’Hara", "ann@shed.example", "correct horse", 'x", "level": "error', "two\nlines", "\x1b[31mred", "sl1p-T0ken",
    "<script>", "%(name)s", "%s%s%s", "{name}", "\u202etxt",
]  # fmt: skip


@pytest.fixture
def lines(monkeypatch):
    """Return a function that gives the lines written so far, as text and read as JSON."""
    written = io.StringIO()
    handler = logging.StreamHandler(written)
    handler.setFormatter(JsonFormatter())
    root, requests = logging.getLogger(), logging.getLogger(REQUESTS)
    monkeypatch.setattr(root, "handlers", [handler])
    monkeypatch.setattr(logging.getLogger("app"), "handlers", [])
    before = requests.level
    requests.setLevel(logging.INFO)

    def read():
        return written.getvalue(), [json.loads(line) for line in written.getvalue().splitlines()]

    yield read
    requests.setLevel(before)


class WholeClient(FlaskClient):
    """A client that takes in each answer to its end, as a server sends it."""

    def open(self, *args, **kwargs):
        return super().open(*args, buffered=True, **kwargs)


@pytest.fixture(autouse=True)
def whole(app):
    app.test_client_class = WholeClient


@pytest.fixture
def faulty(app):
    """Return the application with views that break in the ways a program does, each with a secret in its hand."""
    app.config["PROPAGATE_EXCEPTIONS"] = False
    app.testing = False

    def broken(way):
        if way == "value":
            raise ValueError("correct horse")
        if way == "database":
            db.session.execute(text("SELECT * FROM nowhere WHERE name = :name"), {"name": "Ann O’Hara"})
        if way == "chain":
            try:
                _ = {}["sl1p-T0ken"]
            except KeyError as error:
                raise RuntimeError("correct horse") from error
        raise OSError(28, "No space left", "/gardens/ann@shed.example")

    broken.open_to = 0
    app.add_url_rule("/broken/<way>", "broken", broken, methods=["GET", "POST"])
    return app


def test_a_request_is_one_line_with_the_pattern_of_its_address(app, lines):
    answer = app.test_client().get("/slips/sl1p-T0ken?name=ann")
    _, (line,) = lines()
    assert {key: line[key] for key in ("from", "level", "method", "route", "status")} == {
        "from": REQUESTS,
        "level": "info",
        "method": "GET",
        "route": "/slips/<token>",
        "status": 410,
    }
    assert line["id"] == answer.headers["X-Request-Id"]
    assert line["ms"] > 0
    assert set(line) == {"at", "from", "level", "method", "route", "status", "id", "ms"}


def test_signing_in_and_what_is_refused_are_told_without_a_name(app, session, lines):
    """OWASP ASVS 5.0.0, 16.3.1 to 16.3.3: who watches sees what was tried, and the history says who changed what."""
    passphrase = "green tin watering can"
    add_account(session, "Ann O’Hara", Role.MEMBER, passphrase=hash_secret(passphrase))
    session.commit()
    client = app.test_client()

    def send(path, **fields):
        token = form_values(client.get(path).text).get("csrf_token", "")
        client.post(path, data={"csrf_token": token} | fields)
        line = lines()[1][-1]
        return line["noted"], line["level"], line["route"]

    assert send("/sign-in", name="Ann O’Hara", passphrase="wrong") == ("wrong passphrase or PIN", "warning", "/sign-in")
    for _ in range(MOST_TRIES - 1):
        send("/sign-in", name="Ann O’Hara", passphrase="wrong")
    assert send("/sign-in", name="Ann O’Hara", passphrase=passphrase)[:2] == ("too many tries", "warning")
    session.execute(delete(FailedTry))
    session.commit()
    assert send("/sign-in", name="Ann O’Hara", passphrase=passphrase)[:2] == ("signed in", "info")
    client.get("/people/visitors")
    assert [lines()[1][-1][key] for key in ("noted", "level", "status")] == ["not allowed", "warning", 403]
    assert send("/sign-out", csrf_token="forged")[:2] == ("form of another session", "warning")
    assert send("/sign-out")[:2] == ("signed out", "info")
    written = lines()[0]
    assert [word for word in ("Hara", "watering", 'wrong"', "forged") if word in written] == []


def test_each_thing_that_is_noted_is_in_the_guide():
    """What may stand in the log is written down (OWASP ASVS 5.0.0, 16.1.1)."""
    guide = " ".join((ROOT / "docs" / "operations.md").read_text().split())
    assert [what for what in Noted if f"*{what}*" not in guide] == []


def test_a_walk_with_names_in_every_place_leaves_none_in_the_log(faulty, lines):
    client = faulty.test_client()
    for secret in SECRETS:
        form = {"name": secret, "passphrase": secret, "csrf_token": secret, secret: secret}
        plain = secret.encode("ascii", "ignore").decode().replace("\n", " ").replace("\x1b", "")
        headers = {"User-Agent": plain, "Referer": f"http://{plain}/", "X-Forwarded-For": plain, "Host": "127.0.0.1"}
        client.set_cookie("traymates", plain.replace(",", "").replace(";", "").replace('"', ""))
        for path in ("/", "/sign-in", "/slips/" + secret, "/growers/" + secret, "/no/" + secret, "/broken/value"):
            client.get(path, query_string={"q": secret, secret: "1"}, headers=headers)
            client.post(path, data=form, headers=headers)
        client.open("/", method="ANN", headers=headers)
        client.get("/", headers=headers | {"Host": plain or "x"})
    written, read = lines()
    assert len(read) > len(SECRETS) * 10
    found = [secret for secret in [*SECRETS, "O'Hara", "shed.example", "ANN", "horse"] if secret in written]
    assert found == []
    decoded = json.dumps(read, ensure_ascii=False)
    assert [secret for secret in SECRETS if secret in decoded] == []


@pytest.mark.parametrize("way", ["value", "database", "chain", "file"])
def test_an_error_is_told_by_kind_and_place_and_never_by_its_words(faulty, lines, way):
    answer = faulty.test_client().post(
        f"/broken/{way}", data={"name": "Ann O’Hara"}, headers={"Cookie": "a=sl1p-T0ken"}
    )
    assert answer.status_code >= 400
    written, read = lines()
    assert [word for word in ("horse", "Hara", "T0ken", "shed.example", "nowhere", "a=") if word in written] == []
    errors = [line for line in read if "error" in line]
    if answer.status_code == 500:
        (error,) = errors
        assert error["id"] in answer.text
        assert error["id"] == answer.headers["X-Request-Id"]
        assert any(place.endswith(" broken") for place in error["places"])
        kinds = {"value": "builtins.ValueError", "chain": "builtins.RuntimeError", "file": "builtins.OSError"}
        assert error["error"] == kinds.get(way, error["error"])
        assert (error.get("because") == ["builtins.KeyError"]) == (way == "chain")
        assert (error.get("errno") == 28) == (way == "file")


def test_a_message_keeps_its_words_and_numbers_and_drops_the_rest():
    record = logging.LogRecord(
        "app.x",
        logging.WARNING,
        request_log.__file__,
        1,
        "Search %d of %s broke off: %s",
        (7, "Ann", OSError("Bob")),
        None,
    )
    line = json.loads(JsonFormatter().format(record))
    assert line["words"] == "Search 7 of … broke off: OSError"


def test_a_message_of_another_library_is_left_out_since_it_may_hold_anything():
    record = logging.LogRecord(
        "waitress", logging.ERROR, "/lib/waitress/task.py", 1, "Exception while serving /ann", (), None
    )
    assert "ann" not in JsonFormatter().format(record)


@pytest.mark.parametrize(("kind", "requests", "errors"), [("requests", 1, 1), ("errors", 0, 1), ("nothing", 0, 0)])
def test_what_is_written_can_be_chosen(kind, requests, errors):
    config = log_config(kind)
    assert (config["loggers"][REQUESTS]["level"] <= logging.INFO) == requests
    assert (config["root"]["level"] <= logging.ERROR) == errors
