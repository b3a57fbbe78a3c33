import csv
from pathlib import Path
from types import SimpleNamespace

import pytest
from sqlalchemy import select

from app.core.words import Transplanting, Units
from app.services.folder import load_demo
from app.storage import Session
from app.storage.models import Crop
from tests import rows
from tests.web.filling import errors_of, send

CARDS = Path(__file__).resolve().parents[2] / "seed_data" / "crops.csv"


@pytest.fixture
def garden(engine):
    with Session(engine) as session:
        rows.garden(session)
        tray, pot = rows.container(session), rows.container(session, "9 cm pot", cells_per_tray=18)
        session.commit()
        return SimpleNamespace(tray=tray.id, pot=pot.id)


def typed(garden, **changes):
    return {
        "name": "Tomato",
        "hardiness": "tender",
        "plant_out_weeks": "1",
        "days_to_maturity": "65",
        "counted_from": "transplant",
        "start_container_id": garden.tray,
        "indoor_weeks_min": "5,5",
        "indoor_weeks_max": "8",
        "light": "lamp",
        "heat": "y",
        "days_to_emerge": "6",
        "germ_temp_c": "21,5",
        "seeds_per_cell": "2",
    } | changes


def test_a_card_is_added_with_commas_and_minus_as_people_type_them(client, engine, garden):
    answer = send(client, "/crops/new", **typed(garden, plant_out_weeks="−2,5", sow_depth_mm="6,5"))
    assert "Tomato added" in client.get(answer.location).text
    with Session(engine) as session:
        crop = session.scalars(select(Crop)).one()
    assert (crop.plant_out_weeks, crop.indoor_weeks_min, crop.sow_depth_mm, crop.germ_temp_c) == (-2.5, 5.5, 6.5, 21.5)
    assert crop.heat is True


def test_us_gardens_type_inches_and_fahrenheit(client, engine, garden):
    with Session(engine) as session:
        rows.get_garden(session).units = Units.US
        session.commit()
    answer = send(client, "/crops/new", **typed(garden, sow_depth_mm="1/4", germ_temp_c="70"))
    with Session(engine) as session:
        crop = session.scalars(select(Crop)).one()
    assert crop.sow_depth_mm == pytest.approx(6.35)
    assert crop.germ_temp_c == pytest.approx(21.11, abs=0.005)  # 70 degrees Fahrenheit
    page = client.get(answer.location).text.replace("\u00a0", " ")
    assert "1/4 in deep" in page
    assert "70 °F" in page


@pytest.mark.parametrize(
    ("changes", "fields"),
    [
        ({"indoor_weeks_max": "5"}, ["indoor_weeks_max"]),
        ({"light": "", "days_to_emerge": ""}, ["light", "days_to_emerge"]),
        (
            {"transplanting": "resents", "pot_on_container_id": "pot", "pot_on_after_days": "20"},
            ["pot_on_container_id"],
        ),
        ({"pot_on_container_id": "pot"}, ["pot_on_after_days"]),
        ({"start_container_id": ""}, ["indoor_weeks_min", "indoor_weeks_max", "direct_sow_weeks"]),
        ({"days_to_maturity": "0"}, ["days_to_maturity"]),
        ({"hardiness": "iron"}, ["hardiness"]),
        ({"name": ""}, ["name"]),
    ],
)
def test_what_does_not_go_together_is_said_beside_each_field(client, garden, changes, fields):
    sent = {name: garden.pot if value == "pot" else value for name, value in changes.items()}
    answer = send(client, "/crops/new", **typed(garden, **sent))
    assert answer.status_code == 200
    assert set(errors_of(answer.text)) == set(fields)


def test_every_card_that_comes_with_the_program_shows_its_figures_and_sources(client, engine):
    with Session(engine) as session:
        load_demo(session)
        session.commit()
        ids = dict(session.execute(select(Crop.name, Crop.id)).all())
    with CARDS.open(encoding="utf-8", newline="") as file:
        cards = list(csv.DictReader(file))
    assert {card["crop"] for card in cards} == set(ids)
    for card in cards:
        page = client.get(f"/crops/{ids[card['crop']]}").text.replace("&#39;", "'").replace("&amp;", "&")
        for part in card["source"].split(";"):
            assert part.partition(":")[2].strip() in page, (card["crop"], part)
        assert card["hardiness"] in page
        assert ("saved or swapped seed" in page) is any(
            genus in card["botanical"] for genus in ("Cucumis", "Cucurbita", "Citrullus", "Lagenaria")
        )


def test_sources_of_no_figure_are_shown_too(client, engine, garden):
    with Session(engine) as session:
        crop = rows.crop(session, source="grown here since 2019; soil: our own test")
        session.commit()
        page = client.get(f"/crops/{crop.id}").text
    assert "grown here since 2019" in page
    assert "soil: our own test" in page


def test_the_list_says_what_the_season_allows(client, engine, garden):
    with Session(engine) as session:
        tray = session.get(rows.Container, garden.tray)
        rows.crop(session, "Quick", box=tray, days_to_maturity=40)
        rows.crop(session, "Slow", box=tray, days_to_maturity=200, transplanting=Transplanting.EASY)
        session.commit()
    page = client.get("/crops").text
    assert "start indoors" in page
    assert "too long here" in page


def test_a_card_in_use_is_not_removed(client, engine, garden):
    with Session(engine) as session:
        crop = rows.crop(session, "Carrot")
        rows.sowing(session, rows.grower(session), crop)
        rows.seed_lot(session, crop)
        session.commit()
        path = f"/crops/{crop.id}/delete"
    page = client.get(path).text.replace("\u00a0", " ")
    assert "1 sowing" in page
    assert "1 seed lot" in page
    assert 'method="post"' not in page
