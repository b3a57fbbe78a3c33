"""What holds for all lists and forms alike, in both units."""

from types import SimpleNamespace

import pytest
from sqlalchemy import event, select

from app.core.words import Light, Origin, Transplanting, Units
from app.extensions import db
from app.storage import Session
from app.storage.base import Base
from app.storage.models import DataVersion
from tests import rows
from tests.web.filling import GUARDS, errors_of, form_values, send

NOUNS = ("growers", "sowings", "crops", "containers", "shelves", "seed-lots")
# Strings and numbers that have broken programs: marks of templates and pages, formulas, other directions, long ones.
HOSTILE = ["{{7*7}}", "<script>alert(1)</script>", "'; DROP TABLE grower; --", "=1+1", "\u202eabc", "a\0b", "a" * 5000]
TEXTS = {"name", "plot", "contact", "variety", "botanical", "source"}
NUMBERS = ["nan", "inf", "1e400", "-0", "9" * 40, "1_000", "\uff11\uff12", "--1", "0x10", "1;2"]


@pytest.fixture(params=list(Units))
def garden(request, engine):
    """Return the ids of a small garden whose figures do not come out even in either system of units."""
    with Session(engine) as session:
        rows.garden(
            session, units=request.param, elevation_m=191.3, threshold_c=-2.2222, wishes_close="02-15", risk=1 / 3
        )
        tray = rows.container(session, cell_volume_ml=43.7, rows=6, columns=12)
        pot = rows.container(session, "9 cm  pot", cells_per_tray=18, cell_volume_ml=415.123)
        tomato = rows.crop(
            session,
            box=tray,
            botanical="Solanum lycopersicum",
            pot_on_container_id=pot.id,
            pot_on_after_days=21,
            transplanting=Transplanting.EASY,
            germ_temp_c=21.111,
            indoor_weeks_min=5.5,
            sow_depth_mm=6.35,
            seeds_per_gram=312.7,
            light_to_germinate=False,
            heat=True,
            heat_sum_cd=1234.5,
            heat_base_c=6.1,
            emergence_row="tomato",
            germination_kind="Tomato",
            source="light: common practice;\nheat:  from memory",
        )
        squash = rows.crop(session, "Squash", botanical="Cucurbita pepo")
        shelf = rows.shelf(
            session,
            width_cm=121.9,
            depth_cm=60.96,
            bench_temp_c=21.7,
            pan_depth_mm=19.05,
            ppfd=210.5,
            watts=340,
            fan=True,
        )
        lot = rows.seed_lot(session, tomato, germination=0.833, origin=Origin.SAVED, year=2026)
        saved = rows.seed_lot(session, squash, "Jar of squash", origin=Origin.SAVED)
        grower = rows.grower(session, contact="by the gate", days="monday saturday")
        sowing = rows.sowing(session, grower, tomato, seed_lot_id=lot.id, risk=0.125, priority=1, light=Light.LAMP)
        outside = rows.sowing(session, grower, squash, "S-0002", seed_lot_id=saved.id)
        session.commit()
        return SimpleNamespace(
            units=request.param,
            edits=[
                f"/growers/{grower.id}/edit",
                f"/sowings/{sowing.id}/edit",
                f"/sowings/{outside.id}/edit",
                f"/crops/{tomato.id}/edit",
                f"/crops/{squash.id}/edit",
                f"/containers/{tray.id}/edit",
                f"/containers/{pot.id}/edit",
                f"/shelves/{shelf.id}/edit",
                f"/seed-lots/{lot.id}/edit",
                "/setup/garden",
                "/setup/frost",
            ],
            crops=[tomato.id, squash.id],
        )


def contents(engine):
    """Return every row of every table, and the mark of change."""
    with engine.connect() as connection:
        kept = [mapper for mapper in Base.registry.mappers if not mapper.class_.is_transient]
        tables = [mapper.local_table for mapper in kept if mapper.class_ is not DataVersion]
        data = {t.name: connection.execute(select(t).order_by(*t.primary_key)).all() for t in tables}
        return data, connection.execute(select(DataVersion.mark)).scalar_one()


def test_every_page_of_a_noun_keeps_the_rules(client, garden):
    pages = [f"/{noun}" for noun in NOUNS] + [f"/{noun}/new" for noun in NOUNS] + garden.edits
    pages += [path.replace("/edit", "/delete") for path in garden.edits if path.endswith("/edit")]
    pages += [f"/crops/{crop}" for crop in garden.crops] + ["/setup"]
    answers = {path: client.get(path).status_code for path in pages}
    assert {path for path, status in answers.items() if status != 200} == set()


def test_a_form_saved_untouched_changes_nothing(client, engine, garden):
    before = contents(engine)
    for path in garden.edits:
        assert send(client, path).status_code == 302, path
    assert contents(engine) == before


def test_a_form_that_is_refused_keeps_what_was_typed_and_changes_nothing(client, engine, garden):
    before = contents(engine)
    for path in garden.edits:
        kept = [name for name in form_values(client.get(path).text) if name not in GUARDS]
        texts = [name for name in kept if name not in {"source", "contact"} and not name.endswith("_id")]
        for text in ("?!", "999999999999"):
            answer = send(client, path, **dict.fromkeys(texts, text))
            assert answer.status_code == 200, path
            assert errors_of(answer.text), path
            assert text in answer.text, path
    assert contents(engine) == before


ONE_SYSTEM = pytest.mark.parametrize("garden", [Units.METRIC], indirect=True, ids=["metric"])


@ONE_SYSTEM
@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_text_is_refused_or_kept_as_text(client, garden, text):
    for path in garden.edits:
        for name in {"name", "plot", "contact", "variety", "botanical", "source"} & set(
            form_values(client.get(path).text)
        ):
            answer = send(client, path, **{name: text})
            assert answer.status_code in {200, 302}, (path, name)
            assert "<script>alert" not in answer.text
    for path in [*(f"/{noun}" for noun in NOUNS), *(f"/crops/{crop}" for crop in garden.crops), *garden.edits]:
        page = client.get(path).text
        assert "<script>alert" not in page
        assert ">49<" not in page


@ONE_SYSTEM
@pytest.mark.parametrize("text", NUMBERS + HOSTILE, ids=range(len(NUMBERS + HOSTILE)))
def test_no_text_in_every_field_at_once_breaks_a_form(client, engine, garden, text):
    before = contents(engine)
    for path in [*garden.edits, *(f"/{noun}/new" for noun in NOUNS)]:
        if path.startswith("/growers"):
            continue  # a grower has no figures: any text that prints is a name
        names = [name for name in form_values(client.get(path).text) if name not in GUARDS]
        answer = send(client, path, **dict.fromkeys(names, text))
        assert answer.status_code == 200, path
        assert errors_of(answer.text), path
    assert contents(engine) == before


@ONE_SYSTEM
@pytest.mark.parametrize("path", ["/growers", "/sowings", "/seed-lots"])
@pytest.mark.parametrize("page", ["0", "-1", "2", "999999999999999999999", "x", ""])
def test_a_page_of_a_list_that_is_not_there_is_the_nearest_one(client, garden, path, page):
    assert client.get(f"{path}?page={page}&grower={page}&crop={page}&q={page}&sort={page}").status_code == 200


@ONE_SYSTEM
@pytest.mark.parametrize("row_id", ["0", "999999", "2147483648", "9" * 30])
@pytest.mark.parametrize("noun", NOUNS)
def test_a_row_that_is_not_there_is_not_found(client, garden, noun, row_id):
    for page in ("edit", "delete"):
        assert client.get(f"/{noun}/{row_id}/{page}").status_code == 404
        assert client.post(f"/{noun}/{row_id}/{page}").status_code in {400, 404}


def test_opening_a_page_that_removes_removes_nothing(client, engine, garden):
    before = contents(engine)
    for path in garden.edits:
        if path.endswith("/edit"):
            client.get(path.replace("/edit", "/delete"))
    assert contents(engine) == before


def test_a_list_takes_as_many_queries_for_many_rows_as_for_few(app, client, engine, garden):
    statements = []
    with app.app_context():
        event.listen(db.engine, "before_cursor_execute", lambda *args: statements.append(args[2]))

    def count(path):
        statements.clear()
        assert client.get(path).status_code == 200
        return sum(not statement.startswith(("BEGIN", "SET TRANSACTION")) for statement in statements)

    paths = [f"/{noun}" for noun in NOUNS] + ["/setup"]
    few = {path: count(path) for path in paths}
    with Session(engine) as session:
        crop = rows.crop(session, "Carrot")
        for number in range(300):
            grower = rows.grower(session, f"Member {number}")
            lot = rows.seed_lot(session, crop, f"Lot {number}")
            rows.container(session, f"Box {number}")
            rows.shelf(session, f"Shelf {number}")
            rows.crop(session, f"Crop {number}")
            rows.sowing(session, grower, crop, f"S-{number + 100}", seed_lot_id=lot.id)
        session.commit()
    many = {path: count(path) for path in paths}
    assert many == few
    assert max(many.values()) <= 14
