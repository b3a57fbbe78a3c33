"""Under which names the program answers, and what it says under the others."""

import itertools
import re
from dataclasses import replace
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from app import create_app
from app.extensions import db
from app.network import LOCAL_SUFFIXES, own_addresses
from app.services.printing import set_public_address
from app.storage.opening import session_on
from app.storage.queries.printing import find_public_address
from app.web import hosts
from app.web.hosts import read_host
from tests.web.pages import check_page

# Private ranges as RFC 1918, 3927, 4193 and 4291 give them, with what a browser writes around a number.
OWN = [
    "localhost", "127.0.0.1", "127.9.8.7", "[::1]", "10.0.0.1", "10.255.255.254", "172.16.0.1", "172.31.255.254",
    "192.168.0.1", "192.168.255.254", "169.254.3.4", "[fc00::1]", "[fd12:3456::7]", "[fe80::1]", "[::ffff:192.168.1.5]",
    "LOCALHOST", "127.0.0.1.",
]  # fmt: skip
FOREIGN = [
    "elsewhere.example", "shed.example", "8.8.8.8", "172.15.255.255", "172.32.0.1", "192.167.1.1", "11.0.0.1",
    "[2001:db8::1]", "[fbff::1]", "[fec0::1]", "127.0.0.1.elsewhere.example", "localhost.elsewhere.example",
    "192.168.1.5.elsewhere.example", "0.0.0.0", "2130706433", "0x7f.1", "127.1", "localhost.example", "a_b",  # noqa: S104
    "[::ffff:8.8.8.8]",
]  # fmt: skip
# RFC 9112, 3.2: a request without a Host, with two, or with one that is none, is answered by 400.
MALFORMED = [
    "", " ", "a b", "user@127.0.0.1", "127.0.0.1/", "http://127.0.0.1", "127.0.0.1, elsewhere.example", "127.0.0.1:x",
    "127.0.0.1:123456", "[::1", "::1", "127.0.0.1\\@elsewhere.example", "elsewhere%2eexample", "<b>", "é.example",
    "127.0.0.1#", "127.0.0.1?", "localhost\t", "%00", "[]", ".", "[127.0.0.1]x",
]  # fmt: skip
PLACES = ["/", "/healthz", "/static/traymates.css", "/no/such/page", "/T/12"]


@pytest.fixture
def page(app):
    """Return a function that asks for an address under a name, with no rule of this folder's client between."""

    def page(host, path="/static/mark.svg", method="GET", app=app, **kwargs):
        return app.test_client().open(
            path, method=method, buffered=True, environ_overrides={"HTTP_HOST": host}, **kwargs
        )

    return page


def with_settings(app, **changes):
    """Return another application of the same database with other settings."""
    other = create_app(replace(app.config["SETTINGS"], **changes))
    other.jinja_env.bytecode_cache = app.jinja_env.bytecode_cache
    return other


def test_the_machine_and_numbers_of_private_networks_pass(page):
    wrong = [host + port for host in OWN for port in ("", ":5000", ":80") if page(host + port).status_code != 200]
    assert wrong == []


def test_the_machines_own_names_and_addresses_pass(page, monkeypatch):
    monkeypatch.setattr("socket.gethostname", lambda: "Shed")
    for host in ["shed", *(f"shed.{suffix}" for suffix in LOCAL_SUFFIXES), *map(str, own_addresses())]:
        assert page(f"[{host}]" if ":" in host else host).status_code == 200, host
    assert page("barn.local").status_code == 421


def test_a_foreign_host_gets_the_page_of_the_right_address_wherever_it_asks(page):
    for host, path in itertools.product(FOREIGN, PLACES):
        answer = page(host + ":5000", path)
        assert answer.status_code == 421
        assert "This is not the address" in answer.text
        assert host.strip("[]") not in answer.text + str(answer.headers)
        assert "Set-Cookie" not in answer.headers
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        check_page(answer.text)


def test_a_host_that_is_none_is_refused(page):
    for host, path in itertools.product(MALFORMED, PLACES[:3]):
        answer = page(host.encode().decode("latin-1"), path)
        assert answer.status_code == 400
        assert "This is not the address" in answer.text


def test_a_request_without_a_host_is_refused(app):
    environ = {"REQUEST_METHOD": "GET", "PATH_INFO": "/", "SERVER_NAME": "x", "SERVER_PORT": "80"}
    said = []
    assert b"".join(app.wsgi_app(environ, lambda status, _headers: said.append(status)))
    assert said == ["400 Bad Request"]


def test_no_method_goes_round_it(page):
    for method in ("POST", "PUT", "DELETE", "HEAD", "OPTIONS"):
        assert page("elsewhere.example", "/sign-in", method).status_code == 421


def test_the_page_names_the_public_address_and_where_one_wanted_to_go(page, app):
    set_app = with_settings(app, public_url="http://shed.garden.example:8000")
    assert page("shed.garden.example:8000", app=set_app).status_code == 200
    answer = page("elsewhere.example", "/T/12", app=set_app)
    assert 'href="http://shed.garden.example:8000/T/12"' in answer.text
    assert "style-src http://shed.garden.example:8000;" in answer.headers["Content-Security-Policy"]
    answer = page("elsewhere.example", "/T/12?a=<script>", app=set_app)
    assert "script" not in answer.text
    for hostile in ("//elsewhere.example", "/\\elsewhere.example", "/<b>", '/"x'):
        assert 'href="http://shed.garden.example:8000/"' in page("elsewhere.example", hostile, app=set_app).text


def test_the_page_names_the_addresses_that_work_where_none_is_set(page, monkeypatch):
    monkeypatch.setattr(
        hosts, "working_addresses", lambda _host, _port: ("http://shed.lan:5000", "http://10.1.2.3:5000")
    )
    answer = page("elsewhere.example", "/T/12")
    assert re.findall(r'<a href="([^"]+)"', answer.text) == [
        "http://shed.lan:5000/T/12",
        "http://10.1.2.3:5000/T/12",
    ]


def test_the_page_is_there_when_the_database_is_not(page, app, tmp_path):
    broken = with_settings(app, database_url=f"sqlite:///{tmp_path / 'no' / 'folder.sqlite3'}")
    assert page("elsewhere.example", app=broken).status_code == 421


def test_no_answer_carries_a_foreign_host(app):
    """The demo garden's first pages and redirects, asked for under a name with a port that is not the server's."""
    answer = app.test_client().get("/sign-in", environ_overrides={"HTTP_HOST": "127.0.0.1:4711"})
    assert "4711" not in answer.text + answer.headers.get("Location", "")


def test_every_application_has_the_check(app, monkeypatch):
    """The test sees it missing."""
    monkeypatch.setattr(hosts, "passes", lambda _host, _named: True)
    assert app.test_client().get("/no/such/page", headers={"Host": "elsewhere.example"}).status_code == 404


def test_an_address_that_was_entered_passes(app, page, monkeypatch):
    monkeypatch.setattr(hosts, "ENTERED_SECONDS", 0.0)
    assert page("shed.garden.example").status_code == 421
    with app.app_context():
        with session_on(db.engine) as session:
            set_public_address(session, "http://shed.garden.example:5000")
        with session_on(db.engine, read_only=True) as session:
            assert find_public_address(session) is not None
    assert page("shed.garden.example").status_code == 200
    assert 'href="http://shed.garden.example:5000/' in page("elsewhere.example").text


@pytest.mark.parametrize("host", ["A.b-c.example:80", "[FE80::1]:5000", "shed.lan."])
def test_a_host_is_read_as_the_standard_library_reads_addresses(host):
    assert read_host(host) == urlsplit(f"http://{host}/").hostname.rstrip(".")


COOKIE = re.compile(r"(?P<name>[^=]+)=")


def cookie_of(answer):
    return next((value for value in answer.headers.getlist("Set-Cookie")), "")


def test_plain_http_has_no_secure_cookie_and_no_strict_transport(app, page):
    answer = page("192.168.1.50:5000", "/sign-in")
    assert cookie_of(answer).startswith("traymates=")
    assert "Secure" not in cookie_of(answer)
    assert "HttpOnly" in cookie_of(answer)
    assert "SameSite=Lax" in cookie_of(answer)
    assert "Strict-Transport-Security" not in answer.headers


def test_what_a_proxy_says_counts_only_where_one_is_trusted(app, page):
    said = {"X-Forwarded-Proto": "https", "X-Forwarded-Host": "shed.garden.example", "X-Forwarded-For": "10.1.1.1"}
    assert "Secure" not in cookie_of(page("127.0.0.1", "/sign-in", headers=said))
    trusting = with_settings(app, trusted_proxies=1, public_url="https://shed.garden.example")
    answer = page("127.0.0.1", "/sign-in", app=trusting, headers=said)
    # RFC 6265bis, 4.1.3.2: what a cookie of this name must have.
    cookie = cookie_of(answer)
    assert cookie.startswith("__Host-traymates=")
    assert {"Secure", "Path=/"} <= {part.strip() for part in cookie.split(";")}
    assert "Domain" not in cookie
    assert answer.headers["Strict-Transport-Security"] == "max-age=31536000"
    foreign = said | {"X-Forwarded-Host": "elsewhere.example"}
    assert page("127.0.0.1", app=trusting, headers=foreign).status_code == 421


def test_a_public_address_with_https_means_tls_under_its_name_alone(app, page):
    public = with_settings(app, public_url="https://shed.garden.example")
    assert "Secure" in cookie_of(page("shed.garden.example", "/sign-in", app=public))
    assert "Secure" not in cookie_of(page("192.168.1.50:5000", "/sign-in", app=public))


def test_a_form_is_taken_under_tls(app):
    public = with_settings(app, public_url="https://shed.garden.example", trusted_proxies=1)
    client = public.test_client()
    base = "https://shed.garden.example"
    said = {"X-Forwarded-Proto": "https", "X-Forwarded-Host": "shed.garden.example"}
    page = client.get("/sign-in", base_url=base, headers=said)
    token = re.search(r'name="csrf_token"[^>]*value="([^"]+)"', page.text)[1]
    form = {"csrf_token": token, "name": "nobody", "passphrase": "wrong"}
    sent = client.post("/sign-in", base_url=base, data=form, headers=said | {"Referer": f"{base}/sign-in"})
    assert "expired" not in sent.text
    sent = client.post("/sign-in", base_url=base, data=form, headers=said | {"Referer": "https://elsewhere.example/"})
    assert sent.status_code == 400


def test_an_address_goes_out_of_the_program_in_no_template():
    """A link with a host in it would be made from the request's; there is no such call.

    But for the calendar's: whoever copies that address has the page open under the host that it names.
    """
    folder = Path(hosts.__file__).parent
    files = [path for path in folder.rglob("*.*") if path.suffix in {".py", ".html"} and path.name != "feeds.py"]
    assert [
        path for path in files if re.search(r"_external=True|\b(?:url_root|host_url|base_url)\b", path.read_text())
    ] == []
