"""The page of a deal: what would change is shown first, and stored only as it was shown."""

from datetime import date

import pytest
from sqlalchemy import delete, func, select, update

from app.storage.errors import ClashError
from app.storage.models import Crop, Sowing, Stay, Tray
from tests.web.dealt import deal, tomatoes
from tests.web.filling import errors_of, form_values
from tests.web.seasons import links, words

SEASON = "/trays/deal"


def trays_of(session):
    session.rollback()
    count = session.scalar(select(func.count()).select_from(Tray))
    session.rollback()  # a transaction left open would keep the pages from writing
    return count


def change(session, model, **values):
    """Change all rows of a table and commit."""
    session.execute(update(model).values(**values))
    session.commit()


def accept(client, path=SEASON, **changes):
    """Open the page of a deal and accept it."""
    values = form_values(client.get(path).text) | changes
    return client.post(path, data=values)


def test_a_deal_is_shown_tray_by_tray_and_nothing_is_stored(client, session):
    tomatoes(session, dealt=False)
    said = words(client.get(SEASON).text)
    assert "3 new trays." in said
    assert "Trays 3, the fewest" in said
    assert "Cells 159 of 216" in said  # three times 53 of 72
    assert "Sat 1 May: 3 trays, 1 – 3" in said
    assert "72-cell tray 53 of 72 cells Tomato: Ada Brandt 53" in said
    assert (
        "1 May heat: Heat bench, 1·1 7 May lamps: Lamp rack, 1·1 12 Jun hardening: Cold frame, 1·1 19 Jun leaves"
        in said
    )
    assert "Heat 3 3 4 The fewest: as many as trays on the fullest day." in said
    assert "To print: 1 – 3. They are made once the deal is accepted." in said
    assert trays_of(session) == 0


def test_an_accepted_deal_is_stored_whole_and_leads_to_the_trays(client, session):
    tomatoes(session, dealt=False)
    answer = accept(client)
    assert answer.status_code == 302
    assert answer.location == "/trays"
    assert trays_of(session) == 3
    after = client.get(SEASON)
    assert "Dealt: 3 new trays. Print 3 labels" in words(after.text)
    assert "/labels?trays=1-3" in links(after.text)
    assert "There is nothing to change." in words(after.text)
    assert "csrf_token" not in after.text


def test_a_day_is_dealt_alone(client, session):
    made = tomatoes(session, dealt=False)
    session.execute(update(Sowing).where(Sowing.id == made.sowings[0]).values(plant_out=date(2027, 7, 3)))
    session.commit()
    days = client.get(SEASON).text
    assert days.count("<option") > 3
    path = f"{SEASON}?day=2027-05-01"
    assert "2 new trays." in words(client.get(path).text)
    accept(client, path)
    assert trays_of(session) == 2


@pytest.mark.parametrize("range_", ["first=1/5&last=31.+May", "first=2027-05-01&last=2027-05-01"])
def test_a_range_of_days_is_dealt(client, session, range_):
    tomatoes(session, dealt=False)
    path = f"{SEASON}?day=range&{range_}"
    assert "3 new trays." in words(client.get(path).text)
    accept(client, path)
    assert trays_of(session) == 3


@pytest.mark.parametrize(
    ("range_", "field", "wrong"),
    [
        ("first=31/5&last=1/5", "last", "before the first"),
        ("first=31/5", "last", "first and its last day"),
        ("last=31/5", "first", "first and its last day"),
        ("first=someday&last=1/5", "first", "someday"),
    ],
)
def test_a_range_that_is_none_is_said_beside_its_field(client, session, range_, field, wrong):
    tomatoes(session, dealt=False)
    answer = client.get(f"{SEASON}?day=range&{range_}")
    assert answer.status_code == 200
    assert wrong in errors_of(answer.text)[field]
    assert "Accept this deal" not in answer.text


def test_another_day_of_the_address_has_nothing_to_deal(client, session):
    tomatoes(session, dealt=False)
    assert "There is nothing to change." in words(client.get(f"{SEASON}?day=2027-05-02").text)
    assert "Choose one from the list." in words(client.get(f"{SEASON}?day=someday").text)
    assert client.post(f"{SEASON}?day=someday", data={"csrf_token": "x"}).status_code == 400


def test_a_deal_that_is_no_longer_as_it_was_shown_is_not_stored(client, session):
    tomatoes(session, dealt=False)
    values = form_values(client.get(SEASON).text)
    session.execute(update(Sowing).where(Sowing.name == "S-I").values(plants=80))
    session.commit()
    answer = client.post(SEASON, data=values)
    assert answer.status_code == 409
    said = words(answer.text)
    assert "Something has changed since this deal was shown, so nothing was stored." in said
    assert "4 new trays." in said
    assert trays_of(session) == 0
    again = client.post(SEASON, data=form_values(answer.text))
    assert again.status_code == 302
    assert trays_of(session) == 4


@pytest.mark.parametrize("changes", [{"today": "2027-04-09"}, {"mark": "made up"}, {"mark": ""}])
def test_a_deal_without_what_was_sent_along_is_not_stored(client, session, changes):
    tomatoes(session, dealt=False)
    assert accept(client, **changes).status_code == 409
    assert trays_of(session) == 0


def test_what_the_database_refuses_is_said_on_a_page(client, session, monkeypatch):
    tomatoes(session, dealt=False)

    def refuse(*_):
        raise ClashError

    monkeypatch.setattr("app.storage.dealing.DealStore.store", refuse)
    answer = accept(client)
    assert answer.status_code == 409
    assert "nothing was stored" in words(answer.text)
    assert trays_of(session) == 0


def test_accepting_twice_stores_once(client, session):
    tomatoes(session, dealt=False)
    values = form_values(client.get(SEASON).text)
    client.post(SEASON, data=values)
    again = client.post(SEASON, data=values)
    assert again.location == "/trays"
    assert "This was saved already. Nothing was done a second time." in words(client.get("/trays").text)
    assert trays_of(session) == 3


def test_a_deal_that_somebody_else_has_accepted_is_shown_as_it_is_now(client, session):
    tomatoes(session, dealt=False)
    values = form_values(client.get(SEASON).text)
    accept(client)
    late = client.post(SEASON, data=values)
    assert late.status_code == 409
    assert "There is nothing to change." in words(late.text)
    assert trays_of(session) == 3


def test_trays_that_get_other_contents_say_who_comes_and_goes(client, session):
    tomatoes(session)
    session.execute(update(Sowing).where(Sowing.name == "S-I").values(plants=30))
    session.commit()
    page = client.get(SEASON)
    said = words(page.text)
    assert "1 tray gets other contents." in said
    # By the binomial law 30 plants take 40 cells: 13 fewer than before.
    assert "40 of 72 cells – Tomato: Ines Moreau 13" in said
    assert "To print anew, because the label says something else:" in said
    assert "/trays/2" in links(page.text) or "/trays/1" in links(page.text) or "/trays/3" in links(page.text)


def test_trays_that_stand_at_other_times_say_how_it_was_and_will_be(client, session):
    tomatoes(session)
    change(session, Crop, days_to_emerge=9)
    said = words(client.get(SEASON).text)
    assert "3 trays stand elsewhere or at other times." in said
    assert "heat Heat bench, 1·1, 1 May – 7 May Heat bench, 1·1, 1 May – 10 May" in said
    assert "lamps Lamp rack, 1·1, 7 May – 12 Jun Lamp rack, 1·1, 10 May – 12 Jun" in said


def test_trays_that_nobody_needs_any_more_are_emptied(client, session):
    tomatoes(session)
    change(session, Sowing, plants=6)
    said = words(client.get(SEASON).text)
    assert "2 trays are emptied" in said
    assert "Nobody needs these trays any more." in said
    deal(session)
    assert trays_of(session) == 3
    assert session.scalar(select(func.count(func.distinct(Stay.tray_id)))) == 1


def test_trays_without_a_position_are_listed_with_the_week_of_the_ledger(client, session):
    tomatoes(session, lamps=2, dealt=False)
    page = client.get(SEASON)
    said = words(page.text)
    assert "No position 1 tray waits" in said
    assert "lamps Fri 7 May – Sat 12 Jun W18" in said
    assert "1 tray waits at some time, the fewest that must." in said
    assert "/ledger/2027-W18" in links(page.text)


def test_what_is_sown_or_pinned_is_counted(client, session):
    tomatoes(session)
    session.execute(update(Tray).where(Tray.number == 1).values(pinned=True))
    session.commit()
    said = words(client.get(SEASON).text)
    assert "Pinned 1 tray" in said
    assert "3, the fewest around those that are pinned" in said


def test_long_lists_come_a_page_at_a_time_and_are_accepted_whole(client, session, monkeypatch):
    monkeypatch.setattr("app.web.views.deal.ROWS", 2)
    tomatoes(session, dealt=False)
    first, last = client.get(f"{SEASON}?day=season"), client.get(f"{SEASON}?day=season&page=2")
    assert "Trays 1 to 2 of 3, page 1 of 2." in words(first.text)
    assert "Sat 1 May: 1 tray, 3" in words(last.text)
    assert "All 3 trays, on every page of the list." in words(last.text)
    assert client.post(f"{SEASON}?day=season", data=form_values(last.text)).status_code == 302
    assert trays_of(session) == 3


def test_many_trays_of_a_page_are_folded_by_day(client, session, monkeypatch):
    tomatoes(session, dealt=False)
    assert "<details open><summary>Sat 1 May" in client.get(SEASON).text
    monkeypatch.setattr("app.web.views.deal.MOST_UNFOLDED", 2)
    assert "<details><summary>Sat 1 May" in client.get(SEASON).text


def test_a_garden_without_sowings_has_nothing_to_deal(client, session):
    tomatoes(session, dealt=False)
    session.execute(delete(Sowing))
    session.commit()
    assert "There is nothing to deal." in words(client.get(SEASON).text)
    assert client.post(SEASON, data={}).status_code == 400
