"""A clock that has gone back behind what was written down is told to those who can set it."""

import time
from dataclasses import replace
from datetime import date

import pytest

from app import create_app
from app.core.house.label_sheets import LabelKind
from app.core.words import Role, Via
from app.extensions import db
from app.services.clock_fault import SLACK_S, find_clock_fault
from app.storage.models import History, LabelPrint
from app.web import clock_notice
from tests import rows
from tests.people import sign_in_as

TOLD = "Do not trust the dates here"
DAY_S = 86_400


@pytest.fixture(autouse=True)
def asked_each_time(monkeypatch):
    monkeypatch.setattr(clock_notice, "LOOK_EVERY_S", 0.0)


@pytest.fixture
def garden(app):
    with app.app_context():
        rows.garden(db.session)
        db.session.commit()


def write_down(app, at):
    with app.app_context():
        db.session.add(
            History(at=at, via=Via.PAGE, noun="grower", subject="Ann", subject_id=1, action="changed", changes=[])
        )
        db.session.commit()


def test_coordinators_are_told_on_the_first_page_and_everything_else_goes_on(app, client, garden):
    assert TOLD not in client.get("/").text
    write_down(app, time.time() + 3 * DAY_S)
    page = client.get("/").text
    assert TOLD in page
    assert "something was written down on" in page
    assert client.get("/growers/new").status_code == 200
    member = app.test_client()
    sign_in_as(member, "Tomas Keel", Role.MEMBER)
    assert TOLD not in member.get("/").text


def test_a_page_that_was_kept_while_the_clock_was_right_is_not_shown_then(app, client, garden):
    assert TOLD not in client.get("/").text
    assert TOLD not in client.get("/").text
    write_down(app, time.time() + DAY_S)  # the history leaves the mark of the data alone
    assert TOLD in client.get("/").text


def test_the_clock_that_is_set_right_is_believed_again(app, client, garden, monkeypatch):
    write_down(app, time.time() + DAY_S)
    assert TOLD in client.get("/").text
    real = time.time
    monkeypatch.setattr(time, "time", lambda: real() + DAY_S + 60)
    assert TOLD not in client.get("/").text


def test_what_servers_clocks_differ_by_is_no_fault(session):
    session.add(History(at=1e9, via=Via.PAGE, noun="a", subject="a", subject_id=1, action="a", changes=[]))
    session.flush()
    assert find_clock_fault(session, 1e9 - SLACK_S) is None
    assert find_clock_fault(session, 1e9 - SLACK_S - 1).timestamp() == 1e9


def test_nothing_written_down_tells_nothing(session):
    assert find_clock_fault(session, 0.0, date(1970, 1, 1)) is None


def test_a_label_of_a_later_day_counts_unless_the_day_is_fixed(session):
    made_on = date(2027, 4, 10)
    session.add(LabelPrint(number=1, kind=LabelKind.TRAY, address=None, contents="x", made_on=made_on))
    session.flush()
    assert find_clock_fault(session, 1e9, date(2027, 4, 10)) is None
    assert find_clock_fault(session, 1e9, date(2027, 4, 9)).date() == made_on
    assert find_clock_fault(session, 1e9) is None


def test_the_real_clock_alone_is_judged_by_labels(app, garden):
    real = create_app(replace(app.config["SETTINGS"], today=None))
    client = real.test_client()
    sign_in_as(client)
    assert TOLD not in client.get("/").text
    with app.app_context():
        db.session.add(LabelPrint(number=1, kind=LabelKind.TRAY, address=None, contents="x", made_on=date(2999, 1, 1)))
        db.session.commit()
    assert TOLD in client.get("/").text
