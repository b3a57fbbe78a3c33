"""The season fit page, and what it says again on a crop card."""

import pytest
from sqlalchemy import select

from app.core.words import HeatMethod
from app.storage.models import Garden
from tests import rows
from tests.web.pages import read_page
from tests.web.seasons import links, one_sowing, words


def crops_of(html, table="fits"):
    """Return the row headers of a table, the crops and varieties it lists."""
    page = read_page(html)
    heads = [e for e in page.all("th") if e.attributes.get("scope") == "row"]
    return [" ".join(e.text.split()) for e in heads if e.within("table").attributes["id"] == table]


@pytest.fixture
def season(session):
    """Add a tomato with a sowing of a slow variety, and a pepper that is too long, wanted by nobody."""
    made = one_sowing(session, variety="Old Long", days_to_maturity=80)
    pepper = rows.crop(session, "Pepper", box=made.tomato.start_container, days_to_maturity=90)
    made.pepper = pepper.id
    session.commit()
    return made


def test_crops_stand_with_their_verdict_and_the_way_to_their_card(client, season):
    html = client.get("/season").text
    assert crops_of(html) == ["Pepper", "Tomato", "Old Long"]
    assert crops_of(html, "help") == ["Pepper 90 days from planting out", "Tomato, Old Long 80 days from planting out"]
    assert f"/crops/{season.pepper}" in links(html)
    said = words(html)
    assert "Too long here 1 of 2 crops" in said
    assert "Planted out by" in said


def test_verdict_and_crops_wanted_here_stay_in_the_address(client, season):
    wanted = client.get("/season?crops=wanted").text
    assert crops_of(wanted) == ["Tomato", "Old Long"]
    long = client.get("/season?verdict=too+long+here&crops=wanted").text
    assert crops_of(long) == ["Tomato", "Old Long"]
    chosen = {e.attributes["value"] for e in read_page(long).all("option") if "selected" in e.attributes}
    assert chosen == {"too long here", "wanted"}
    assert "/season" in links(long)  # the way back to all
    assert "There is no such crop." in client.get("/season?verdict=sow+outside").text
    assert crops_of(client.get("/season?verdict=nonsense").text) == ["Pepper", "Tomato", "Old Long"]


def test_a_crop_card_gives_the_same_advice(client, season):
    page = words(client.get("/season").text)
    card = words(client.get(f"/crops/{season.pepper}").text)
    start, end = card.index("A quicker variety"), card.index("Each line is enough")
    assert card[start:end].strip() in page
    assert "Old Long" in words(client.get(f"/crops/{season.tomato.id}").text)


def test_a_risk_that_is_changed_changes_the_fit(client, session, season):
    before = client.get("/season").text
    session.scalars(select(Garden)).one().risk = 0.5
    session.commit()
    assert client.get("/season").text != before


def test_a_heat_sum_without_a_record_says_what_is_missing(client, session, season):
    season.tomato.heat_sum_cd, season.tomato.heat_base_c, season.tomato.heat_method = 1200.0, 10.0, HeatMethod.EACH
    session.commit()
    said = words(client.get(f"/crops/{season.tomato.id}").text)
    assert "minimum and maximum are each cut at the base" in said
    assert "not counted: it takes the base, the cut at it, and a station’s record of ten years or more" in said
    assert "by heat" not in words(client.get("/season").text).lower()


def test_without_a_crop_card_the_page_says_so(client, session):
    rows.garden(session)
    session.commit()
    assert "There is no such crop." in words(client.get("/season").text)
