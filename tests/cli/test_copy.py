"""Copying a garden to another database, of the same engine or not."""

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.storage.base import Base
from app.storage.engine import make_engine
from tests.conftest import POSTGRES
from tests.storage.small_folder import DEALT, write_files


def rows_of(url):
    engine = make_engine(url)
    with engine.connect() as connection:
        rows = {
            table.name: [tuple(row) for row in connection.execute(select(table).order_by(*table.primary_key))]
            for table in Base.metadata.sorted_tables
            if table.name != "data_version"
        }
    engine.dispose()
    return rows


DEALT_TABLES = {"tray": 3, "cell": 108, "stay": 6}


@pytest.fixture
def dealt(tmp_path):
    """Return a folder of a garden with dealt trays."""
    return write_files(tmp_path / "dealt", DEALT)


def counts(rows):
    return {name: len(rows[name]) for name in DEALT_TABLES}


def test_everything_arrives_with_its_ids(run, demo, surroundings, tmp_path):
    target = f"sqlite:///{tmp_path / 'copy.sqlite3'}"
    assert "Copied" in run("copy", "--to", target).stdout
    rows = rows_of(target)
    assert rows == rows_of(f"sqlite:///{surroundings}")
    assert len(rows["sowing"]) == 500


def test_dealt_trays_arrive_with_their_cells_and_stays(run, dealt, surroundings, tmp_path):
    run("load", dealt)
    target = f"sqlite:///{tmp_path / 'copy.sqlite3'}"
    run("copy", "--to", target)
    rows = rows_of(target)
    assert rows == rows_of(f"sqlite:///{surroundings}")
    assert counts(rows) == DEALT_TABLES


def test_a_database_with_a_garden_is_not_copied_into(run, demo, tmp_path):
    target = f"sqlite:///{tmp_path / 'copy.sqlite3'}"
    run("copy", "--to", target)
    before = rows_of(target)
    assert "give an empty one" in run("copy", "--to", target, status=2).stderr
    assert rows_of(target) == before


def test_a_database_is_not_copied_into_itself(run, demo, surroundings):
    assert "the same database" in run("copy", "--to", f"sqlite:///{surroundings}", status=2).stderr


def empty(engine):
    """Leave nothing of what this or another test had in the database."""
    with engine.begin() as connection:
        for table in reversed(Base.metadata.sorted_tables):
            if table.name != "data_version":
                connection.execute(table.delete())


def new_id(connection, name):
    """Insert the last row of a table once more, a hundred numbers or days later, and return its new id."""
    table = Base.metadata.tables[name]
    row = dict(connection.execute(select(table).order_by(table.c.id.desc()).limit(1)).mappings().one())
    del row["id"]
    for column in ({"number", "begin_on", "end_on"}) & set(row):
        row[column] += 100 if column == "number" else timedelta(100)
    return connection.scalar(table.insert().values(**row).returning(table.c.id))


@pytest.mark.postgres
@pytest.mark.skipif(POSTGRES is None, reason="TRAYMATES_TEST_POSTGRES names no database")
@pytest.mark.parametrize("is_dealt", [False, True], ids=["the demo garden", "dealt trays"])
def test_a_garden_goes_to_postgresql_and_back_and_new_rows_get_new_ids(
    run, request, surroundings, tmp_path, migrated, dealt, is_dealt
):
    engine = migrated("postgresql")
    if is_dealt:
        run("load", dealt)
    else:
        request.getfixturevalue("demo")
    empty(engine)
    try:
        run("copy", "--to", POSTGRES)
        back = f"sqlite:///{tmp_path / 'back.sqlite3'}"
        run("copy", "--database", POSTGRES, "--to", back)
        assert rows_of(back) == rows_of(POSTGRES) == rows_of(f"sqlite:///{surroundings}")
        with engine.begin() as connection:
            grower = Base.metadata.tables["grower"]
            largest = max(connection.scalars(select(grower.c.id)))
            assert (
                connection.scalar(grower.insert().values(name="New").returning(grower.c.id)) > largest
            )  # none is given twice
            if is_dealt:
                assert counts(rows_of(POSTGRES)) == DEALT_TABLES
                # Numbers of rows that another test had in this database before are not given again.
                assert new_id(connection, "tray") > 3
                assert new_id(connection, "stay") > 6
    finally:
        empty(engine)
