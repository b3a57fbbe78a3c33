"""What holds for every answer: tokens, policy, cookies, redirects, and that looking changes nothing.

Numbers in brackets are those of OWASP ASVS 5.0.0, whose requirements these tests show; docs/security.md has the table.
"""

import gc
import hashlib
import os
import re
import secrets
import stat
import time
from http.cookies import SimpleCookie
from pathlib import Path

import pytest
from itsdangerous import URLSafeTimedSerializer
from sqlalchemy import delete, select, update
from sqlalchemy.orm import Session

from app.core.words import Role
from app.extensions import db
from app.services.accounts import WrongError, add_sign_in, digest_of, make_slip, sign_in
from app.services.passphrases import check_passphrase, hash_secret
from app.settings import kept_secret_key
from app.storage.models import Account, FailedTry, SignIn
from app.web.access import TOKEN
from app.web.once import KEY, KEY_BYTES
from tests.people import sign_in_as
from tests.web.classes import encoded
from tests.web.everything import addresses, contents, endpoint_of, fill, find_all_forms, find_forms, keep
from tests.web.pages import read_page

POLICY = {  # 3.4.3, 3.4.6
    "default-src 'none'",
    "script-src 'self'",
    "connect-src 'self'",
    "style-src 'self'",
    "img-src 'self'",
    "font-src 'self'",
    "form-action 'self'",
    "base-uri 'none'",
    "frame-ancestors 'none'",
}
URLENCODED = "application/x-www-form-urlencoded"
TRACE = re.compile(r"Traceback|File \"|sqlalchemy|psycopg|SELECT |\.py\b")
AWAY = [
    "//evil.example",
    "///evil.example",
    "/\\evil.example",
    "\\\\evil.example",
    "http:evil.example",
    "https://evil.example/",
    "/\t/evil.example",
    "/\r\n/evil.example",
    "\t//evil.example",
    "javascript:alert(1)",
    "data:text/html,x",
    "%2f%2fevil.example",
    "evil.example",
    ".//evil.example",
    "@evil.example",
]


@pytest.fixture
def made(engine):
    """Add the garden, and return its ids."""
    return fill(engine)


def check_headers(answer):
    """Return what is missing in the headers of an answer."""
    policy = answer.headers.get("Content-Security-Policy")
    is_pdf = answer.mimetype == "application/pdf"
    faults = [] if is_pdf or (policy is not None and {*policy.split("; ")} == POLICY) else [f"policy {policy}"]
    for name, right in (
        ("X-Content-Type-Options", "nosniff"),  # 3.4.4
        ("X-Frame-Options", "DENY"),
        ("Referrer-Policy", "same-origin"),  # 3.4.5
    ):
        if answer.headers.get(name) != right:
            faults.append(f"{name} {answer.headers.get(name)}")
    if "Access-Control-Allow-Origin" in answer.headers:  # 3.4.2
        faults.append("shared with other origins")
    if (answer.mimetype or "").startswith("text/") and answer.mimetype_params.get(
        "charset", ""
    ).lower() != "utf-8":  # 4.1.1
        faults.append(f"no charset: {answer.content_type}")
    return faults


def is_page(address):
    return not address.partition("?")[0].endswith(".pdf")


def test_every_answer_carries_the_policy_and_its_kin(app, client, visitor, made):
    """3.4.2 to 3.4.6, 4.1.1, 16.5.1; also of answers without a body and of errors."""
    answers = {}
    etag = client.get("/growers").headers.get("ETag")
    answers["304"] = client.get("/growers", headers={"If-None-Match": etag})
    assert answers["304"].status_code == 304
    answers["404"] = client.get("/nowhere/<b>")
    answers["404 static"] = client.get("/static/nothing.css")
    answers["405"] = client.put("/growers")
    answers["413"] = client.post("/growers/new", data=b"x" * 1_200_000, content_type=URLENCODED)
    answers["400"] = client.post("/growers/new", data={"name": "x"})
    answers["403"] = visitor.post("/sign-in/demo", data={"csrf_token": token_of(visitor)})
    answers["signed out"] = visitor.get("/growers")
    answers["static"] = client.get("/static/traymates.css")
    answers["options"] = client.options("/growers")
    for endpoint, address in addresses(app, made, "GET").items():
        if is_page(address):
            answers[endpoint] = client.get(address, headers={"Origin": "http://evil.example"})
    wanted = {"404": 404, "404 static": 404, "405": 405, "413": 413, "400": 400, "403": 403, "signed out": 302}
    assert {name: answers[name].status_code for name in wanted} == wanted
    faults = {name: check_headers(answer) for name, answer in answers.items()}
    assert {name: fault for name, fault in faults.items() if fault} == {}
    assert len(answers) > 50
    assert [name for name, answer in answers.items() if TRACE.search(answer.text if is_text(answer) else "")] == []
    assert "Allow" in answers["405"].headers


def is_text(answer):
    return answer.mimetype == "text/html"


def token_of(client):
    """Return a token of a client's own session."""
    return find_forms(client, "/sign-in")[0].values["csrf_token"][0]


def test_a_fault_of_the_program_says_nothing_of_itself(app, client, made, monkeypatch):
    """16.5.1: no trace, no words of the database, no path; and the policy stands."""
    secret = "a secret word in /srv/garden.sqlite3"

    def fail(**_):
        raise RuntimeError(secret)

    monkeypatch.setitem(app.view_functions, "light.index", fail)
    fail.open_to = 3
    app.config["TESTING"], app.config["PROPAGATE_EXCEPTIONS"] = False, False
    answer = client.get("/light")
    assert answer.status_code == 500
    assert secret not in answer.text
    assert not TRACE.search(answer.text)
    assert check_headers(answer) == []


def posts(app, client, made):
    """Return a form, as a page has it, for every address that takes one; where no page has, an empty one."""
    forms = {}
    for form in find_all_forms(app, client, made).values():
        if form.method == "post":
            forms.setdefault(endpoint_of(app, form.action), (form.action, form.values))
    for endpoint, address in addresses(app, made, "POST").items():
        forms.setdefault(endpoint, (address, {}))
    return forms


def test_no_form_is_taken_without_the_token_of_its_session(app, client, engine, made):
    """3.5.1: on every address that takes a form, with all else of it right."""
    other = app.test_client()
    sign_in_as(other, "Ida Marsh")
    tokens = [[], [token_of_page(other)], ["x" * 91]]
    forms = posts(app, client, made)
    before, faults = contents(engine, {"failed_try"}), []
    assert set(forms) == set(addresses(app, made, "POST"))
    for endpoint, (address, values) in forms.items():
        for token in tokens:
            sent = values | {"csrf_token": token}
            answer = client.post(address, data=encoded(sent), content_type=URLENCODED)
            if answer.status_code != 400:
                faults.append((endpoint, token, answer.status_code))
    assert faults == []
    assert contents(engine, {"failed_try"}) == before
    address, values = forms["growers.new"]  # and with it, it is
    assert client.post(address, data=encoded(values | {"name": ["Ida"]}), content_type=URLENCODED).status_code == 302


def token_of_page(client):
    """Return a token of the session of a client that is signed in."""
    return next(form for form in find_forms(client, "/growers/new") if form.method == "post").values["csrf_token"][0]


def test_behind_tls_a_form_of_another_origin_is_refused(client, made):
    """3.5.1: there the browser says where a form comes from, and it is compared."""
    secure = {"base_url": "https://localhost"}
    [form] = [one for one in find_forms(client, "/growers/new") if one.method == "post" and "name" in one.values]
    values = encoded(form.values | {"name": ["Ida Brook"]})
    answer = client.post(
        "/growers/new", data=values, content_type=URLENCODED, headers={"Referer": "https://evil.example/"}, **secure
    )
    assert answer.status_code in {400, 401}


def test_a_form_that_another_site_sent_gives_none_of_its_words_back(client, made):
    """Another site could else have its own words stand in a form of ours."""
    words = "words of another site"
    for headers in ({"Origin": "http://evil.example"}, {"Sec-Fetch-Site": "cross-site"}, {}):
        answer = client.post("/growers/new", data={"name": words}, headers=headers)
        assert answer.status_code == 400
        assert words not in answer.text


def test_looking_changes_nothing(app, client, engine, made):
    """3.5.3: GET, HEAD and OPTIONS of every address, as somebody who may do everything."""
    before = contents(engine)
    for endpoint, address in addresses(app, made, "GET").items():
        for method in ("GET", "HEAD", "OPTIONS"):
            if method == "GET" and not is_page(address):
                continue
            answer = client.open(address, method=method)
            assert answer.status_code < 500, endpoint
            assert method == "GET" or answer.data == b"", endpoint
    assert contents(engine) == before


def test_looking_touches_a_sign_in_once_a_day_at_most(client, engine, made):
    """The one thing that looking writes down; see docs/security.md."""
    rows = keep(engine)["sign_in"]
    client.get("/growers")
    assert keep(engine)["sign_in"] == rows


def test_the_cookie_is_for_the_program_alone_and_stands_in_no_page(app, client, visitor, made):
    """3.3.2, 3.3.4."""
    answer = visitor.get("/sign-in")
    [cookie] = SimpleCookie(answer.headers["Set-Cookie"]).values()
    assert (cookie["httponly"], cookie["samesite"], cookie["path"], cookie["domain"]) == (True, "Lax", "/", "")
    value = client.get_cookie("traymates").value
    with client.session_transaction() as session:
        token = session[TOKEN]
    for endpoint, address in addresses(app, made, "GET").items():
        if is_page(address):
            answer = client.get(address)
            assert value.encode() not in answer.data, endpoint
            assert token.encode() not in answer.data, endpoint
            for header in answer.headers.getlist("Set-Cookie"):
                [set_cookie] = SimpleCookie(header).values()
                assert set_cookie["httponly"], endpoint
                assert set_cookie["samesite"] == "Lax", endpoint


@pytest.mark.parametrize("address", ["https://localhost/sign-in", "https://127.0.0.1/sign-in"])
def test_under_tls_the_cookie_is_for_tls_alone(visitor, address):
    """3.3.1, 3.3.3, 3.4.1."""
    answer = visitor.get("/sign-in", base_url=address.removesuffix("/sign-in"))
    [(name, cookie)] = SimpleCookie(answer.headers["Set-Cookie"]).items()
    assert name.startswith("__Host-")
    assert cookie["secure"]
    assert answer.headers["Strict-Transport-Security"] == "max-age=31536000"
    assert "Strict-Transport-Security" not in visitor.get("/sign-in").headers


@pytest.mark.parametrize("cookie", ["", "x", "eyJ0b2tlbiI6IngifQ.aaaa.bbbb", "gASVBQAAAAAAAABLAS4=", "a" * 3000])
def test_a_cookie_of_another_make_is_nobody(app, made, cookie):
    """1.5.2, 7.2.1, 9.1.1."""
    client = app.test_client()
    client.set_cookie("traymates", cookie)
    answer = client.get("/growers")
    assert (answer.status_code, answer.headers["Location"].partition("?")[0]) == (302, "/sign-in")


def test_every_changed_letter_of_a_cookie_makes_it_nobody_s(app, client, made):
    """9.1.1."""
    value = client.get_cookie("traymates").value
    for at in range(0, len(value), 7):
        changed = value[:at] + ("A" if value[at] != "A" else "B") + value[at + 1 :]
        other = app.test_client()
        other.set_cookie("traymates", changed)
        assert other.get("/growers").status_code == 302, at
    other = app.test_client()
    other.set_cookie("traymates", value)
    assert other.get("/growers").status_code == 200


def test_the_cookie_is_signed_with_sha_256_by_the_key_of_now(app, client, made):
    """11.1.1, 11.4.1, 11.4.3: the library's own serializer reads it; after a change of the key it is nobody's."""
    value = client.get_cookie("traymates").value
    signing = {"key_derivation": "hmac", "digest_method": hashlib.sha256}
    reader = URLSafeTimedSerializer(app.secret_key, "cookie-session", signer_kwargs=signing)
    with client.session_transaction() as session:
        assert reader.loads(value)[TOKEN] == session[TOKEN]
    app.secret_key = app.config["SECRET_KEY"] = "another key, made by hand for a test"
    other = app.test_client()
    other.set_cookie("traymates", value)
    assert other.get("/growers").status_code == 302


@pytest.mark.parametrize("way", ["/sign-out", "/account/sign-out-everywhere"])
def test_signing_out_lets_the_browser_forget_the_pages(app, client, made, way):
    """14.3.1."""
    app.config["WTF_CSRF_ENABLED"] = False
    answer = client.post(way)
    assert answer.headers["Clear-Site-Data"] == '"cache"'
    assert client.get("/growers").status_code == 302


def test_own_devices_are_listed_and_can_be_ended_each_alone(app, client, engine, made):
    """7.1.2, 7.5.2: any number at a time, each to be seen and ended."""
    app.config["WTF_CSRF_ENABLED"] = False
    phones = [app.test_client() for _ in range(3)]
    for phone in phones:
        sign_in_as(phone)
    with phones[0].session_transaction() as session:
        token = session[TOKEN]
    page = client.get("/account").text
    assert page.count('name="device"') == 3
    key = secrets.token_urlsafe(KEY_BYTES)
    with Session(engine) as session:
        device = session.scalars(select(SignIn.token).where(SignIn.token == digest_of(token))).one()
    assert client.post("/account/devices/end", data={"device": device, KEY: key}).status_code == 302
    assert [phone.get("/account").status_code for phone in [*phones, client]] == [302, 200, 200, 200]
    assert (
        client.post(
            "/account/devices/end", data={"device": "of nobody", KEY: secrets.token_urlsafe(KEY_BYTES)}
        ).status_code
        == 404
    )


@pytest.mark.parametrize("address", AWAY)
def test_signing_in_leads_to_no_other_site(app, client, visitor, made, address):
    """3.7.2: whoever is signed in already is led on at once, whoever is not finds no such address in the form."""
    answer = client.get("/sign-in", query_string={"next": address})
    assert answer.status_code == 302
    assert answer.headers["Location"] == "/"
    page = visitor.get("/sign-in", query_string={"next": address})
    assert page.status_code == 200
    assert [
        form.values["next"] for form in find_forms(visitor, f"/sign-in?next={address}") if "next" in form.values
    ] in (
        [[""]],
        [[""], [""]],
    )


def test_signing_in_leads_back_inside_the_program(client, made):
    answer = client.get("/sign-in", query_string={"next": "/trays?week=2027-W21"})
    assert answer.headers["Location"] == "/trays?week=2027-W21"


@pytest.mark.parametrize("umask", [0o000, 0o022, 0o077])
def test_the_key_is_for_its_owner_alone(tmp_path, monkeypatch, umask):
    """13.3.2."""
    before = os.umask(umask)
    try:
        key = kept_secret_key(tmp_path / "instance")
    finally:
        os.umask(before)
    [file] = (tmp_path / "instance").iterdir()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert file.read_text() == key
    assert len(key) >= 64
    assert kept_secret_key(tmp_path / "instance") == key


@pytest.mark.parametrize(
    "address", ["/.git/HEAD", "/.env", "/static/", "/static", "/static/../__init__.py", "/instance/secret_key", "/docs"]
)
def test_no_file_but_the_program_s_own_is_served(client, made, address):
    """13.4.1, 13.4.3, 5.3.2."""
    assert client.get(address).status_code == 404


@pytest.mark.parametrize("method", ["TRACE", "CONNECT", "PUT", "PATCH", "DELETE", "PROPFIND"])
def test_other_methods_are_refused(client, engine, made, method):
    """13.4.4."""
    before = contents(engine)
    for address in ("/", "/growers", f"/growers/{made['grower_id']}/edit", "/nowhere"):
        assert client.open(address, method=method).status_code in {404, 405}, address
    assert contents(engine) == before


def test_members_and_visitors_are_told_apart_by_the_database_not_by_what_they_send(app, engine, made):
    """8.3.1, 15.3.3: roles in the form, the address, a header or the cookie's neighbours change nothing."""
    client = app.test_client()
    sign_in_as(client, "Ilse Varga", role=Role.MEMBER)
    client.set_cookie("role", "coordinator")
    before = contents(engine)
    for answer in (
        client.get("/growers?role=coordinator", headers={"X-Role": "coordinator"}),
        client.get("/setup", headers={"X-Original-URL": "/", "X-Rewrite-URL": "/"}),
        client.post("/growers/new", data={"name": "x", "role": "coordinator", "_method": "GET"}),
        client.post("/growers/new?_method=GET", headers={"X-HTTP-Method-Override": "GET"}),
    ):
        assert answer.status_code in {400, 403}
    assert contents(engine) == before


def test_tokens_are_long_drawn_anew_and_kept_as_digests(app, client, engine, made):
    """7.2.2, 7.2.3, 11.5.1: 128 bits and more, in letters that carry 6 each."""
    with app.app_context():
        account = db.session.scalars(select(Account).limit(1)).one()
        tokens = {add_sign_in(db.session, account, own_device=True, device=None) for _ in range(50)}
        tokens |= {make_slip(db.session, account.id).token for _ in range(50)}
        db.session.commit()
    assert len(tokens) == 100
    assert min(map(len, tokens)) * 6 >= 128
    stored = repr(keep(engine))
    assert [token for token in tokens if token in stored] == []


def test_the_page_where_people_sign_in_asks_for_what_it_needs_and_lets_them_paste(visitor, made):
    """6.2.6, 6.2.7, 6.4.2: masked, open to the browser's own store, and without hints or questions."""
    page = read_page(visitor.get("/sign-in").text)
    inputs = {element.attributes["name"]: element.attributes for element in page.all("input")}
    assert set(inputs) - {"csrf_token"} == {"name", "passphrase", "own_device", "next"}
    assert inputs["passphrase"]["type"] == "password"
    assert inputs["passphrase"]["autocomplete"] == "current-password"
    assert inputs["name"]["autocomplete"] == "username"
    assert int(inputs["passphrase"].get("maxlength", 1000)) >= 64
    slip = read_page(visitor.get(f"/slips/{made['token']}").text)
    chosen = [element.attributes for element in slip.all("input") if element.attributes.get("type") == "password"]
    assert {one["autocomplete"] for one in chosen} == {"new-password"}


def test_a_passphrase_counts_as_typed_may_be_long_and_does_not_end_by_itself(app, client, made, monkeypatch):
    """6.2.8, 6.2.9, 6.2.10: capitals and blanks matter, 100 letters are taken, five years on it still signs in."""
    words = "four quiet words of straw" * 4
    check_passphrase(words)
    with app.app_context():
        account = db.session.scalars(select(Account).limit(1)).one()
        account.passphrase, name = hash_secret(words), account.name
        db.session.commit()
        for wrong in (words.upper(), f"{words} ", f" {words}", words[:-1], words[:72]):
            with pytest.raises(WrongError):
                sign_in(db.session, name, wrong, "127.0.0.1")
            db.session.execute(delete(FailedTry))
            db.session.commit()
        later = time.time() + 5 * 366 * 86_400
        monkeypatch.setattr(time, "time", lambda: later)
        assert sign_in(db.session, name, words, "127.0.0.1").name == name


@pytest.mark.parametrize(
    ("role", "column", "days"),
    [
        (Role.COORDINATOR, "seen_at", 30),
        (Role.MEMBER, "seen_at", 120),
        (Role.COORDINATOR, "expires_at", 366),
        (Role.MEMBER, "expires_at", 366),
    ],
)
def test_a_sign_in_ends_when_it_is_not_used_and_after_a_season_in_any_case(app, engine, made, role, column, days):
    """7.1.1, 7.3.1, 7.3.2, 9.2.1: as docs/people.md says; a minute before that it still holds."""
    client = app.test_client()
    sign_in_as(client, "Tess Rowe", role=role)
    for seconds, status in ((days * 86_400 - 60, 200), (days * 86_400 + 60, 302)):
        now = time.time()
        stamps = {"seen_at": now, "expires_at": now + 366 * 86_400}
        with engine.begin() as connection:
            connection.execute(update(SignIn).values(stamps | {column: stamps[column] - seconds}))
        assert client.get("/crops").status_code == status


def test_a_page_that_was_kept_for_a_coordinator_is_shown_to_no_member(app, client, made):
    """14.2.2."""
    member = app.test_client()
    sign_in_as(member, "Tess Rowe", role=Role.MEMBER)
    for _ in range(2):
        assert "/crops/new" in client.get("/crops").text
        assert "/crops/new" not in member.get("/crops").text


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="open files are counted where the system lists them")
def test_requests_leave_no_file_open(app, client, made):
    """1.4.3: as many after many pages, wrong forms and uploads that are refused as after a few."""

    part = b'--b\r\nContent-Disposition: form-data; name="record"; filename="x.csv"\r\n\r\n'
    upload = part + b"\0" * 900_000 + b"\r\n--b--\r\n"  # so large that it goes to a file

    def ask(times):
        for _ in range(times):
            client.get("/growers")
            client.get("/nowhere")
            client.post("/growers/new", data={"name": "x"})
            refused = client.post("/frost/record", data=upload, content_type="multipart/form-data; boundary=b")
            assert refused.status_code == 400
        gc.collect()
        return len(list(Path("/proc/self/fd").iterdir()))

    few = ask(3)
    assert ask(25) <= few


@pytest.mark.parametrize("wanted", ["image", "script", "style", "iframe", "object", "empty"])
def test_a_page_that_is_asked_for_as_something_else_does_no_harm(client, made, wanted):
    """3.2.1: it says what it is, and that nobody may take it for something else or frame it."""
    headers = {"Sec-Fetch-Dest": wanted, "Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors"}
    answer = client.get("/growers", headers=headers)
    assert check_headers(answer) == []
    assert answer.mimetype == "text/html"
