"""Trays by hand: moving, exchanging, starting; and what is refused because trays depend on it."""

import pytest
from sqlalchemy import update

from app.services import positions
from app.storage.models import Shelf, Sowing
from tests.dealing import garden_to_deal
from tests.web.filling import errors_of, form_values, send
from tests.web.pages import read_page
from tests.web.seasons import links, words
from tests.web.tray_steps import FREE, WISHES, change, dealt_garden, listed, position, post, said_after, sown, stored

MOVE = "/trays/3/lamp/move"
START = f"/trays/{FREE}/start"


@pytest.fixture
def garden(engine):
    return dealt_garden(engine)


def positions_offered(client, group):
    page = read_page(client.get(MOVE).text)
    return {
        option.text: option.attributes["value"]
        for option in page.all("option")
        if (option.within("optgroup") and option.within("optgroup").attributes["label"] == group)
    }


def test_free_positions_come_first_and_taken_ones_say_who_stands_there(client, garden):
    free, taken = positions_offered(client, "Free for the whole time"), positions_offered(client, "Taken")
    assert [option for option in client.get(MOVE).text.split("<optgroup") if "Free" in option[:40]]
    assert "Lamp shelf, level 1, position 1" in free
    assert "Lamp rack, level 1, position 1: tray 1 from Mon 3 May to Sat 12 Jun" in taken
    assert len(free) + len(taken) == 5  # of six, one of which it has


def test_a_tray_is_moved_and_stays_there(client, garden, engine):
    value = positions_offered(client, "Free for the whole time")["Lamp shelf, level 1, position 1"]
    answer = send(client, MOVE, position=value)
    assert answer.location == "/trays/3"
    said = said_after(client, answer)
    assert "Tray 3: Lamp shelf, level 1, position 1; it keeps this position when trays are dealt" in said
    assert "-".join(map(str, position(engine, 3))) == value


def test_a_large_place_is_offered_shelf_by_shelf(client, garden, engine):
    change(engine, update(Shelf).where(Shelf.name == "Lamp shelf").values(positions=300))
    assert len(positions_offered(client, "Free for the whole time")) < 6
    page = client.get(f"{MOVE}?shelf={garden.shelves[2]}").text
    assert page.count("Lamp shelf, level 1, position") >= 299
    answer = post(client, f"{MOVE}?shelf={garden.shelves[2]}", position=f"{garden.shelves[2]}-1-300")
    assert "Tray 3: Lamp shelf, level 1, position 300;" in said_after(client, answer)


def test_a_position_that_is_taken_says_by_whom_and_changes_nothing(client, garden, engine):
    before = stored(engine)
    value = "-".join(map(str, position(engine, 1)))
    answer = send(client, MOVE, position=value)
    assert answer.status_code == 409
    why = errors_of(answer.text)["position"]
    assert "Lamp rack, level 1, position 1 is taken: tray 1 from Mon 3 May to Sat 12 Jun" in why
    assert "Nothing was changed." in why
    assert stored(engine) == before


def test_trays_exchange_positions_if_asked_to(client, garden, engine):
    one, other = position(engine, 1), position(engine, 2)
    answer = post(client, "/trays/1/lamp/move", position="-".join(map(str, other)), exchange="y")
    assert answer.status_code == 302
    assert (position(engine, 1), position(engine, 2)) == (other, one)


def test_a_race_that_is_lost_is_the_same_page(client, garden, engine, monkeypatch):
    """As if the other tray came only after the look, which the lock forbids: the database refuses."""
    looked, found = [], positions.list_stays_in_way
    value = "-".join(map(str, position(engine, 1)))
    before = stored(engine)

    def look(*args, **kwargs):
        looked.append(args)
        return [] if len(looked) <= 2 else found(*args, **kwargs)

    monkeypatch.setattr(positions, "list_stays_in_way", look)
    answer = send(client, MOVE, position=value)
    assert answer.status_code == 409
    assert "tray 1 from Mon 3 May to Sat 12 Jun" in errors_of(answer.text)["position"]
    assert stored(engine) == before


@pytest.mark.parametrize("value", ["", "1-1", "x", "99-1-1", "1-1-1-1"])
def test_what_is_no_position_is_refused(client, garden, engine, value):
    before = stored(engine)
    answer = send(client, MOVE, position=value)
    assert answer.status_code == 200
    assert errors_of(answer.text)["position"]
    assert stored(engine) == before


def test_a_tray_that_waits_has_nothing_to_exchange(client, garden, engine):
    value = "-".join(map(str, position(engine, 6)))
    answer = post(client, "/trays/10/lamp/move", position=value, exchange="y")
    assert answer.status_code == 409
    assert "Tray 10 has no position that it could give in exchange." in errors_of(answer.text)["position"]


def test_a_place_where_it_never_stands_leads_back_to_the_tray(client, garden):
    answer = client.get("/trays/5/lamp/move")
    assert "Tray 5 does not stand in lamps any more, nor will it" in said_after(client, answer)


def exchange_page(garden, key="S-0002", tray=3):
    return f"/trays/{tray}/exchange?sowing={garden.sowings[key]}"


def ways_offered(client, garden, **which):
    page = read_page(client.get(exchange_page(garden, **which)).text)
    return {o.text: o.attributes["value"] for o in page.all("option") if o.attributes["value"]}


def test_only_what_can_share_and_has_room_is_offered(client, garden):
    # 28 cells go into the 38 free ones of tray 4; in exchange for 34, tray 3 with 40 others would be too small.
    assert list(ways_offered(client, garden, key="S-0001")) == ["tray 4: 38 free cells"]
    assert list(ways_offered(client, garden)) == ["tray 4, in exchange for Tomato, Jun Sato, 34 cells"]


def test_sowings_change_trays(client, garden):
    (value,) = ways_offered(client, garden).values()
    answer = send(client, exchange_page(garden), to=value)
    assert answer.location == "/trays/4"
    said = said_after(client, answer)
    assert "Tomato of Ada Brook is in tray 4 now." in said
    assert "Pinned whoever is in it stays" in said
    assert "34 not sown yet" in words(client.get("/trays/3").text)


@pytest.mark.parametrize(
    ("tray", "why"),
    [
        ("5", "They cannot share a tray: they differ in the container."),
        ("1", "they differ in the day on which they are sown or potted on, whether they are potted on and"),
        ("4", "Tray 4 has room for 38 more, and 40 are needed."),
        ("99", "There is no tray 99."),
        ("3", "not in that tray"),
        ("6", "they differ in whether they are potted on."),
        ("", "Enter the number"),
    ],
)
def test_a_wish_that_cannot_be_is_told_why(client, garden, engine, tray, why):
    before = stored(engine)
    answer = post(client, exchange_page(garden), exchange_page(garden), number=tray)
    assert answer.status_code == 200
    assert why in errors_of(answer.text)["number"]
    assert stored(engine) == before


def test_a_wish_that_can_be_is_done(client, garden):
    answer = post(client, exchange_page(garden, "S-0001"), number="4")
    assert answer.location == "/trays/4"


def test_what_is_sown_stays(client, garden, engine):
    sown(engine, 3)
    answer = client.get(exchange_page(garden))
    assert "what is sown stays in its cells" in said_after(client, answer)


def test_where_nothing_can_share_the_page_says_so(client, garden):
    page = client.get(exchange_page(garden, "S-0006", 5)).text
    assert "No other tray has what can share with it and room enough." in page


def test_trays_of_the_plan_are_offered_the_nearest_first(client, session):
    garden_to_deal(session, WISHES)
    session.commit()
    page = client.get(START).text
    days = [cell.text for cell in read_page(page).all("th") if cell.attributes.get("scope") == "row"]
    assert days[:5] == ["Sat 24 Apr", "Sat 24 Apr", "Sat 1 May", "Sat 1 May", "Sat 15 May"]
    assert len(days) == 10
    assert "Pepper: Ada Brook 53" in words(page)
    answer = client.post(START, data=form_values(page))
    assert answer.location == f"/trays/{FREE}"
    said = said_after(client, answer)
    assert f"Tray {FREE} started" in said
    assert "Heat bench" in said
    assert len(listed(client.get("/trays").text)) == 1


def test_a_plan_that_has_changed_meanwhile_starts_nothing(client, session):
    garden_to_deal(session, WISHES)
    session.commit()
    shown = form_values(client.get(START).text)
    session.execute(update(Sowing).values(plants=11))
    session.commit()
    answer = client.post(START, data=shown)
    assert answer.status_code == 409
    assert "No tray was started" in answer.text
    assert client.post(START, data=shown | {"planned": "x"}).status_code == 409
    assert listed(client.get("/trays").text) == []


def test_an_empty_tray_is_started(client, garden):
    answer = send(client, START, container_id=garden.boxes[1], day="15/5")
    said = said_after(client, answer)
    assert "To sow Sat 15 May" in said
    assert "0 of 24" in said
    assert "Nobody has cells in it." in said


def test_what_is_missing_is_said(client, garden, engine):
    before = stored(engine)
    answer = send(client, START, day="")
    assert answer.status_code == 200
    assert set(errors_of(answer.text)) == {"container_id", "day"}
    assert stored(engine) == before


def test_a_number_that_is_taken_leads_to_its_tray(client, garden, engine):
    before = stored(engine)
    assert client.get("/trays/3/start").location == "/trays/3"
    assert post(client, "/trays/3/start", START, container_id=garden.boxes[0], day="1 May").status_code == 302
    assert stored(engine) == before


def test_a_sowing_that_is_sown_is_refused_with_its_trays(client, garden, engine):
    delete = f"/sowings/{garden.sowings['S-0001']}/delete"
    assert "its cells in trays are free again" in client.get(delete).text
    sown(engine, 3)
    assert "/trays/3" in links(client.get(delete).text)
    assert post(client, delete, "/trays/3").status_code == 409


def test_the_crop_of_what_is_sown_stays(client, garden, engine):
    sown(engine, 3)
    answer = send(client, f"/sowings/{garden.sowings['S-0001']}/edit", crop_id=garden.crops[1])
    assert "It is sown in 1 tray already" in errors_of(answer.text)["crop_id"]


def test_a_container_of_trays_is_refused_and_keeps_its_cells(client, garden, engine):
    box = garden.boxes[1]
    assert "/trays/5" in links(client.get(f"/containers/{box}/delete").text)
    sown(engine, 5)
    answer = send(client, f"/containers/{box}/edit", cells_per_tray="20")
    assert "1 tray of it is sown" in errors_of(answer.text)["cells_per_tray"]


def test_a_shelf_on_which_trays_stand_is_refused(client, garden):
    delete = f"/shelves/{garden.shelves[1]}/delete"
    assert "/trays/1" in links(client.get(delete).text)
    assert post(client, delete, "/trays/3").status_code == 409
