"""With a safety of the forms taken away, the tests that show it find what is lost or doubled."""

import secrets

import pytest

from app.storage.models import Grower, Sowing
from app.web import once
from app.web.forms import fields
from tests.people import sign_in_as
from tests.reliability.saboteur import expect_red, no_form_keys
from tests.web import test_revisions
from tests.web.conftest import RuledClient
from tests.web.editing import garden_of_everything
from tests.web.test_once import assert_acts_once, assert_double_tap_acts_once, typed_into, typed_to_add


@pytest.fixture
def garden(engine):
    return garden_of_everything(engine)


@pytest.fixture
def client(app):
    app.test_client_class = RuledClient
    client = app.test_client()
    sign_in_as(client)
    return client


@pytest.fixture
def other(client, app):
    other = app.test_client()
    sign_in_as(other, "Ivo Lund")
    return other


@pytest.fixture
def without_keys(monkeypatch):
    """Take the keys away, and put them back after the test."""
    for name in ("find_sent_form", "note_sent_form"):
        monkeypatch.setattr(once, name, getattr(once, name))
    no_form_keys()


def test_without_keys_a_retry_acts_twice_and_is_found(client, engine, garden, without_keys):
    values = typed_to_add(client, garden, "/sowings/new")
    expect_red(assert_acts_once, client, engine, "/sowings/new", values, match="/sowings/new")


def test_without_keys_a_double_tap_acts_twice_and_is_found(client, engine, garden, without_keys):
    values = typed_to_add(client, garden, "/sowings/new")
    expect_red(assert_double_tap_acts_once, client, engine, "/sowings/new", values, Sowing, match="== ")


def test_without_a_lock_a_double_tap_is_answered_in_two_ways_and_is_found(client, engine, garden, monkeypatch):
    """PostgreSQL alone: on SQLite every writer holds the lock by beginning."""
    if engine.dialect.name != "postgresql":
        pytest.skip("SQLite's writers hold the lock by beginning")
    monkeypatch.setattr(once, "hold_writes", lambda _session: None)

    def taps():
        for _ in range(20):
            values = typed_into(client, "/growers/new", name=secrets.token_hex(4))
            assert_double_tap_acts_once(client, engine, "/growers/new", values, Grower)

    expect_red(taps, match="302|200")


REVISION_TESTS = (
    test_revisions.test_what_each_changed_is_kept_where_they_changed_other_fields,
    test_revisions.test_theirs_is_taken_by_a_tick,
    test_revisions.test_a_third_who_saves_between_is_seen_too,
    test_revisions.test_units_that_change_while_somebody_types_are_seen,
)


@pytest.mark.parametrize("check", REVISION_TESTS, ids=lambda check: check.__name__)
def test_without_revisions_what_somebody_saved_is_overwritten_and_is_found(client, other, garden, monkeypatch, check):
    monkeypatch.setattr(fields, "find_clash", lambda *_args: None)
    expect_red(check, client, other, garden, match="302 == 409|Their rack")


@pytest.mark.parametrize("form", test_revisions.EDITS)
def test_without_revisions_every_form_is_found(client, other, garden, monkeypatch, form):
    monkeypatch.setattr(fields, "find_clash", lambda *_args: None)
    expect_red(
        test_revisions.test_who_sends_a_form_untouched_after_somebody_saved_undoes_nothing,
        client,
        other,
        garden,
        form,
        match="302 == 409",
    )


def test_a_revision_looked_at_without_the_lock_lets_several_save_and_is_found(client, engine, garden, monkeypatch):
    """PostgreSQL alone, as above."""
    if engine.dialect.name != "postgresql":
        pytest.skip("SQLite's writers hold the lock by beginning")
    monkeypatch.setattr(once, "hold_writes", lambda _session: None)

    def many():
        for _ in range(10):
            test_revisions.assert_one_of_many_saves(client, engine, garden.edits["growers"])

    expect_red(many, match="302, 302")


@pytest.mark.parametrize("form", ["number", "pin", "filled"])
def test_without_the_revision_of_a_tray_another_one_is_taken_for_it_and_is_found(
    client, other, engine, monkeypatch, form
):
    monkeypatch.setattr("app.web.views.trays.is_revision", lambda _revision: True)
    monkeypatch.setattr(once, "is_revision", lambda _revision: True)
    trays = test_revisions.dealt_garden(engine)
    expect_red(
        test_revisions.test_another_tray_that_got_the_number_is_not_taken_for_it,
        client,
        other,
        engine,
        trays,
        form,
        match="302 == 409",
    )
