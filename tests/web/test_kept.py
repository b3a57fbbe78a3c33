"""Pages are kept until something changes, whoever changes it."""

import pytest
from flask import Response
from flask_wtf.csrf import generate_csrf
from sqlalchemy import make_url, update

from app import create_app, services
from app.extensions import db
from app.settings import Settings
from app.storage.models import Grower
from app.web.access import Who, open_to
from app.web.kept import OVERHEAD_BYTES, KeptPage, KeptPages, kept
from tests.conftest import TODAY
from tests.people import sign_in_as
from tests.web.filling import send
from tests.web.seasons import SOWN_IN, Statements, one_sowing

PAGES = ["/", "/?week=2027-W40", "/ledger", f"/ledger/{SOWN_IN}", "/ledger.csv", "/growers", "/sowings", "/crops"]


@pytest.fixture
def made(session):
    return one_sowing(session)


@pytest.fixture
def other_app(engine, tmp_path):
    """Return a second application on the same database, as another worker has it."""
    url = make_url(engine.url).render_as_string(hide_password=False)
    other = create_app(Settings(database_url=url, instance=tmp_path, today=TODAY, secret_key="for tests only " * 3))
    yield other
    with other.app_context():
        db.engine.dispose()


@pytest.fixture
def plans_made(monkeypatch):
    """Return a list that grows with each plan that is computed."""
    made, compute = [], services.plan.make_plan
    monkeypatch.setattr(services.plan, "make_plan", lambda garden: made.append(1) or compute(garden))
    return made


@pytest.mark.parametrize("path", PAGES)
def test_an_unchanged_page_takes_one_query_and_no_plan(app, client, made, path, plans_made):
    first = client.get(path)
    statements = Statements(app)
    plans_made.clear()
    again = client.get(path)
    assert (again.status_code, again.data) == (200, first.data)
    assert len(statements) == 1
    assert statements[0].startswith("SELECT data_version.mark, ")  # and who asks, in the same query
    assert plans_made == []


@pytest.mark.parametrize("path", ["/growers", f"/?week={SOWN_IN}", f"/ledger/{SOWN_IN}"])
def test_a_change_made_elsewhere_is_in_the_next_answer(client, session, made, path):
    assert "Ines Moreau" in client.get(path).text
    session.execute(update(Grower).values(name="Tomas Keel"))
    session.commit()
    after = client.get(path).text
    assert "Tomas Keel" in after
    assert "Ines Moreau" not in after


def test_a_change_through_one_worker_is_in_the_next_answer_of_another(app, client, other_app, made):
    other = other_app.test_client()
    sign_in_as(other)
    assert "Ines Moreau" in other.get("/growers").text
    assert send(client, f"/growers/{made.grower}/edit", name="Tomas Keel").status_code == 302
    page = other.get("/growers").text
    assert "Tomas Keel" in page
    assert "Ines Moreau" not in page


def test_a_changed_shelf_changes_the_ledger_at_once(client, session, made):
    before = client.get("/ledger").text
    assert "1 of 8" in before
    assert send(client, f"/shelves/{made.shelf}/edit", positions="3").status_code == 302
    assert "1 of 3" in client.get("/ledger").text  # this one shows the message
    assert "1 of 3" in client.get("/ledger").text


def test_the_browser_is_told_that_it_has_the_page(client, made):
    first = client.get("/ledger")
    assert first.headers["ETag"].startswith('W/"')
    assert first.headers["Cache-Control"] == "private, no-cache"
    again = client.get("/ledger", headers={"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")
    assert again.headers["ETag"] == first.headers["ETag"]


def test_the_browser_gets_a_page_that_has_changed(client, session, made):
    tag = client.get("/growers").headers["ETag"]
    session.get(Grower, made.grower).name = "Tomas Keel"
    session.commit()
    assert client.get("/growers", headers={"If-None-Match": tag}).status_code == 200


def test_a_message_is_shown_once_and_kept_for_nobody(app, client, made):
    client.get("/shelves")
    assert send(client, f"/shelves/{made.shelf}/edit", positions="8").status_code == 302
    another = app.test_client()
    sign_in_as(another, "Ruth Tan")
    with_message, without, of_another = (client.get("/shelves"), client.get("/shelves"), another.get("/shelves"))
    assert of_another.status_code == 200
    assert "Lamp rack saved" in with_message.text
    assert "ETag" not in with_message.headers
    assert with_message.headers["Cache-Control"] == "private, no-cache"
    assert "Lamp rack saved" not in without.text + of_another.text


def test_a_page_with_the_token_of_a_form_is_not_kept(app, client, made):
    app.add_url_rule("/token", view_func=open_to(Who.EVERYONE)(kept(_page_with_token)), endpoint="token")
    first, second = client.get("/token"), app.test_client().get("/token")
    assert first.headers["Cache-Control"] == "private, no-cache"
    assert "ETag" not in first.headers
    assert first.data != second.data
    assert len(app.extensions["kept_pages"]) == 0


def _page_with_token():
    return Response(generate_csrf(), mimetype="text/plain")


def test_addresses_that_differ_in_what_they_ask_are_two_pages(client, made):
    assert client.get("/").data != client.get(f"/?week={SOWN_IN}").data


@pytest.mark.parametrize("status", [302, 404, 409])
def test_an_answer_that_is_no_page_is_not_kept(app, client, made, status):
    view = kept(lambda: Response("other", status, mimetype="text/plain"))
    app.add_url_rule("/other", view_func=open_to(Who.EVERYONE)(view), endpoint="other")
    assert client.get("/other").status_code == status
    assert "ETag" not in client.get("/other").headers
    assert client.get("/ledger/2027-W99").status_code == 404
    assert len(app.extensions["kept_pages"]) == 0


def test_a_new_day_makes_the_page_anew(app, client, made, monkeypatch):
    client.get("/")
    monkeypatch.setattr("app.web.kept.current_day", lambda: TODAY.replace(day=11))
    statements = Statements(app)
    client.get("/")
    assert len(statements) > 1


def page(size_bytes):
    return KeptPage(b"x" * (size_bytes - OVERHEAD_BYTES), (), "tag")


def test_pages_asked_for_longest_ago_go_first():
    pages = KeptPages(limit_bytes=3 * 2000)
    for name in "abc":
        pages.keep((name, "", ""), page(2000))
    assert pages.find(("a", "", "")) is not None
    pages.keep(("d", "", ""), page(2000))
    assert pages.find(("b", "", "")) is None
    assert all(pages.find((name, "", "")) for name in "acd")
    assert pages.size_bytes == 3 * 2000


def test_a_page_larger_than_the_room_is_not_kept():
    pages = KeptPages(limit_bytes=5000)
    pages.keep(("small", "", ""), page(2000))
    pages.keep(("large", "", ""), page(5001))
    assert pages.find(("large", "", "")) is None
    assert pages.find(("small", "", "")) is not None


def test_a_page_kept_again_counts_once():
    pages = KeptPages()
    pages.keep(("a", "", ""), page(2000))
    pages.keep(("a", "", ""), page(3000))
    assert (len(pages), pages.size_bytes) == (1, 3000)
