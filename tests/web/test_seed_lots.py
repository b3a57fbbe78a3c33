"""The pages of a seed lot and its tests."""

import pytest

from app.core.words import Origin
from app.storage import Session
from tests import rows
from tests.web.filling import errors_of, form_values, send
from tests.web.seasons import words
from tests.web.test_once import assert_acts_once


@pytest.fixture
def lot(engine):
    with Session(engine) as session:
        rows.garden(session)
        rows.shelf(session)
        squash = rows.crop(
            session, "Squash", box=rows.container(session), botanical="Cucurbita pepo", seed_storage_years=4.0
        )
        lot = rows.seed_lot(session, squash, germination=0.9, origin=Origin.SAVED, year=2021)
        rows.sowing(session, rows.grower(session), squash, seed_lot_id=lot.id)
        session.commit()
        return lot.id


def test_a_test_is_written_down_once_and_shown_and_removed(client, engine, lot):
    path = f"/seed-lots/{lot}/tests/new"
    typed = form_values(client.get(path).text) | {"date": "1 Mar", "tried": "20", "up": "12", "days": "10"}
    assert assert_acts_once(client, engine, path, typed) == f"/seed-lots/{lot}"
    said = words(client.get(f"/seed-lots/{lot}").text)
    assert "12 of 20 seeds" in said
    assert "Seen here 75 %" in said  # (18 + 12) / (20 + 20)
    assert "75 %" in words(client.get("/seed-lots").text)
    remove = next(part for part in client.get(f"/seed-lots/{lot}").text.split('"') if part.endswith("/delete"))
    assert_acts_once(client, engine, remove, form_values(client.get(remove).text))
    assert "Nothing was seen of it yet" in client.get(f"/seed-lots/{lot}").text


def test_age_and_origin_stand_beside_the_lot_with_their_caution(client, lot):
    said = words(client.get(f"/seed-lots/{lot}").text)
    assert "6 years old, older than the 4 years that such seed usually keeps" in said
    assert "Test some on damp paper" in said
    assert "saved or swapped seed of squash" in said
    assert "treated seed" in said


@pytest.mark.parametrize(
    ("changes", "field", "said"),
    [
        ({"up": "21"}, "up", "No more than the 20 seeds laid out can come up."),
        ({"days": "60"}, "days", "That would be on Fri 30 Apr, which is still to come."),
        ({"tried": "0"}, "tried", "too small"),
        ({"up": ""}, "up", "Enter"),
        ({"date": "soon"}, "date", "soon"),
    ],
)
def test_what_cannot_be_is_said_beside_its_field(client, lot, changes, field, said):
    typed = {"date": "1 Mar", "tried": "20", "up": "12", "days": "10"} | changes
    assert said in errors_of(send(client, f"/seed-lots/{lot}/tests/new", **typed).text)[field]
