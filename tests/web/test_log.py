"""Logging by tray, by cell, by sowing and for many at once; corrections; the whole log."""

import csv
import io
import re
import time

import pytest
from sqlalchemy import func, select, update

from app.core.words import CellState, LogKind, Role
from app.extensions import db
from app.services.accounts import add_bench, digest_of
from app.storage import Session
from app.storage.models import Cell, Grower, LogEntry, SignIn, Sowing, Tray
from app.storage.queries.log import count_entries
from app.web.access import TOKEN
from tests.people import sign_in_as
from tests.web.dealt import tomatoes
from tests.web.filling import errors_of, form_values, guards, send
from tests.web.pages import read_page
from tests.web.seasons import links, words

# Of 40 plants in each tray of the tomatoes, as in tests/web/dealt.py.
CELLS = 53
TODAY_TYPED, TOMORROW_TYPED = "10 Apr 2027", "11 Apr 2027"


@pytest.fixture
def made(engine):
    with Session(engine) as session:
        return tomatoes(session)


def entries(engine):
    with Session(engine) as session:
        return [
            (one.kind, one.count, one.date.isoformat(), one.tray_id is not None, one.supersedes_id is not None)
            for one in session.scalars(select(LogEntry).order_by(LogEntry.id))
        ]


def states(engine, number):
    with Session(engine) as session:
        query = select(Cell.state, func.count()).join(Tray).where(Tray.number == number, Cell.sowing_id.is_not(None))
        return dict(session.execute(query.group_by(Cell.state)).all())


def log(client, path, **changes):
    answer = send(client, path, **changes)
    assert answer.status_code == 302, words(answer.text)
    return words(client.get(answer.location).text)


def take_back(client, engine, made):
    """Take back the first entry, on the page of its sowing."""
    with Session(engine) as session:
        path = f"/log/{session.scalar(select(func.min(LogEntry.id)))}/take-back"
    return client.post(path, data=guards(client, path, f"/sowings/{made.sowings[0]}/log"))


def count_of(sowing):
    return f"count_{sowing}"


def as_member(client, engine, grower):
    with Session(engine) as session:
        name = session.get_one(Grower, grower).name
    sign_in_as(client, f"{name} herself", Role.MEMBER, grower)
    return client


def growers_of(engine, made):
    with Session(engine) as session:
        return [session.get_one(Sowing, one).grower_id for one in made.sowings]


# ---------------------------------------------------------------- a tray


def test_a_tray_is_logged_as_sown_with_what_stands_there_already(client, engine, made):
    """Two taps: the button on the tray's page, and the one that saves."""
    assert "/trays/1/log" in links(client.get("/T/1", follow_redirects=True).text)
    said = log(client, "/trays/1/log")
    assert f"Logged: tray 1, Tomato of Ada Brandt, sown, {CELLS} cells, Sat 10 Apr" in said
    assert entries(engine) == [(LogKind.SOWN, CELLS, "2027-04-10", True, False)]
    assert states(engine, 1) == {CellState.SOWN: CELLS}


def test_what_comes_next_is_asked_first_with_the_count_to_be_expected(client, engine, made):
    """Of 53 cells with two seeds at 70 %, 1 - 0.3 * 0.3 = 91 % come up: 48.23."""
    log(client, "/trays/1/log")
    page = client.get("/trays/1/log").text
    assert 'aria-current="page">Up<' in page
    assert form_values(page)[count_of(made.sowings[0])] == ["48"]
    assert "53 cells sown Sat 10 Apr" in words(page)


def test_every_kind_can_be_logged_of_a_tray(client, engine, made):
    sowing = count_of(made.sowings[0])
    log(client, "/trays/1/log?kind=sown")
    log(client, "/trays/1/log?kind=up", **{sowing: "45"})
    log(client, "/trays/1/log?kind=thinned", **{sowing: "45"})
    log(client, "/trays/1/log?kind=lost", **{sowing: "5", "cause": "damping off"})
    log(client, "/trays/1/log?kind=handed out", **{sowing: "40"})
    log(client, "/trays/1/log?kind=planted out", **{sowing: "38"})
    kinds = [LogKind.SOWN, LogKind.UP, LogKind.THINNED, LogKind.LOST, LogKind.HANDED_OUT, LogKind.PLANTED_OUT]
    assert [one[0] for one in entries(engine)] == kinds
    page = words(client.get(f"/sowings/{made.sowings[0]}/log").text)
    assert "5 plants lost, by damping off" in page


def test_one_form_logs_several_sowings_of_a_tray_or_some_of_them(client, engine):
    with Session(engine) as session:
        made = tomatoes(session, plants=12)
    page = client.get("/trays/1/log").text
    values = form_values(page)
    mine = [one for one in made.sowings if count_of(one) in values]
    assert len(mine) > 1
    assert all(f"take_{one}" in values for one in mine)
    answer = client.post("/trays/1/log", data=values | {f"take_{mine[0]}": []})
    assert answer.status_code == 302
    assert len(entries(engine)) == len(mine) - 1


def test_the_cells_that_came_up_are_ticked(client, engine, made):
    log(client, "/trays/1/log")
    page = client.get("/trays/1/log?kind=up&by=cell").text
    ticked = form_values(page)["cells"]
    assert len(ticked) == CELLS
    log(client, "/trays/1/log?kind=up&by=cell", cells=ticked[:40])
    assert states(engine, 1) == {CellState.UP: 40, CellState.SOWN: CELLS - 40}
    assert entries(engine)[-1][:2] == (LogKind.UP, 40)
    assert form_values(client.get("/trays/1/log?kind=lost&by=cell").text).get("cells", []) == []
    log(client, "/trays/1/log?kind=lost&by=cell&ticked=all", cells=ticked[:3], cause="mice")
    assert states(engine, 1)[CellState.LOST] == 3


def test_no_cell_ticked_and_a_cell_of_nobody_are_refused(client, engine, made):
    log(client, "/trays/1/log")
    path = "/trays/1/log?kind=up&by=cell"
    assert "Tick at least one cell" in errors_of(send(client, path, cells=None).text)["cells"]
    assert "not on the list" in errors_of(send(client, path, cells=["6-12"]).text)["cells"]
    assert len(entries(engine)) == 1


# ---------------------------------------------------------------- what cannot be


@pytest.mark.parametrize(
    ("kind", "changes", "field", "said"),
    [
        ("sown", {"count": "60"}, "count", "It has 53 cells in this tray"),
        ("sown", {"day": TOMORROW_TYPED}, "day", "This day has not come yet"),
        ("up", {"count": "54"}, "count", "53 cells were sown, so no more can be up"),
        ("up", {"day": "9 Apr 2027"}, "day", "It was sown on Saturday 10 April 2027"),
        ("lost", {"count": "54"}, "count", "no more in all can be lost"),
        ("handed out", {"count": "1000"}, "count", "no more can leave the shelves"),
        ("up", {"count": ""}, "count", "Enter how many"),
        ("up", {"count": "many"}, "count", "whole number"),
        ("up", {"day": "31 Feb"}, "day", ""),
    ],
)
def test_what_cannot_be_is_said_beside_its_field_and_the_filled_form_is_kept(
    client, engine, made, kind, changes, field, said
):
    sowing = count_of(made.sowings[0])
    if kind != "sown":
        log(client, "/trays/1/log")
    before = entries(engine)
    named = {sowing if name == "count" else name: value for name, value in changes.items()}
    answer = send(client, f"/trays/1/log?kind={kind}", note="by the door", **named)
    assert answer.status_code == 200
    assert said in errors_of(answer.text)[sowing if field == "count" else field]
    assert entries(engine) == before
    kept = form_values(answer.text)
    assert kept["note"] == ["by the door"]
    assert all(kept[name] == [value] for name, value in named.items())


def test_up_before_it_is_sown_is_refused_in_words(client, engine, made):
    answer = send(client, "/trays/1/log?kind=up", **{count_of(made.sowings[0]): "3"})
    assert "not written down as sown yet" in " ".join(errors_of(answer.text).values())
    assert entries(engine) == []


def test_of_two_who_log_the_same_the_second_is_told(client, engine, made):
    values = form_values(client.get("/trays/1/log").text)
    log(client, "/trays/1/log")
    answer = client.post("/trays/1/log?kind=sown", data=values)
    assert answer.status_code == 409
    assert "Logged meanwhile" in words(answer.text)
    assert len(entries(engine)) == 1


def test_a_form_that_somebody_else_typed_is_not_saved_under_another_name(client, engine, made):
    values = form_values(client.get("/trays/1/log").text)
    sign_in_as(client, "Somebody Else")
    token = form_values(client.get("/trays/1/log").text)["csrf_token"]
    answer = client.post("/trays/1/log", data=values | {"csrf_token": token})
    assert answer.status_code == 409
    assert "Somebody else typed this" in words(answer.text)
    assert entries(engine) == []
    assert client.post("/trays/1/log", data=form_values(answer.text)).status_code == 302


def test_a_form_sent_twice_makes_one_entry_and_both_are_answered_alike(client, engine, made):
    values = form_values(client.get("/trays/1/log").text)
    first, again = (client.post("/trays/1/log", data=values) for _ in range(2))
    assert (first.status_code, first.location) == (again.status_code, again.location)
    assert len(entries(engine)) == 1


def test_a_script_is_told_that_it_is_saved_and_where_it_leads(client, engine, made):
    values, told = form_values(client.get("/trays/1/log").text), {"Traymates-Waits": "yes"}
    for _ in range(2):
        answer = client.post("/trays/1/log", data=values, headers=told)
        assert (answer.status_code, answer.headers["Traymates-Saved"]) == (204, "/trays/1")
    assert len(entries(engine)) == 1
    wrong = form_values(client.get("/trays/1/log?kind=up").text) | {"day": "x"}
    answer = client.post("/trays/1/log?kind=up", data=wrong, headers=told)
    assert answer.status_code == 200
    assert "Traymates-Saved" not in answer.headers


# ---------------------------------------------------------------- a sowing


def test_a_whole_sowing_is_logged_with_seeds_and_seed_lot(client, engine, made):
    path = f"/sowings/{made.sowings[0]}/log"
    log(client, path, **{f"seeds_{made.sowings[0]}": "106"})
    with Session(engine) as session:
        [entry] = session.scalars(select(LogEntry))
        assert (entry.count, entry.seeds, entry.tray_id) == (CELLS, 106, None)
    assert states(engine, 1) == {CellState.SOWN: CELLS}
    assert "53 cells sown, 106 seeds" in words(client.get(path).text)


def test_a_correction_supersedes_and_both_stay_readable(client, engine, made):
    log(client, "/trays/1/log")
    with Session(engine) as session:
        first = session.scalars(select(LogEntry.id)).one()
    said = log(client, f"/log/{first}/correct", count="50", day="9 Apr")
    assert "50 cells sown" in said
    assert "53 cells sown" in said
    assert re.search(r"corrected by E-\d+", said)
    assert re.search(r"corrects E-\d+", said)
    assert states(engine, 1) == {CellState.SOWN: 50, CellState.EMPTY: 3}
    again = client.get(f"/log/{first}/correct")
    assert again.status_code == 302
    assert "was corrected already" in words(client.get(again.location).text)


def test_an_entry_is_taken_back_and_stays_readable(client, engine, made):
    log(client, "/trays/1/log")
    answer = take_back(client, engine, made)
    said = words(client.get(answer.location).text)
    assert re.search(r"taken back by E-\d+", said)
    assert "53 cells sown" in said
    assert states(engine, 1) == {CellState.EMPTY: CELLS}


def test_what_later_entries_rest_on_is_not_taken_back(client, engine, made):
    log(client, "/trays/1/log")
    log(client, "/trays/1/log")
    answer = take_back(client, engine, made)
    assert answer.status_code == 409
    assert "was not taken back" in words(answer.text)
    assert len(entries(engine)) == 2


# ---------------------------------------------------------------- many at once


def test_a_sowing_day_is_logged_on_one_page(client, engine, made):
    page = client.get("/log?kind=sown&day=2027-05-01").text
    values = form_values(page)
    assert all(values[f"take_{one}"] == ["y"] for one in made.sowings)
    said = log(client, "/log?kind=sown&day=2027-05-01")
    assert f"Logged: 3 sowings, sown, {3 * CELLS} cells, Sat 10 Apr" in said
    assert [one[:2] for one in entries(engine)] == [(LogKind.SOWN, CELLS)] * 3
    assert "Nothing waits for this" in said


def test_the_same_is_logged_for_some_of_many(client, engine, made):
    log(client, "/log?kind=sown&day=2027-05-01")
    values = form_values(client.get("/log?kind=up").text)
    assert not any(f"take_{one}" in values for one in made.sowings)
    assert "Nothing is ticked yet" in words(client.post("/log?kind=up", data=values).text)
    answer = client.post("/log?kind=up", data=values | {f"take_{made.sowings[1]}": "y"})
    assert answer.status_code == 302
    assert [one[0] for one in entries(engine)] == [LogKind.SOWN] * 3 + [LogKind.UP]


def test_of_many_nothing_is_saved_if_one_cannot_be(client, engine, made):
    answer = send(client, "/log?kind=sown&day=2027-05-01", **{count_of(made.sowings[2]): "0"})
    assert answer.status_code == 200
    assert entries(engine) == []


def test_what_was_logged_meanwhile_is_said_and_the_others_stay(client, engine, made):
    values = form_values(client.get("/log?kind=sown&day=2027-05-01").text)
    log(client, "/trays/1/log")
    answer = client.post("/log?kind=sown&day=2027-05-01", data=values)
    assert answer.status_code == 409
    assert "Logged meanwhile" in words(answer.text)
    assert len(entries(engine)) == 1
    assert client.post("/log?kind=sown&day=2027-05-01", data=form_values(answer.text)).status_code == 302
    assert len(entries(engine)) == 3


def test_a_day_that_there_is_not_leads_nowhere(client, made):
    assert client.get("/log?day=2027-02-30").status_code == 404
    assert client.get("/log?day=today").status_code == 404
    assert client.get("/log?kind=eaten").status_code == 200


# ---------------------------------------------------------------- who may


def test_a_member_logs_their_own_and_nothing_of_others(client, engine, made):
    growers = growers_of(engine, made)
    as_member(client, engine, growers[0])
    log(client, "/trays/1/log")
    assert client.get("/trays/2/log").status_code == 403
    assert client.get(f"/sowings/{made.sowings[1]}/log").status_code == 403
    values = form_values(client.get("/log?kind=up").text)
    assert [name for name in values if name.startswith("count_")] == [count_of(made.sowings[0])]
    other = {count_of(made.sowings[1]): "3", f"take_{made.sowings[1]}": "y"}
    assert client.post("/log?kind=up", data=values | other).status_code == 403
    with Session(engine) as session:
        [entry] = session.scalars(select(LogEntry))
        assert entry.grower_id == growers[0]


def test_a_member_sees_only_their_own_in_a_shared_tray(client, engine):
    with Session(engine) as session:
        made = tomatoes(session, plants=12)
    as_member(client, engine, growers_of(engine, made)[1])
    values = form_values(client.get("/trays/1/log").text)
    assert [name for name in values if name.startswith("count_")] == [count_of(made.sowings[1])]
    assert "Ines Moreau" in words(client.get("/trays/1/log?by=cell").text)


def test_a_coordinator_writes_down_what_a_member_did_by_one_tap_more(client, engine, made):
    values = form_values(client.get("/trays/1/log").text)
    assert client.post("/trays/1/log", data=values | {"by_grower": "y"}).status_code == 302
    said = words(client.get(f"/sowings/{made.sowings[0]}/log").text)
    assert "Ada Brandt, typed by Odile Brandt" in said


def test_at_the_bench_a_member_logs_and_is_led_back_to_their_trays(client, app, engine, made):
    account = sign_in_as(client, "Ada Brandt", Role.MEMBER, growers_of(engine, made)[0])
    with app.app_context():
        token = add_bench(db.session, "Test")
        values = {"account_id": account, "acting_until": time.time() + 60}
        db.session.execute(update(SignIn).where(SignIn.token == digest_of(token)).values(values))
        db.session.commit()
    with client.session_transaction() as session:
        session[TOKEN] = token
    assert "/log" in links(client.get("/bench").text)
    answer = send(client, "/trays/1/log")
    assert answer.location == "/bench"
    assert "Logged: tray 1" in words(client.get("/bench").text)
    assert client.get("/trays/2/log").status_code == 403


# ---------------------------------------------------------------- the whole log


def test_a_member_finds_what_was_logged_of_their_own_sowings_and_nothing_else(client, app, engine, made):
    log(client, "/log?kind=sown&day=2027-05-01")
    own, other = growers_of(engine, made)[:2]
    with Session(engine) as session:
        names = {grower.id: grower.name for grower in session.scalars(select(Grower))}
        counts = {who: count_entries(session, whose_id=who) for who in (own, other)}
    assert all(counts.values())
    member = as_member(app.test_client(), engine, own)
    for address in ("/log/entries", f"/log/entries?grower={other}"):
        page = member.get(address).text
        assert len([row for row in read_page(page).all("th") if row.attributes.get("scope") == "row"]) == counts[own]
        assert names[other] not in page
        lines = list(csv.DictReader(io.StringIO(member.get(address.replace("entries", "entries.csv")).text)))
        assert {line["grower"] for line in lines} == {names[own]}
        assert len(lines) == counts[own]
    assert 'href="/log/entries"' in member.get("/log").text


def test_the_whole_log_is_listed_filtered_and_handed_out(client, engine, made):
    log(client, "/log?kind=sown&day=2027-05-01")
    log(client, "/trays/1/log?kind=up", note="=1+1")
    page = client.get("/log/entries").text
    assert len([row for row in read_page(page).all("th") if row.attributes.get("scope") == "row"]) == 4
    grower = growers_of(engine, made)[1]
    assert words(client.get(f"/log/entries?grower={grower}").text).count("Sat 10 Apr") == 1
    assert "cells up" in words(client.get("/log/entries?kind=up").text)
    lines = list(csv.DictReader(io.StringIO(client.get("/log/entries.csv").text)))
    assert [line["kind"] for line in lines] == ["sown", "sown", "sown", "up"]
    assert not lines[3]["note"].startswith("=")
    assert re.fullmatch(r"'?=1\+1", lines[3]["note"])
    assert len(list(csv.DictReader(io.StringIO(client.get("/log/entries.csv?kind=up").text)))) == 1
