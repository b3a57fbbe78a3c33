"""Coming in and being put out again: passphrases, one-time links, the demo's account, and the bench tablet.

What is asked of it: OWASP ASVS 5.0.0, V7.2 to V7.4 (sessions), V6.3.1 (guessing).
"""

import re
import threading
import time

import pytest
from sqlalchemy import select, update
from sqlalchemy.orm import Session

from app import create_app
from app.core.words import LogKind, SlipKind
from app.extensions import db
from app.services import accounts
from app.services.accounts import MOST_TRIES, TRIES_S, make_slip
from app.settings import Settings
from app.storage.base import Base
from app.storage.models import FailedTry, LogEntry, SignIn, Slip
from tests.conftest import TODAY
from tests.web.filling import form_values, guards, send
from tests.web.roles import BUSY, FORBIDDEN, FOUND, GONE, PASSPHRASE, PIN, TOO_MANY, as_role, fingerprint

ANOTHER = "brown earthen flower pot"
COOKIE = "traymates"
AWAY = [
    "//elsewhere.example",
    "https://elsewhere.example/",
    "/\\elsewhere.example",
    "javascript:alert(1)",
    "/\t/elsewhere.example",
]


def sign_in(client, name="Ada Brandt", passphrase=PASSPHRASE, **more):
    values = form_values(client.get("/sign-in").text, -1)
    return client.post("/sign-in", data=values | {"name": name, "passphrase": passphrase} | more)


def can_enter(client):
    return client.get("/account").status_code == 200


def test_right_name_and_passphrase_let_in_and_nothing_else_does(visitor, world):
    assert sign_in(visitor, passphrase="green tin watering cans").status_code == FORBIDDEN
    assert not can_enter(visitor)
    answer = sign_in(visitor, name="  ADA  brandt ")
    assert (answer.status_code, answer.headers["Location"]) == (FOUND, "/")
    assert can_enter(visitor)


def test_unknown_name_and_wrong_passphrase_are_answered_alike(visitor, world):
    """The same status and page, but for the name itself, and a hash is made for both (ASVS 5.0.0, 6.3.8)."""
    pages, spent = [], []
    for name in ("Ada Brandt", "Nora Nobody"):
        values = form_values(visitor.get("/sign-in").text, -1)
        begin = time.process_time()
        answer = visitor.post("/sign-in", data=values | {"name": name, "passphrase": "not the right one"})
        spent.append(time.process_time() - begin)
        hidden = re.compile(r'<input[^>]*type="hidden"[^>]*>')
        pages.append((answer.status_code, hidden.sub("", answer.text).replace(name, "NAME")))
    assert pages[0] == pages[1]
    assert min(spent) > 0.25 * max(spent)


def test_too_many_wrong_tries_are_refused_by_another_process_too(engine, tmp_path, visitor, world):
    """The count stands in the database: an application that is started anew knows of it."""
    assert_tries_end(visitor)
    url = engine.url.render_as_string(hide_password=False)
    other = create_app(Settings(database_url=url, instance=tmp_path / "other", secret_key="another " * 8, today=TODAY))
    assert sign_in(other.test_client()).status_code == TOO_MANY
    with Session(engine) as session:
        session.execute(update(FailedTry).values(at=FailedTry.at - TRIES_S - 1))
        session.commit()
    assert sign_in(visitor).status_code == FOUND
    with other.app_context():
        db.engine.dispose()


def assert_tries_end(client):
    for _ in range(MOST_TRIES):
        assert sign_in(client, passphrase="wrong " * 3).status_code == FORBIDDEN
    assert sign_in(client).status_code == TOO_MANY, "tries go on without an end"


def test_cookie_from_before_signing_in_is_of_no_use_afterwards(app, visitor, world):
    """No session is taken over that somebody else could know (ASVS 5.0.0, 7.2.4)."""
    visitor.get("/sign-in")
    before = visitor.get_cookie(COOKIE).value
    sign_in(visitor)
    thief = app.test_client()
    thief.set_cookie(COOKIE, before)
    assert not can_enter(thief)
    assert visitor.get_cookie(COOKIE).value != before


@pytest.mark.parametrize("way_out", ["sign out", "everywhere", "role", "erased", "passphrase", "coordinator"])
def test_cookie_is_of_no_use_after_its_end(app, client, visitor, world, way_out):
    assert_copy_ends(app, client, visitor, world, way_out)


def assert_copy_ends(app, client, visitor, world, way_out):
    """Sign in, copy the cookie, end it in some way, and try both."""
    sign_in(visitor)
    copy = app.test_client()
    copy.set_cookie(COOKIE, visitor.get_cookie(COOKIE).value)
    assert can_enter(copy)
    account_id = world.accounts["member"]
    if way_out == "sign out":
        visitor.post("/sign-out", data=form_values(visitor.get("/account").text))
    elif way_out == "everywhere":
        sign_in(app.test_client())
        page = visitor.get("/account").text
        visitor.post("/account/sign-out-everywhere", data=form_values(page, -1))
    elif way_out == "role":
        assert send(client, f"/people/{account_id}/edit", role="coordinator").status_code == FOUND
    elif way_out == "erased":
        assert send(client, f"/people/{account_id}/erase").status_code == FOUND
    elif way_out == "passphrase":
        other = app.test_client()
        sign_in(other)
        new = "brown earthen flower pot"
        answer = send(other, "/account/passphrase", old_passphrase=PASSPHRASE, passphrase=new, again=new)
        assert (answer.status_code, can_enter(other)) == (FOUND, True)
    else:
        assert (
            client.post(
                f"/people/{account_id}/sign-out",
                data=guards(client, f"/people/{account_id}/sign-out", f"/people/{account_id}/edit"),
            ).status_code
            == FOUND
        ), page
    assert not can_enter(copy), "a copy of the cookie lets in after its end"
    assert not can_enter(visitor)


@pytest.mark.parametrize("away", AWAY)
def test_signing_in_leads_nowhere_else(visitor, world, away):
    assert sign_in(visitor, next=away).headers["Location"] == "/"


def test_signing_in_leads_back_to_the_page_that_was_asked_for(visitor, world):
    to = visitor.get("/trays?kind=pots").headers["Location"]
    values = form_values(visitor.get(to).text, -1) | {"name": "Ada Brandt", "passphrase": PASSPHRASE}
    assert visitor.post("/sign-in", data=values).headers["Location"] == "/trays?kind=pots"


# ---------------------------------------------------------------- one-time links


def new_slip(app, world, role="no grower"):
    with app.app_context():
        slip = make_slip(db.session, world.accounts[role])
        db.session.commit()
        return slip


def use(client, token, passphrase=ANOTHER):
    return client.post(
        f"/slips/{token}",
        data=form_values(client.get(f"/slips/{token}").text) | {"passphrase": passphrase, "again": passphrase},
    )


def test_link_preview_uses_no_slip_up(app, engine, visitor, world):
    slip = new_slip(app, world)
    before = fingerprint(engine)
    for method in ("HEAD", "GET", "GET", "OPTIONS"):
        assert app.test_client().open(f"/slips/{slip.token}", method=method).status_code == 200
    assert fingerprint(engine) == before
    assert use(visitor, slip.token).status_code == FOUND
    assert can_enter(visitor)


def test_slip_works_once_and_not_for_ever_and_only_the_newest(app, engine, visitor, world):
    first, second = new_slip(app, world), new_slip(app, world)
    gone = app.test_client()
    assert gone.get(f"/slips/{first.token}").status_code == GONE
    page = form_values(gone.get(f"/slips/{second.token}").text)
    assert use(visitor, second.token).status_code == FOUND
    again = {"passphrase": "another good one", "again": "another good one"}
    assert gone.post(f"/slips/{second.token}", data=page | again).status_code == GONE
    third = new_slip(app, world)
    with Session(engine) as session:
        session.execute(update(Slip).values(expires_at=time.time() - 1))
        session.commit()
    assert app.test_client().get(f"/slips/{third.token}").status_code == GONE


def test_slip_that_two_use_at_once_lets_one_in(app, world):
    slip = new_slip(app, world)
    clients = [app.test_client() for _ in range(4)]
    bodies = [form_values(client.get(f"/slips/{slip.token}").text) for client in clients]
    start, answers = threading.Barrier(len(clients)), []

    def go(client, body, passphrase):
        start.wait()
        answers.append(client.post(f"/slips/{slip.token}", data=body | {"passphrase": passphrase, "again": passphrase}))

    threads = [
        threading.Thread(target=go, args=(client, body, f"brown earthen flower pot {at}"))
        for at, (client, body) in enumerate(zip(clients, bodies, strict=True))
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    statuses = sorted(answer.status_code for answer in answers)
    assert statuses[0] == FOUND
    assert set(statuses[1:]) <= {GONE, BUSY}
    assert [can_enter(client) for client in clients].count(True) == 1


def test_slip_is_kept_as_a_digest_alone(app, engine, world):
    token = new_slip(app, world).token
    with engine.connect() as connection:
        for table in Base.metadata.sorted_tables:
            assert token not in repr(connection.execute(select(table)).all()), table.name


def test_first_start_makes_the_first_coordinator_and_nobody_after(app, engine, visitor):
    """Without an account there is nothing to guess: no name and no passphrase comes with the program."""
    with app.app_context():
        slip = accounts.make_first_slip(db.session)
        db.session.commit()
    assert slip.kind is SlipKind.FIRST
    body = {"name": "Ruth Tan", "passphrase": PASSPHRASE, "again": PASSPHRASE}
    answer = visitor.post(f"/slips/{slip.token}", data=form_values(visitor.get(f"/slips/{slip.token}").text) | body)
    assert answer.status_code == FOUND
    assert visitor.get("/people").status_code == 200
    with app.app_context():
        assert accounts.make_first_slip(db.session) is None


# ---------------------------------------------------------------- the demo's account


FROM_ELSEWHERE = {
    "host": {"base_url": "http://192.168.1.20:5000"},
    "address": {"environ_overrides": {"REMOTE_ADDR": "192.168.1.33"}},
    "forwarded": {"headers": {"X-Forwarded-For": "192.168.1.33"}},
    "forwarded by standard": {"headers": {"Forwarded": "for=192.168.1.33"}},
    "proxy": {"headers": {"Via": "1.1 door"}},
}


@pytest.mark.parametrize("elsewhere", FROM_ELSEWHERE.values(), ids=FROM_ELSEWHERE)
def test_demo_account_lets_in_on_its_own_machine_alone(app, world, elsewhere):
    app.config["WTF_CSRF_ENABLED"] = False
    far, near = app.test_client(), app.test_client()
    assert far.post("/sign-in/demo", **elsewhere).status_code == FORBIDDEN
    assert "Go in as the demo" not in far.get("/sign-in", **elsewhere).text
    assert near.post("/sign-in/demo").status_code == FOUND
    assert can_enter(near)
    far.set_cookie(
        "session",
        near.get_cookie(COOKIE).value,
        domain=elsewhere.get("base_url", "http://localhost").partition("//")[2].partition(":")[0],
    )
    assert far.get("/account", **elsewhere).status_code == FOUND


# ---------------------------------------------------------------- the bench tablet


def begin_bench(app, world):
    client = as_role(app, world, "coordinator")
    assert client.post("/bench/begin", data=form_values(client.get("/bench").text)).status_code == FOUND
    return client


def say_pin(client, account_id, pin=PIN):
    return client.post(f"/bench/{account_id}", data=form_values(client.get(f"/bench/{account_id}").text) | {"pin": pin})


def test_tablet_is_nobodys_until_a_pin_and_again_a_minute_later(app, engine, world):
    tablet = begin_bench(app, world)
    assert tablet.get("/people").headers["Location"] == "/bench"
    assert "Ada Brandt" in tablet.get("/bench").text
    assert tablet.get("/trays/1").headers["Location"] == "/bench"
    assert say_pin(tablet, world.accounts["member"]).status_code == FOUND
    page = tablet.get("/trays/1")
    assert page.status_code == 200
    assert page.headers["Refresh"].endswith("url=/bench")
    assert tablet.get("/account").status_code == FORBIDDEN
    with Session(engine) as session:
        session.execute(update(SignIn).where(SignIn.is_bench).values(acting_until=time.time() - 1))
        session.commit()
    assert tablet.get("/trays/1").headers["Location"] == "/bench"
    assert "Who are you?" in tablet.get("/bench").text


def test_tablet_logs_for_who_is_at_it_and_says_so_in_the_log(app, engine, world):
    tablet = begin_bench(app, world)
    say_pin(tablet, world.accounts["member"])
    path = "/trays/1/filled"
    values = form_values(tablet.get("/trays/1").text)
    assert tablet.post(path, data=values | {"day": "2027-04-10"}).status_code == FOUND
    with Session(engine) as session:
        by_hand = select(LogEntry).where(LogEntry.kind == LogKind.SOWN, LogEntry.account_id.is_not(None))
        entries = session.scalars(by_hand).all()
        assert entries
        assert {entry.account_id for entry in entries} == {world.accounts["member"]}


def test_pin_is_locked_after_some_tries_that_the_database_counts(app, world):
    tablet, member = begin_bench(app, world), world.accounts["member"]
    for _ in range(MOST_TRIES):
        assert say_pin(tablet, member, "1111").status_code == FORBIDDEN
    assert say_pin(tablet, member).status_code == TOO_MANY
    assert say_pin(tablet, world.accounts["other member"]).status_code == FOUND


def test_pin_opens_nothing_but_the_tablet(visitor, world):
    assert sign_in(visitor, passphrase=PIN).status_code == FORBIDDEN


@pytest.mark.parametrize("who", ["Ada Brandt", "Ruth Tan"])
def test_tablet_is_ended_by_a_coordinators_passphrase_alone(app, world, who):
    tablet = begin_bench(app, world)
    values = form_values(tablet.get("/bench/end").text)
    answer = tablet.post("/bench/end", data=values | {"name": who, "passphrase": PASSPHRASE})
    ended = tablet.get("/bench").headers.get("Location", "").startswith("/sign-in")
    assert (answer.status_code, ended) == ((FOUND, True) if who == "Ruth Tan" else (FORBIDDEN, False))
