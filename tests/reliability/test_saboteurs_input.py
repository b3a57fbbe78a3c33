"""Safeties of input and output taken away on purpose: the tests that show them must turn red."""

import ast
import csv
import io

import pytest
from flask.testing import FlaskClient
from jinja2 import Environment
from markupsafe import Markup

from app.extensions import csrf
from app.sheets import tables
from app.storage.engine import set_reading
from app.storage.folder import cells
from app.web import addresses, headers, once
from app.web.forms import fields, numbers
from app.web.views import levelling, sign_in
from tests.people import sign_in_as
from tests.reliability.saboteur import expect_red
from tests.rules import test_safe_code as safe_code
from tests.web import everything
from tests.web import test_hostile_garden as garden
from tests.web import test_input_classes as classes
from tests.web import test_web_safety as safety
from tests.web.everything import addresses as addresses_of
from tests.web.everything import fill
from tests.web.hostile import FORMULA


class PlainClient(FlaskClient):
    """A client that lets pages pass which break a rule."""

    def open(self, *args, **kwargs):
        return super().open(*args, **{"buffered": True} | kwargs)


@pytest.fixture
def client(app, monkeypatch):
    """Return a client that is signed in as a coordinator; no search for a plan really runs."""
    monkeypatch.setattr(levelling, "launch_levelling", lambda *_: None)
    app.test_client_class = PlainClient
    client = app.test_client()
    sign_in_as(client)
    return client


@pytest.fixture
def visitor(app):
    app.test_client_class = PlainClient
    return app.test_client()


@pytest.fixture
def few(monkeypatch):
    """Return a function that lets checks walk over the pages of some nouns alone, which is enough to turn red."""

    def few(*nouns):
        def chosen(app, values, method):
            every = addresses_of(app, values, method).items()
            return {endpoint: address for endpoint, address in every if endpoint.partition(".")[0] in nouns}

        for module in (everything, garden, safety, classes):
            monkeypatch.setattr(module, "addresses", chosen)

    return few


def test_an_escape_that_was_removed_is_found(app, client, engine, few, tmp_path, monkeypatch):
    """Names stand in pages as HTML: elements turn up that no template holds."""
    few("growers", "crops", "shelves")
    monkeypatch.setattr(Environment, "autoescape", False, raising=False)
    app.jinja_env.autoescape = False
    app.jinja_env.bytecode_cache = None
    app.jinja_env.cache.clear()
    expect_red(
        garden.test_every_page_holds_only_what_its_templates_hold,
        *(app, client, engine, tmp_path),
        match="svg|script|onload|'b'|breaks|closes|not one",
    )


def test_a_guard_of_cells_that_was_removed_is_found(app, client, engine, few, tmp_path, monkeypatch):
    """The same text without its quote: a spreadsheet would run it."""
    few("ledger", "sheets", "supplies")
    made = garden.add_garden(engine, tmp_path / "hostile", garden.WORDS)
    monkeypatch.setattr(tables, "text_to_cell", lambda text: text)
    expect_red(garden.test_no_cell_begins_a_formula_and_each_reads_back_as_it_was, app, client, made, match=r"=1\+1|A1")


def test_a_guard_that_only_writes_is_found(monkeypatch):
    """A plain prefix that is not taken off again changes names: 't Veld among them."""
    monkeypatch.setattr(cells, "cell_to_text", lambda cell: cell.removeprefix("'"))
    written = cells.text_to_cell("'t Veld")
    [[cell]] = csv.reader(io.StringIO(written))
    assert not FORMULA.match(cell)
    assert cells.cell_to_text(cell) != "'t Veld"  # the round trip of tests/storage/test_folder_cells.py is red


@pytest.mark.parametrize("name", ["growers", "trays"])
def test_an_exemption_from_tokens_is_found(app, client, engine, few, name):
    made = fill(engine)
    few("growers", "trays")
    csrf.exempt(app.blueprints[name])
    try:
        expect_red(safety.test_no_form_is_taken_without_the_token_of_its_session, app, client, engine, made, match=name)
    finally:
        csrf._exempt_blueprints.discard(app.blueprints[name])


def test_a_policy_that_was_loosened_is_found(app, client, visitor, engine, few, monkeypatch):
    made = fill(engine)
    few("growers")
    loose = {"Content-Security-Policy": "default-src 'self'"}
    monkeypatch.setattr(headers, "SECURITY_HEADERS", headers.SECURITY_HEADERS | loose)
    expect_red(
        safety.test_every_answer_carries_the_policy_and_its_kin, app, client, visitor, made, match="default-src 'self'"
    )


def test_a_redirect_to_elsewhere_is_found(app, client, visitor, engine, monkeypatch):
    made = fill(engine)
    assert sign_in.safe_next is addresses.safe_next
    monkeypatch.setattr(sign_in, "safe_next", lambda text: text)
    expect_red(
        safety.test_signing_in_leads_to_no_other_site, app, client, visitor, made, "//evil.example", match="evil"
    )


def test_a_look_that_writes_is_found(app, client, engine, few, monkeypatch):
    made = fill(engine)
    few("growers")
    view = app.view_functions["growers.index"]

    def writing_view():
        set_reading(False)  # else the transaction refuses it
        with engine.begin() as connection:
            connection.exec_driver_sql("UPDATE grower SET plot = 'seen'")
        return "<!doctype html>"

    writing_view.open_to = view.__wrapped__.open_to if hasattr(view, "__wrapped__") else 3
    monkeypatch.setitem(app.view_functions, "growers.index", writing_view)
    expect_red(safety.test_looking_changes_nothing, app, client, engine, made, match="==")


def test_a_field_that_takes_other_digits_is_found(app, client, engine, few, monkeypatch):
    made = fill(engine)
    few("shelves")
    monkeypatch.setattr(classes, "EVERY", 1)
    monkeypatch.setattr(classes, "PAGES_STEP", 1)
    monkeypatch.setattr(classes, "CLASSES", {"full-width digits": "\uff11\uff12"})
    monkeypatch.setattr(numbers, "read_whole", int)
    expect_red(
        classes.test_every_field_of_every_form_makes_of_each_class_what_it_should,
        *(app, client, engine, made),
        match="full-width digits",
    )


def test_hidden_letters_that_are_let_through_are_found(app, client, engine, session, tmp_path, monkeypatch):
    made = garden.add_garden(engine, tmp_path / "hostile", garden.HARMLESS)
    monkeypatch.setattr(fields, "find_hidden_letter", lambda *_, **__: None)
    monkeypatch.setattr(garden, "HIDDEN", {"right-to-left override": "a\u202eb"})  # PostgreSQL itself takes no NUL
    monkeypatch.setattr(garden, "TOO_LONG", {})
    expect_red(
        garden.test_hidden_letters_are_refused_alike_by_form_and_folder,
        *(client, session, tmp_path, made),
        match="302",
    )


def test_a_key_that_is_not_looked_at_is_found(app, client, engine, few, monkeypatch):
    made = fill(engine)
    few("growers")
    monkeypatch.setattr(once, "IS_KEY", once.re.compile("[ -~]{1,64}"))
    monkeypatch.setattr(classes, "EVERY", 7)
    monkeypatch.setattr(classes, "PAGES_STEP", 1)
    expect_red(classes.test_a_hidden_field_that_was_made_up_changes_nothing, app, client, engine, made, match="'key'")


def test_text_that_is_marked_as_safe_is_found():
    code = "from markupsafe import Markup\n\ndef show(row):\n    return Markup(row.name)\n"
    assert list(safe_code.marks_up(ast.parse(code)))
    assert str(Markup("{}").format("<b>")) == "&lt;b&gt;"  # while this is how the program puts text into HTML
