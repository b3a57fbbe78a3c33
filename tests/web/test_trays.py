"""Pages of trays: the list, a tray with what is marked on it, and the short address on labels."""

import pytest
from sqlalchemy import select, update
from sqlalchemy.orm import Session

from app.core.words import CellState, LogKind
from app.services.log import NewEntry, add_entries
from app.storage.models import Cell, Shelf, Sowing, Tray
from tests.conftest import TODAY
from tests.dealing import garden_to_deal
from tests.web.filling import errors_of, send
from tests.web.pages import read_page
from tests.web.seasons import links, words
from tests.web.tray_steps import FREE, WISHES, change, dealt_garden, listed, post, said_after, sown, stored


@pytest.fixture
def garden(engine):
    return dealt_garden(engine)


def test_the_address_on_labels_never_changes(client, garden):
    """It is printed on labels that are in use for years: whatever else changes, this address must go on working."""
    answer = client.get("/T/3")
    assert answer.status_code == 302
    assert answer.location == "/trays/3"


def test_leading_zeros_lead_to_the_same_tray(client, garden):
    assert client.get("/T/0003").location == "/trays/3"


def test_a_number_that_no_tray_has_leads_to_where_one_is_started(client, garden):
    answer = client.get(f"/T/{FREE}")
    assert answer.status_code == 302
    assert answer.location == f"/trays/{FREE}/start"


@pytest.mark.parametrize("number", ["0", "1000000", "9" * 30, "x", "-3", ""])
def test_a_number_that_no_tray_can_have_is_not_there(client, garden, number):
    assert client.get(f"/T/{number}").status_code == 404
    assert client.get(f"/trays/{number}/start").status_code == 404


def test_all_trays_are_listed_with_what_is_in_them_and_where_they_stand(client, garden, engine):
    sown(engine, 1)
    page = client.get("/trays").text
    assert listed(page) == list(range(1, 11))
    said = words(page)
    # 53, 40, 68 and 34 of 72 cells, 14 of 24, and 83 pots in five trays of 18.
    assert "10 trays: 292 of 402 cells taken, 1 tray sown or potted on." in said
    assert "Tray 1 sown" in said
    assert "Tomato: Ada Brook 40, Ines Moreau 28 68 of 72 not filled yet Sat 1 May to heat: Heat bench" in said
    assert "Fri 21 May potted on" not in said  # what comes after the next move


@pytest.mark.parametrize(
    ("asked", "numbers"),
    [
        ("grower=2", [4, 8, 10]),
        ("crop=0", [3, 4, 6, 7, 8, 9, 10]),
        ("crop=2", [5]),
        ("kind=pots", [6, 7, 8, 9, 10]),
        ("kind=cells&crop=0", [3, 4]),
        ("place=heat&week=2027-W17", [1, 2, 3, 4]),  # 26 April to 2 May
        ("place=heat&week=2027-W16", [1, 2]),  # 19 to 25 April
        ("place=window&week=2027-W20", [5]),
        ("week=2027-W16", [1, 2]),
        ("place=heat", []),  # this week
        ("waits=yes", [4, 10]),
        ("waits=yes&place=lamp", [10]),
        ("waits=yes&week=2027-W18", [4]),
        ("place=attic&kind=boxes&grower=x", list(range(1, 11))),  # what is not understood is left out
    ],
)
def test_the_address_chooses_trays(client, garden, asked, numbers):
    for noun, ids in (("grower", garden.growers), ("crop", garden.crops)):
        for index, row_id in enumerate(ids):
            asked = asked.replace(f"{noun}={index}", f"{noun}=id{row_id}")
    page = client.get(f"/trays?{asked.replace('=id', '=')}").text
    assert listed(page) == numbers
    assert ("There are none." in page) is (not numbers)


def test_what_was_chosen_stays_chosen(client, garden):
    page = client.get(f"/trays?place=heat&week=2027-W17&grower={garden.growers[0]}&waits=yes").text
    chosen = [o.attributes["value"] for o in read_page(page).all("option") if "selected" in o.attributes]
    assert chosen == ["heat", "2027-W17", str(garden.growers[0])]
    assert any("checked" in box.attributes for box in read_page(page).all("input"))


def test_a_week_that_is_none_is_not_there(client, garden):
    assert client.get("/trays?week=2027-W60").status_code == 404


def test_a_number_opens_its_tray(client, garden):
    assert client.get("/trays?number=007").location == "/T/7"
    assert client.get(client.get("/trays?number=3").location).location == "/trays/3"


@pytest.mark.parametrize("text", ["x", "0", "9999999", "3-4", "\u0663"])
def test_what_is_no_number_is_said(client, garden, text):
    page = client.get(f"/trays?number={text}")
    assert page.status_code == 200
    assert "A number of a tray goes from 1 to 999 999." in errors_of(page.text)["number"]


def test_trays_that_are_not_dealt_are_counted(client, garden, engine):
    assert "not dealt yet" not in client.get("/trays").text
    change(engine, update(Sowing).where(Sowing.name == "S-0006").values(plants=40))  # 48 cells more, two trays
    assert "2 trays of the plan are not dealt yet." in words(client.get("/trays").text)


def test_it_leads_to_what_is_done_with_trays(client, garden):
    found = links(client.get("/trays").text)
    assert {"/trays/deal", "/moves", "/sheets/sowing", "/labels?trays=1-10"} <= found


def test_without_trays_it_says_so(client, session):
    garden_to_deal(session, WISHES)
    session.commit()
    assert "No tray has been dealt yet." in client.get("/trays").text


def test_its_cells_are_a_table_with_letters_numbers_and_words(client, garden):
    page = read_page(client.get("/trays/3").text)
    table = next(table for table in page.all("table") if table.attributes["id"] == "cells")
    heads = [cell for cell in page.all("th") if cell.within("table") is table]
    assert [h.text for h in heads if h.attributes["scope"] == "row"] == list("ABCDEF")
    assert [h.text for h in heads if h.attributes["scope"] == "col"] == ["Row", *map(str, range(1, 13))]
    cells = [cell.text for cell in page.all("td") if cell.within("table") is table]
    assert len(cells) == 72
    assert cells.count("aTomato, Ada Brook, not sown yet") == 40
    assert cells.count("bTomato, Ines Moreau, not sown yet") == 28
    assert cells.count("·free") == 4
    region = table.within("div")
    assert region.attributes["tabindex"] == "0"
    assert region.attributes["aria-labelledby"] == "cells-caption"


def test_the_legend_says_whose_cells_are_where(client, garden):
    page = client.get("/trays/3").text
    assert "a Tomato Ada Brook A1–D7, E1–F6 40 not sown yet Other tray for Tomato of Ada Brook" in words(page)
    assert f"/growers/{garden.growers[1]}" in links(page)


def test_it_says_where_the_tray_stands_and_when_it_moves(client, garden):
    page = client.get("/trays/3").text
    said = words(page)
    assert "Not filled yet. Next: Sat 1 May to heat: Heat bench, level 2, position 1." in said
    assert "Heat Heat bench, level 2, position 1 Sat 1 May Fri 7 May" in said
    assert "Lamps Lamp rack, level 1, position 3 Fri 7 May Fri 21 May potted on" in said
    assert f"/shelves/{garden.shelves[0]}?day=2027-05-01" in links(page)
    assert "waits for a position" in words(client.get("/trays/4").text)


def test_states_that_differ_have_a_sign_and_words(client, garden, engine):
    sown(engine, 3)
    page = client.get("/trays/3").text
    assert "•" not in page
    assert "40 sown" in words(page)
    change(engine, update(Cell).where(Cell.row_number == 1, Cell.state == "sown").values(state=CellState.LOST))
    page = client.get("/trays/3").text
    assert "• sown, × lost" in words(page)
    assert "Tomato, Ada Brook, lost" in page


def test_what_the_plan_has_otherwise_by_now_is_said(client, garden, engine):
    assert "by now" not in words(client.get("/trays/3").text)
    change(engine, update(Sowing).where(Sowing.name == "S-0001").values(plants=21))
    assert "The plan has other contents for this tray by now." in words(client.get("/trays/3").text)
    assert "/trays/deal?day=2027-05-01" in links(client.get("/trays/3").text)
    # A week later, as a day set by hand, in the window of the tomatoes, which is open until 8 May.
    for name in ("S-0001", "S-0002", "S-0003"):
        day = {"plants": 20 if name == "S-0001" else Sowing.plants, "sow_on": TODAY.replace(month=5, day=8)}
        change(engine, update(Sowing).where(Sowing.name == name).values(**day))
    assert "The plan has other days for this tray by now." in words(client.get("/trays/3").text)


def test_a_tray_that_the_plan_needs_no_more_says_so(client, garden, engine):
    change(engine, update(Sowing).where(Sowing.name == "S-0005").values(placed=0))
    assert "What is in it has other cells in the plan by now, or none." in words(client.get("/trays/1").text)


def test_a_position_that_a_changed_shelf_no_longer_has_is_said_to_be_gone(client, garden, engine):
    assert "no longer there" not in client.get("/trays/3").text
    change(engine, update(Shelf).where(Shelf.name == "Lamp rack").values(positions=1))
    assert "This position is no longer there." in client.get("/trays/3").text


@pytest.mark.parametrize("path", ["99", "0", "9" * 30, "99/delete", "99/exchange", "99/lamp/move", "3/attic/move"])
def test_what_is_not_there_is_not_found(client, garden, path):
    assert client.get(f"/trays/{path}").status_code == 404


@pytest.mark.parametrize("path", ["pin", "filled", "not-filled", "number", "heat/pin"])
def test_nor_is_it_changed(client, garden, path):
    answer = post(client, f"/trays/99/{path}", "/trays/3", pinned="yes", day="1/4", new="5")
    assert answer.status_code == 404


def test_a_tray_is_marked_as_sown_today_and_that_is_taken_back(client, garden):
    page = read_page(client.get("/trays/3").text)
    days = [field.attributes["value"] for field in page.all("input") if field.attributes["name"] == "day"]
    assert days == ["10 Apr 2027"]
    answer = post(client, "/trays/3/filled", "/trays/3", day=days[0])
    assert "Tray 3 was sown on Sat 10 Apr" in said_after(client, answer)
    page = words(client.get("/trays/3").text)
    assert "Sown Sat 10 Apr" in page
    assert "stays in its cells" in page
    answer = post(client, "/trays/3/not-filled", "/trays/3")
    assert "Tray 3 counts as not sown again" in said_after(client, answer)
    assert "To sow Sat 10 Apr" in words(client.get("/trays/3").text)


def test_a_tray_of_which_more_is_written_down_stays_sown_until_that_is_taken_back(client, garden, engine):
    post(client, "/trays/3/filled", "/trays/3", day="9 Apr")
    with Session(engine) as session:
        cell = session.scalars(
            select(Cell).join(Tray, Tray.id == Cell.tray_id).where(Tray.number == 3, Cell.sowing_id.is_not(None))
        ).first()
        up = NewEntry(sowing_id=cell.sowing_id, kind=LogKind.UP, date=TODAY, count=1, tray=3)
        add_entries(session, [up], today=TODAY, account_id=None)
        session.commit()
    before = stored(engine)
    answer = post(client, "/trays/3/not-filled", "/trays/3")
    assert "Tray 3 stays as it is: take back first what was written down since." in said_after(client, answer)
    assert stored(engine) == before


@pytest.mark.parametrize(
    ("typed", "why"), [("11 Apr", "has not come yet"), ("", "Enter the day"), ("31/6", "no day 31 in June")]
)
def test_a_day_that_cannot_be_is_said_beside_it(client, garden, engine, typed, why):
    before = stored(engine)
    answer = post(client, "/trays/3/filled", "/trays/3", day=typed)
    assert answer.status_code == 200
    assert why in errors_of(answer.text)["day"]
    assert stored(engine) == before


def test_pots_are_potted_on(client, garden):
    answer = post(client, "/trays/6/filled", "/trays/6", day="10/4")
    assert "It is not written down as sown yet." in errors_of(answer.text)["day"]
    for number in (1, 2, 3, 4, 5):
        post(client, f"/trays/{number}/filled", f"/trays/{number}", day="10/4")
    answer = post(client, "/trays/6/filled", "/trays/6", day="10/4")
    assert "Tray 6 was potted on on Sat 10 Apr" in said_after(client, answer)
    assert "18 up" in words(client.get("/trays/6").text)


def test_a_tray_is_pinned_and_let_go(client, garden):
    answer = post(client, "/trays/3/pin", "/trays/3", pinned="yes")
    assert "Pinned whoever is in it stays" in said_after(client, answer)
    answer = post(client, "/trays/3/pin", "/trays/3", pinned="no")
    assert "Tray 3: no longer pinned" in said_after(client, answer)


def test_a_position_is_pinned_and_let_go(client, garden):
    answer = post(client, "/trays/3/lamp/pin", "/trays/3", pinned="yes")
    said = said_after(client, answer)
    assert "Lamps: tray 3 keeps its position" in said
    assert "Lamp rack, level 1, position 3 pinned" in said
    answer = post(client, "/trays/3/lamp/pin", "/trays/3", pinned="no")
    assert "Lamps: tray 3 may be dealt another position" in said_after(client, answer)


@pytest.mark.parametrize("path", ["4/heat", "5/lamp"], ids=["it waits", "it never stands there"])
def test_without_a_position_there_is_nothing_to_pin(client, garden, engine, path):
    before = stored(engine)
    answer = post(client, f"/trays/{path}/pin", "/trays/3", pinned="yes")
    assert "no position to keep; nothing was changed" in said_after(client, answer)
    assert stored(engine) == before


def test_a_tray_gets_the_number_of_another_tag(client, garden):
    answer = post(client, "/trays/3/number", "/trays/3", new="812")
    assert answer.location == "/trays/812"
    assert "Tray 3 has the number 812 now" in said_after(client, answer)
    assert client.get("/T/812").location == "/trays/812"


@pytest.mark.parametrize(("new", "why"), [("4", "Another tray has this number"), ("0", "too small"), ("", "Enter")])
def test_a_number_that_cannot_be_is_said_beside_it(client, garden, engine, new, why):
    before = stored(engine)
    answer = post(client, "/trays/3/number", "/trays/3", new=new)
    assert answer.status_code == 200
    assert why in errors_of(answer.text)["new"]
    assert stored(engine) == before


def test_only_an_empty_tray_is_removed(client, garden, engine):
    assert "/trays/3/delete" not in links(client.get("/trays/3").text)
    answer = post(client, "/trays/3/delete", "/trays/4")
    assert answer.status_code == 409
    assert "Tray 3 is not empty" in answer.text
    send(client, f"/trays/{FREE}/start")
    post(client, f"/trays/{FREE}/start", "/trays/3", container_id=garden.boxes[0], day="1 May")
    assert f"/trays/{FREE}/delete" in links(client.get(f"/trays/{FREE}").text)
    assert f"Tray {FREE} removed" in said_after(client, send(client, f"/trays/{FREE}/delete"))
