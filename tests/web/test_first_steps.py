"""The first hour: steps from an empty database to a ledger, the demo garden, and clearing it for one's own."""

import re

import pytest
from sqlalchemy import func, select

from app.services.demo_account import ensure_demo_account
from app.storage import Session
from app.storage.backup import check_backup
from app.storage.models import Account, Draft, Garden, Grower, History, House, SignIn, Sowing
from tests import rows
from tests.conftest import TODAY
from tests.web.filling import form_values, guards, send
from tests.web.pages import read_page

START = {"latitude": "47.1", "last": "10 May", "first": "26 Sep"}


def states(page):
    """Return the state of each step, by the key of its heading."""
    return dict(re.findall(r'<h2 id="step-(\w+)">.*?<span class="state">([\w ]+)</span>', page, re.DOTALL))


def count(engine, model):
    with Session(engine) as session:
        return session.scalar(select(func.count()).select_from(model))


def typed(page):
    """Return the labels of the inputs of a page that stand open and are empty."""
    page = read_page(page)
    return [
        element.attributes["name"]
        for element in page.all("input", "select")
        if element.within("form") and element.attributes.get("type") not in ("hidden", "checkbox", "search")
        and not element.within("details") and not element.attributes.get("value")
    ]  # fmt: skip


def test_an_empty_database_leads_to_the_first_ledger_step_by_step(client, engine):
    page = client.get("/", follow_redirects=True).text
    assert states(page)["place"] == "next"
    assert states(page)["shelves"] == "later"
    page = client.get("/setup/new").text
    assert typed(page) == ["latitude", "last", "first"]
    assert send(client, "/setup/new", **START).location == "/first-steps"
    page = client.get("/").text
    assert "<h1>Where to begin</h1>" in page
    assert [states(page)[key] for key in ("place", "shelves", "growers", "sowings", "frost")] == [
        "done", "next", "later", "later", "can wait",
    ]  # fmt: skip
    assert send(client, "/shelves/new").status_code == 302  # as it is filled in
    assert states(client.get("/").text)["growers"] == "next"
    assert send(client, "/growers/new", name="Ada Brook").status_code == 302
    assert states(client.get("/").text)["sowings"] == "next"
    with Session(engine) as session:
        grower = session.scalar(select(Grower.id))
        tomato = session.execute(select(rows.Crop.id).where(rows.Crop.name == "Tomato")).scalar_one()
    answer = send(client, "/sowings/new", grower_id=str(grower), crop_id=str(tomato), plants="6")
    assert answer.status_code == 302
    assert "<h1>This week</h1>" in client.get("/").text
    assert "Everything that a plan needs is there" in client.get("/first-steps").text
    ledger = client.get("/ledger").text
    assert "1 of 12" in ledger  # three levels of 122 by 61 cm hold four trays each, counted by drawing


def test_steps_can_be_passed_over_and_put_away(client, engine):
    send(client, "/setup/new", **START)
    assert "<h1>Where to begin</h1>" in client.get("/").text
    assert "<h1>Where to begin</h1>" not in client.get("/?week=2027-W14").text
    values = form_values(client.get("/").text)
    assert client.post("/first-steps/away", data=values).location == "/"
    assert "<h1>Where to begin</h1>" not in client.get("/").text
    values = form_values(client.get("/first-steps").text)
    assert client.post("/first-steps/away", data=values).location == "/first-steps"
    assert "<h1>Where to begin</h1>" in client.get("/").text


def test_a_garden_with_wishes_of_last_season_is_not_new(client, engine):
    with Session(engine) as session:
        rows.garden(session)
        grower, crop = rows.grower(session), rows.crop(session)
        session.add(Draft(
            grower_id=grower.id, crop_id=crop.id, plants=6, brings_seed=False
        ))  # fmt: skip
        session.commit()
    assert "<h1>Where to begin</h1>" not in client.get("/").text


def test_without_shelves_the_week_says_so(client, engine):
    with Session(engine) as session:
        rows.garden(session)
        rows.sowing(session, rows.grower(session), rows.crop(session))
        session.commit()
    assert "There are no shelves yet" in client.get("/").text


@pytest.mark.parametrize("path", ["/shelves", "/growers", "/sowings", "/seed-lots", "/crops", "/containers", "/trays"])
def test_every_empty_list_says_what_to_do_next(client, engine, path):
    with Session(engine) as session:
        rows.garden(session)
        session.commit()
    page = read_page(client.get(path).text)
    [empty] = [p for p in page.all("p") if re.search(r"There are no |No tray has been", p.text)]
    assert [a for a in page.all("a") if a.within("p") is empty], path


def test_the_demo_is_one_press_away_and_only_where_nothing_is(client, engine):
    page = client.get("/first-steps").text
    answer = client.post("/first-steps/demo", data=form_values(page))
    assert answer.location == "/ledger"
    assert "made up" in client.get("/ledger").text
    growers = count(engine, Grower)
    assert growers > 50
    history = count(engine, History)
    again = client.post("/first-steps/demo", data=guards(client, "/first-steps/demo"))
    assert again.location == "/first-steps"
    assert count(engine, Grower) == growers
    assert count(engine, History) == history


def test_the_demo_is_cleared_after_a_backup_and_people_stay(client, engine, app):
    client.post("/first-steps/demo", data=form_values(client.get("/first-steps").text))
    page = client.get("/first-steps/clear").text
    assert "First a backup" in page
    sowings = count(engine, Sowing)
    answer = client.post("/first-steps/clear", data=form_values(page))
    assert answer.location == "/first-steps"
    assert count(engine, Garden) == count(engine, Grower) == count(engine, Sowing) == 0
    assert count(engine, Account) == 1
    [path] = (app.config["SETTINGS"].instance / "backups").glob("*.sqlite3")
    assert check_backup(path).counts["sowing"] == sowings
    assert path.name in client.get("/first-steps").text
    # numbers begin anew, since those of the demo stand on nobody's labels
    send(client, "/setup/new", **START)
    with Session(engine) as session:
        assert session.scalar(select(House.holds_demo)) is False
        rows.grower(session)
        session.commit()
        grower, crop = session.scalar(select(Grower.id)), session.scalar(select(rows.Crop.id).limit(1))
    send(client, "/sowings/new", grower_id=str(grower), crop_id=str(crop), plants="6")
    with Session(engine) as session:
        assert session.scalars(select(Sowing.name)).all() == ["S-0001"]


def test_ones_own_garden_is_never_cleared(client, engine, app):
    send(client, "/setup/new", **START)
    assert client.get("/first-steps/clear").location == "/first-steps"
    answer = client.post("/first-steps/clear", data=guards(client, "/first-steps/clear"))
    assert answer.location == "/first-steps"
    assert count(engine, Garden) == 1
    assert not list((app.config["SETTINGS"].instance).glob("backups/*.sqlite3"))


def test_nothing_is_cleared_without_a_backup(client, engine, monkeypatch):
    def no_room(*_args):
        raise OSError(28, "No space left on device")

    client.post("/first-steps/demo", data=form_values(client.get("/first-steps").text))
    monkeypatch.setattr("app.services.first_steps.copy_database", no_room)
    answer = client.post("/first-steps/clear", data=form_values(client.get("/first-steps/clear").text))
    assert answer.status_code == 409
    assert "backup could not be made" in answer.text
    assert count(engine, Sowing) > 0


def test_who_looks_at_the_demo_alone_becomes_the_first_coordinator(client, visitor, engine):
    client.post("/first-steps/demo", data=form_values(client.get("/first-steps").text))
    with Session(engine) as session:
        for row in session.scalars(select(SignIn)):
            session.delete(row)
        for account in session.scalars(select(Account)):
            session.delete(account)
        session.flush()
        ensure_demo_account(session)
        session.commit()
    visitor.post("/sign-in/demo", data=form_values(visitor.get("/sign-in").text))
    answer = visitor.post("/first-steps/clear", data=form_values(visitor.get("/first-steps/clear").text))
    assert answer.location.startswith("/slips/")
    page = visitor.get(answer.location).text
    words = {"name": "Ida Brook", "passphrase": "four quiet words of straw", "again": "four quiet words of straw"}
    assert visitor.post(answer.location, data=form_values(page) | words).status_code == 302
    assert "<h1>First steps</h1>" in visitor.get("/", follow_redirects=True).text
    with Session(engine) as session:
        assert session.scalars(select(Account.name)).all() == ["Ida Brook"]


def test_from_autumn_on_the_year_to_come_is_offered(client):
    assert form_values(client.get("/setup/new").text)["season"] == [str(TODAY.year)]
