"""A shelf as it stands on a day: level by level, what is free, what comes and goes."""

from datetime import date

import pytest
from sqlalchemy import select, update

from app.core.words import Place
from app.storage.models import Shelf, Stay, Tray
from tests.web.dealt import tomatoes
from tests.web.filling import errors_of
from tests.web.seasons import links, words


def test_a_shelf_stands_level_by_level_with_its_free_positions(client, session):
    made = tomatoes(session)
    page = client.get(f"/shelves/{made.lamps}?day=2027-05-20")
    said = words(page.text)
    assert "Lamp rack, Thu 20 May 2027 Lamps, as it stands on that day. Free: on level 2 position 2." in said
    assert "Trays 3 Free 1 position" in said
    assert "Level 1 2 trays, 0 free" in said
    assert "Level 2 1 tray, 1 free" in said
    assert "53 Fri 7 May – Sat 12 Jun" in said
    assert "2 free from now on" in said
    assert "/trays/3" in links(page.text)


def test_without_a_day_it_is_today_and_all_is_free_until_the_trays_come(client, session):
    made = tomatoes(session)
    said = words(client.get(f"/shelves/{made.lamps}").text)
    assert "Lamp rack, Sat 10 Apr 2027 Lamps, as it stands today. Every position is free." in said
    assert "1 free until Fri 7 May, then tray 1" in said


@pytest.mark.parametrize(
    ("day", "trays"), [("2027-05-06", "0"), ("2027-05-07", "3"), ("2027-06-11", "3"), ("2027-06-12", "0")]
)
def test_a_tray_stands_from_the_day_it_comes_up_to_the_day_it_goes(client, session, day, trays):
    made = tomatoes(session)
    assert f"Trays {trays} Free" in words(client.get(f"/shelves/{made.lamps}?day={day}").text)


def test_what_comes_and_goes_in_the_week_is_listed(client, session):
    made = tomatoes(session)
    comes = words(client.get(f"/shelves/{made.lamps}?day=2027-05-06").text)
    assert "Come in the week 3 Go in the week 0" in comes
    assert "Fri 7 May the day after 1 comes 1·1 from Heat bench, 1·1, has come up" in comes
    goes = words(client.get(f"/shelves/{made.lamps}?day=2027-06-12").text)
    assert "Sat 12 Jun this day 1 goes 1·1 to Cold frame, 1·1, to harden" in goes
    new = words(client.get(f"/shelves/{made.heat}?day=2027-05-01").text)
    assert "Sat 1 May this day 1 comes 1·1 to sow" in new
    gone = words(client.get(f"/shelves/{made.frame}?day=2027-06-19").text)
    assert "Sat 19 Jun this day 1 goes 1·1 handed out" in gone


def test_on_a_sunday_the_day_after_is_listed_with_its_week_that_is_not_yet_there(client, session):
    made = tomatoes(session)
    for place, column in ((Place.LAMP, {"begin_on": date(2027, 5, 10)}), (Place.HEAT, {"end_on": date(2027, 5, 10)})):
        session.execute(update(Stay).where(Stay.place == place).values(**column))
    session.commit()
    said = words(client.get(f"/shelves/{made.lamps}?day=2027-05-09").text)
    assert "Mon 10 May the day after 1 comes" in said


def test_the_days_around_and_another_day_can_be_opened(client, session):
    made = tomatoes(session)
    here = f"/shelves/{made.lamps}"
    found = links(client.get(f"{here}?day=2027-05-20").text)
    days = ("2027-05-13", "2027-05-19", "2027-05-21", "2027-05-27")
    assert {here, "/moves?week=2027-W20", *(f"{here}?day={day}" for day in days)} <= found
    assert "Thu 20 May 2027" in words(client.get(f"{here}?day=20/5").text)


@pytest.mark.parametrize(("day", "wrong"), [("someday", "someday"), ("2150-01-01", "The season is 2027.")])
def test_a_day_that_is_none_is_said_and_today_is_shown(client, session, day, wrong):
    made = tomatoes(session)
    answer = client.get(f"/shelves/{made.lamps}?day={day}")
    assert answer.status_code == 200
    assert wrong in errors_of(answer.text)["day"]
    assert "as it stands today" in words(answer.text)


def test_trays_on_positions_that_are_gone_are_said(client, session):
    made = tomatoes(session)
    session.execute(update(Shelf).where(Shelf.id == made.lamps).values(positions=2))
    session.commit()
    page = client.get(f"/shelves/{made.lamps}?day=2027-05-20")
    said = words(page.text)
    assert "Positions that are gone" in said
    assert "level 1, position 2 Fri 7 May Sat 12 Jun" in said
    assert "/trays/deal" in links(page.text)


def test_trays_of_a_shelf_that_is_for_another_place_now_say_so(client, session):
    made = tomatoes(session)
    session.execute(update(Shelf).where(Shelf.id == made.lamps).values(place=Place.WINDOW))
    session.commit()
    said = words(client.get(f"/shelves/{made.lamps}?day=2027-05-20").text)
    assert "dealt to lamps, which this shelf is not for now" in said


def test_light_and_caution_stand_on_the_page_of_a_lamp_shelf(client, session):
    made = tomatoes(session)
    said = words(client.get(f"/shelves/{made.lamps}").text)
    # 200 µmol/m²/s for 16 h: 200 × 16 × 3600 / 1 000 000 = 11.52 mol/m², by the definition of the daily light integral.
    assert "Light of a day (DLI) 11.5 mol/m²" in said
    assert "Caution: electricity near water." in said
    assert "electricity" not in words(client.get(f"/shelves/{made.frame}").text)


def test_a_pinned_tray_says_so(client, session):
    made = tomatoes(session)
    stay = session.scalar(select(Stay).join(Tray).where(Tray.number == 2, Stay.place == Place.LAMP))
    stay.pinned = True
    session.commit()
    assert "2 pinned" in words(client.get(f"/shelves/{made.lamps}?day=2027-05-20").text)


def test_the_list_of_shelves_leads_to_each(client, session):
    made = tomatoes(session)
    assert f"/shelves/{made.heat}" in links(client.get("/shelves").text)
    assert f"/shelves/{made.heat}" in links(client.get("/setup").text)


def test_a_shelf_that_is_not_there_is_not_found(client, session):
    tomatoes(session)
    assert client.get("/shelves/99999").status_code == 404


def test_a_shelf_on_which_trays_will_stand_is_not_removed(client, session):
    made = tomatoes(session)
    page = client.get(f"/shelves/{made.lamps}/delete")
    assert "These trays stand on it, or will." in words(page.text)
    assert "/trays/1" in links(page.text)
