"""With a safety of access taken away, the tests that show it find who comes in."""

import pytest

from app.services import accounts
from app.web import access
from app.web.access import Who
from app.web.views import account, grower_page, people, sign_in, sowings, trays
from tests.people import sign_in_as
from tests.reliability.saboteur import expect_red
from tests.web import test_access, test_signing_in
from tests.web.access_table import TABLE
from tests.web.conftest import RuledClient
from tests.web.roles import hashes, world  # noqa: F401 - fixtures


@pytest.fixture
def client(app):
    app.test_client_class = RuledClient
    client = app.test_client()
    sign_in_as(client)
    return client


@pytest.fixture
def visitor(client, app):
    return app.test_client()


def part(*endpoints):
    """Return the lines of the table for some views alone, which is quicker."""
    return {route: group for route, group in TABLE.items() if route[0] in endpoints}


def open_to(app, monkeypatch, endpoint, who):
    monkeypatch.setattr(app.view_functions[endpoint], "open_to", who)


@pytest.mark.parametrize("endpoint", ["growers.edit", "people.slips", "history.index", "levelling.accept"])
@pytest.mark.parametrize("role", ["member", "at bench", "anonymous"])
def test_a_view_that_is_open_to_all_is_found(app, engine, world, monkeypatch, endpoint, role):  # noqa: F811
    open_to(app, monkeypatch, endpoint, Who.EVERYONE)
    expect_red(test_access.find_wrong, app, engine, world, role, part(endpoint), match=f"{endpoint}.*is not refused")


def test_a_view_without_a_word_is_found(app, engine, world, monkeypatch):  # noqa: F811
    monkeypatch.delattr(app.view_functions["crops.index"], "open_to")
    expect_red(
        test_access.find_wrong, app, engine, world, "coordinator", part("crops.index"), match="crops.index.*is refused"
    )


@pytest.mark.parametrize(
    ("module", "name", "found"),
    [
        (grower_page, "require_own", "growers.show"),
        (sowings, "require_own", "sowings.edit"),
        (trays, "require_log", "trays.mark"),
    ],
    ids=["growers", "sowings", "trays"],
)
def test_other_peoples_things_without_a_guard_are_found(app, engine, world, monkeypatch, module, name, found):  # noqa: F811
    monkeypatch.setattr(module, name, lambda _whose: None)
    expect_red(
        test_access.find_wrong, app, engine, world, "other member", part(found), match=f"{found}.*is not refused"
    )


def test_a_bench_tablet_that_needs_no_pin_is_found(app, engine, world, monkeypatch):  # noqa: F811
    real = access.may
    monkeypatch.setattr(access, "may", lambda who: real(who) or (access.is_bench() and who is Who.BENCH))
    expect_red(
        test_access.find_wrong, app, engine, world, "tablet", part("trays.show"), match="trays.show.*is not refused"
    )


@pytest.mark.parametrize(
    ("module", "name", "way_out"),
    [
        (sign_in, "end_sign_in", "sign out"),
        (account, "end_sign_ins", "everywhere"),
        (people, "end_sign_ins", "coordinator"),
        (accounts, "end_sign_ins", "role"),
        (accounts, "end_sign_ins", "passphrase"),
    ],
)
def test_a_sign_out_that_keeps_the_row_is_found(app, client, visitor, world, monkeypatch, module, name, way_out):  # noqa: F811
    monkeypatch.setattr(module, name, lambda *_args, **_kwargs: 0)
    expect_red(
        test_signing_in.assert_copy_ends, app, client, visitor, world, way_out, match="a copy of the cookie lets in"
    )


def test_tries_that_are_not_counted_are_found(visitor, world, monkeypatch):  # noqa: F811
    monkeypatch.setattr(accounts, "count_try", lambda *_args: None)
    expect_red(test_signing_in.assert_tries_end, visitor, match="without an end")


def test_tries_that_are_kept_in_the_process_are_found(visitor, world, monkeypatch):  # noqa: F811
    monkeypatch.setattr(accounts, "count_tries", lambda *_args: 0)
    expect_red(test_signing_in.assert_tries_end, visitor, match="without an end")
