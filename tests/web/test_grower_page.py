"""A grower's own page."""

from datetime import date

import pytest

from app.core.words import Origin
from tests import rows
from tests.web.pages import read_page
from tests.web.seasons import links, one_sowing, words


def page_of(client, made):
    return client.get(f"/growers/{made.grower}").text


def test_the_deadlines_of_a_sowing_stand_in_a_table(client, session):
    made = one_sowing(session, variety="Little Amber")
    said = words(page_of(client, made))
    assert "Ines Moreau, plot 14" in said
    # Counted on a calendar: tests/web/seasons.py. Last chance: good to 30 August, 60 days to maturity and 14 of
    # picking before that, 17 June; six weeks earlier, 6 May.
    assert "Tomato Little Amber 6 9 18 72-cell tray 24 Apr – 6 May Sat 1 May 6 May" in said
    assert "Tomato Little Amber 7 May – 12 Jun Sat 19 Jun" in said


def test_the_timeline_is_said_in_words(client, session):
    made = one_sowing(session)
    drawn = [e for e in read_page(page_of(client, made)).all("svg") if e.attributes.get("role") == "img"]
    assert [e.attributes["aria-label"] for e in drawn] == [
        "Sow from 24 Apr to 6 May; sow Sat 1 May; emerges Fri 7 May; harden Sat 12 Jun; plants out Sat 19 Jun"
    ]


def test_what_is_next_and_the_risk_are_said(client, session):
    made = one_sowing(session)
    said = words(page_of(client, made))
    assert "Next to do Sow, Sat 1 May: Tomato" in said
    assert "On the shelves today nothing" in said
    assert "1 sowing, 6 plants" in said
    assert "A freeze after 13 Jun comes in 1 spring in 10" in said


def test_what_stands_on_the_shelves_today_is_counted(client, session):
    made = one_sowing(session, sow_on=date(2027, 4, 3), plant_out=date(2027, 5, 29))
    assert "On the shelves today 9 cells in 1 tray" in words(page_of(client, made))


def test_an_own_frost_risk_is_said_in_words(client, session):
    made = one_sowing(session, risk=0.5)
    assert "Own frost risk: a freeze after 1 Jun comes in 1 spring in 2." in words(page_of(client, made))


def test_a_warning_stands_beside_its_sowing(client, session):
    made = one_sowing(session, days_to_maturity=200)
    assert "Too long here: its last chance is " in words(page_of(client, made))


def test_a_crop_sown_outside_takes_no_tray(client, session):
    made = one_sowing(session)
    carrot = rows.crop(session, "Carrot", hardiness="hardy", counted_from="seed")
    rows.sowing(session, made.who, carrot, "S-0002")
    session.commit()
    said = words(page_of(client, made))
    assert "Carrot 6 – – sown outside 1 Jun – 1 Jul at the plot 1 Jul" in said
    assert "Carrot – – – –" in said


@pytest.mark.parametrize(("origin", "is_said"), [(Origin.SAVED, True), (Origin.GIFT, True), (Origin.BOUGHT, False)])
def test_saved_seed_of_cucurbits_is_cautioned(client, session, origin, is_said):
    made = one_sowing(session)
    squash = rows.crop(session, "Winter squash", botanical="Cucurbita maxima")
    lot = rows.seed_lot(session, squash, origin=origin)
    rows.sowing(session, made.who, squash, "S-0002", seed_lot_id=lot.id)
    session.commit()
    assert ("Caution: saved or swapped seed of squash" in words(page_of(client, made))) == is_said


def test_cautions_stand_only_where_the_risk_is(client, session):
    made = one_sowing(session)
    said = words(page_of(client, made))
    assert "Caution: dust of potting mix." in said
    assert "Caution: electricity near water." in said
    other = rows.grower(session, "Tomas Keel")
    rows.sowing(session, other, rows.crop(session, "Carrot"), "S-0002")
    session.commit()
    assert "Caution" not in words(client.get(f"/growers/{other.id}").text)


def test_the_page_leads_to_what_can_be_done(client, session):
    made = one_sowing(session)
    assert links(page_of(client, made)) >= {
        f"/sowings/new?grower={made.grower}",
        f"/sowings/{made.sowing}/edit",
        f"/growers/{made.grower}/edit",
        f"/growers/{made.grower}/sheet.pdf",
        f"/?grower={made.grower}",
    }


def test_a_grower_without_sowings_is_led_to_the_first(client, session):
    one_sowing(session)
    other = rows.grower(session, "Tomas Keel", plot=None)
    session.commit()
    page = client.get(f"/growers/{other.id}").text
    assert "There are no sowings yet." in words(page)
    assert f"/sowings/new?grower={other.id}" in links(page)


@pytest.mark.parametrize("grower", [999, 2**40])
def test_a_grower_that_there_is_not_is_not_found(client, session, grower):
    one_sowing(session)
    assert client.get(f"/growers/{grower}").status_code == 404
