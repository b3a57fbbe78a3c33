"""A form acts once, however often it is sent: because its answer got lost, by a double tap, from two servers."""

import ast
import inspect
import json
import secrets
import subprocess
import sys
import textwrap
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from sqlalchemy import func, select, update

from app.storage import Session
from app.storage.base import Base
from app.storage.models import FormKey, Grower, Levelling, LogEntry, Sowing, Tray
from app.web import once
from app.web.once import AGAIN, FIRST, KEPT_S, WITHOUT_KEY
from tests.lengths import TIMES
from tests.web.dealt import tomatoes
from tests.web.editing import garden_of_everything
from tests.web.filling import form_values, guards, posted_forms
from tests.web.pages import read_page
from tests.web.seasons import words
from tests.web.tray_steps import FREE, dealt_garden

pytestmark = pytest.mark.postgres

ROOT = Path(__file__).parents[2]
AT_ONCE = 6

STOCK = {
    "name": "Green box", "label_width_mm": "60", "label_height_mm": "30", "paper": "a4", "columns": "2", "rows": "3",
    "left_mm": "5", "top_mm": "5",
}  # fmt: skip
# What is typed into each form that adds something, by its address; an empty one is the id of a row of the garden.
ADDING = {
    "/growers/new": {"name": "Ada Brook"},
    "/containers/new": {"name": "Pot", "cells_per_tray": "10", "cell_volume_ml": "400"},
    "/crops/new": {
        "name": "Kale", "hardiness": "hardy", "days_to_maturity": "60", "counted_from": "transplant",
        "direct_sow_weeks": "0", "seeds_per_cell": "1",
    },
    "/seed-lots/new": {"name": "Jar 7", "crop_id": ""},
    "/shelves/new": {"name": "Sill", "place": "window", "width_cm": "120", "depth_cm": "30", "levels": "1"},
    "/sowings/new": {"grower_id": "", "crop_id": "", "plants": "4"},
    "/spares/requests/new": {"grower_id": "", "crop_id": "", "plants": "2"},
    "/labels/printers/new": {"name": "Office"},
    "/labels/stock/new/sheet": STOCK,
    "/labels/stock/new/cut": {key: STOCK[key] for key in ("name", "label_width_mm", "label_height_mm", "paper")},
    "/labels/stock/new/single": {key: STOCK[key] for key in ("name", "label_width_mm", "label_height_mm")},
}  # fmt: skip


@pytest.fixture
def garden(engine):
    return garden_of_everything(engine)


@pytest.fixture
def launched(monkeypatch):
    runs = []
    monkeypatch.setattr("app.web.views.levelling.launch_levelling", lambda _url, run: runs.append(run))
    return runs


def contents(engine):
    """Return every row that is kept, and the mark of change."""
    with engine.connect() as connection:
        kept = [mapper for mapper in Base.registry.mappers if not mapper.class_.is_transient]
        tables = [mapper.local_table for mapper in kept]
        return {t.name: connection.execute(select(t).order_by(*t.primary_key)).all() for t in tables}


def typed_to_add(client, garden, path, **changes):
    """Return what is sent for a form that adds something."""
    ids = {"grower_id": str(garden.grower), "crop_id": str(garden.tomato)}
    return typed_into(client, path, **{k: v or ids[k] for k, v in ADDING[path].items()} | changes)


def typed_into(client, path, **changes):
    values = form_values(client.get(path).text)
    return values | changes


def assert_acts_once(client, engine, path, values):
    """Send a form, and send it again; return the address that both were answered with."""
    before = contents(engine)
    first = client.post(path, data=values)
    assert first.status_code == 302, (path, words(first.text))
    after = contents(engine)
    assert after != before, path
    assert AGAIN not in words(client.get(first.location).text)
    again = client.post(path, data=values)
    assert (again.status_code, again.location) == (302, first.location), path
    assert contents(engine) == after, path
    assert AGAIN in words(client.get(first.location, follow_redirects=True).text)
    return first.location


def methods_of(rule):
    return rule.methods - {"HEAD", "OPTIONS"}


def calls_of(function, seen=()):
    """Return the names that a function calls, and those that functions of its module call for it."""
    module = inspect.getmodule(function)
    tree = ast.parse(textwrap.dedent(inspect.getsource(function)))
    names = {node.func.id for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)}
    for name in names - set(seen):
        inner = getattr(module, name, None)
        if inspect.isfunction(inner) and inner.__module__.startswith("app.web.views"):
            names = names | calls_of(inner, {*seen, *names})
    return names


def test_every_form_that_is_posted_saves_with_its_key_or_says_why_not(app):
    posted = {rule.endpoint for rule in app.url_map.iter_rules() if "POST" in methods_of(rule)}
    assert WITHOUT_KEY.keys() <= posted
    assert all(len(reason) > 10 for reason in WITHOUT_KEY.values())
    saving = {name: calls_of(inspect.unwrap(app.view_functions[name])) for name in posted - WITHOUT_KEY.keys()}
    assert {name for name, calls in saving.items() if "save" not in calls} == set()
    assert not {method for rule in app.url_map.iter_rules() for method in methods_of(rule)} - {"GET", "POST"}


def test_every_form_on_a_page_that_changes_has_a_key_of_its_own(client, garden):
    for path in [*garden.edits.values(), *ADDING]:
        first, again = form_values(client.get(path).text), form_values(client.get(path).text)
        assert len(first["key"][0]) == len(secrets.token_urlsafe(16))
        assert first["key"] != again["key"], path


@pytest.mark.parametrize("path", ADDING)
def test_what_is_added_is_added_once(client, engine, garden, path):
    assert_acts_once(client, engine, path, typed_to_add(client, garden, path))


def test_add_another_acts_once_too_and_leads_to_a_form_of_its_own(client, engine, garden):
    values = typed_to_add(client, garden, "/sowings/new", another="yes")
    address = assert_acts_once(client, engine, "/sowings/new", values)
    assert address == f"/sowings/new?grower={garden.grower}"
    next_one = typed_into(client, address, crop_id=str(garden.tomato), plants="4", another="yes")
    assert_acts_once(client, engine, "/sowings/new", next_one)


def test_a_garden_is_set_up_once(client, engine):
    typed = {"name": "Alder", "latitude": "47,1", "last": "10/5", "first": "26 Sep", "units": "metric"}
    assert_acts_once(client, engine, "/setup/new", typed_into(client, "/setup/new", **typed))


@pytest.mark.parametrize(
    "form", ["growers", "containers", "crops", "sowings", "shelves", "printers", "stock", "address"]
)
def test_what_is_changed_is_changed_once(client, engine, garden, form):
    name = {"address": "address", "sowings": "variety"}.get(form, "name")
    typed = {name: "http://barn.lan" if form == "address" else "Changed"}
    assert_acts_once(client, engine, garden.edits[form], typed_into(client, garden.edits[form], **typed))


def test_what_is_removed_is_removed_once(client, engine, garden):
    path = f"/sowings/{garden.sowing}/delete"
    assert_acts_once(client, engine, path, typed_into(client, path))


def test_frost_is_saved_once(client, engine, garden):
    assert_acts_once(client, engine, "/setup/frost", typed_into(client, "/setup/frost", risk="20"))
    assert_acts_once(client, engine, "/frost/risk", typed_into(client, "/frost?risk=15&autumn_risk=50"))
    typed = typed_into(client, "/frost/paste", text="90 10 May 30 Sep\n50 20 May 20 Sep\n10 30 May 10 Sep")
    seen = client.post("/frost/paste", data=typed)
    assert_acts_once(client, engine, "/frost/paste", form_values(seen.text))


def test_a_deal_is_accepted_once(client, engine):
    with Session(engine) as session:
        tomatoes(session, dealt=False)
    page = "/trays/deal?day=season"
    assert_acts_once(client, engine, page, typed_into(client, page))


TRAY_FORMS = {
    "/trays/3/filled": {"day": "10 Apr 2027"},
    "/trays/3/pin": {"pinned": "yes"},
    "/trays/3/lamp/pin": {"pinned": "yes"},
    "/trays/3/number": {"new": "900"},
}


@pytest.mark.parametrize("path", TRAY_FORMS)
def test_a_tray_is_changed_once(client, engine, path):
    dealt_garden(engine)
    assert_acts_once(client, engine, path, guards(client, path, "/trays/3") | TRAY_FORMS[path])


def test_a_tray_is_started_moved_and_removed_once(client, engine):
    made = dealt_garden(engine)
    start, wish = f"/trays/{FREE}/start", f"/trays/3/exchange?sowing={made.sowings['S-0001']}"
    empty = guards(client, start) | {"container_id": str(made.boxes[0]), "day": "1 May 2027"}
    assert_acts_once(client, engine, start, empty)
    assert_acts_once(client, engine, f"/trays/{FREE}/delete", typed_into(client, f"/trays/{FREE}/delete"))
    assert_acts_once(client, engine, wish, guards(client, wish) | {"number": "4"})


def test_what_is_logged_corrected_and_taken_back_is_so_once(client, engine):
    made = dealt_garden(engine)
    sowing = made.sowings["S-0001"]
    assert_acts_once(client, engine, "/trays/3/log?kind=sown", typed_into(client, "/trays/3/log?kind=sown"))
    page = f"/sowings/{sowing}/log"
    assert_acts_once(client, engine, f"{page}?kind=up", typed_into(client, f"{page}?kind=up"))
    several = typed_into(client, "/log?kind=sown")
    ticks = {name.replace("count", "take"): "y" for name in several if name.startswith("count_")}
    assert_acts_once(client, engine, "/log?kind=sown", several | ticks)
    with Session(engine) as session:
        first, *_, last = session.scalars(select(LogEntry.id).order_by(LogEntry.id)).all()
    correct = f"/log/{first}/correct"
    assert_acts_once(client, engine, correct, typed_into(client, correct, note="counted again"))
    back = f"/log/{last}/take-back"
    with Session(engine) as session:
        page = f"/sowings/{session.get_one(LogEntry, last).sowing_id}/log"
    assert_acts_once(client, engine, back, guards(client, back, page))


def test_a_double_tap_logs_once(client, engine):
    dealt_garden(engine)
    values = typed_into(client, "/trays/5/log?kind=sown")
    answers = tap(client, "/trays/5/log?kind=sown", values)
    assert len(set(answers)) == 1
    assert count(engine, LogEntry) == len([name for name in values if name.startswith("count_")])


def test_a_search_is_started_once(client, engine, launched):
    with Session(engine) as session:
        tomatoes(session, lamps=2)
    address = assert_acts_once(client, engine, "/fit", typed_into(client, "/fit"))
    assert address == f"/fit/{launched[0]}"
    assert len(launched) == 1
    stop = f"{address}/stop"
    assert client.post(stop, data=guards(client, stop, address)).status_code == 302


def test_labels_made_twice_are_noted_once(client, engine):
    """Without a key: the file is handed out each time, and its note is the same."""
    dealt_garden(engine)
    page = "/labels?trays=3"
    values = form_values(client.get(page).text)
    action = posted_forms(read_page(client.get(page).text))[0].attributes["action"]
    assert client.post(action, data=values).mimetype == "application/pdf"
    after = contents(engine)["label_print"]
    assert client.post(action, data=values).mimetype == "application/pdf"
    assert contents(engine)["label_print"] == after


def test_another_entry_from_a_form_that_was_sent_is_shown_before_it_is_added(client, engine, garden):
    """As after the browser's way back: nothing typed is lost, and nothing is added that nobody asked for twice."""
    values = typed_into(client, "/growers/new", name="Ada Brook")
    first = client.post("/growers/new", data=values)
    before = contents(engine)
    answer = client.post("/growers/new", data=values | {"name": "Bo Brook"})
    assert answer.status_code == 409
    assert contents(engine) == before
    said = words(answer.text)
    assert "This form was sent before" in said
    assert first.location in answer.text
    kept = form_values(answer.text)
    assert kept["name"] == ["Bo Brook"]
    assert client.post("/growers/new", data=kept).status_code == 302
    with Session(engine) as session:
        names = set(session.scalars(select(Grower.name)))
    assert {"Ada Brook", "Bo Brook"} <= names


def test_a_change_sent_again_otherwise_is_shown_beside_the_first(client, garden):
    values = typed_into(client, garden.edits["growers"], plot="20")
    client.post(garden.edits["growers"], data=values)
    answer = client.post(garden.edits["growers"], data=values | {"plot": "21"})
    assert answer.status_code == 409
    assert "Changed meanwhile" in words(answer.text)
    kept = form_values(answer.text)
    assert kept["plot"] == ["21"]
    assert client.post(garden.edits["growers"], data=kept).status_code == 302
    assert form_values(client.get(garden.edits["growers"]).text)["plot"] == ["21"]


def test_a_button_s_key_moves_nothing_else(client, engine):
    dealt_garden(engine)
    sent = guards(client, "/trays/3/pin", "/trays/3") | {"pinned": "yes"}
    client.post("/trays/3/pin", data=sent)
    before = contents(engine)
    other = guards(client, "/trays/4/pin", "/trays/4") | {"pinned": "yes", "key": sent["key"]}
    assert FIRST in words(client.post("/trays/4/pin", data=other, follow_redirects=True).text)
    assert contents(engine) == before


@pytest.mark.parametrize("key", [[], "", "short", "x" * 23, "'; DROP TABLE form_key; --"])
def test_a_form_without_a_key_of_ours_is_kept_and_not_saved(client, engine, garden, key):
    before = contents(engine)
    answer = client.post("/growers/new", data=typed_into(client, "/growers/new", name="Ada Brook", key=key))
    assert answer.status_code == 409
    assert contents(engine) == before
    kept = form_values(answer.text)
    assert kept["name"] == ["Ada Brook"]
    assert client.post("/growers/new", data=kept).status_code == 302


def test_a_button_without_a_key_changes_nothing(client, engine):
    dealt_garden(engine)
    sent = guards(client, "/trays/3/pin", "/trays/3") | {"pinned": "yes"}
    before = contents(engine)
    assert client.post("/trays/3/pin", data=sent | {"key": ""}).status_code == 400
    assert contents(engine) == before


def test_a_form_that_was_not_right_uses_its_key_up_for_nothing(client, engine, garden):
    values = typed_into(client, "/growers/new", name="")
    assert client.post("/growers/new", data=values).status_code == 200
    assert client.post("/growers/new", data=values | {"name": ["Ada Brook"]}).status_code == 302


def cookie_of(client):
    """Return the name and value of what a browser is signed in by."""
    name = client.application.config["SESSION_COOKIE_NAME"]
    return name, client.get_cookie(name).value


def tap(client, path, values, times=AT_ONCE):
    """Send the same form from several threads at once; return status and address of each answer."""
    barrier, cookie = threading.Barrier(times), cookie_of(client)

    def send(_number):
        thumb = FlaskClient(client.application, client.application.response_class)
        thumb.set_cookie(*cookie)
        barrier.wait(timeout=60)
        answer = thumb.post(path, data=values)
        return answer.status_code, answer.location

    with ThreadPoolExecutor(times) as pool:
        return list(pool.map(send, range(times)))


def assert_double_tap_acts_once(client, engine, path, values, model):
    before = count(engine, model)
    answers = tap(client, path, values)
    assert len(set(answers)) == 1, answers
    assert answers[0][0] == 302
    assert count(engine, model) == before + 1


def count(engine, model):
    with Session(engine) as session:
        return session.scalar(select(func.count()).select_from(model))


@pytest.mark.soak
def test_a_double_tap_adds_once_and_every_answer_is_the_same(client, engine, garden):
    for _ in range(3 * TIMES):
        name = secrets.token_hex(4)
        assert_double_tap_acts_once(
            client, engine, "/growers/new", typed_into(client, "/growers/new", name=name), Grower
        )
        values = typed_to_add(client, garden, "/sowings/new")
        assert_double_tap_acts_once(client, engine, "/sowings/new", values, Sowing)


def test_a_double_tap_starts_one_search_and_one_tray(client, engine, launched):
    made = dealt_garden(engine)
    assert_double_tap_acts_once(client, engine, "/fit", typed_into(client, "/fit"), Levelling)
    assert len(launched) == 1
    start = f"/trays/{FREE}/start"
    empty = guards(client, start) | {"container_id": str(made.boxes[0]), "day": "1 May 2027"}
    assert_double_tap_acts_once(client, engine, start, empty, Tray)


def test_of_two_that_pass_the_look_at_once_the_database_lets_one_act(client, engine, garden, monkeypatch):
    """As if there were no lock, so that both looked before either acted: the key can be written once."""
    values = typed_to_add(client, garden, "/sowings/new")
    client.post("/sowings/new", data=values)
    before, looks, find = count(engine, Sowing), [], once.find_sent_form

    def look(*args):
        looks.append(args)
        return None if len(looks) == 1 else find(*args)

    monkeypatch.setattr(once, "find_sent_form", look)
    again = client.post("/sowings/new", data=values)
    assert again.location.startswith(f"/growers/{garden.grower}#sowing-")
    assert len(looks) == 2
    assert count(engine, Sowing) == before


KILLED = """
import json, os, sys
from datetime import date
from pathlib import Path
from app import create_app
from app.settings import Settings
url, instance, cookie, path, values, when = json.loads(sys.stdin.read())
key = "for tests only " * 3
app = create_app(Settings(database_url=url, instance=Path(instance), today=date(2027, 4, 10), secret_key=key))
from app.extensions import db
from app.web import once
def die(*_args, **_kwargs):
    os._exit(9)
if when == "after the commit":
    once.redirect = die
else:
    once.note_sent_form = die
client = app.test_client()
client.set_cookie(*cookie)
print(client.post(path, data=values).status_code)
"""


@pytest.mark.parametrize(("when", "added"), [("before the commit", 0), ("after the commit", 1)])
def test_killed_around_the_commit_a_retry_acts_once(client, engine, garden, tmp_path, when, added):
    values = typed_to_add(client, garden, "/sowings/new")
    before = count(engine, Sowing)
    url = engine.url.render_as_string(hide_password=False)
    order = json.dumps([url, str(tmp_path / "instance"), cookie_of(client), "/sowings/new", values, when])
    run = subprocess.run([sys.executable, "-c", KILLED], input=order, text=True, cwd=ROOT, check=False)
    assert run.returncode == 9
    assert count(engine, Sowing) == before + added
    again = client.post("/sowings/new", data=values)
    assert again.status_code == 302
    said = words(client.get(again.location).text)
    assert (AGAIN in said) == bool(added)
    assert count(engine, Sowing) == before + 1


def test_keys_are_forgotten_after_a_month(client, engine, garden):
    old = typed_into(client, "/growers/new", name="Ada Brook")
    client.post("/growers/new", data=old)
    with Session(engine) as session:
        session.execute(update(FormKey).values(made_at=FormKey.made_at - KEPT_S + 60))
        session.commit()
    client.post("/growers/new", data=typed_into(client, "/growers/new", name="Bo Brook"))
    assert count(engine, FormKey) == 2
    with Session(engine) as session:
        session.execute(update(FormKey).values(made_at=FormKey.made_at - 120))
        session.commit()
    client.post("/growers/new", data=typed_into(client, "/growers/new", name="Cy Brook"))
    assert count(engine, FormKey) == 2


def test_a_key_leaves_the_mark_of_change_alone(client, engine, garden):
    """A form saved untouched changes nothing, so pages that are kept stay so."""
    path = garden.edits["growers"]
    before = contents(engine)["data_version"]
    assert client.post(path, data=form_values(client.get(path).text)).status_code == 302
    assert contents(engine)["data_version"] == before
