"""Care rounds by page: shared out, offered and taken, done and missed."""

import time
from datetime import date, timedelta

import pytest
from sqlalchemy import select, update
from sqlalchemy.orm import Session

from app.core.words import Role
from app.services.accounts import add_bench, digest_of
from app.sheets.cautions import ELECTRICITY
from app.storage.models import CareRound, Grower, History, Shelf, SignIn, Sowing
from tests import rows
from tests.conftest import TODAY
from tests.people import add_account, sign_in_as
from tests.sheets.reading import beyond_margins, leaves, overlapping, squashed, text_of
from tests.web.dealt import GONE, SOWN, tomatoes
from tests.web.filling import form_values, guards, send
from tests.web.pages import read_page
from tests.web.seasons import links, words
from tests.web.test_once import assert_acts_once


def stored(session, query):
    """Return rows as they are stored now, without leaving a transaction open."""
    with Session(session.get_bind()) as fresh:
        found = fresh.scalars(query).all()
        fresh.expunge_all()
        return found


def ids(session):
    return {grower.name: grower.id for grower in stored(session, select(Grower))}


def all_rounds(session):
    return stored(session, select(CareRound).order_by(CareRound.date))


def now(session, round_id):
    return stored(session, select(CareRound).where(CareRound.id == round_id))[0]


def change(session, model, row_id, **changes):
    with Session(session.get_bind()) as fresh:
        for name, value in changes.items():
            setattr(fresh.get(model, row_id), name, value)
        fresh.commit()


def history(session):
    return stored(session, select(History).where(History.noun == "care round").order_by(History.id))


def share(client, **asked):
    query = "&".join(f"{name}={value}" for name, value in ({"every": 1} | asked).items())
    return client.post(f"/rounds/share?{query}", data=form_values(client.get(f"/rounds/share?{query}").text))


def a_round(session, grower, day=TODAY, **changes):
    values = {"is_offered": False, "is_swapped": False} | changes
    row = CareRound(date=day, grower_id=grower, **values)
    session.add(row)
    session.flush()
    row_id = row.id
    session.commit()
    return row_id


@pytest.fixture
def world(session):
    made = tomatoes(session)
    made.ids = ids(session)
    return made


def as_member(app, world, name):
    other = app.test_client()
    sign_in_as(other, f"{name} herself", Role.MEMBER, world.ids[name])
    return other


def test_rounds_are_shared_out_as_shown_and_evenly(client, session, world):
    """Three equal trays from 1 May to 18 June: 49 days without pans, so 17, 16 and 16 rounds."""
    assert "No round is shared out" in words(client.get("/rounds").text)
    seen = words(client.get("/rounds/share").text)
    n_days = (GONE - SOWN).days
    assert f"{n_days} new rounds." in seen
    assert all_rounds(session) == []
    assert share(client).status_code == 302
    found = all_rounds(session)
    assert [one.date for one in found] == [SOWN + timedelta(n) for n in range(n_days)]
    counts = sorted(sum(one.grower_id == who for one in found) for who in world.ids.values())
    assert counts == [16, 16, 17]
    assert "There is nothing to change" in words(client.get("/rounds/share").text)
    assert [(row.action, row.changes) for row in history(session)] == [("shared out", [["rounds", None, n_days]])]


def test_days_on_which_they_can_come_are_kept_to(client, session, world):
    change(session, Grower, world.ids["Ada Brandt"], days="saturday sunday")
    change(session, Grower, world.ids["Ines Moreau"], days="sunday")
    change(session, Grower, world.ids["Tomas Keel"], days="monday tuesday wednesday thursday")
    share(client)
    days_of = {
        name: {one.date.weekday() for one in all_rounds(session) if one.grower_id == who}
        for name, who in world.ids.items()
    }
    assert days_of == {"Ada Brandt": {5}, "Ines Moreau": {6}, "Tomas Keel": {0, 1, 2, 3}}
    fridays = [one for one in all_rounds(session) if one.grower_id is None]
    assert {one.date.weekday() for one in fridays} == {4}
    assert "nobody yet" in words(client.get("/rounds").text)


def test_whoever_takes_no_part_has_no_round(client, session, world):
    share(client, without=world.ids["Ada Brandt"])
    assert {one.grower_id for one in all_rounds(session)} == {world.ids["Ines Moreau"], world.ids["Tomas Keel"]}


def test_pans_make_rounds_rarer(client, session):
    made = tomatoes(session)
    for shelf in (made.heat, made.lamps, made.frame):
        change(session, Shelf, shelf, pan_depth_mm=25.0)  # 8.3 days at 3 mm a day
    share(client)
    assert [one.date for one in all_rounds(session)][:4] == [date(2027, 5, day) for day in (1, 7, 15, 23)]


def test_what_has_changed_meanwhile_is_shown_anew_and_nothing_stored(client, session, world):
    values = form_values(client.get("/rounds/share?every=1").text)
    change(session, Sowing, world.sowings[0], plants=60)
    answer = client.post("/rounds/share?every=1", data=values)
    assert answer.status_code == 409
    assert "Something has changed since this was shown" in words(answer.text)
    assert all_rounds(session) == []


def test_rounds_handed_over_or_done_stay_when_shared_out_anew(client, session, world):
    share(client)
    first, second, third = all_rounds(session)[:3]
    other = next(who for who in world.ids.values() if who != second.grower_id)
    send(client, f"/rounds/{second.id}/give", grower_id=other)
    assert (now(session, second.id).grower_id, now(session, second.id).is_swapped) == (other, True)
    change(session, CareRound, third.id, is_offered=True)
    change(session, CareRound, first.id, done_on=TODAY)
    share(client)
    assert now(session, second.id).grower_id == other
    assert now(session, first.id).done_on == TODAY
    assert now(session, third.id).grower_id not in {None, third.grower_id}
    assert not now(session, third.id).is_offered


def test_who_cannot_come_offers_the_round_and_somebody_takes_it(app, client, session, world):
    ada, ines = as_member(app, world, "Ada Brandt"), as_member(app, world, "Ines Moreau")
    one = a_round(session, world.ids["Ada Brandt"], SOWN)
    page = f"/rounds/{one}"
    # Nobody takes what is not offered, nor offers what is another's.
    assert ines.post(f"{page}/offer", data=form_values(ines.get("/account/name").text)).status_code == 403
    assert "I can’t come" in words(ada.get(page).text)
    assert "I take it" not in words(ines.get(page).text)
    assert ada.post(f"{page}/offer", data=guards(ada, f"{page}/offer", page)).status_code == 302
    assert "waits for somebody" in words(client.get("/rounds").text)
    told = guards(ines, f"{page}/take", page)
    assert "I take it" not in words(ada.get(page).text)
    assert ines.post(f"{page}/take", data=told).status_code == 302
    one = now(session, one)
    assert (one.grower_id, one.is_offered, one.is_swapped) == (world.ids["Ines Moreau"], False, True)
    assert [(row.action, row.subject) for row in history(session)][-2:] == [("changed", "2027-05-01")] * 2


def test_of_two_who_take_a_round_the_second_is_told(app, session, world):
    ines, tomas = as_member(app, world, "Ines Moreau"), as_member(app, world, "Tomas Keel")
    one = a_round(session, world.ids["Ada Brandt"], SOWN, is_offered=True)
    page = f"/rounds/{one}"
    late = guards(tomas, f"{page}/take", page)
    ines.post(f"{page}/take", data=guards(ines, f"{page}/take", page))
    answer = tomas.post(f"{page}/take", data=late)
    assert answer.status_code == 409
    assert "This round is not as it was when you opened the page; nothing was changed" in words(answer.text)
    assert now(session, one).grower_id == world.ids["Ines Moreau"]


def test_who_offered_may_keep_it_after_all(app, session, world):
    ada = as_member(app, world, "Ada Brandt")
    one = a_round(session, world.ids["Ada Brandt"], SOWN, is_offered=True)
    page = f"/rounds/{one}"
    ada.post(f"{page}/keep", data=guards(ada, f"{page}/keep", page))
    assert not now(session, one).is_offered


def test_two_exchange_their_rounds(client, session, world):
    one, other = a_round(session, world.ids["Ada Brandt"], SOWN), a_round(session, world.ids["Tomas Keel"], GONE)
    answer = send(client, f"/rounds/{one}/give")
    assert "Choose either who does it, or the round that it is exchanged with." in words(answer.text)
    send(client, f"/rounds/{one}/give", other_id=other)
    one, other = now(session, one), now(session, other)
    assert (one.grower_id, other.grower_id) == (world.ids["Tomas Keel"], world.ids["Ada Brandt"])
    assert (one.is_swapped, other.is_swapped) == (True, True)


def test_a_round_is_done_with_a_note_and_taken_back(app, client, session, world):
    ada = as_member(app, world, "Ada Brandt")
    one = a_round(session, world.ids["Ada Brandt"])
    page = f"/rounds/{one}"
    values = form_values(ada.get(page).text, -1)
    assert ada.post(f"{page}/done", data=values | {"done_on": "11 Apr 2027"}).status_code == 200
    assert now(session, one).done_on is None  # not before it has come
    values = form_values(ada.get(page).text, -1)
    assert ada.post(f"{page}/done", data=values | {"note": "Lamp 2 flickers"}).status_code == 302
    done = now(session, one)
    assert (done.done_on, done.done_by_id, done.note) == (TODAY, world.ids["Ada Brandt"], "Lamp 2 flickers")
    assert "done Lamp 2 flickers" in words(client.get("/rounds").text)
    ada.post(f"{page}/not-done", data=guards(ada, f"{page}/not-done", page))
    done = now(session, one)
    assert (done.done_on, done.note) == (None, "Lamp 2 flickers")


def test_a_day_long_before_or_after_is_refused_beside_the_field(client, session, world):
    one = a_round(session, world.ids["Ada Brandt"])
    for day in ("2 Apr 2027", "11 Apr 2027"):
        values = form_values(client.get(f"/rounds/{one}").text, -1) | {"done_on": day}
        answer = client.post(f"/rounds/{one}/done", data=values)
        assert "Give a day from Sat 3 Apr to today" in words(answer.text)
    assert now(session, one).done_on is None


def test_a_missed_round_is_shown_to_coordinators_alone(app, client, session, world):
    one = a_round(session, world.ids["Ada Brandt"], TODAY - timedelta(1))
    assert "Nobody has said that these were done." in words(client.get("/rounds").text)
    assert f"/rounds/{one}" in links(client.get("/rounds").text)
    assert "Nobody has said" not in words(as_member(app, world, "Ines Moreau").get("/rounds").text)
    # It is over, so it changes hands no more, but can still be done.
    assert client.get(f"/rounds/{one}/give", follow_redirects=False).status_code == 302
    values = form_values(client.get(f"/rounds/{one}").text, -1)
    client.post(f"/rounds/{one}/done", data=values)
    assert "Nobody has said" not in words(client.get("/rounds").text)


def test_the_first_page_tells_of_todays_round_and_of_missed_ones(app, client, session, world):
    assert "care round" not in words(client.get("/").text)
    first, _ = (
        a_round(session, world.ids["Ada Brandt"], TODAY - timedelta(1)),
        a_round(session, world.ids["Ines Moreau"]),
    )
    told = words(client.get("/").text)
    assert "1 care round not done: that of Fri 9 Apr." in told
    assert "Today’s care round is that of Ines Moreau." in told
    assert f"/rounds/{first}" in links(client.get("/").text)
    assert "care round not done" in words(as_member(app, world, "Ada Brandt").get("/").text)
    hers = words(as_member(app, world, "Ines Moreau").get("/").text)
    assert "Today’s care round is yours." in hers
    assert "not done" not in hers
    assert "care round" not in words(client.get("/?week=2027-W20").text)


def test_the_page_says_what_to_do_shelf_by_shelf_with_litres_and_cautions(client, session):
    made = tomatoes(session)
    change(session, Shelf, made.lamps, pan_depth_mm=20.0, fan=True)
    who = next(iter(ids(session).values()))
    before, up = a_round(session, who, date(2027, 5, 7)), a_round(session, who, date(2027, 5, 9))
    on_heat = a_round(session, who, date(2027, 5, 6))
    first = words(client.get(f"/rounds/{before}").text)
    # docs/method.md, section 11: 14.9 litres on a level of 122 x 61 cm, 20 mm deep; here on two.
    assert "Fill the pans: about 29.8 l, 14.9 l on each level" in first
    assert "Look under the covers of trays 1 – 3: off with them where seedlings show" in first
    second = words(client.get(f"/rounds/{up}").text)
    # Two days at 3 mm: 122 x 61 x 0.6 cm on each level.
    assert "Fill the pans: about 8.9 l, 4.5 l on each level" in second
    assert "Fan on, gently" in second
    assert "Lamp rack (lamps) 3 trays: 1 – 3" in second
    heat = words(client.get(f"/rounds/{on_heat}").text)
    assert "Heat bench (heat) 3 trays: 1 – 3 Water from below where the mix is dry on top" in heat
    assert all(ELECTRICITY.words in said for said in (first, second, heat))
    pdf = client.get(f"/rounds/{up}.pdf")
    said = text_of(pdf.data)
    for line in ("Fill the pans: about 8.9 l", "Fan on, gently", ELECTRICITY.words, "Round of Ada Brandt"):
        assert squashed(line) in said
    assert all(beyond_margins(leaf, 12) == [] and overlapping(leaf) == [] for leaf in leaves(pdf.data))


def test_a_day_without_trays_says_so(client, session, world):
    one = a_round(session, world.ids["Ada Brandt"])
    assert "No tray stands on the shelves on this day." in words(client.get(f"/rounds/{one}").text)
    assert client.get(f"/rounds/{one}.pdf").mimetype == "application/pdf"


def test_past_rounds_stand_on_a_page_of_their_own(client, session, world):
    a_round(session, world.ids["Ada Brandt"], TODAY - timedelta(3), done_on=TODAY - timedelta(2))
    said = words(client.get("/rounds?which=past").text)
    assert "Wed 7 Apr 2027 3 days ago Ada Brandt done on Thu 8 Apr" in said


def test_wrong_ways_of_sharing_are_refused_and_change_nothing(client, session, world):
    for query in ("every=0", "every=99", "every=x", "every=1&without=abc", "every=1&without=899999"):
        page = client.get(f"/rounds/share?{query}")
        assert page.status_code == 200
        assert "Rounds cannot be shared out so" in words(page.text), query
    assert all_rounds(session) == []


def test_a_grower_who_goes_leaves_rounds_of_nobody(client, session, world):
    spare = rows.grower(session, "Odile Keel").id
    one = a_round(session, spare, SOWN)
    client.post(f"/growers/{spare}/delete", data=form_values(client.get(f"/growers/{spare}/delete").text))
    assert now(session, one).grower_id is None
    assert "nobody yet" in words(client.get("/rounds").text)
    assert read_page(client.get(f"/rounds/{one}").text)


@pytest.mark.parametrize("way", ["done", "offer"])
def test_what_is_sent_twice_is_done_once(client, engine, session, world, way):
    one = a_round(session, world.ids["Ada Brandt"])
    page = f"/rounds/{one}"
    values = guards(client, f"{page}/{way}", page)
    assert_acts_once(client, engine, f"{page}/{way}", values | ({"done_on": "10 Apr 2027"} if way == "done" else {}))


def test_a_round_is_given_once_and_rounds_are_shared_out_once(client, engine, session, world):
    one = a_round(session, world.ids["Ada Brandt"])
    page = f"/rounds/{one}/give"
    values = form_values(client.get(page).text) | {"grower_id": str(world.ids["Tomas Keel"])}
    assert_acts_once(client, engine, page, values)
    page = "/rounds/share?every=1"
    assert_acts_once(client, engine, page, form_values(client.get(page).text))


def test_done_by_somebody_else_meanwhile_is_shown_before_it_is_overwritten(app, client, session, world):
    one = a_round(session, world.ids["Ada Brandt"])
    ada, page = as_member(app, world, "Ada Brandt"), f"/rounds/{one}"
    late = form_values(client.get(page).text, -1) | {"note": "Done by the coordinator"}
    ada.post(f"{page}/done", data=form_values(ada.get(page).text, -1) | {"note": "Pan 2 leaks"})
    answer = client.post(f"{page}/done", data=late)
    assert answer.status_code == 409
    assert "Pan 2 leaks" in words(answer.text)
    assert now(session, one).note == "Pan 2 leaks"


def test_a_round_is_done_at_the_bench_tablet_by_whose_it_is(app, engine, session, world):
    with Session(engine) as fresh:
        who = add_account(fresh, "Ada Brandt", Role.MEMBER, world.ids["Ada Brandt"]).id
        token = add_bench(fresh, "Tablet")
        values = {"account_id": who, "acting_until": time.time() + 60}
        fresh.execute(update(SignIn).where(SignIn.token == digest_of(token)).values(values))
        fresh.commit()
    tablet = app.test_client()
    with tablet.session_transaction() as cookie:
        cookie["token"] = token
    mine, other = a_round(session, world.ids["Ada Brandt"]), a_round(session, world.ids["Ines Moreau"], SOWN)
    start = tablet.get("/bench")
    assert "Today’s care round is yours." in words(start.text)
    assert f"/rounds/{mine}" in links(start.text)
    values = form_values(tablet.get(f"/rounds/{mine}").text, -1)
    assert tablet.post(f"/rounds/{mine}/done", data=values).location == f"/rounds/{mine}"
    assert (now(session, mine).done_on, now(session, mine).done_by_id) == (TODAY, world.ids["Ada Brandt"])
    assert tablet.post(f"/rounds/{other}/done", data=values).status_code == 403
    assert tablet.get(f"/rounds/{other}").status_code == 200
