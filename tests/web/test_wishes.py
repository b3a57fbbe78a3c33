"""Wishes so far, and what is kept of last season."""

import time

import pytest
from sqlalchemy import select, update

from app.core.words import Role
from app.storage import Session
from app.storage.models import Draft, History, Sowing
from tests import rows
from tests.people import add_account, sign_in_as
from tests.web.filling import form_values, guards, send
from tests.web.seasons import words
from tests.web.test_once import assert_acts_once


@pytest.fixture
def garden(engine):
    with Session(engine) as session:
        rows.garden(session, wishes_close="04-20")
        rows.shelf(session, positions=2)
        tomato = rows.crop(session, box=rows.container(session))
        grower, other = rows.grower(session), rows.grower(session, "Ada Brook")
        rows.sowing(session, grower, tomato, plants=60)
        drafts = [
            Draft(grower_id=one.id, crop_id=tomato.id, plants=7, brings_seed=True, got=5) for one in (grower, other)
        ]
        session.add_all(drafts)
        session.commit()
        return {
            "tomato": tomato.id,
            "grower": grower.id,
            "other": other.id,
            "drafts": [draft.id for draft in drafts],
        }


def old(engine, days):
    """Let all that was written down be so many days old."""
    with Session(engine) as session:
        session.execute(update(History).values(at=time.time() - days * 86_400))
        session.commit()


def test_wishes_so_far_stand_against_the_shelves_with_and_without_new_ones(client, engine, garden):
    old(engine, 8)
    said = words(client.get("/wishes").text)
    assert "Have wished 1 of 2 growers" in said
    assert "Wishes close Tuesday 20 April 2027, in 10 days" in said
    assert "No wish is new" in said
    assert "nothing yet" in said  # Ada Brook
    send(client, f"/sowings/new?grower={garden['other']}", crop_id=garden["tomato"], plants=200)
    said = words(client.get("/wishes").text)
    assert "1 wish is new, of the last week" in said
    assert "Have wished 2 of 2 growers" in said
    # Of scipy's binomial law 79 and 254 cells, in trays of 72: two, and five for all of them.
    assert "5 of 2 3 over 2 of 2, " in said
    old(engine, 8)
    assert "No wish is new" in words(client.get("/wishes?new=1").text)
    assert "No wish is new" in words(client.get("/wishes").text)
    assert "2 wishes are new" in words(client.get("/wishes?new=30").text)


def test_a_sowing_of_last_season_is_kept_or_left_out_once(client, engine, garden):
    page = "/wishes/last-season"
    assert "2 sowings of last season wait" in words(client.get("/sowings").text)
    keep, leave = (f"{page}/{draft}" for draft in garden["drafts"])
    assert_acts_once(client, engine, keep, guards(client, keep, page) | {"decide": "keep"})
    with Session(engine) as session:
        kept = session.scalars(select(Sowing).where(Sowing.plants == 7)).one()
        assert (kept.grower_id, kept.brings_seed) == (garden["grower"], True)
    assert_acts_once(client, engine, leave, guards(client, leave, page) | {"decide": "leave out"})
    assert "Nothing of last season waits." in client.get(page).text
    assert "of last season wait" not in client.get("/sowings").text


def test_members_see_and_decide_their_own(app, client, engine, garden):
    with Session(engine) as session:
        add_account(session, "Ada Brook", Role.MEMBER, garden["other"])
        session.commit()
    mine = app.test_client()
    sign_in_as(mine, "Ada Brook")
    said = words(mine.get("/wishes/last-season").text)
    assert "1 sowing of last season waits" in words(mine.get("/sowings").text)
    assert said.count("Leave out") == 1
    theirs, own = garden["drafts"]
    key = form_values(mine.get("/wishes/last-season").text, -1)
    assert mine.post(f"/wishes/last-season/{theirs}", data=key | {"decide": "keep"}).status_code == 403
    assert mine.post(f"/wishes/last-season/{own}", data=key | {"decide": "keep"}).status_code == 302
    assert mine.get("/wishes").status_code == 403


def test_all_that_waits_of_a_grower_is_kept_at_once(client, engine, garden):
    with Session(engine) as session:
        session.add(Draft(grower_id=garden["grower"], crop_id=garden["tomato"], plants=9, brings_seed=False))
        session.commit()
    page = f"/wishes/last-season?grower={garden['grower']}"
    path = f"/wishes/last-season/of/{garden['grower']}"
    assert "Keep all" not in client.get("/wishes/last-season").text
    assert_acts_once(client, engine, path, guards(client, path, page))
    with Session(engine) as session:
        kept = session.scalars(select(Sowing.plants).where(Sowing.grower_id == garden["grower"]).order_by(Sowing.id))
        assert list(kept) == [60, 7, 9]
        assert session.scalars(select(Draft.grower_id)).all() == [garden["other"]]
