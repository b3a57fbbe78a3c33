"""Calendars that fetch dates: who gets which, what changes when dates move, and what an ended address says.

The judge of what a calendar makes of an answer is vobject, which has no part in making it. Names are invented.
"""

import re
import time
from datetime import date, timedelta
from types import SimpleNamespace

import pytest
import vobject
from sqlalchemy import delete, select, update
from sqlalchemy.orm import Session

from app.core.words import Role
from app.extensions import db
from app.services import plan
from app.services.feeds import KEPT_CANCELLED_S, make_feed
from app.storage.models import Account, CareRound, Feed, FeedEvent, Sowing
from tests import rows
from tests.people import add_account, sign_in_as
from tests.web.filling import guards
from tests.web.seasons import Statements, words

NOT_FOUND, FORBIDDEN, FOUND, NOT_MODIFIED = 404, 403, 302, 304
MAKE, END = "/calendar/address", "/calendar/end"
SOW, UP, HARDEN, OUT = date(2027, 5, 1), date(2027, 5, 7), date(2027, 6, 12), date(2027, 6, 19)


@pytest.fixture
def garden(engine):
    """Return the ids of two growers' tomatoes; the dates are those of tests/web/seasons.py."""
    with Session(engine) as session:
        rows.garden(session)
        rows.shelf(session)
        crop = rows.crop(session, box=rows.container(session))
        ada, ines = rows.grower(session, "Ada Brandt"), rows.grower(session, "Ines, Moreau; the \N{SEEDLING}")
        sowings = [rows.sowing(session, ada, crop, "S-1", variety="Tiny"), rows.sowing(session, ines, crop, "S-2")]
        session.add(CareRound(date=date(2027, 5, 8), grower_id=ada.id, is_offered=False, is_swapped=False))
        session.commit()
        return SimpleNamespace(ada=ada.id, ines=ines.id, sowings=[one.id for one in sowings], crop=crop.id)


@pytest.fixture
def member(app, client, garden):
    """Return a client of the member Ada Brandt."""
    client = app.test_client()
    client.account_id = sign_in_as(client, "Ada Brandt", Role.MEMBER, garden.ada)
    return client


def make_address(client, dates="mine"):
    """Return the path of a feed that a client has made by its page."""
    answer = client.post(MAKE, data=guards(client, MAKE, "/calendar") | {"dates": dates})
    assert answer.status_code == 200
    assert answer.headers["Cache-Control"] == "no-store"
    return re.search(r"/calendar/feed/[\w-]{43}\.ics", answer.text)[0]


def events_of(answer):
    """Return the events of an answer, by heading and day."""
    assert answer.status_code == 200, answer.text
    assert answer.headers["Content-Type"] == "text/calendar; charset=utf-8"
    calendar = vobject.readOne(answer.get_data().decode())
    return {(one.summary.value, one.dtstart.value): one for one in calendar.contents.get("vevent", [])}


def signs(events):
    """Return uid, number, date of change and state of each event, by heading and day."""
    return {
        key: (one.uid.value, int(one.sequence.value), one.last_modified.value, one.status.value)
        for key, one in events.items()
    }


def forget_kept(app):
    """Let a feed be made anew, though nothing has changed by which the program would."""
    app.extensions["kept_pages"]._pages.clear()


def move(engine, sowing_id, **changes):
    with Session(engine) as session:
        row = session.get_one(Sowing, sowing_id)
        for name, value in changes.items():
            setattr(row, name, value)
        session.commit()


def test_a_grower_gets_each_step_and_their_rounds_and_nothing_of_others(app, member):
    events = events_of(app.test_client().get(make_address(member)))
    assert set(events) == {
        ("Sow: Tomato, Tiny, 9 cells", SOW),
        ("Look for seedlings: Tomato, Tiny, 9 cells", UP - timedelta(days=2)),
        ("Uncover: Tomato, Tiny, 9 cells", UP),
        ("Thin: Tomato, Tiny, 9 cells", UP + timedelta(days=7)),
        ("Harden off: Tomato, Tiny, 6 plants", HARDEN),
        ("Collect: Tomato, Tiny, 6 plants", OUT),
        ("Care round: water and air", date(2027, 5, 8)),
    }
    assert len({one.uid.value for one in events.values()}) == len(events)


@pytest.mark.parametrize(("role", "named"), [(Role.MEMBER, False), (Role.COORDINATOR, True)])
def test_the_gardens_feed_names_growers_to_coordinators_alone(app, client, member, engine, role, named):
    who = client if role is Role.COORDINATOR else member
    path = make_address(who, "garden")
    answer = app.test_client().get(path)
    events = events_of(answer)
    assert ("Sow: 2 sowings, 18 cells", SOW) in events
    told = " ".join(one.description.value for one in events.values() if hasattr(one, "description"))
    assert ("Ines, Moreau; the \N{SEEDLING}: Tomato, 9 cells" in told) is named
    assert any("Ada" in part for part in (answer.text,)) is named
    file = who.get("/calendar/garden.ics")
    assert ("Ines" in file.text) is named
    with Session(engine) as session:  # who is one no longer gets no names by an address of before
        session.execute(update(Account).values(role=Role.MEMBER))
        session.commit()
    assert "Ines" not in app.test_client().get(path).text


def test_what_is_as_it_was_keeps_everything_and_is_not_sent_again(app, member):
    path, calendar = make_address(member), app.test_client()
    first = calendar.get(path)
    again = calendar.get(path, headers={"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.get_data()) == (NOT_MODIFIED, b"")
    assert calendar.get(path).get_data() == first.get_data()


def test_a_date_that_moves_keeps_its_id_and_gets_the_next_number_and_no_other_event_does(app, member, engine, garden):
    path, calendar = make_address(member), app.test_client()
    old = calendar.get(path)
    before = signs(events_of(old))
    with Session(engine) as session:
        session.execute(update(FeedEvent).values(changed_at=time.time() - 60))
        session.commit()
    forget_kept(app)
    before = signs(events_of(calendar.get(path)))
    move(engine, garden.sowings[0], plant_out=date(2027, 6, 26))
    answer = calendar.get(path, headers={"If-None-Match": old.headers["ETag"]})
    after = signs(events_of(answer))
    by_uid = {sign[0]: (key, *sign[1:]) for key, sign in before.items()}
    moved = set()
    for key, (uid, number, changed, status) in after.items():
        was, was_number, was_changed, _ = by_uid.pop(uid)
        assert was[0] == key[0], "the id of another event"
        assert status == "CONFIRMED"
        if was == key:
            assert (number, changed) == (was_number, was_changed)
        else:
            moved.add(key[0])
            assert number == was_number + 1
            assert changed > was_changed
    assert by_uid == {}
    assert "Collect: Tomato, Tiny, 6 plants" in moved
    assert "Care round: water and air" not in moved
    # Of somebody else's sowing nothing shows here.
    move(engine, garden.sowings[1], plant_out=date(2027, 7, 3))
    assert signs(events_of(calendar.get(path))) == after


def test_what_goes_is_told_as_cancelled_for_a_month_and_can_come_back(app, member, engine, garden):
    path, calendar = make_address(member), app.test_client()
    before = signs(events_of(calendar.get(path)))
    round_of = ("Care round: water and air", date(2027, 5, 8))
    with Session(engine) as session:
        session.execute(delete(CareRound))
        session.commit()
    after = signs(events_of(calendar.get(path)))
    assert after[round_of][0] == before[round_of][0]
    assert after[round_of][1:2] + after[round_of][3:] == (before[round_of][1] + 1, "CANCELLED")
    assert {k: v for k, v in after.items() if k != round_of} == {k: v for k, v in before.items() if k != round_of}
    assert signs(events_of(calendar.get(path))) == after
    with Session(engine) as session:
        session.add(CareRound(date=round_of[1], grower_id=garden.ada, is_offered=False, is_swapped=False))
        session.commit()
    back = signs(events_of(calendar.get(path)))
    assert (back[round_of][0], back[round_of][1], back[round_of][3]) == (before[round_of][0], 2, "CONFIRMED")
    with Session(engine) as session:
        session.execute(delete(CareRound))
        session.commit()
    calendar.get(path)
    with Session(engine) as session:
        session.execute(update(FeedEvent).values(changed_at=FeedEvent.changed_at - KEPT_CANCELLED_S - 1))
        session.commit()
    forget_kept(app)
    assert round_of not in events_of(calendar.get(path))
    with Session(engine) as session:
        assert session.scalars(select(FeedEvent).where(FeedEvent.is_cancelled)).all() == []


def test_a_sowing_that_is_removed_is_cancelled(app, member, engine, garden):
    path, calendar = make_address(member), app.test_client()
    before = signs(events_of(calendar.get(path)))
    with Session(engine) as session:
        session.delete(session.get_one(Sowing, garden.sowings[0]))
        session.commit()
    after = signs(events_of(calendar.get(path)))
    assert set(after) == set(before)
    for key, (uid, number, _, status) in after.items():
        is_round = key[0].startswith("Care round")
        assert (uid, number, status) == (before[key][0], 0 if is_round else 1, "CONFIRMED" if is_round else "CANCELLED")


def test_file_feed_and_single_event_know_an_event_by_one_id(app, member, garden):
    fed = signs(events_of(app.test_client().get(make_address(member))))
    file = member.get(f"/calendar/growers/{garden.ada}.ics")
    assert file.headers["Content-Disposition"] == "attachment; filename=my-dates.ics"
    assert signs(events_of(file)) == fed
    single = re.search(r'href="(/calendar/growers/\d+\.ics\?event=[^"]+)"', member.get("/calendar").text)[1]
    one = signs(events_of(member.get(single.replace("&amp;", "&"))))
    assert len(one) == 1
    assert one.items() <= fed.items()
    assert member.get(f"/calendar/growers/{garden.ada}.ics?event=none").status_code == NOT_FOUND
    assert member.get(f"/calendar/growers/{garden.ines}.ics").status_code == FORBIDDEN


def test_a_feed_without_a_garden_leads_nowhere(app, client, engine):
    path = make_address(client, "garden")
    assert app.test_client().get(path).status_code == NOT_FOUND


def test_an_ended_address_answers_like_one_that_never_was(app, member):
    calendar = app.test_client()
    first = make_address(member)
    second = make_address(member)  # made anew, the one before ends
    assert calendar.get(second).status_code == 200
    assert "End it" in member.get("/calendar").text
    ending = {"dates": "mine"}
    assert member.post(END, data=guards(member, END, "/calendar") | ending).status_code == FOUND
    unknown = re.sub(r"[\w-]{43}", "n" * 43, first)
    answers = [calendar.get(path) for path in (first, second, unknown, "/calendar/feed/x.ics")]
    assert {answer.status_code for answer in answers} == {NOT_FOUND}
    assert len({re.sub(r"[0-9a-f]{16}|back=[^\"]*", "", answer.text) for answer in answers}) == 1
    make_address(member, "garden")
    assert member.post(END, data=guards(member, END, "/calendar") | ending).status_code == NOT_FOUND


def test_an_address_goes_with_its_account_and_with_its_grower(app, member, engine):
    path, calendar = make_address(member), app.test_client()
    with Session(engine) as session:
        session.execute(update(Account).where(Account.id == member.account_id).values(grower_id=None))
        session.commit()
    assert calendar.get(path).status_code == NOT_FOUND
    with Session(engine) as session:
        session.delete(session.get_one(Account, member.account_id))
        session.commit()
    with Session(engine) as session:
        assert session.scalars(select(Feed)).all() == []


def test_an_address_is_kept_as_a_digest_and_shown_once(app, member, engine):
    path = make_address(member)
    token = path.rpartition("/")[2].removesuffix(".ics")
    assert token not in member.get("/calendar").text
    assert token not in member.get("/account/export.json").text
    with Session(engine) as session:
        assert token not in repr([vars(row) for row in session.scalars(select(Feed))])


def test_the_page_says_how_far_it_reaches_and_when_it_was_fetched(app, member):
    said = words(member.get("/calendar").text)
    assert "Online calendars fetch from their own servers, and those cannot see a computer in a shed" in said
    assert "some once a day" in said
    assert "Only this computer could fetch it now." in said
    path = make_address(member)
    assert "not fetched yet" in words(member.get("/calendar").text)
    app.test_client().get(path)
    assert "last fetched" in words(member.get("/calendar").text)


def test_dates_take_few_queries_once_they_were_told(app, member, garden):
    """As many as a page may take, with everything made anew, and one more for the language of whose they are."""
    calendar = app.test_client()
    asked = [(calendar, make_address(member)), (calendar, make_address(member, "garden"))]
    asked += [(member, "/calendar/garden.ics"), (member, f"/calendar/growers/{garden.ada}.ics")]
    statements, counts = Statements(app), {}
    for client, path in asked:
        client.get(path)
        forget_kept(app)
        plan._Keeper.kept = None
        statements.clear()
        assert client.get(path).status_code == 200
        counts[path] = len(statements)
    assert {path: count for path, count in counts.items() if not 0 < count <= 15} == {}


def test_an_address_of_the_demos_account_is_for_its_own_machine(app, client, engine, garden):
    with Session(engine) as session:
        add_account(session, "Demo", Role.COORDINATOR, garden.ada).is_demo = True
        session.commit()
    with app.app_context():
        demo = db.session.scalar(select(Account.id).where(Account.is_demo))
        token = make_feed(db.session, demo, whole_garden=False)
        db.session.commit()
    calendar = app.test_client()
    assert calendar.get(f"/calendar/feed/{token}.ics").status_code == 200
    far = calendar.get(f"/calendar/feed/{token}.ics", base_url="http://192.168.1.20:5000")
    assert far.status_code == NOT_FOUND


def test_a_calendar_in_another_language_has_the_same_events_by_the_same_signs(app, client, engine, member):
    path = make_address(member)
    english = events_of(app.test_client().get(path))
    with Session(engine) as session:
        session.execute(update(Account).where(Account.id == member.account_id).values(language="fr"))
        session.commit()
        told = [(row.key, row.digest, row.summary) for row in session.scalars(select(FeedEvent))]
    french = events_of(app.test_client().get(path))
    assert sorted(signs(french).values()) == sorted(signs(english).values())
    assert not {heading for heading, _day in french} & {heading for heading, _day in english}
    assert any("Tomate" in heading for heading, _day in french)
    with Session(engine) as session:
        assert [(row.key, row.digest, row.summary) for row in session.scalars(select(FeedEvent))] == told
