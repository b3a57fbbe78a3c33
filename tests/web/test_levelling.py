"""Making it fit: how far it is, what it would change and why, and nothing is changed before it is accepted."""

from datetime import date
from functools import partial

import pytest
from sqlalchemy import select, update

from app.core.fitting.answer import Stuck
from app.core.words import LevellingState, Place
from app.services.deal import accept_deal
from app.services.filled import mark_filled
from app.services.levelling import ExtraShelf
from app.storage.models import Levelling, Sowing, Tray
from app.web.paging import read_paging
from app.web.views import levelling_choice
from tests.conftest import TODAY
from tests.web.filling import errors_of, form_values, send
from tests.web.fitted import LATER, failed, found, over_full, running
from tests.web.pages import read_page
from tests.web.seasons import Statements, links, words

FIT = "/fit"
MORE = ExtraShelf(place=Place.LAMP, positions=1)


@pytest.fixture
def launched(monkeypatch):
    """Return the list of what would be run in processes of their own."""
    runs = []
    monkeypatch.setattr("app.web.views.levelling.launch_levelling", lambda url, run: runs.append((url, run)))
    return runs


def column(session, name):
    """Return a column of the sowings by their key."""
    found = dict(session.execute(select(Sowing.name, getattr(Sowing, name))).all())
    session.rollback()  # a transaction left open would keep the pages from writing
    return found


def state_of(session, run):
    state = session.scalar(select(Levelling.state).where(Levelling.id == run))
    session.rollback()
    return state


def token(client):
    """Return what protects a form without a revision."""
    values = form_values(client.get("/shelves/new").text)
    return {name: values[name] for name in ("csrf_token", "key")}


def press(client, path, **values):
    """Send a form that is nothing but a button, and follow to where it leads."""
    return client.post(path, data=token(client) | values, follow_redirects=True)


def test_an_over_full_place_is_named_where_a_plan_is_looked_for(client, session):
    over_full(session)
    said = words(client.get(FIT).text)
    # Three trays under two positions from Fri 7 May to Sat 12 Jun: the weeks of these days, on any calendar.
    assert "The lamp shelves are over-full from Mon 3 May to Sun 13 Jun, by up to 1 tray." in said
    assert "Find a plan that fits" in said
    assert "Looked for before" not in said


def test_a_garden_without_trays_has_nothing_to_make_fit(client, session):
    over_full(session)
    session.execute(update(Sowing).values(placed=0))
    session.commit()
    said = words(client.get(FIT).text)
    assert "There is nothing to make fit." in said
    assert "Find a plan" not in said


def test_looking_is_started_and_the_page_of_it_opened(client, session, launched):
    over_full(session)
    answer = send(client, FIT, seconds=60)
    (url, run) = launched[0]
    assert answer.status_code == 302
    assert answer.location == f"/fit/{run}"
    assert url == session.get_bind().url.render_as_string(hide_password=False)
    row = session.get(Levelling, run)
    assert (row.state, row.seconds, row.today, row.extra_place) == (LevellingState.RUNNING, 60, TODAY, None)


def test_looking_with_one_shelf_more_is_started(client, session, launched):
    over_full(session)
    sent = {"shelf-place": "lamp", "shelf-positions": "4", "shelf-seconds": "10"}
    answer = client.post("/fit/with-shelf", data=token(client) | sent)
    assert answer.location == f"/fit/{launched[0][1]}"
    row = session.get(Levelling, launched[0][1])
    assert (row.extra_place, row.extra_positions, row.seconds) == (Place.LAMP, 4, 10)


@pytest.mark.parametrize(
    ("sent", "field", "wrong"),
    [
        ({"shelf-positions": "0"}, "shelf-positions", "too small"),
        ({"shelf-positions": "some"}, "shelf-positions", "whole number"),
        ({"shelf-positions": ""}, "shelf-positions", "how many trays"),
        ({"shelf-place": "attic"}, "shelf-place", "from the list"),
        ({"shelf-seconds": "86400"}, "shelf-seconds", "from the list"),
    ],
)
def test_a_shelf_that_is_none_is_said_beside_its_field(client, session, launched, sent, field, wrong):
    over_full(session)
    right = {"shelf-place": "lamp", "shelf-positions": "4", "shelf-seconds": "10"}
    answer = client.post("/fit/with-shelf", data=token(client) | right | sent)
    assert answer.status_code == 200
    assert wrong in errors_of(answer.text)[field]
    assert launched == []


def test_a_time_that_is_not_offered_is_refused(client, session, launched):
    over_full(session)
    answer = send(client, FIT, seconds=86400)
    assert "from the list" in errors_of(answer.text)["seconds"]
    assert launched == []


def test_a_second_one_is_not_started_while_one_runs(client, session, launched):
    over_full(session)
    values = form_values(client.get(FIT).text)
    running(session)
    said = words(client.post(FIT, data=values, follow_redirects=True).text)
    assert "A plan that fits is being looked for already." in said
    assert "Find a plan that fits" not in said
    assert launched == []


def test_the_page_of_one_that_runs_says_how_far_it_is_and_looks_again(client, session):
    over_full(session)
    run = running(session)
    page = client.get(f"/fit/{run}")
    said = words(page.text)
    assert "Looking for a plan that fits" in said
    assert "As many plants as can be now" in said
    assert "Fair shares done" in said
    assert "94 % 95 % 1 %" in said  # best so far, what no plan can beat, and between them
    assert page.headers["Refresh"] == "2"
    assert "A plan is being looked for." in words(client.get(FIT).text)


def test_the_page_of_one_that_runs_can_be_kept_still(client, session):
    over_full(session)
    run = running(session)
    assert f"/fit/{run}?still=yes" in links(client.get(f"/fit/{run}").text)
    assert "Refresh" not in client.get(f"/fit/{run}?still=yes").headers


def test_the_page_of_one_that_runs_makes_no_plan(app, client, session, monkeypatch):
    over_full(session)
    run = running(session)

    def refuse(*_):
        raise AssertionError("a plan was made")

    monkeypatch.setattr("app.services.plan.make_plan", refuse)
    statements = Statements(app)
    assert client.get(f"/fit/{run}").status_code == 200
    assert len(statements) <= 4


def test_one_that_runs_is_told_to_stop(client, session):
    over_full(session)
    run = running(session)
    said = words(press(client, f"/fit/{run}/stop").text)
    assert "Stopping; the best plan so far is kept." in said
    assert "Stop and keep" not in said
    assert session.get(Levelling, run).stop_wanted


def test_an_answer_says_how_good_it_is(client, session):
    over_full(session)
    said = words(client.get(f"/fit/{found(session)}").text)
    assert "A plan that fits" in said
    assert "The grower who gets least gets 94 % of the plants wished for; no plan can give more than 95 %. 1 %" in said
    assert "80 of 120 plants find room. Counted by priority: 160; no plan as fair has more. none, proven best" in said
    # 280 days over the 80 plants placed.
    assert "280 plant-days from the best day, 3.5 for a plant on average; no such plan has fewer than 270." in said
    assert "2 trays; no such plan takes fewer." in said


def test_an_answer_says_what_changes_and_why(client, session):
    over_full(session)
    page = client.get(f"/fit/{found(session)}")
    said = words(page.text)
    assert "Tomato Sat 1 May Sat 8 May Ada Brandt S-A Lamps over-full" in said
    assert "Tomato Sat 1 May left out Tomas Keel S-T 40 plants Lamps over-full 3 May – 13 Jun (W18 – W23)" in said
    assert "Moved 1 sowing Left out 1 whole Over-full no week, before 6" in said


def test_an_answer_says_who_is_left_out_and_what_each_grower_gets(client, session):
    made = over_full(session)
    page = client.get(f"/fit/{found(session)}")
    said = words(page.text)
    assert "Tomato Tomas Keel S-T none of 40 plants Lamps full 10 May – 13 Jun (W19 – W23)" in said
    assert f"/sowings/{made.sowings[2]}/day" in links(page.text)
    assert "Tomas Keel 40 40 0 0 %" in said
    assert "2 growers get all the plants wished for" in said
    assert "Ada Brandt 40 40 40 100 %" in said


def test_an_answer_shows_the_ledger_before_and_after_side_by_side(client, session):
    over_full(session)
    said = words(client.get(f"/fit/{found(session)}").text)
    # On heat, under lamps and hardening, before and after, by the days of tests/web/fitted.py.
    assert "26 Apr – 2 May W17 3 1 0 0 0 0" in said
    assert "3 – 9 May W18 3 1 3 1 over 1 0 0" in said
    assert "10 – 16 May W19 0 1 3 1 over 2 0 0" in said
    assert "7 – 13 Jun W23 0 0 3 1 over 2 3 2" in said
    assert "14 – 20 Jun W24 0 0 0 0 3 2" in said


def test_an_answer_says_what_it_would_take(client, session):
    over_full(session)
    said = words(client.get(f"/fit/{found(session)}").text)
    assert "With 1 more position under lamps, every sowing would find room with all its plants; no fewer" in said
    assert "Under lamps 1" in said


def test_an_answer_that_was_stopped_early_says_so(client, session):
    over_full(session)
    said = words(client.get(f"/fit/{found(session, is_stopped=True)}").text)
    assert "stopped before the best was proven." in said
    assert "It was stopped before that was worked out." in said


def test_what_is_sown_and_does_not_fit_by_itself_is_said(client, session):
    over_full(session)
    first, last = date(2027, 4, 12).toordinal(), date(2027, 4, 15).toordinal()
    run = found(session, stuck=(Stuck(place=1, first=first, last=last, over=2),), leave_out=False)
    said = words(client.get(f"/fit/{run}").text)
    assert "The best plan that was found" in said
    assert "does not fit by itself" in said
    assert "Lamps: 2 trays too many from Mon 12 Apr to Thu 15 Apr." in said


def test_looking_at_an_answer_changes_nothing(client, session):
    over_full(session)
    run = found(session)
    for path in (FIT, f"/fit/{run}", f"/fit/{run}/choose"):
        assert client.get(path).status_code == 200
    assert set(column(session, "sow_on").values()) == {None}
    assert state_of(session, run) is LevellingState.FINISHED


def test_all_of_an_answer_is_accepted(client, session):
    made = over_full(session)
    run = found(session)
    page = press(client, f"/fit/{run}/accept")
    said = words(page.text)
    assert "An accepted plan" in said
    assert "Accepted: 2 changes." in said
    assert "Trays that were dealt before stay as they are until they are dealt anew." in said
    assert "/trays/deal" in links(page.text)
    assert column(session, "sow_on") == {"S-A": LATER, "S-I": None, "S-T": None}
    assert column(session, "placed") == {"S-A": None, "S-I": None, "S-T": 0}
    assert "Everything finds room." in words(client.get("/ledger").text)
    assert f"/sowings/{made.sowings[0]}" in {link.removesuffix("/edit") for link in links(page.text)}


def test_ticked_changes_are_shown_before_they_are_accepted_alone(client, session):
    made = over_full(session)
    run = found(session)
    choose = client.get(f"/fit/{run}/choose")
    boxes = [box for box in read_page(choose.text).all("input") if box.attributes.get("type") == "checkbox"]
    assert {box.attributes["value"] for box in boxes} == {str(made.sowings[0]), str(made.sowings[2])}
    assert all("checked" in box.attributes for box in boxes)
    some = client.post(f"/fit/{run}/some", data=token(client) | {"take": [made.sowings[0]]})
    said = words(some.text)
    assert "What 1 change comes to" in said
    # With all three growers' trays left, and Ada Brandt's under lamps from Fri 14 May on, three stand there then.
    assert "The lamp shelves are over-full from Mon 10 May to Sun 13 Jun, by up to 1 tray." in said
    assert "3 – 9 May W18 3 2 3 1 over 2" in said
    assert set(column(session, "sow_on").values()) == {None}

    values = form_values(some.text)
    said = words(client.post(f"/fit/{run}/accept", data=values, follow_redirects=True).text)
    assert "Accepted: 1 change, 1 left aside." in said
    assert "Tomas Keel" not in said
    assert column(session, "sow_on") == {"S-A": LATER, "S-I": None, "S-T": None}
    assert set(column(session, "placed").values()) == {None}


def test_what_was_ticked_is_ticked_when_it_is_chosen_again(client, session):
    made = over_full(session)
    run = found(session)

    def ticked(page):
        boxes = [box.attributes for box in read_page(page.text).all("input") if box.attributes.get("name") == "take"]
        return [int(box["value"]) for box in boxes if "checked" in box]

    again = client.post(f"/fit/{run}/choose", data=token(client) | {"sowings": str(made.sowings[2])})
    assert ticked(again) == [made.sowings[2]]
    assert ticked(client.get(f"/fit/{run}/choose?tick=none")) == []


def test_ticks_are_kept_from_page_to_page(client, session, monkeypatch):
    made = over_full(session)
    run = found(session)
    monkeypatch.setattr(levelling_choice, "read_paging", partial(read_paging, rows=1))

    def buttons(page):
        return [one.attributes.get("formaction") for one in read_page(page.text).all("button")]

    first = client.get(f"/fit/{run}/choose")
    assert "Changes 1 to 1 of 2, page 1 of 2." in words(first.text)
    assert f"/fit/{run}/choose?page=2" in buttons(first)
    sent = form_values(first.text)
    (here,) = sent.pop("take")
    (other,) = {str(made.sowings[0]), str(made.sowings[2])} - {here}
    assert sent["sowings"] == [other]
    # the tick on the first page is taken away, and the second page is turned to
    second = client.post(f"/fit/{run}/choose?page=2", data=sent)
    values = form_values(second.text)
    assert "sowings" not in values
    assert values["take"] == [other]
    assert f"/fit/{run}/choose?page=1" in buttons(second)
    assert "What 1 change comes to" in words(client.post(f"/fit/{run}/some", data=values).text)
    # with the first page's tick, both are shown
    both = client.post(f"/fit/{run}/some", data=values | {"sowings": here})
    assert "What 2 changes come to" in words(both.text)


@pytest.mark.parametrize("path", ["some", "accept"])
def test_nothing_ticked_accepts_nothing(client, session, path):
    over_full(session)
    run = found(session)
    said = words(press(client, f"/fit/{run}/{path}", sowings="").text)
    assert "No change was ticked, so nothing was accepted." in said
    assert state_of(session, run) is LevellingState.FINISHED


def test_sowings_that_are_no_numbers_are_a_wrong_request(client, session):
    over_full(session)
    run = found(session)
    assert client.post(f"/fit/{run}/accept", data=token(client) | {"sowings": "1,all"}).status_code == 400
    assert client.post(f"/fit/{run}/some", data=token(client) | {"take": "all"}).status_code == 400


def test_an_answer_to_other_data_says_so_and_cannot_be_accepted(client, session):
    over_full(session)
    run = found(session)
    session.execute(update(Sowing).where(Sowing.name == "S-I").values(plants=41))
    session.commit()
    said = words(client.get(f"/fit/{run}").text)
    assert "A plan that is out of date" in said
    assert "it cannot be accepted any more" in said
    assert "Accept all" not in said
    assert "Tomato Sat 1 May Sat 8 May Ada Brandt S-A" in said
    for path in ("accept", "some", "choose"):
        said = words(press(client, f"/fit/{run}/{path}").text)
        assert "so nothing was accepted." in said
    assert client.get(f"/fit/{run}/choose").status_code == 302
    assert set(column(session, "sow_on").values()) == {None}


def test_an_answer_is_thrown_away(client, session):
    over_full(session)
    run = found(session)
    said = words(press(client, f"/fit/{run}/throw-away").text)
    assert "The plan was thrown away" in said
    said = words(client.get(f"/fit/{run}").text)
    assert "A plan that was thrown away" in said
    assert "Nothing of it was accepted." in said
    for path in ("throw-away", "accept"):
        assert "Somebody has decided about this plan meanwhile" in words(press(client, f"/fit/{run}/{path}").text)


def test_an_accepted_answer_is_taken_back(client, session):
    over_full(session)
    run = found(session)
    press(client, f"/fit/{run}/accept")
    said = words(press(client, f"/fit/{run}/take-back").text)
    assert "2 changes taken back" in said
    assert "The sowings are as they were before it was accepted." in said
    assert set(column(session, "sow_on").values()) == {None}
    assert set(column(session, "placed").values()) == {None}
    assert "accepted, 2 changes, and taken back" in words(client.get(FIT).text)


def test_an_accepted_answer_stays_once_a_sowing_of_it_is_changed_or_sown(client, session):
    over_full(session)
    run = found(session)
    press(client, f"/fit/{run}/accept")
    accept_deal(session, first=LATER, last=LATER, today=TODAY)
    mark_filled(session, session.scalars(select(Tray.number)).all(), LATER, today=LATER)
    session.execute(update(Sowing).where(Sowing.name == "S-T").values(placed=3))
    session.commit()
    said = words(client.get(f"/fit/{run}").text)
    assert "It cannot be taken back any more. Sown by now: S-A. Changed by hand since: S-T." in said
    assert "Take it back" not in said
    assert "This plan cannot be taken back any more" in words(press(client, f"/fit/{run}/take-back").text)
    assert column(session, "sow_on")["S-A"] == LATER


def test_a_shelf_more_is_compared_with_the_best_plan_without_it_and_not_accepted(client, session):
    over_full(session)
    found(session)
    run = found(session, extra=MORE, leave_out=False)
    page = client.get(f"/fit/{run}")
    said = words(page.text)
    assert "With 1 more position under lamps Looked for" in said
    assert "This plan counts on a shelf that is not there." in said
    assert "Plants placed 80 of 120 120 of 120" in said
    assert "Fair shares 94 % the same" in said
    assert "/shelves/new" in links(page.text)
    assert "Accept" not in said
    assert client.get(f"/fit/{run}/choose").status_code == 302


def test_a_shelf_more_without_a_plan_to_compare_says_so(client, session):
    over_full(session)
    run = found(session, extra=MORE)
    assert "To compare it, look for a plan with the shelves there are." in words(client.get(f"/fit/{run}").text)


def test_one_that_failed_says_why_where_that_is_known(client, session):
    over_full(session)
    said = words(client.get(f"/fit/{failed(session, 'The shelves gave way.')}").text)
    assert "No plan was found" in said
    assert "The shelves gave way. Nothing has changed." in said
    assert "It ended before it had found a plan." in words(client.get(f"/fit/{failed(session)}").text)


def test_those_of_before_are_listed_with_what_became_of_them(client, session):
    over_full(session)
    failed(session)
    found(session, extra=MORE)
    found(session)
    said = words(client.get(FIT).text)
    assert "the shelves there are 94 % 3.6 % 2 changes to be accepted" in said  # 10 of 280 plant-days
    assert "with 1 more position under lamps 94 % 3.6 % to be read" in said
    assert "the shelves there are – – failed" in said


def test_a_plan_that_is_not_there_is_not_found(client, session):
    over_full(session)
    assert client.get("/fit/999").status_code == 404


def test_long_lists_of_changes_come_a_page_at_a_time_and_are_accepted_whole(client, session, monkeypatch):
    monkeypatch.setattr("app.web.views.levelling.ROWS", 1)
    over_full(session)
    run = found(session)
    first, second = (words(client.get(f"/fit/{run}?page={page}").text) for page in (1, 2))
    assert "Rows 1 to 1 of 2, page 1 of 2." in first
    assert "Sat 8 May Ada Brandt" in first
    assert "Sat 8 May Ada Brandt" not in second
    assert "Accept all 2 changes" in second


def test_an_over_full_week_leads_here(client, session):
    over_full(session)
    assert FIT in links(client.get("/ledger").text.partition("<main")[2])
    assert FIT in links(client.get("/?week=2027-W20").text.partition("<main")[2])
    assert FIT not in links(client.get("/?week=2027-W17").text.partition("<main")[2])
