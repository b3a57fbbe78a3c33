"""What holds for every answer: errors in plain words, headers, long-kept static files, forms that do not expire."""

import re
import time
from datetime import date
from pathlib import Path

import pytest
from flask import Response
from sqlalchemy.exc import OperationalError

from app import LARGEST_REQUEST_BYTES, create_app
from app.core.dates.record import TooFewYearsError
from app.core.words import Units
from app.extensions import db
from app.services.garden import Facts
from app.settings import Settings
from app.storage.engine import _reading
from app.storage.errors import NotFoundError
from app.storage.queries.plan import NoGardenError
from app.storage.schema import upgrade
from app.web.access import Who
from tests.people import sign_in_as
from tests.web.conftest import RuledClient

FORM = """{% extends "base.html" %}{% block title %}Probe{% endblock %}{% block main %}
<form method="post">{{ guard() }}</form>{% endblock %}"""


def fail_with(error):
    def view():
        raise error

    return view


def make_site(folder, today=None):
    """Return an application on an empty database, with a few pages that fail and one that has a form."""
    app = create_app(Settings(database_url=f"sqlite:///{folder / 'site.sqlite3'}", instance=folder, today=today))
    with app.app_context():
        upgrade(db.engine)
    app.test_client_class = RuledClient
    app.add_url_rule("/probe/gone", view_func=fail_with(NotFoundError("grower", 12)), endpoint="probe_gone")
    app.add_url_rule("/probe/no-garden", view_func=fail_with(NoGardenError()), endpoint="probe_no_garden")
    app.add_url_rule("/probe/no-dates", view_func=fail_with(TooFewYearsError("spring", 9)), endpoint="probe_no_dates")
    app.add_url_rule("/probe/fault", view_func=fail_with(RuntimeError("secret detail")), endpoint="probe_fault")
    app.add_url_rule(
        "/probe/reading",
        view_func=lambda: {"reading": _reading.get()},
        endpoint="probe_reading",
        methods=["GET", "POST"],
    )

    app.add_url_rule(
        "/probe/pdf", view_func=lambda: Response(b"%PDF-", mimetype="application/pdf"), endpoint="probe_pdf"
    )

    @app.route("/probe/form", methods=["GET", "POST"])
    def probe_form():
        return app.jinja_env.from_string(FORM).render(garden=None, menu=())

    for name, view in app.view_functions.items():
        if name.startswith("probe_"):
            view.open_to = Who.EVERYONE
    return app


@pytest.fixture
def site(tmp_path):
    app = make_site(tmp_path)
    yield app
    with app.app_context():
        db.engine.dispose()


@pytest.fixture
def visitor(site):
    return site.test_client()


def token_of(response):
    return re.search(r'name="csrf_token" value="([^"]+)"', response.text)[1]


def test_a_page_that_is_not_there_says_so(visitor):
    response = visitor.get("/no/such/page")
    assert response.status_code == 404
    assert "There is no such page" in response.text


def test_what_has_been_removed_is_named(visitor):
    response = visitor.get("/probe/gone")
    assert response.status_code == 404
    assert "There is no grower 12" in response.text


def test_before_there_is_a_garden_pages_lead_to_where_it_is_set_up(visitor):
    response = visitor.get("/probe/no-garden")
    assert response.status_code == 302
    assert response.location == "/first-steps"


def test_a_record_that_gives_no_dates_says_why_and_where_to_choose_another_source(visitor):
    sign_in_as(visitor)
    answer = visitor.get("/probe/no-dates")
    assert answer.status_code == 409
    assert "the record has 9 usable years for spring; it takes 10" in answer.text
    assert 'href="/setup/frost"' in answer.text


def test_a_fault_of_the_program_shows_no_detail(visitor):
    response = visitor.get("/probe/fault")
    assert response.status_code == 500
    assert "Something went wrong here" in response.text
    assert "secret" not in response.text
    assert "Traceback" not in response.text


def test_the_page_of_a_fault_needs_no_database(site, visitor, monkeypatch):
    def no_database(*_args):
        raise OperationalError("connect", None, Exception("disk is gone"))

    monkeypatch.setattr("app.web.context.get_facts", no_database)
    for address in ("/probe/fault", "/no/such/page"):
        response = visitor.get(address)
        assert response.status_code == 500
        assert "Something went wrong here" in response.text


def test_a_form_without_a_valid_token_is_refused_in_words(visitor):
    for token in (None, "x"):
        response = visitor.post("/probe/form", data={"csrf_token": token} if token else {})
        assert response.status_code == 400
        assert "This form has expired" in response.text


def test_a_form_lives_as_long_as_its_session(visitor, monkeypatch):
    token = token_of(visitor.get("/probe/form"))
    now = time.time()
    monkeypatch.setattr("time.time", lambda: now + 60 * 24 * 3600)
    assert visitor.post("/probe/form", data={"csrf_token": token}).status_code == 200


def test_a_request_that_is_too_large_is_refused_in_words(visitor):
    response = visitor.post("/probe/form", data={"text": "x" * (LARGEST_REQUEST_BYTES + 1)})
    assert response.status_code == 413
    assert "too much at once" in response.text


@pytest.mark.parametrize("address", ["/no/such/page", "/probe/form", "/probe/fault", "/static/traymates.css"])
def test_every_answer_carries_the_security_headers(visitor, address):
    headers = visitor.get(address).headers
    policy = dict(part.strip().split(" ", 1) for part in headers["Content-Security-Policy"].split(";"))
    assert policy["default-src"] == policy["frame-ancestors"] == "'none'"
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert policy["script-src"] == policy["connect-src"] == "'self'"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "same-origin"


def test_a_pdf_is_left_to_the_browser_s_viewer(visitor):
    headers = visitor.get("/probe/pdf").headers
    assert "Content-Security-Policy" not in headers
    assert headers["X-Content-Type-Options"] == "nosniff"


def test_the_session_cookie_is_kept_from_scripts_and_works_without_tls(visitor):
    cookie = visitor.get("/probe/form").headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie
    assert "Secure" not in cookie


def test_static_files_are_addressed_by_content_and_kept_for_a_year(visitor):
    page = visitor.get("/no/such/page").text
    address = re.search(r'href="(/static/traymates\.css\?v=[0-9a-f]{12})"', page)[1]
    assert "max-age=31536000" in visitor.get(address).headers["Cache-Control"]
    assert "immutable" in visitor.get(address).headers["Cache-Control"]


@pytest.mark.parametrize("query", ["", "?v=000000000000"])
def test_static_files_under_another_address_are_not_kept(visitor, query):
    headers = visitor.get(f"/static/traymates.css{query}").headers
    assert "max-age" not in headers.get("Cache-Control", "")


def test_reading_requests_take_no_write_lock(visitor):
    assert visitor.get("/probe/reading").json == {"reading": True}
    token = token_of(visitor.get("/probe/form"))
    assert visitor.post("/probe/reading", data={"csrf_token": token}).json == {"reading": False}


def test_no_style_sheet_reaches_out_to_another_host(site):
    for path in Path(site.static_folder).glob("*"):
        text = path.read_text()
        assert not re.search(r"@import|url\(\s*['\"]?(?:https?:)?//", text)


def test_every_page_says_that_today_is_fixed(tmp_path, monkeypatch):

    facts = Facts(name="Alder", season=2027, southern=False, units=Units.US, language="en")
    monkeypatch.setattr("app.web.context.get_facts", lambda _session: facts)
    fixed = make_site(tmp_path, today=date(2027, 4, 10)).test_client().get("/no/such/page").text
    assert "Today is fixed at Saturday 10 April 2027" in fixed
    assert "<title>There is no such page – Alder</title>" in fixed
    free = make_site(tmp_path).test_client().get("/no/such/page").text
    assert "Today is fixed" not in free
