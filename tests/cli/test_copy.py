"""Copying a garden to another database, of the same engine or not."""

import os

import pytest
from sqlalchemy import select

from app.storage.base import Base
from app.storage.engine import make_engine

POSTGRES = os.environ.get("TRAYMATES_TEST_POSTGRES")


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


def test_everything_arrives_with_its_ids(run, surroundings, tmp_path):
    run("demo")
    target = f"sqlite:///{tmp_path / 'copy.sqlite3'}"
    assert "Copied" in run("copy", "--to", target).stdout
    rows = rows_of(target)
    assert rows == rows_of(f"sqlite:///{surroundings}")
    assert len(rows["sowing"]) == 500


def test_a_database_with_a_garden_is_not_copied_into(run, tmp_path):
    run("demo")
    target = f"sqlite:///{tmp_path / 'copy.sqlite3'}"
    run("copy", "--to", target)
    before = rows_of(target)
    assert "give an empty one" in run("copy", "--to", target, status=2).stderr
    assert rows_of(target) == before


def test_a_database_is_not_copied_into_itself(run, surroundings):
    run("demo")
    assert "the same database" in run("copy", "--to", f"sqlite:///{surroundings}", status=2).stderr


@pytest.mark.postgres
@pytest.mark.skipif(POSTGRES is None, reason="TRAYMATES_TEST_POSTGRES names no database")
def test_a_garden_goes_to_postgresql_and_back_and_new_rows_get_new_ids(run, surroundings, tmp_path, migrated):
    engine = migrated("postgresql")
    run("demo")
    try:
        run("copy", "--to", POSTGRES)
        back = f"sqlite:///{tmp_path / 'back.sqlite3'}"
        run("copy", "--database", POSTGRES, "--to", back)
        assert rows_of(back) == rows_of(POSTGRES) == rows_of(f"sqlite:///{surroundings}")
        with engine.begin() as connection:
            grower = Base.metadata.tables["grower"]
            largest = max(connection.scalars(select(grower.c.id)))
            assert connection.scalar(grower.insert().values(name="New").returning(grower.c.id)) == largest + 1
    finally:
        with engine.begin() as connection:
            for table in reversed(Base.metadata.sorted_tables):
                if table.name != "data_version":
                    connection.execute(table.delete())
