"""The schema comes up, goes down, and is the one that the models describe."""

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import inspect, text

from app.storage.base import Base
from app.storage.engine import make_engine
from app.storage.schema import MIGRATIONS, NewerSchemaError, downgrade, upgrade

REVISIONS = [script.revision for script in reversed(list(ScriptDirectory(str(MIGRATIONS)).walk_revisions()))]

# What each revision is run over: rows put in with plain SQL, as they were when it was the newest.
ROWS = {
    "0001_first_tables": (
        "INSERT INTO container (name, cells_per_tray, cell_volume_ml) VALUES ('72-cell tray', 72, 40)",
        "INSERT INTO grower (name, days) VALUES ('Ines Moreau', 'saturday')",
        """INSERT INTO crop (name, hardiness, days_to_maturity, counted_from, days_to_emerge, heat, seeds_per_cell,
           start_container_id, light)
           SELECT 'Tomato', 'tender', 60, 'transplant', 6, TRUE, 2, id, 'lamp' FROM container""",
        """INSERT INTO sowing (name, grower_id, crop_id, plants, plant_out)
           SELECT 'S001', grower.id, crop.id, 6, '2027-06-12' FROM grower, crop""",
    ),
    "0002_station_record": (
        """INSERT INTO garden (id, name, season, units, sowing_day, hand_out_day, tray_length_cm, tray_width_cm,
           latitude, longitude, elevation_m, frost_source, frost_law, threshold_c, risk, autumn_risk, confidence,
           survival, spare, record_mark)
           VALUES (1, 'Wrenmoor', 2027, 'metric', 'saturday', 'saturday', 54.5, 28,
           47.1, 0, 0, 'station', 'empirical', 0, 0.1, 0.5, 0.9, 0.9, 0.1, 'abc')""",
        """INSERT INTO frost_point (side, chance_percent, month_day)
           VALUES ('spring', 50, '05-10'), ('autumn', 50, '09-26')""",
        "INSERT INTO daily_temperature (date, tmin_c, tmax_c) VALUES ('2020-02-29', -2.5, NULL), ('2020-03-01', 0, 7)",
    ),
    "0003_trays": (
        "INSERT INTO container (name, cells_per_tray, cell_volume_ml) VALUES ('72-cell tray', 72, 40)",
        "INSERT INTO shelf (name, place, width_cm, depth_cm, levels) VALUES ('Bench', 'heat', 122, 61, 1)",
        """INSERT INTO tray (number, container_id, sow_on, potted_on, pinned)
           SELECT 1, id, '2027-03-06', FALSE, TRUE FROM container""",
        "INSERT INTO cell (tray_id, row_number, column_number, state) SELECT id, 1, 1, 'empty' FROM tray",
        """INSERT INTO stay (tray_id, place, shelf_id, level, slot, begin_on, end_on, pinned)
           SELECT tray.id, 'heat', shelf.id, 1, 1, '2027-03-06', '2027-03-16', FALSE FROM tray, shelf""",
    ),
    "0004_printing": (
        """INSERT INTO printer (name, offset_x_mm, offset_y_mm, scale_percent, turned)
           VALUES ('Office', 0.3, -0.5, 100.2, FALSE)""",
        """INSERT INTO label_stock (name, paper, columns, rows, label_width_mm, label_height_mm, left_mm, top_mm,
           pitch_across_mm, pitch_down_mm, cut)
           VALUES ('Blue box', 'a4', 3, 7, 63.5, 38.1, 7.2, 15.1, 66, 38.1, FALSE)""",
        "INSERT INTO public_address (id, address) VALUES (1, 'http://shed.lan')",
        """INSERT INTO label_print (number, kind, address, contents, made_on)
           VALUES (1, 'tray', 'http://shed.lan', 'abc', '2027-03-06'), (1, 'tag', NULL, '', '2027-03-06')""",
    ),
    "0005_levelling": (
        "INSERT INTO container (name, cells_per_tray, cell_volume_ml) VALUES ('72-cell tray', 72, 40)",
        "INSERT INTO grower (name, days) VALUES ('Ines Moreau', 'saturday')",
        """INSERT INTO crop (name, hardiness, days_to_maturity, counted_from, days_to_emerge, heat, seeds_per_cell,
           start_container_id, light)
           SELECT 'Tomato', 'tender', 60, 'transplant', 6, TRUE, 2, id, 'lamp' FROM container""",
        """INSERT INTO sowing (name, grower_id, crop_id, plants)
           SELECT 'S001', grower.id, crop.id, 6 FROM grower, crop""",
        """INSERT INTO levelling (state, started_at, ended_at, beat_at, stop_wanted, mark, today, seconds, phase,
           reached, changes, accepted) VALUES
           ('running', 1.5, NULL, 1.5, FALSE, 'abc', '2027-04-10', 10, 'dates', '[]', 1, 0),
           ('stopped', 1.5, 2.5, 1.5, TRUE, 'abc', '2027-04-10', 10, 'dates', '[]', 1, 0)""",
        """INSERT INTO levelling_change (levelling_id, sowing_id, is_accepted, sow_on_after, wanted, day_after)
           SELECT levelling.id, sowing.id, FALSE, '2027-04-17', 6, '2027-04-17' FROM levelling, sowing""",
    ),
    "0006_people": (
        "INSERT INTO grower (name, days) VALUES ('Ines Moreau', 'saturday')",
        """INSERT INTO account (name, name_key, role, grower_id, is_demo, made_at)
           SELECT 'Ines', 'ines', 'member', id, FALSE, 0.5 FROM grower""",
        """INSERT INTO sign_in (token, account_id, is_bench, made_at, seen_at, expires_at)
           SELECT 'abc', id, FALSE, 1, 2, 3 FROM account""",
        "INSERT INTO sign_in (token, is_bench, made_at, seen_at, expires_at) VALUES ('def', TRUE, 1, 2, 3)",
        """INSERT INTO slip (token, kind, made_at, expires_at) VALUES ('abc', 'first', 1, 2)""",
        "INSERT INTO failed_try (subject, at) VALUES ('abc', 3)",
        """INSERT INTO history (at, via, account_id, noun, subject_id, subject, action, changes)
           SELECT 4, 'page', id, 'sowing', 1, 'S001', 'changed', '[["plants", 6, 7]]' FROM account""",
        "INSERT INTO form_key (key, made_at, body, answer) VALUES ('abc', 5, 'def', '/growers')",
        "INSERT INTO last_number (kind, last) VALUES ('tray', 7)",
        """INSERT INTO house (id, open_to_visitors, keep_days, keep_weeks, keep_months)
           VALUES (1, TRUE, 7, 4, 12)""",
    ),
    "0007_log": (
        "INSERT INTO container (name, cells_per_tray, cell_volume_ml) VALUES ('72-cell tray', 72, 40)",
        "INSERT INTO grower (name, days) VALUES ('Ines Moreau', 'saturday')",
        """INSERT INTO crop (name, hardiness, days_to_maturity, counted_from, days_to_emerge, heat, seeds_per_cell,
           start_container_id, light)
           SELECT 'Tomato', 'tender', 60, 'transplant', 6, TRUE, 2, id, 'lamp' FROM container""",
        """INSERT INTO sowing (name, grower_id, crop_id, plants)
           SELECT 'S001', grower.id, crop.id, 6 FROM grower, crop""",
        """INSERT INTO draft (grower_id, crop_id, plants, brings_seed, got)
           SELECT grower.id, crop.id, 6, FALSE, 5 FROM grower, crop""",
        "INSERT INTO seed_lot (name, crop_id, germination) SELECT 'L001', id, 0.8 FROM crop",
        """INSERT INTO seed_test (seed_lot_id, date, tried, seeds_per_cell, up, days)
           SELECT id, '2027-01-10', 40, 1, 33, 10 FROM seed_lot""",
        """INSERT INTO log_entry (name, sowing_id, kind, date, count, made_at)
           SELECT 'E00001', id, 'sown', '2027-04-03', 9, 1.5 FROM sowing""",
        """INSERT INTO log_entry (name, sowing_id, kind, date, count, made_at, supersedes_id, cells, cause)
           SELECT 'E00002', sowing_id, 'lost', '2027-04-04', 0, 2.5, id, '1-1', 'mice' FROM log_entry""",
        """INSERT INTO ticked (sowing_id, task, date, made_at) SELECT id, 'harden', '2027-05-20', 3 FROM sowing""",
        "INSERT INTO care_round (date, is_offered, is_swapped) VALUES ('2027-04-10', FALSE, FALSE)",
        "INSERT INTO spare_offer (sowing_id, plants, date) SELECT id, 2, '2027-05-20' FROM sowing",
        """INSERT INTO spare_request (grower_id, crop_id, plants, date)
           SELECT grower.id, crop.id, 1, '2027-05-21' FROM grower, crop""",
        """INSERT INTO spare_gift (offer_id, request_id, plants, date)
           SELECT spare_offer.id, spare_request.id, 1, '2027-05-22' FROM spare_offer, spare_request""",
        (
            "INSERT INTO feed_event (key, uid, scope, day, summary, digest, sequence, changed_at, is_cancelled)"
            " VALUES ('a', 'b', 'c', '2027-04-10', 'Sow', 'abc', 1, 2, FALSE)"
        ),
        """INSERT INTO account (name, name_key, role, is_demo, made_at) VALUES ('Ines', 'ines', 'member', FALSE, 0)""",
        "INSERT INTO feed (token, account_id, whole_garden, made_at) SELECT 'abc', id, TRUE, 1 FROM account",
        "INSERT INTO reminder (account_id, week, sent_at) SELECT id, '2027-W14', 3 FROM account",
    ),
    "0008_batches": (
        "INSERT INTO account (name, name_key, role, is_demo, made_at) VALUES ('Ida', 'ida', 'member', FALSE, 0)",
        """INSERT INTO batch (at, account_id, what, rows, digest, undone_at, undone_by_id)
           SELECT 1.5, id, 'growers pasted', 1, 'abc', 2.5, id FROM account""",
        """INSERT INTO history (at, via, account_id, noun, subject_id, subject, action, changes, batch_id)
           SELECT 1.5, 'page', account_id, 'grower', 1, 'Tomas', 'added', '[["name", null, "Tomas"]]', id FROM batch""",
        """INSERT INTO house (id, open_to_visitors, keep_days, keep_weeks, keep_months, steps_hidden, holds_demo)
           VALUES (1, TRUE, 7, 4, 12, TRUE, FALSE)""",
    ),
    "0009_language": (
        """INSERT INTO garden (id, name, season, units, language, sowing_day, hand_out_day, tray_length_cm,
           tray_width_cm, latitude, longitude, elevation_m, frost_source, frost_law, threshold_c, risk, autumn_risk,
           confidence, survival, spare)
           VALUES (1, 'Wrenmoor', 2027, 'metric', 'fr', 'saturday', 'saturday', 54.5, 28, 47.1, 0, 0, 'dates',
           'normal', 0, 0.1, 0.5, 0.9, 0.9, 0.1)""",
    ),
}


@pytest.fixture
def empty(engine):
    """Return a database without any schema, and give it the newest one again afterwards."""
    downgrade(engine, "base")
    yield engine
    upgrade(engine)


def schema(engine):
    found = inspect(engine)
    return {
        table: (
            sorted((c["name"], str(c["type"]), c["nullable"]) for c in found.get_columns(table)),
            sorted(check["name"] for check in found.get_check_constraints(table)),
            sorted(tuple(key["constrained_columns"]) for key in found.get_foreign_keys(table)),
            sorted(tuple(unique["column_names"]) for unique in found.get_unique_constraints(table)),
            sorted(index["name"] for index in found.get_indexes(table)),
        )
        for table in found.get_table_names()
        if table != "alembic_version"
    }


def test_migrated_schema_equals_the_models(engine):
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []


def test_migrated_checks_equal_the_models(engine, tmp_path):
    made = make_engine(f"sqlite:///{tmp_path / 'made.sqlite3'}")
    Base.metadata.create_all(made)
    checks = {table: parts[1] for table, parts in schema(made).items()}
    made.dispose()
    assert {table: parts[1] for table, parts in schema(engine).items()} == checks


@pytest.mark.parametrize("revision", REVISIONS)
def test_each_revision_goes_up_and_down_over_rows(empty, revision):
    position = REVISIONS.index(revision)
    before = "base" if position == 0 else REVISIONS[position - 1]
    if before != "base":
        upgrade(empty, before)
    schema_before = schema(empty)
    upgrade(empty, revision)
    with empty.begin() as connection:
        for statement in ROWS[revision]:
            connection.exec_driver_sql(statement)
    downgrade(empty, before)
    assert schema(empty) == schema_before
    upgrade(empty, revision)
    downgrade(empty, "base")


def test_rows_survive_an_upgrade_that_has_nothing_to_do(engine):
    with engine.begin() as connection:
        for statement in ROWS["0001_first_tables"]:
            connection.exec_driver_sql(statement)
    upgrade(engine)
    with engine.connect() as connection:
        assert connection.exec_driver_sql("SELECT name FROM sowing").scalar_one() == "S001"


def test_a_failed_upgrade_leaves_nothing_behind(empty):
    with empty.begin() as connection:
        connection.exec_driver_sql("CREATE TABLE sowing (id INTEGER)")
    with pytest.raises(Exception, match="sowing"):
        upgrade(empty)
    left = set(inspect(empty).get_table_names()) - {"alembic_version"}
    with empty.begin() as connection:
        connection.exec_driver_sql("DROP TABLE sowing")
    assert left == {"sowing"}


def test_a_newer_database_is_refused_untouched(engine):
    with engine.begin() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999_from_the_future'")
    try:
        with pytest.raises(NewerSchemaError, match="9999_from_the_future"):
            upgrade(engine)
    finally:
        with engine.begin() as connection:
            connection.execute(text("UPDATE alembic_version SET version_num = :head"), {"head": REVISIONS[-1]})


@pytest.mark.parametrize(
    "table", ["container", "crop", "grower", "sowing", "shelf", "seed_lot", "tray", "printer", "batch"]
)
def test_no_id_is_given_twice(engine, table):
    """The history, and addresses that people keep, speak of rows by their ids."""
    assert Base.metadata.tables[table].dialect_options["sqlite"]["autoincrement"]
    if engine.dialect.name == "sqlite":
        with engine.connect() as connection:
            query = text("SELECT sql FROM sqlite_master WHERE name = :name")
            assert "AUTOINCREMENT" in connection.scalar(query, {"name": table})


def test_rows_and_ids_survive_the_step_after_which_ids_are_given_once(empty):
    upgrade(empty, "0005_levelling")
    with empty.begin() as connection:
        another = "INSERT INTO grower (id, name) VALUES (40, 'Tomas')"
        for statement in (*ROWS["0001_first_tables"], another, "UPDATE sowing SET grower_id = 40"):
            connection.exec_driver_sql(statement)
        before = connection.exec_driver_sql("SELECT * FROM crop").all()
    upgrade(empty)
    with empty.begin() as connection:
        assert connection.exec_driver_sql("SELECT grower_id FROM sowing").scalar_one() == 40
        assert connection.exec_driver_sql("SELECT * FROM crop").all() == before
        if empty.dialect.name == "sqlite":
            connection.exec_driver_sql("DELETE FROM sowing")
            connection.exec_driver_sql("DELETE FROM grower")
            given = connection.exec_driver_sql("INSERT INTO grower (name) VALUES ('Ines') RETURNING id").scalar_one()
            assert given == 41
    downgrade(empty, "base")
