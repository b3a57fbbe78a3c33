from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import pytest

from app.core.words import Light, LogKind
from app.services.log import NewEntry, add_entries
from app.storage import Session
from tests import rows
from tests.web.filling import errors_of, form_values, send
from tests.web.seasons import one_sowing, words


@pytest.fixture
def garden(engine):
    with Session(engine) as session:
        rows.garden(session)
        rows.shelf(session)
        box = rows.container(session)
        tomato = rows.crop(session, box=box, days_to_maturity=40)
        carrot = rows.crop(session, "Carrot")
        grower, other = rows.grower(session), rows.grower(session, "Ada Brook")
        lot = rows.seed_lot(session, carrot, "Jar 7", variety="Long Red")
        session.commit()
        return SimpleNamespace(
            tomato=tomato.id,
            carrot=carrot.id,
            grower=grower.id,
            other=other.id,
            lot=lot.id,
            add=f"/sowings/new?grower={grower.id}",
        )


def test_three_answers_add_a_sowing_and_its_day_is_said(client, garden):
    answer = send(client, garden.add, crop_id=garden.tomato, plants="12,0")
    assert answer.location.startswith(f"/growers/{garden.grower}#sowing-")
    # 19 June 2027 is the first Saturday after 13 June; seven weeks before it is 1 May: counted on a calendar.
    assert "S-0001 added. Sow Sat 1 May." in client.get(answer.location).text
    page = client.get("/sowings").text
    assert "Sat 19 Jun" in page
    assert "1 sowing, 12 plants" in page.replace("\u00a0", " ")


def test_another_of_the_same_grower_follows_if_asked_for(client, garden):
    answer = send(client, garden.add, crop_id=garden.tomato, plants=1, another="yes")
    assert answer.location == f"/sowings/new?grower={garden.grower}"
    assert form_values(client.get(answer.location).text)["grower_id"] == [str(garden.grower)]


@pytest.mark.parametrize("typed", ["15/6", "15.6.", "15 Jun", "2027-06-15", "Tue 15 June 2027"])
def test_a_date_is_read_as_people_type_it_and_said_back(client, garden, typed):
    send(client, garden.add, crop_id=garden.tomato, plants=1, plant_out=typed)
    page = client.get("/sowings").text
    assert "Tue 15 Jun" in page
    edit = next(part for part in page.split('"') if part.startswith("/sowings") and part.endswith("/edit"))
    assert "Tuesday 15 June 2027" in client.get(edit).text


def test_a_crop_sown_outside_is_said_to_be(client, garden):
    answer = send(client, garden.add, crop_id=garden.carrot, plants=40)
    assert "Sow outside, " in client.get(answer.location).text
    assert "at the plot" in client.get("/sowings").text


@pytest.mark.parametrize(
    ("crop", "changes", "field", "words"),
    [
        ("tomato", {"seed_lot_id": "lot"}, "seed_lot_id", "This is seed of Carrot."),
        ("tomato", {"placed": "13"}, "placed", "No more plants can be granted than are wanted."),
        ("tomato", {"plant_out": "1 Jun 2030"}, "plant_out", "The season is 2027."),
        ("tomato", {"sow_on": "1 Apr"}, "sow_on", "Enter a day from Sat 24 Apr to Sat 8 May"),
        ("carrot", {"sow_on": "5 Jun"}, "sow_on", "sown outside"),
        ("carrot", {"light": "window"}, "light", "sown outside"),
        ("tomato", {"plants": "0"}, "plants", "too small"),
        ("tomato", {"plants": ""}, "plants", "Enter the plants wanted"),
        ("tomato", {"risk": "100"}, "risk", "too large"),
        ("tomato", {"plant_out": "31/6"}, "plant_out", "There is no day 31 in June"),
    ],
)
def test_a_rule_that_is_broken_is_said_beside_its_field(client, garden, crop, changes, field, words):
    sent = {"plants": 12} | {name: garden.lot if value == "lot" else value for name, value in changes.items()}
    answer = send(client, garden.add, crop_id=getattr(garden, crop), **sent)
    assert answer.status_code == 200
    assert list(errors_of(answer.text)) == [field]
    assert words in errors_of(answer.text)[field]
    assert f'href="#{field}"' in answer.text


def test_a_lamp_crop_at_a_window_is_warned_about_but_taken(client, garden):
    answer = send(client, garden.add, crop_id=garden.tomato, plants=6, light=Light.WINDOW)
    assert "A lamp crop planned for a window" in client.get(answer.location).text
    assert "a lamp crop planned for a window" in client.get("/sowings").text


def test_an_own_date_before_the_frost_dates_is_taken_with_its_chance(client, garden):
    answer = send(client, garden.add, crop_id=garden.tomato, plants=6, plant_out="1 Jun")
    # 1 June is the entered date of an even chance.
    assert "the chance of a freeze on Tue 1 Jun or later is 50%" in client.get(answer.location).text


def test_the_list_shows_one_grower_or_one_crop(client, garden):
    send(client, garden.add, crop_id=garden.tomato, plants=6)
    send(client, f"/sowings/new?grower={garden.other}", crop_id=garden.carrot, plants=30)
    both = client.get("/sowings").text
    assert all(key in both for key in ("S-0001", "S-0002"))
    ada = client.get(f"/sowings?grower={garden.other}").text
    assert "S-0002" in ada
    assert "S-0001" not in ada
    assert "S-0001" in client.get(f"/sowings?crop={garden.tomato}").text
    assert "There are none of these." in client.get(f"/sowings?grower={garden.other}&crop={garden.tomato}").text


def test_a_long_list_comes_in_pages_of_two_hundred(client, engine, garden):
    with Session(engine) as session:
        grower, crop = rows.grower(session, "Lian Ho"), rows.crop(session, "Beet")
        for number in range(450):
            rows.sowing(session, grower, crop, f"S-{number:04d}")
        session.commit()
    assert client.get("/sowings").text.count("/edit") == 200
    assert client.get("/sowings?page=3").text.count("/edit") == 50


def test_a_sowing_is_removed_and_its_room_is_free(client, garden):
    send(client, garden.add, crop_id=garden.tomato, plants=6)
    page = client.get("/sowings").text
    edit = next(part for part in page.split('"') if part.startswith("/sowings") and part.endswith("/edit"))
    delete = edit.replace("/edit", "/delete")
    assert "Ines Moreau wants 6 plants of Tomato" in client.get(delete).text.replace("\u00a0", " ")
    send(client, delete)
    assert "There are no sowings yet." in client.get("/sowings").text


def test_what_a_wish_means_is_shown_before_anything_is_saved(client, garden):
    answer = send(client, garden.add, crop_id=garden.tomato, plants=12, brings_seed="y", show="yes")
    assert answer.status_code == 200
    said = words(answer.text)
    for part in (
        "Nothing is saved yet.",
        "Sow on Sat 1 May",
        "Plants handed out Sat 19 Jun",
        "which its grower brings",
    ):
        assert part in said
    assert "There are no sowings yet." in client.get("/sowings").text
    typed = form_values(answer.text)
    assert (typed["plants"], typed["crop_id"]) == (["12"], [str(garden.tomato)])
    assert client.post(garden.add, data=typed).status_code == 302
    assert "brings the seed" in client.get("/sowings").text


def test_what_a_change_means_is_shown_before_it_is_saved(client, garden):
    send(client, garden.add, crop_id=garden.tomato, plants=12)
    edit = next(part for part in client.get("/sowings").text.split('"') if part.endswith("/edit"))
    answer = send(client, edit, plants=700, show="yes")
    assert answer.status_code == 200
    assert "newly over-full" in words(answer.text)
    assert "12 plants" in words(client.get("/sowings").text)
    assert client.post(edit, data=form_values(answer.text)).status_code == 302
    assert "700 plants" in words(client.get("/sowings").text)


def test_a_rule_that_a_wish_breaks_is_said_when_it_is_to_be_shown(client, garden):
    answer = send(client, garden.add, crop_id=garden.tomato, plants=12, plant_out="1 Jun 2030", show="yes")
    assert "The season is 2027." in errors_of(answer.text)["plant_out"]
    assert "What it means" not in answer.text


def test_a_sowing_that_is_late_too_late_or_failed_says_so_in_the_list(app, client, session):
    made = one_sowing(session, days_to_maturity=50)
    app.config["SETTINGS"] = replace(app.config["SETTINGS"], today=date(2027, 5, 3))
    assert "late: was to be sown on Sat 1 May, now Sat 8 May" in words(client.get("/sowings").text)
    app.config["SETTINGS"] = replace(app.config["SETTINGS"], today=date(2027, 5, 17))
    said = words(client.get("/sowings").text)
    assert "too late to sow: its last chance was Sun 16 May" in said
    entry = NewEntry(sowing_id=made.sowing, kind=LogKind.SOWN, date=date(2027, 5, 1), count=11)
    add_entries(session, [entry], today=date(2027, 5, 17), account_id=None)
    session.commit()
    assert "nothing is logged as up by Thu 13 May" in words(client.get("/sowings").text)
