"""The moves of a week: what is carried where and why, in an order in which it can be carried."""

from datetime import timedelta

import pytest
from sqlalchemy import select, update

from app.core.words import Place
from app.sheets.cautions import ELECTRICITY
from app.storage.models import Crop, Sowing, Stay, Tray
from tests.sheets.reading import beyond_margins, leaves, overlapping, pages, squashed, text_of
from tests.web.dealt import HARDENS, tomatoes
from tests.web.pages import read_page
from tests.web.seasons import links, words

# Weeks as on any calendar of ISO weeks: 26 April to 2 May, 3 to 9 May, 7 to 13 June, 14 to 20 June.
SOWN_IN, UP_IN, HARDENS_IN, GONE_IN = "2027-W17", "2027-W18", "2027-W23", "2027-W24"


def test_new_trays_come_to_be_sown(client, session):
    tomatoes(session)
    page = client.get(f"/moves?week={SOWN_IN}")
    said = words(page.text)
    assert "Moves 26 Apr – 2 May 2027 (W17) 3 new trays." in said
    assert "Sat 1 May 3 moves" in said
    assert "New trays: Heat bench, heat 1 Tomato new Heat bench, 1·1 to sow" in said
    assert "/trays/1" in links(page.text)


@pytest.mark.parametrize(
    ("week", "day", "move"),
    [
        (UP_IN, "Fri 7 May 3 moves", "Heat bench, heat 1 Tomato 1·1 Lamp rack, 1·1 has come up"),
        (HARDENS_IN, "Sat 12 Jun 3 moves", "Lamp rack, lamps 1 Tomato 1·1 Cold frame, 1·1 to harden"),
        (GONE_IN, "Sat 19 Jun 3 moves", "Cold frame, hardening 1 Tomato 1·1 leaves handed out"),
    ],
)
def test_trays_are_carried_from_place_to_place_and_leave(client, session, week, day, move):
    tomatoes(session)
    said = words(client.get(f"/moves?week={week}").text)
    assert day in said
    assert move in said


def test_without_a_week_in_the_address_it_is_the_week_of_today(client, session):
    tomatoes(session)
    said = words(client.get("/moves").text)
    assert "Moves 5 – 11 Apr 2027 (W14) This week. No tray is moved." in said


@pytest.mark.parametrize("week", ["2027-W60", "sometime", "1900-W01"])
def test_what_is_no_week_near_the_season_is_not_there(client, session, week):
    tomatoes(session)
    assert client.get(f"/moves?week={week}").status_code == 404


def test_a_day_is_walked_so_that_a_position_is_free_when_its_next_tray_comes(client, session):
    tomatoes(session)
    # The second tray comes under the lamps where the first stood, on the day on which that goes out to harden.
    second = {stay.place: stay for stay in session.scalars(select(Stay).join(Tray).where(Tray.number == 2))}
    for place, changes in (
        (Place.HARDENING, {"begin_on": HARDENS + timedelta(1)}),
        (Place.LAMP, {"begin_on": HARDENS, "end_on": HARDENS + timedelta(1), "slot": 1}),
        (Place.HEAT, {"end_on": HARDENS}),
    ):
        for column, value in changes.items():
            setattr(second[place], column, value)
        session.flush()  # each by itself, since a tray is never in two places
    session.commit()
    said = words(client.get(f"/moves?week={HARDENS_IN}").text)
    goes = said.index("Lamp rack, lamps 1 Tomato 1·1 Cold frame")
    comes = said.index("Heat bench, heat 2 Tomato 1·2 Lamp rack, 1·1 has come up")
    assert goes < comes


def test_trays_that_wait_stand_first(client, session):
    tomatoes(session, lamps=2)
    page = client.get(f"/moves?week={UP_IN}")
    said = words(page.text)
    assert "No position 1 tray These trays have nowhere to stand." in said
    waiting = said.index("lamps Fri 7 May Sat 12 Jun Heat bench, 1·")
    assert waiting < said.index("Fri 7 May 3 moves")
    assert "no position, lamps has come up" in said
    assert f"/ledger/{UP_IN}" in links(page.text)
    later = words(client.get("/moves?week=2027-W20").text)
    assert "lamps Fri 7 May Sat 12 Jun –" in later


def test_a_plan_that_has_moved_on_is_said_where_it_matters(client, session):
    tomatoes(session)
    assert "moved on" not in client.get(f"/moves?week={UP_IN}").text
    session.execute(update(Crop).values(days_to_emerge=9))
    session.commit()
    page = client.get(f"/moves?week={UP_IN}")
    assert "3 trays of these days would be dealt otherwise by now." in words(page.text)
    assert "/trays/deal" in links(page.text)
    assert "moved on" not in client.get(f"/moves?week={GONE_IN}").text


def test_trays_not_dealt_yet_are_said(client, session):
    tomatoes(session, dealt=False)
    page = client.get(f"/moves?week={SOWN_IN}")
    assert "No tray has been dealt yet." in words(page.text)
    assert "/trays/deal" in links(page.text)


def test_sowings_added_since_make_the_plan_move_on(client, session):
    made = tomatoes(session)
    one = session.get(Sowing, made.sowings[0])
    session.add(Sowing(name="S-late", grower_id=one.grower_id, crop_id=one.crop_id, plants=40))
    session.commit()
    assert "1 tray of these days would be dealt otherwise" in words(client.get(f"/moves?week={SOWN_IN}").text)


def test_pots_are_filled_on_the_day_on_which_their_seedlings_leave_their_tray(client, session):
    made = tomatoes(session, dealt=False)
    box = session.scalar(select(Crop.start_container_id))
    session.execute(update(Crop).values(pot_on_container_id=box, pot_on_after_days=14))
    session.commit()
    client.post("/trays/deal", data=_accepted(client))
    # Up on 7 May; 14 days later it is 21 May.
    said = words(client.get("/moves?week=2027-W20").text)
    assert "Fri 21 May" in said
    assert "leaves potted on" in said
    assert "pots are filled" in said
    assert said.index("leaves potted on") < said.index("pots are filled")
    assert made.crop


def _accepted(client):
    page = read_page(client.get("/trays/deal").text)
    return {
        element.attributes["name"]: element.attributes["value"]
        for element in page.all("input")
        if element.attributes.get("type") == "hidden"
    }


def test_moves_come_a_page_at_a_time(client, session, monkeypatch):
    monkeypatch.setattr("app.web.views.moves.ROWS", 2)
    tomatoes(session)
    first = words(client.get(f"/moves?week={UP_IN}").text)
    last = words(client.get(f"/moves?week={UP_IN}&page=2").text)
    assert "Fri 7 May 3 moves" in first
    assert "Moves 1 to 2 of 3, page 1 of 2." in first
    assert "3 Tomato" not in first
    assert "3 Tomato" in last


def test_the_weeks_tasks_and_the_sheets_lead_here(client, session):
    tomatoes(session)
    assert f"/moves?week={UP_IN}" in links(client.get(f"/?week={UP_IN}").text)
    found = links(client.get(f"/sheets?week={UP_IN}").text)
    assert {f"/moves?week={UP_IN}&paper=a4", f"/moves.pdf?week={UP_IN}&paper=a4"} <= found


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_list_is_printed_with_boxes_and_page_numbers(client, session, paper):
    tomatoes(session, lamps=2)
    answer = client.get(f"/moves.pdf?week={UP_IN}&paper={paper}")
    assert answer.mimetype == "application/pdf"
    assert "moves-2027-W18.pdf" in answer.headers["Content-Disposition"]
    text = text_of(answer.data)
    for said in (
        "Moves, 3 – 9 May 2027 (W18)",
        "3 trays change their place.",
        "lamps Fri 7 May – Sat 12 Jun",
        "Fri 7 May",
        "Heat bench, heat",
        "no position, lamps",
        "has come up",
        ELECTRICITY.head,
    ):
        assert squashed(said) in text
    found = leaves(answer.data)
    for number, (leaf, page) in enumerate(zip(found, pages(answer.data), strict=True), start=1):
        assert f"page {number} of {len(found)}" in page
        assert "Trays as dealt on Sat 10 Apr 2027" in page
        assert beyond_margins(leaf, 12) == []
        assert overlapping(leaf) == []


def test_a_day_of_many_moves_has_its_head_on_every_page(client, session):
    made = tomatoes(session)
    box = session.scalar(select(Crop.start_container_id))
    day = session.scalar(select(Stay.begin_on).where(Stay.place == Place.HEAT))
    for number in range(100, 180):
        tray = Tray(number=number, container_id=box, sow_on=day, potted_on=False, pinned=False)
        session.add(tray)
        session.flush()
        end = day.replace(month=6)
        position = {"shelf_id": made.lamps, "level": 9, "slot": number}
        session.add(Stay(tray_id=tray.id, place=Place.LAMP, begin_on=day, end_on=end, pinned=False, **position))
    session.commit()
    found = pages(client.get(f"/moves.pdf?week={SOWN_IN}").data)
    assert len(found) > 2
    for page in found[:-1]:
        assert "Sat 1 May" in page
        assert squashed("Done Tray From To Why In it") in squashed(page)
