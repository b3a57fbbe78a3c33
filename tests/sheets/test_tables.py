"""The tables that leave as files."""

import csv
import io
import json
from datetime import date

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import insert

from app.core.plan import make_plan
from app.sheets.tables import Table, csv_text, deadline_rows, frost_rows, json_text, ledger_rows, plain_text
from app.storage.base import Base
from app.storage.queries.plan import get_garden
from app.storage.tables import delete_all
from tests.factories import garden, sowing
from tests.lengths import TIMES
from tests.storage.random_gardens import gardens

CELLS = st.none() | st.integers(-999, 999) | st.dates() | st.text(st.characters(exclude_categories=["Cs", "Cc"]))


@given(st.lists(st.tuples(CELLS, CELLS, CELLS), min_size=1))
def test_csv_and_json_hold_every_cell(rows):
    table = Table(("one", "two", "three"), rows)
    header, *read = csv.reader(io.StringIO(csv_text(table), newline=""), strict=True)
    assert header == ["one", "two", "three"]
    for cells, row in zip(read, rows, strict=True):
        for cell, value in zip(cells, row, strict=True):
            assert cell.removeprefix("'") == ("" if value is None else str(value)).removeprefix("'")
    objects = json.loads(json_text(table))
    assert [tuple(item.values()) for item in objects] == [
        tuple(value.isoformat() if isinstance(value, date) else value for value in row) for row in rows
    ]


def test_plain_columns_stand_under_each_other_with_numbers_to_the_right():
    table = Table(("crop", "cells"), [("Tomato", 9), ("Leek", 120), ("Squash\n", None)])
    assert plain_text(table) == "crop    cells\nTomato      9\nLeek      120\nSquash\n"


def test_a_table_without_rows_is_its_header():
    table = Table(("week", "place"), [])
    assert (csv_text(table), json_text(table), plain_text(table)) == ("week,place\n", "[]\n", "week  place\n")


def test_several_warnings_are_joined_by_a_semicolon_and_each_is_one_piece():
    # A day set before the window, and planting out long before the last frost of the invented table (1 June).
    day = date(2027, 4, 1).toordinal()
    plan = make_plan(garden([sowing(plant_out=day, sow_on=day - 90)]))
    row = dict(zip(deadline_rows(plan).columns, deadline_rows(plan).rows[0], strict=True))
    assert len(str(row["warning"]).split("; ")) == 2


@given(rows=gardens(most_plants=200))
@settings(max_examples=60 * TIMES, deadline=None, suppress_health_check=list(HealthCheck))
def test_any_garden_that_can_be_written_down_has_its_tables(session, rows):
    delete_all(session)
    for name, found in rows.items():
        for row in found:
            session.connection().execute(insert(Base.metadata.tables[name]), row)
    plan = make_plan(get_garden(session))
    assert len(deadline_rows(plan).rows) == len(rows["sowing"])
    assert len(ledger_rows(plan).rows) % 4 == 0
    assert len(frost_rows(plan).rows) in {4, 5}
    session.rollback()
    session.expunge_all()
