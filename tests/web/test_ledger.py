"""The shelf ledger, and what stands on the shelves in a week."""

import csv
import io

import pytest

from tests import rows
from tests.web.pages import read_page
from tests.web.seasons import SOWN_IN, UP_IN, links, one_sowing, words


def test_the_ledger_lists_every_week_in_use_with_all_four_places(client, session):
    one_sowing(session)
    page = read_page(client.get("/ledger").text)
    table = next(e for e in page.all("table") if e.attributes["id"] == "weeks")
    lines = [e for e in page.all("tr") if e.within("table") is table]
    cells = [sum(e.within("tr") is line for e in page.all("td")) for line in lines]
    # In trays from Saturday 1 May to Saturday 19 June: ISO weeks 17 to 24 on any calendar.
    assert cells == [0] + [4] * 8
    assert links(client.get("/ledger").text) >= {f"/ledger/2027-W{week}" for week in range(17, 25)}


def test_a_place_with_too_many_trays_is_over_full_in_words_and_hatched(client, session):
    one_sowing(session, plants=80, positions=1)  # more than the 72 cells of one tray
    page = client.get("/ledger").text
    said = words(page)
    # Under the lamps from the sowing day, 1 May, until hardening on 12 June.
    assert "The lamp shelves are over-full from Mon 26 Apr to Sun 13 Jun, by up to 1 tray." in said
    assert "Over-full 7 weeks" in said
    assert "Tightest place Lamp, 1 over" in said
    assert said.count("2 of 1") == 7
    assert said.count("1 over") == 8  # seven weeks, and the fact
    bars = [e for e in read_page(page).all("rect") if e.has_class("over")]
    assert len(bars) == 14  # in the table and in the chart
    assert {e.attributes["fill"] for e in bars} == {"url(#hatch)"}


def test_a_ledger_with_room_says_so(client, session):
    one_sowing(session)
    said = words(client.get("/ledger").text)
    assert "Everything finds room." in said
    assert "Over-full no week" in said
    assert "Plants wanted 6 plants" in said


def test_the_chart_of_each_place_is_said_in_words(client, session):
    one_sowing(session)
    page = read_page(client.get("/ledger").text)
    said = [e.attributes["aria-label"] for e in page.all("svg") if e.attributes.get("role") == "img"]
    assert len(said) == 4
    assert said[1] == (
        "Lamp: 1 tray in the fullest week, from 26 Apr, against 8 positions; never over-full. The table has every week."
    )
    assert said[0] == "Heat: no tray in any week, 0 positions."


def test_the_week_of_today_is_marked_in_words(client, session):
    one_sowing(session, sow_on=None)
    assert "this week" not in words(client.get("/ledger").text)  # the first tray is sown three weeks later
    rows.sowing(session, *trays_today(session), "S-0002", sow_on=None)
    session.commit()
    assert words(client.get("/ledger").text).count("this week") == 1


def trays_today(session):
    """Return the grower and a hardy crop that stands in trays on 10 April.

    Out four weeks before 1 June, on 4 May, thus on Saturday 8 May; 6 to 8 weeks before that: 13 to 27 March.
    """
    who = rows.grower(session, "Tomas Keel")
    box = rows.container(session, "128-cell tray", cells_per_tray=128)
    return who, rows.crop(session, "Onion", box=box, hardiness="hardy", plant_out_weeks=-4.0)


def test_without_sowings_the_ledger_says_what_to_do(client, session):
    rows.garden(session)
    session.commit()
    page = client.get("/ledger").text
    assert "No tray stands on the shelves in any week." in words(page)
    assert "/sowings/new" in links(page)


def test_the_ledger_as_a_file_has_the_rows_of_the_page(client, session):
    one_sowing(session, plants=80, positions=1)
    answer = client.get("/ledger.csv")
    assert answer.mimetype == "text/csv"
    assert answer.headers["Content-Disposition"] == 'attachment; filename="shelf-ledger-2027.csv"'
    lines = list(csv.DictReader(io.StringIO(answer.text)))
    assert list(lines[0]) == ["week", "place", "positions", "needed", "free"]
    assert {"week": "2027-W17", "place": "lamp", "positions": "1", "needed": "2", "free": "-1"} in lines
    assert len(lines) == 8 * 4


def test_a_week_shows_whose_cells_stand_where_with_links(client, session):
    made = one_sowing(session, variety="Little Amber")
    page = client.get(f"/ledger/{UP_IN}").text
    said = words(page)
    assert "On the shelves 3 – 9 May" in said
    assert "Tomato Little Amber: Ines Moreau 9 S-0001" in said
    assert "since Sat 1 May" in said
    assert "until Sat 12 Jun" in said
    assert {f"/growers/{made.grower}", f"/sowings/{made.sowing}/edit"} <= links(page)


def test_a_week_says_what_comes_in_and_goes_out(client, session):
    one_sowing(session)
    assert "Sat 1 May comes in, sown 1" in words(client.get(f"/ledger/{SOWN_IN}").text)
    leaving = words(client.get("/ledger/2027-W23").text)
    assert "Sat 12 Jun goes out, to hardening 1" in leaving
    assert "Sat 12 Jun comes in, from lamp 1" in leaving
    assert "Sat 19 Jun goes out, handed out 1" in words(client.get("/ledger/2027-W24").text)


def test_a_week_leads_to_the_weeks_beside_it_and_keeps_the_place(client, session):
    one_sowing(session)
    found = links(client.get("/ledger/2027-W17?place=lamp").text)
    assert {"/ledger/2027-W16?place=lamp", "/ledger/2027-W18?place=lamp"} <= found


def test_one_place_in_the_address_leaves_the_others_out(client, session):
    one_sowing(session)
    heads = [e.text.split()[0] for e in read_page(client.get("/ledger/2027-W17?place=hardening").text).all("h2")]
    assert heads == ["Hardening"]


def test_a_week_with_very_many_trays_shows_its_fullest_place(client, session, monkeypatch):
    one_sowing(session)
    monkeypatch.setattr("app.web.views.ledger.TRAYS_OF_ALL_PLACES", 0)
    heads = [e.text.split()[0] for e in read_page(client.get("/ledger/2027-W17").text).all("h2")]
    assert heads == ["Lamp"]


def test_the_caution_of_electricity_stands_where_trays_are_under_lamps(client, session):
    one_sowing(session)
    assert words(client.get("/ledger/2027-W17").text).count("Caution: electricity near water.") == 1
    assert "electricity" not in words(client.get("/ledger/2027-W24").text)  # hardening only


@pytest.mark.parametrize("path", ["/ledger/2027-W53", "/ledger/x", "/ledger/9999-W52", "/ledger/2027-W17?place=cellar"])
def test_a_week_or_place_that_there_is_not_is_not_found(client, session, path):
    one_sowing(session)
    assert client.get(path).status_code == 404


def test_a_week_without_trays_is_a_page_all_the_same(client, session):
    one_sowing(session)
    assert words(client.get("/ledger/2027-W40").text).count("Nothing stands here this week.") == 4
