"""Spare plants on pages: members offer and ask, a coordinator hands out."""

from datetime import timedelta

import pytest

from app.core.words import LogKind, Origin, Role
from app.services.log import NewEntry, add_entries
from app.storage import Session
from app.storage.models import Grower
from tests import rows
from tests.conftest import TODAY
from tests.people import add_account, sign_in_as
from tests.web.filling import errors_of, form_values, guards, send
from tests.web.seasons import words
from tests.web.test_once import assert_acts_once


@pytest.fixture
def garden(engine):
    with Session(engine) as session:
        rows.garden(session)
        rows.shelf(session)
        tomato = rows.crop(session, box=rows.container(session))
        growers = [rows.grower(session, name) for name in ("Ada Brook", "Ines Moreau", "Tomas Keel")]
        sowing = rows.sowing(session, growers[0], tomato, variety="Round")
        failed = rows.sowing(session, growers[2], tomato, "S-0002")
        rows.sowing(session, growers[1], tomato, "S-0003")
        entries = [
            NewEntry(sowing_id=one.id, kind=kind, date=TODAY - timedelta(days=ago), count=9)
            for one, kind, ago in (
                (sowing, LogKind.SOWN, 20),
                (sowing, LogKind.UP, 12),
                (failed, LogKind.SOWN, 20),
                (failed, LogKind.LOST, 5),
            )
        ]
        add_entries(session, entries, today=TODAY, account_id=None)
        for grower in growers[:2]:
            add_account(session, grower.name, Role.MEMBER, grower.id)
        session.commit()
        return {"tomato": tomato.id, "growers": [grower.id for grower in growers], "sowing": sowing.id}


def member(app, name):
    client = app.test_client()
    sign_in_as(client, name)
    return client


def test_plants_go_from_one_grower_to_who_needs_them_most(app, client, engine, garden):
    ada, ines = member(app, "Ada Brook"), member(app, "Ines Moreau")
    offer = form_values(ada.get("/spares/offers/new").text) | {"sowing_id": garden["sowing"], "plants": 4}
    assert_acts_once(ada, engine, "/spares/offers/new", offer)
    ask = form_values(ines.get("/spares/requests/new").text) | {"crop_id": garden["tomato"], "plants": 2}
    assert_acts_once(ines, engine, "/spares/requests/new", ask)
    send(client, f"/spares/requests/new?grower={garden['growers'][2]}", crop_id=garden["tomato"], plants=3)
    page = client.get("/spares").text
    said = words(page)
    assert said.index("Tomas Keel 3 a sowing failed, has 0 of 6 plants wanted") < said.index("Ines Moreau 2 has 6 of 6")
    give = next(part for part in page.split('"') if part.endswith("/give"))  # the first in turn
    assert "Tomato for Tomas Keel" in client.get(give).text
    sent = form_values(client.get(give).text)
    assert sent["plants"] == ["3"]  # as many as are asked for and offered
    assert_acts_once(client, engine, give, sent)
    said = words(client.get("/spares").text)
    assert "3 plants of Tomato, Round Ada Brook Tomas Keel" in said
    assert "Tomato Round 1 Ada Brook" in said
    back = next(part for part in client.get("/spares").text.split('"') if part.endswith("/take-back"))
    assert_acts_once(client, engine, back, guards(client, back, "/spares"))
    assert "Nothing was given yet." in client.get("/spares").text
    assert "Tomato Round 4 Ada Brook" in words(client.get("/spares").text)


def test_members_see_open_offers_and_what_is_theirs(app, client, garden):
    ada, ines = member(app, "Ada Brook"), member(app, "Ines Moreau")
    send(ada, "/spares/offers/new", sowing_id=garden["sowing"], plants=4, note="By the door")
    send(ada, "/spares/requests/new", crop_id=garden["tomato"], plants=1)
    said = words(ines.get("/spares").text)
    assert "By the door" in said
    assert "You ask for no plants now" in said
    assert "Withdraw" not in ines.get("/spares").text.partition("<tbody")[2]
    assert ines.get("/spares/requests/1/give").status_code == 403
    withdraw = next(part for part in ada.get("/spares").text.split('"') if part.endswith("/withdraw"))
    key = form_values(ines.get("/spares/requests/new").text)
    assert ines.post(withdraw, data=key).status_code == 403
    assert ada.post(withdraw, data=guards(ada, withdraw)).status_code == 302


def test_a_member_offers_only_their_own_plants(app, client, garden):
    ines = member(app, "Ines Moreau")
    said = ines.get("/spares/offers/new").text
    assert "By the log there are no plants to give away" in words(said)
    sent = {name: form_values(ines.get("/spares/requests/new").text)[name] for name in ("csrf_token", "key")}
    answer = ines.post("/spares/offers/new", data=sent | {"sowing_id": garden["sowing"], "plants": 2})
    assert answer.status_code == 200
    assert "Nobody offers any plants now" in words(ines.get("/spares").text)


def test_more_than_live_are_refused_beside_the_field(client, garden):
    answer = send(client, "/spares/offers/new", sowing_id=garden["sowing"], plants=10)
    assert "By the log 9 plants live and can be given away." in errors_of(answer.text)["plants"]


def test_who_is_no_grower_can_neither_offer_nor_ask(app, engine, garden):
    with Session(engine) as session:
        add_account(session, "Tom Adler", Role.MEMBER)
        session.commit()
    tom = member(app, "Tom Adler")
    for path in ("/spares/offers/new", "/spares/requests/new"):
        assert tom.get(path).status_code == 403
        assert path not in tom.get("/spares").text


def test_plants_of_saved_cucurbits_are_marked_where_they_are_offered_and_handed_out(client, engine, garden):
    with Session(engine) as session:
        squash = rows.crop(session, "Squash", box=rows.container(session, "Box"), botanical="Cucurbita pepo")
        lot = rows.seed_lot(session, squash, origin=Origin.SAVED)
        grower = session.get_one(Grower, garden["growers"][0])
        sowing = rows.sowing(session, grower, squash, "S-0009", seed_lot_id=lot.id)
        entries = [
            NewEntry(sowing_id=sowing.id, kind=kind, date=TODAY - timedelta(days=ago), count=4)
            for kind, ago in ((LogKind.SOWN, 20), (LogKind.UP, 12))
        ]
        add_entries(session, entries, today=TODAY, account_id=None)
        session.commit()
        of_squash, squash_id = sowing.id, squash.id
    send(client, "/spares/offers/new", sowing_id=garden["sowing"], plants=1)
    assert "may be bitter" not in client.get("/spares").text
    send(client, "/spares/offers/new", sowing_id=of_squash, plants=1)
    send(client, "/spares/requests/new", grower_id=garden["growers"][1], crop_id=squash_id, plants=1)
    page = client.get("/spares").text
    assert page.count("may be bitter") == 1
    assert "saved or swapped seed of squash" in page
    give = next(part for part in page.split('"') if part.endswith("/give"))
    assert "saved or swapped seed of squash" in client.get(give).text


def test_what_was_offered_asked_for_and_tested_stands_in_the_history(client, garden):
    send(client, "/spares/offers/new", sowing_id=garden["sowing"], plants=4)
    send(client, "/spares/requests/new", grower_id=garden["growers"][1], crop_id=garden["tomato"], plants=2)
    give = next(part for part in client.get("/spares").text.split('"') if part.endswith("/give"))
    send(client, give)
    said = words(client.get("/history").text)
    assert "Offer of spare plants added" in said
    assert "plants offered 4" in said
    assert "plants asked for 2" in said
    assert "plants given 2" in said
    assert "to whom Ines Moreau" in said
