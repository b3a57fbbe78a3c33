"""What is sent compressed, and what is not. Read back by zlib alone, after RFC 1952."""

import zlib

import pytest
from flask.testing import FlaskClient

from tests import rows
from tests.people import sign_in_as

GZIP = {"Accept-Encoding": "gzip, deflate, br"}
WITH_HEADER = 31  # zlib: the largest window, and the header and check sum of gzip


@pytest.fixture
def client(app):
    """Return a client that is signed in, and takes what is sent as it is."""
    app.test_client_class = FlaskClient
    client = app.test_client()
    sign_in_as(client)
    return client


@pytest.fixture
def garden(client, session):
    rows.garden(session)
    session.commit()


def unpacked(answer):
    return zlib.decompress(answer.data, WITH_HEADER)


def test_a_page_is_compressed_for_who_takes_it(client, garden):
    plain, packed = client.get("/ledger"), client.get("/ledger", headers=GZIP)
    assert "Content-Encoding" not in plain.headers
    assert packed.headers["Content-Encoding"] == "gzip"
    assert unpacked(packed) == plain.data
    assert len(packed.data) < len(plain.data) / 2
    assert int(packed.headers["Content-Length"]) == len(packed.data)
    for answer in (plain, packed):
        assert "Accept-Encoding" in answer.vary


@pytest.mark.parametrize("accepted", ["identity", "gzip;q=0", "br", ""])
def test_who_takes_none_gets_the_page_as_it_is(client, garden, accepted):
    answer = client.get("/light", headers={"Accept-Encoding": accepted})
    assert "Content-Encoding" not in answer.headers
    assert answer.data.startswith(b"<!doctype html>")


@pytest.mark.parametrize(
    ("site", "is_packed"),
    [("same-origin", True), ("none", True), ("cross-site", False), ("same-site", False), (None, False)],
)
def test_under_tls_a_page_for_which_another_site_may_have_asked_is_not_compressed(client, garden, site, is_packed):
    headers = GZIP if site is None else GZIP | {"Sec-Fetch-Site": site}
    answer = client.get("/sign-in", base_url="https://localhost", headers=headers)
    assert ("Content-Encoding" in answer.headers) == is_packed


def test_a_packed_page_that_has_not_changed_is_not_sent_again(client, garden):
    first = client.get("/ledger", headers=GZIP)
    again = client.get("/ledger", headers=GZIP | {"If-None-Match": first.headers["ETag"]})
    assert first.headers["ETag"].startswith("W/")
    assert again.status_code == 304
    assert again.data == b""


@pytest.mark.parametrize("name", ["traymates.css", "waiting.js", "mark.svg"])
def test_a_static_file_is_compressed_and_kept_for_a_year(app, client, name):
    with app.test_request_context():
        address = app.url_for("static", filename=name)
    plain = client.get(address, buffered=True)
    packed = client.get(address, headers=GZIP, base_url="https://localhost", buffered=True)
    for answer in (plain, packed):
        assert answer.cache_control.immutable
        assert answer.cache_control.max_age == 365 * 24 * 3600
    if len(plain.data) >= 1024:
        assert packed.headers["Content-Encoding"] == "gzip"
        assert unpacked(packed) == plain.data
        assert client.get(address, headers=GZIP, buffered=True).data == packed.data
    again = client.get(address, headers=GZIP | {"If-None-Match": packed.headers["ETag"]}, buffered=True)
    assert again.status_code == 304


def test_files_that_are_packed_already_and_short_answers_are_sent_as_they_are(client, garden):
    assert "Content-Encoding" not in client.get("/week.pdf", headers=GZIP).headers
    assert "Content-Encoding" not in client.get("/healthz", headers=GZIP).headers


def test_a_head_request_tells_of_no_other_body_than_the_page(client, garden):
    answer = client.head("/light", headers=GZIP)
    assert answer.data == b""
    assert answer.headers.get("Content-Encoding") == "gzip"
