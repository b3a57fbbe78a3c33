"""This week: what is due, by day and task."""

from dataclasses import replace
from datetime import date

import pytest
from scipy.stats import binom

from app.core.words import LogKind, Role, Tick
from app.services.log import NewEntry, add_entries
from app.storage.models import SpareOffer
from app.storage.queries.log import get_entries, list_ticked
from tests import rows
from tests.conftest import TODAY
from tests.people import sign_in_as
from tests.web.filling import form_values, posted_forms
from tests.web.pages import read_page
from tests.web.seasons import SOWN_IN, UP_IN, links, one_sowing, words


def least_cells(plants, germination=0.70, seeds=2, survival=0.90, confidence=0.90):
    """Return the cells by scipy's binomial law, tried one by one."""
    chance = (1 - (1 - germination) ** seeds) * survival
    return next(n for n in range(plants, 1000) if binom.sf(plants - 1, n, chance) >= confidence)


def test_a_week_lists_its_tasks_with_grower_crop_count_container_and_place(client, session):
    made = one_sowing(session, variety="Little Amber")
    page = client.get(f"/?week={SOWN_IN}")
    cells = least_cells(6)
    said = words(page.text)
    assert "The week 26 Apr – 2 May" in said
    assert "Sat 1 May" in said
    assert f"Tomato Little Amber {cells} cells {2 * cells} seeds 72-cell tray, lamp" in said
    assert f"Sow 1 sowing, {cells} cells" in said
    assert f"/growers/{made.grower}" in links(page.text)


@pytest.mark.parametrize(
    ("week", "day", "task"),
    [
        (UP_IN, "Fri 7 May", "Uncover 1 sowing"),
        ("2027-W19", "Fri 14 May", "Thin 1 sowing"),
        ("2027-W23", "Sat 12 Jun", "Harden 1 sowing"),
        ("2027-W24", "Sat 19 Jun", "Hand out 1 sowing, 6 plants"),
    ],
)
def test_the_later_tasks_stand_in_their_weeks(client, session, week, day, task):
    one_sowing(session)
    said = words(client.get(f"/?week={week}").text)
    assert day in said
    assert task in said


def test_without_a_week_in_the_address_it_is_the_week_of_today(client, session):
    one_sowing(session, sow_on=TODAY, plant_out=TODAY.replace(month=5, day=29))
    said = words(client.get("/").text)
    assert said.startswith("This week 5 – 11 Apr (W14), today is Saturday 10 April 2027.")
    assert "Sat 10 Apr today" in said


def test_another_week_does_not_call_a_day_today(client, session):
    one_sowing(session)
    assert not [e for e in read_page(client.get(f"/?week={SOWN_IN}").text).elements if e.has_class("today")]


def test_the_weeks_before_and_after_keep_the_chosen_grower(client, session):
    made = one_sowing(session)
    found = links(client.get(f"/?week={SOWN_IN}&grower={made.grower}").text)
    assert {f"/?week=2027-W16&grower={made.grower}", f"/?week=2027-W18&grower={made.grower}"} <= found


def test_a_grower_in_the_address_leaves_the_others_out(client, session):
    made = one_sowing(session)
    other = rows.grower(session, "Tomas Keel")
    rows.sowing(session, other, made.tomato, "S-0002")
    session.commit()
    both = words(client.get(f"/?week={SOWN_IN}").text)
    alone = client.get(f"/?week={SOWN_IN}&grower={other.id}").text
    assert "Sow 2 sowings" in both
    assert "Sow 1 sowing," in words(alone)
    assert f"/growers/{made.grower}" not in links(alone)


def test_an_empty_week_says_what_comes_next(client, session):
    one_sowing(session)
    page = client.get("/").text
    assert f"Nothing is due this week. Next: Sat 1 May: sow Tomato, {least_cells(6)} cells." in words(page)
    assert f"/?week={SOWN_IN}" in links(page)


def test_after_the_season_nothing_comes_next(client, session):
    one_sowing(session)
    assert "Nothing is due after it either." in words(client.get("/?week=2027-W40").text)


@pytest.mark.parametrize(
    "query", ["week=2027-W53", "week=2027-W00", "week=spring", "week=9999-W52", "week=0001-W01", "grower=999"]
)
def test_a_week_or_grower_that_there_is_not_is_not_found(client, session, query):
    one_sowing(session)
    assert client.get(f"/?{query}").status_code == 404


def test_the_caution_of_mix_stands_where_something_is_sown_and_only_there(client, session):
    one_sowing(session)
    assert "Caution: dust of potting mix." in words(client.get(f"/?week={SOWN_IN}").text)
    assert "dust of potting mix" not in words(client.get(f"/?week={UP_IN}").text)


def test_covers_and_mould_stand_where_something_is_uncovered(client, session):
    one_sowing(session)
    assert "breeds mould" in words(client.get(f"/?week={UP_IN}").text)
    assert "breeds mould" not in words(client.get(f"/?week={SOWN_IN}").text)


def test_over_full_places_stand_in_the_facts(client, session):
    one_sowing(session, plants=80, positions=1)  # 80 plants need more than the 72 cells of one tray
    assert "Over-full lamp, 1 over" in words(client.get(f"/?week={SOWN_IN}").text)
    assert "Over-full no place" in words(client.get("/").text)


def test_the_next_sowing_day_stands_in_the_facts(client, session):
    one_sowing(session)
    assert "Next sowing day Sat 1 May" in words(client.get("/").text)


def test_a_crop_sown_outside_has_its_last_day_and_no_container(client, session):
    made = one_sowing(session)
    carrot = rows.crop(session, "Carrot", hardiness="hardy", days_to_maturity=60, counted_from="seed")
    rows.sowing(session, made.who, carrot, "S-0002")
    session.commit()
    # Sown from the average last frost, 1 June; good to the average first frost, 30 August, and 14 days after it,
    # 13 September; 60 days to maturity and 14 of picking before that: 1 July.
    said = words(client.get("/?week=2027-W22").text)
    assert "Sow outside 1 sowing, 6 plants Ines Moreau Carrot 6 plants by 1 Jul at the plot" in said


def test_many_tasks_are_shown_a_page_at_a_time(client, session, monkeypatch):
    made = one_sowing(session)
    rows.sowing(session, made.who, made.tomato, "S-0002")
    session.commit()
    monkeypatch.setattr("app.web.views.week.ROWS", 1)
    first, last = client.get(f"/?week={SOWN_IN}").text, client.get(f"/?week={SOWN_IN}&page=2").text
    assert "Tasks 1 to 1 of 2, page 1 of 2." in words(first)
    assert "Sow 2 sowings" in words(first)
    assert "Tasks 2 to 2 of 2, page 2 of 2." in words(last)


def form_to(html, action):
    """Return what a browser would send for the form of a page that goes to an address."""
    forms = [form.attributes["action"] for form in posted_forms(read_page(html))]
    return form_values(html, forms.index(action))


def tick(client, page, *picks, one=None, day=None):
    """Send the form of a page with some tasks marked, or one button pressed, and return the page it leads to."""
    values = form_to(page, "/tick") | {"done": list(picks)}
    if one:
        values["one"] = one
    if day:
        values["day"] = day
    return words(client.post("/tick", data=values, follow_redirects=True).text)


def take_back(client, page, undo):
    values = form_to(page, "/untick") | {"undo": undo}
    return words(client.post("/untick", data=values, follow_redirects=True).text)


def sown_on_1_may(app, session, **changes):
    """Add the tomatoes of seasons.py, sown on the day they were to be, and let it be a later day."""
    made = one_sowing(session, **changes)
    entries = [NewEntry(sowing_id=made.sowing, kind=LogKind.SOWN, date=date(2027, 5, 1), count=11)]
    add_entries(session, entries, today=date(2027, 5, 1), account_id=None)
    session.commit()
    return made


def at(app, day):
    app.config["SETTINGS"] = replace(app.config["SETTINGS"], today=day)


def kinds(session, sowing_id):
    """Return the entries of a sowing that hold, by kind."""
    session.rollback()
    entries = get_entries(session, sowing_id)
    corrected = {entry.supersedes_id for entry in entries}
    found = [(e.kind, e.date, e.count) for e in entries if e.id not in corrected and e.count]
    session.rollback()  # a transaction that reads would keep the pages from writing
    return found


def test_a_sowing_is_ticked_off_with_one_button_and_stays_visible_as_done(app, client, session):
    made = one_sowing(session)
    at(app, date(2027, 5, 1))
    said = tick(client, client.get("/").text, one=f"sow.{made.sowing}")
    cells = least_cells(6)
    assert "1 task ticked off as done on Sat 1 May." in said
    assert f"Sow 1 sowing, {cells} cells, all done" in said
    assert "Take back" in said
    assert kinds(session, made.sowing) == [(LogKind.SOWN, date(2027, 5, 1), cells)]


def test_several_are_ticked_off_at_once(app, client, session):
    made = one_sowing(session)
    other = rows.sowing(session, made.who, made.tomato, "S-0002").id
    session.commit()
    at(app, date(2027, 5, 1))
    said = tick(client, client.get("/").text, f"sow.{made.sowing}", f"sow.{other}")
    assert "2 tasks ticked off" in said
    assert len(kinds(session, made.sowing)) == len(kinds(session, other)) == 1


def test_what_was_ticked_off_is_taken_back_and_both_stay_readable(app, client, session):
    made = one_sowing(session)
    at(app, date(2027, 5, 1))
    tick(client, client.get("/").text, one=f"sow.{made.sowing}")
    said = take_back(client, client.get("/").text, f"sow.{made.sowing}@2027-05-01")
    assert "Taken back: sow, Sat 1 May." in said
    assert kinds(session, made.sowing) == []
    assert len(get_entries(session, made.sowing)) == 2


def test_looking_uncovering_and_hardening_leave_ticks_and_no_count(app, client, session):
    made = sown_on_1_may(app, session)
    at(app, date(2027, 5, 7))
    page = client.get("/").text
    assert "Look for seedlings 1 sowing" in words(page)
    tick(client, page, f"look.{made.sowing}", f"uncover.{made.sowing}")
    session.rollback()
    assert {(task, day) for _, task, day in list_ticked(session)} == {
        (Tick.LOOK, date(2027, 5, 7)),
        (Tick.UNCOVER, date(2027, 5, 7)),
    }
    session.rollback()
    said = take_back(client, client.get("/").text, f"uncover.{made.sowing}@2027-05-07")
    assert "Taken back: uncover, Fri 7 May." in said
    session.rollback()
    assert [task for _, task, _ in list_ticked(session)] == [Tick.LOOK]


def test_another_day_can_be_given_and_none_that_has_not_come(app, client, session):
    made = sown_on_1_may(app, session)
    at(app, date(2027, 5, 8))
    assert "the day is not one up to today" in tick(
        client, client.get("/").text, one=f"uncover.{made.sowing}", day="2027-05-09"
    )
    assert "done on Fri 7 May" in tick(client, client.get("/").text, one=f"uncover.{made.sowing}", day="2027-05-07")


def test_what_was_due_before_stands_on_top_and_after_a_week_as_not_confirmed(app, client, session):
    sown_on_1_may(app, session)
    at(app, date(2027, 5, 10))  # the Monday after it was to be up
    said = words(client.get("/").text)
    assert "Due before, not confirmed" in said
    assert "Tomato due since Fri 7 May 11 cells mould risk if any are up" in said
    assert "not confirmed 11 cells" not in said
    at(app, date(2027, 5, 14))
    assert "Tomato due since Fri 7 May not confirmed 11 cells" in words(client.get("/").text)


def test_somebody_who_was_there_before_is_said_and_nothing_is_logged_twice(app, client, session):
    made = one_sowing(session)
    at(app, date(2027, 5, 1))
    first, second = client.get("/").text, client.get("/").text
    tick(client, first, one=f"sow.{made.sowing}")
    assert "somebody was there before" in tick(client, second, one=f"sow.{made.sowing}")
    assert len(kinds(session, made.sowing)) == 1


def test_what_rests_on_it_is_to_be_taken_back_first(app, client, session):
    made = sown_on_1_may(app, session)
    at(app, date(2027, 5, 7))
    up = NewEntry(sowing_id=made.sowing, kind=LogKind.UP, date=date(2027, 5, 7), count=9)
    add_entries(session, [up], today=date(2027, 5, 7), account_id=None)
    session.commit()
    page = client.get(f"/?week={SOWN_IN}").text
    assert "take back first what was done after it" in take_back(client, page, f"sow.{made.sowing}@2027-05-01")
    assert len(kinds(session, made.sowing)) == 2


def test_nothing_marked_says_so(app, client, session):
    one_sowing(session)
    assert "Nothing was marked" in tick(client, client.get(f"/?week={SOWN_IN}").text)


@pytest.mark.parametrize("pick", ["sow", "sow.x", "dig.1", "sow.1.2", "sow.99999999999"])
def test_a_task_that_there_is_not_is_refused(client, session, pick):
    one_sowing(session)
    page = client.get(f"/?week={SOWN_IN}").text
    assert client.post("/tick", data=form_to(page, "/tick") | {"one": pick}).status_code == 400


def test_a_member_sees_their_own_first_and_ticks_off_nothing_of_others(app, client, session):
    made = one_sowing(session)
    other = rows.grower(session, "Tomas Keel")
    theirs = rows.sowing(session, other, made.tomato, "S-0002")
    sowing_id, grower_id = theirs.id, other.id
    session.commit()
    member = app.test_client()
    sign_in_as(member, "Tomas Keel", Role.MEMBER, grower_id)
    at(app, date(2027, 5, 1))
    own = member.get("/").text
    assert "Only what is due for Tomas Keel" in words(own)
    assert f"sow.{sowing_id}" in own
    assert f"sow.{made.sowing}" not in own
    everybody = member.get("/?grower=").text
    assert "Ines Moreau" in words(everybody)
    assert f'value="sow.{made.sowing}"' not in everybody
    values = form_to(own, "/tick")
    assert member.post("/tick", data=values | {"one": f"sow.{made.sowing}"}).status_code == 403
    assert member.post("/tick", data=values | {"one": f"sow.{sowing_id}"}).status_code == 302


def test_the_same_list_goes_along_the_shelves(client, session):
    one_sowing(session)
    said = words(client.get(f"/?week={SOWN_IN}&by=shelf").text)
    assert "along the shelves" in said
    assert "Not in a tray yet, or outside" in said
    assert "Sow: Tomato Sat 1 May" in said


def test_a_sowing_of_which_nothing_is_up_is_flagged_and_sown_again_with_one_button(app, client, session):
    # 60 days to maturity leave no time to sow again on 15 May; 40 do.
    made = sown_on_1_may(app, session, days_to_maturity=40)
    at(app, date(2027, 5, 13))
    page = client.get("/").text
    said = words(page)
    cells = least_cells(6)
    assert "No seedling is logged by Thu 13 May: 6 plants will be missing" in said
    assert f"Sow again on Sat 15 May, {cells} cells" in said
    for address in (f"/growers/{made.grower}", f"/sowings/{made.sowing}/log"):
        assert "No seedling is logged" in words(client.get(address).text)
    action = f"/sowings/{made.sowing}/again"
    answer = client.post(action, data=form_to(page, action), follow_redirects=True)
    assert "added for the missing plants. Sow Sat 15 May." in words(answer.text)
    said = words(client.get("/").text)
    assert "The same crop is sown after it" in said
    assert "Sow 6 plants again" not in said


def test_a_sowing_that_cannot_be_sown_again_says_what_still_ripens(app, client, session):
    made = one_sowing(session)
    rows.crop(session, "Radish", hardiness="hardy", days_to_maturity=25, counted_from="seed")
    rows.sowing(session, made.who, made.tomato, "S-0002", plant_out=date(2027, 7, 10))
    session.commit()
    at(app, date(2027, 5, 10))
    said = words(client.get("/").text)
    assert "Too late to sow" in said
    assert "Quicker crops that still ripen: Radish (25 days, sown outside, until" in said


def test_spare_plants_of_others_are_named(app, client, session):
    made = sown_on_1_may(app, session)
    session.add(SpareOffer(sowing_id=made.sowing, plants=5, date=date(2027, 5, 9)))
    session.commit()
    at(app, date(2027, 5, 13))
    assert "5 plants of Tomato are to be had from others" in words(client.get("/").text)
