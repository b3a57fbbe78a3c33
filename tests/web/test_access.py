"""Who may open and send what: every route, by request, for every role and for other people's things.

What is asked of access control: OWASP ASVS 5.0.0, chapter V8 (8.2.1 function level, 8.2.2 data level, 8.3.1 enforced
at a trusted layer), V7.2 to V7.4 (sessions), V6.3.1 (guessing).
"""

import hashlib
import re
import threading
import time
from types import SimpleNamespace

import pytest
from sqlalchemy import select, update
from sqlalchemy.orm import Session

from app import create_app
from app.core.words import LogKind, Role, SlipKind
from app.extensions import db
from app.services import accounts
from app.services.accounts import MOST_TRIES, TRIES_S, add_bench, digest_of, make_slip
from app.services.demo_account import ensure_demo_account
from app.services.passphrases import hash_secret
from app.settings import Settings
from app.storage.base import Base
from app.storage.models import (
    Account,
    Batch,
    CareRound,
    Draft,
    FailedTry,
    House,
    LabelStock,
    LogEntry,
    Printer,
    SeedTest,
    SignIn,
    Slip,
    SpareGift,
    SpareOffer,
    SpareRequest,
)
from tests import rows
from tests.conftest import TODAY
from tests.people import add_account
from tests.web.access_table import LOG, MAY, OWN, ROLES, TABLE
from tests.web.dealt import tomatoes
from tests.web.filling import form_values, guards, send
from tests.web.pages import read_page

PASSPHRASE = "green tin watering can"
ANOTHER = "brown earthen flower pot"
PIN = "4827"
COOKIE = "traymates"
FOUND, UNAUTHORISED, FORBIDDEN, GONE, TOO_MANY, BUSY = 302, 401, 403, 410, 429, 503
REFUSED = ("This page is not open to you", "Not to be changed now")
LEADS_ON = ("sign_in.sign_out", "bench.done")  # to where one is led who is refused
WEEK = re.compile(r"\d{4}-W\d{2}")  # one stands for all of them
# What a device notes of itself on its way, also where it is refused.
SEEN = {"sign_in": {"seen_at", "acting_until"}}


@pytest.fixture(scope="session")
def hashes():
    """Return the hashes of the passphrase and the PIN, made once."""
    return SimpleNamespace(passphrase=hash_secret(PASSPHRASE), pin=hash_secret(PIN))


@pytest.fixture
def world(engine, hashes):
    """Return the ids of a garden with trays, people of each role, and one thing of each kind."""
    with Session(engine) as session:
        made = tomatoes(session)
        growers = [session.get_one(rows.Sowing, sowing).grower_id for sowing in made.sowings]
        draft = Draft(grower_id=growers[0], crop_id=made.crop, plants=6, brings_seed=False)
        made.draft = add(session, draft).id
        mine = CareRound(date=TODAY, grower_id=growers[0], is_offered=False, is_swapped=False)
        made.round = add(session, mine).id
        made.offer = add(session, SpareOffer(sowing_id=made.sowings[0], plants=3, date=TODAY)).id
        made.request = add(session, SpareRequest(grower_id=growers[0], crop_id=made.crop, plants=2, date=TODAY)).id
        made.gift = add(session, SpareGift(offer_id=made.offer, grower_id=growers[1], plants=1, date=TODAY)).id
        made.lot = rows.seed_lot(session, session.get_one(rows.Crop, made.crop)).id
        made.test = add(session, SeedTest(seed_lot_id=made.lot, date=TODAY, tried=20, up=15, days=10)).id
        entry = LogEntry(name="E-1", sowing_id=made.sowings[0], kind=LogKind.SOWN, date=TODAY, count=3)
        made.entry = add(session, entry).id
        made.box = session.scalars(select(rows.Container.id)).first()
        made.batch = add(session, Batch(at=1.5, what="growers pasted", rows=0, digest="")).id
        made.printer = add(session, printer()).id
        made.stock = add(session, stock()).id
        people = {
            "coordinator": ("Ruth Tan", Role.COORDINATOR, None),
            "member": ("Ada Brandt", Role.MEMBER, growers[0]),
            "other member": ("Ines Moreau", Role.MEMBER, growers[1]),
            "no grower": ("Tom Adler", Role.MEMBER, None),
        }
        made.accounts = {
            role: add_account(session, name, kind, grower, hashes.passphrase, hashes.pin).id
            for role, (name, kind, grower) in people.items()
        }
        made.growers = growers
        ensure_demo_account(session)
        session.commit()
        made.demo = session.scalars(select(Account.id).where(Account.is_demo)).one()
        return made


def add(session, row):
    session.add(row)
    session.flush()
    return row


def printer():
    return Printer(name="Hut", offset_x_mm=0, offset_y_mm=0, scale_percent=100, turned=False)


def stock():
    measures = {"columns": 2, "rows": 4, "label_width_mm": 90, "label_height_mm": 60}
    rest = {"left_mm": 10, "top_mm": 10, "pitch_across_mm": 95, "pitch_down_mm": 65}
    return LabelStock(name="Sheet", paper="a4", cut=False, **measures, **rest)


def path_values(world, endpoint):
    """Return what stands in the address of a route: things of the grower Ada Brandt, where they are anybody's."""
    return {
        "account_id": world.accounts["no grower" if endpoint.startswith("people.") else "member"],
        "batch_id": world.batch,
        "container_id": world.box,
        "crop_id": world.crop,
        "entry_id": world.entry,
        "round_id": world.round,
        "filename": "traymates.css",
        "grower_id": world.growers[0],
        "number": 1,
        "place": "heat",
        "printer_id": world.printer,
        "run_id": 1,
        "seed_lot_id": world.lot,
        "draft_id": world.draft,
        "offer_id": world.offer,
        "request_id": world.request,
        "gift_id": world.gift,
        "seed_test_id": world.test,
        "shelf_id": world.heat,
        "sowing_id": world.sowings[0],
        "stock_id": world.stock,
        "table": "sowings",
        "token": "not-a-token",
        "way": "cut",
        "week": "2027-W18",
        "page": "member",
        "name": "week.png",
    }


def as_role(app, world, role):
    """Return a fresh client of a role."""
    client = app.test_client()
    with app.app_context():
        house = db.session.get(House, 1) or House(id=1)
        house.open_to_visitors = role == "visitor"
        db.session.add(house)
        db.session.commit()
        if role in {"tablet", "at bench"}:
            token = add_bench(db.session, "Test")
            if role == "at bench":
                values = {"account_id": world.accounts["member"], "acting_until": time.time() + 60}
                db.session.execute(update(SignIn).where(SignIn.token == digest_of(token)).values(values))
            db.session.commit()
            with client.session_transaction() as cookie:
                cookie["token"] = token
        elif role in world.accounts:
            account = db.session.get_one(Account, world.accounts[role])
            token = accounts.add_sign_in(db.session, account, own_device=True, device="Test")
            db.session.commit()
            with client.session_transaction() as cookie:
                cookie["token"] = token
    return client


def is_refused(answer, role):
    """Return whether an answer refuses whoever is of a role, and in the way that is right for them."""
    to = answer.headers.get("Location", "")
    if role in {"anonymous", "visitor"}:
        leads_away = to.startswith("/sign-in") or (role == "visitor" and to == "/ledger")
        return answer.status_code == UNAUTHORISED or (answer.status_code == FOUND and leads_away)
    if role == "tablet":
        return answer.status_code == FOUND and to == "/bench"
    return answer.status_code == FORBIDDEN and any(head in answer.text for head in REFUSED)


def routes(app):
    return {
        (rule.endpoint, method) for rule in app.url_map.iter_rules() for method in rule.methods - {"HEAD", "OPTIONS"}
    }


def fingerprint(engine):
    """Return a digest of every row of every table, but for when devices were seen."""
    digest = hashlib.sha256()
    with engine.connect() as connection:
        for table in Base.metadata.sorted_tables:
            columns = [column for column in table.c if column.name not in SEEN.get(table.name, set())]
            found = connection.execute(select(*columns)).all()
            digest.update(repr((table.name, sorted(map(repr, found)))).encode())
    return digest.hexdigest()


def call(client, app, world, endpoint, method, **kwargs):
    names = {name for rule in app.url_map.iter_rules(endpoint) for name in rule.arguments}
    values = {name: value for name, value in path_values(world, endpoint).items() if name in names}
    if method == "POST":
        kwargs["data"] = {"sent": "something"}  # an empty body would not count as a form
    answer = client.open(app.url_map.bind("localhost").build(endpoint, values), method=method, **kwargs)
    answer.close()
    return answer


def test_every_route_stands_in_the_table_and_no_other(app):
    assert routes(app) == set(TABLE)


@pytest.mark.parametrize("role", ROLES)
def test_every_route_is_open_to_whom_the_table_says_and_to_nobody_else(app, engine, world, role):
    """By request, with nothing but the cookie of the role; refused ones leave every table as it was."""
    assert find_wrong(app, engine, world, role) == []


def find_wrong(app, engine, world, role, table=TABLE):
    """Return each route of a table that is open to a role against it, or closed."""
    app.config["WTF_CSRF_ENABLED"] = False  # a token would only tell that the page was seen
    wrong = []
    client = as_role(app, world, role)
    before = fingerprint(engine)
    refused = [route for route, group in table.items() if role not in MAY[group]]
    for endpoint, method in refused:
        answer = call(client, app, world, endpoint, method)
        if not is_refused(answer, role):
            wrong.append((endpoint, method, "is not refused", answer.status_code, answer.headers.get("Location")))
        elif method == "GET" and call(client, app, world, endpoint, "HEAD").status_code != answer.status_code:
            wrong.append((endpoint, "HEAD", "answers otherwise than GET"))
    if fingerprint(engine) != before:
        wrong.append(("the database", "is not as it was"))
    for endpoint, method in sorted(table.keys() - set(refused)):
        answer = call(as_role(app, world, role), app, world, endpoint, method)
        is_out = is_refused(answer, role) and not (endpoint in LEADS_ON and answer.status_code == FOUND)
        if is_out or answer.status_code >= 500:
            wrong.append((endpoint, method, "is refused", answer.status_code, answer.headers.get("Location")))
    return wrong


def test_a_view_that_says_nothing_is_open_to_nobody(app, world):
    app.add_url_rule("/probe", view_func=lambda: "seen", endpoint="probe")
    for role in ROLES:
        assert as_role(app, world, role).get("/probe").status_code == FORBIDDEN


def test_every_change_needs_the_token_of_a_page(app, engine, world):
    before = fingerprint(engine)
    client = as_role(app, world, "coordinator")
    after_signing_in = fingerprint(engine)
    for endpoint, method in TABLE:
        if method == "POST":
            answer = call(client, app, world, endpoint, method)
            assert answer.status_code == 400, endpoint
    assert fingerprint(engine) == after_signing_in != before


@pytest.mark.parametrize("role", ["member", "other member", "no grower", "visitor", "tablet", "at bench"])
def test_no_page_leads_its_reader_to_one_that_is_refused(app, world, role):
    """Every link and form of every page that they may open, however many steps away."""
    app.config["WTF_CSRF_ENABLED"] = False
    client = as_role(app, world, role)
    start = {"visitor": "/ledger", "tablet": "/bench", "at bench": "/bench"}.get(role, "/")
    seen, waiting, wrong = set(), [start, "/trays/1", "/trays/2"], []
    while waiting:
        path = waiting.pop()
        answer = client.get(path)
        seen.add(path)
        if answer.status_code != 200 or answer.mimetype != "text/html":
            continue
        page = read_page(answer.text)
        links = links_of(page) - seen - set(waiting)
        wrong += [(path, link) for link in links if is_refused(client.get(link), role)]
        waiting += links
        wrong += [(path, action) for action in actions_of(page, path) if not may_send(client, app, role, action)]
    assert wrong == []
    assert len(seen) > 3


def links_of(page):
    """Return the pages to which one leads; files are in the table alone, and the mark leads everybody home."""
    links = (a.attributes.get("href") or "" for a in page.all("a") if not a.has_class("mark"))
    links = {WEEK.sub("2027-W18", link.partition("#")[0].partition("?")[0]) for link in links}
    return {link for link in links if link.startswith("/") and not link.endswith((".pdf", ".csv", ".json"))}


def actions_of(page, path):
    posted = [form for form in page.all("form") if (form.attributes.get("method") or "").lower() == "post"]
    return {(form.attributes.get("action") or path).partition("?")[0] for form in posted}


def may_send(client, app, role, action):
    group = TABLE[app.url_map.bind("localhost").match(action, method="POST")[0], "POST"]
    return client.post(action).status_code != FORBIDDEN if group in {OWN, LOG} else role in MAY[group]


# ---------------------------------------------------------------- signing in

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
