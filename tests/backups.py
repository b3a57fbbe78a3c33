"""Gardens with something in every table, and what a database holds, for tests of backups."""

from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from sqlalchemy import create_engine, func, insert, select

from app.services.demo import set_up_demo
from app.storage import Session
from app.storage.base import Base
from app.storage.engine import engine_options, make_engine
from app.storage.models import Grower
from app.storage.schema import upgrade
from tests import rows
from tests.kept_gardens import kept

NOW = datetime(2027, 4, 10, 12, tzinfo=UTC).timestamp()
# A restore signs everybody out and gives the data a new mark.
TRANSIENT = {"sign_in", "slip", "failed_try", "form_key"}
PEOPLE = {
    "account": {
        "name": "Ünal “the Spade” Öz",
        "name_key": "ünal “the spade” öz",
        "role": "coordinator",
        "passphrase": "no hash",
        "pin": None,
        "is_demo": False,
        "made_at": 1_800_000_000.25,
    },
    "sign_in": {"token": "a" * 64, "is_bench": True, "made_at": 1.5, "seen_at": 2.5, "expires_at": 9e9},
    "slip": {"token": "b" * 64, "kind": "first", "made_at": 1.5, "expires_at": 9e9},
    "failed_try": {"subject": "c" * 64, "at": 3.5},
    "history": {
        "at": 4.5,
        "via": "page",
        "noun": "sowing",
        "subject_id": 1,
        "subject": "S001",
        "action": "changed",
        "changes": [["plants", 6, 7], ["variety", None, "=1+1 “é”"]],
    },
    "form_key": {"key": "d" * 22, "made_at": 5.5, "body": "e" * 64, "answer": "/growers"},
    "last_number": {"kind": "press", "last": 777},
    "house": {
        "id": 1,
        "open_to_visitors": True,
        "wifi_name": "Shed",
        "wifi_passphrase": "seedlings",
        "keep_days": 5,
        "keep_weeks": 3,
        "keep_months": 2,
        "steps_hidden": True,
        "holds_demo": True,
    },
    "batch": {"at": 4.5, "account_id": 1, "what": "growers pasted", "rows": 2, "digest": "h" * 32, "undone_at": 5.5},
    "printer": {"name": "Shed", "offset_x_mm": 0.1, "offset_y_mm": -0.2, "scale_percent": 100.2, "turned": False},
    "seed_test": {"seed_lot_id": 1, "date": None, "tried": 40, "seeds_per_cell": 1.0, "up": 33, "days": 10},
    "log_entry": {
        "name": "=E-1",
        "sowing_id": 1,
        "kind": "sown",
        "date": None,
        "count": 6,
        "note": "“é”",
        "cells": "1-1",
        "made_at": 6.25,
    },
    "ticked": {"sowing_id": 1, "task": "look", "date": None, "made_at": 7.5},
    "draft": {"grower_id": 1, "crop_id": 1, "plants": 6, "brings_seed": True, "got": 4},
    "care_round": {"date": None, "grower_id": 1, "is_offered": False, "is_swapped": True},
    "spare_offer": {"sowing_id": 1, "plants": 2, "date": None},
    "spare_request": {"grower_id": 1, "crop_id": 1, "plants": 3, "date": None},
    "spare_gift": {"offer_id": 1, "request_id": 1, "grower_id": 1, "plants": 1, "date": None},
    "feed": {"token": "f" * 64, "account_id": 1, "whole_garden": True, "made_at": 8.5},
    "feed_event": {
        "key": "2027/a",
        "uid": "u" * 36,
        "scope": "g1",
        "day": None,
        "summary": "Sow",
        "digest": "g" * 64,
        "sequence": 2,
        "changed_at": 9.5,
        "is_cancelled": False,
    },
    "reminder": {"account_id": 1, "week": "2027-W14", "sent_at": 10.5},
    "label_print": {"number": 3, "kind": "tray", "contents": "x", "made_on": None},
}


def fill(engine):
    """Put the demo garden into a database, and a row into each table of people and of the house."""
    with Session(engine) as session:
        kept(session, _everything)
        session.commit()


def _everything(session):
    kept(session, set_up_demo)
    day = session.scalar(select(func.min(Base.metadata.tables["tray"].c.sow_on)))
    for name, row in PEOPLE.items():
        table = Base.metadata.tables[name]
        values = {key: day if key in {"made_on", "date", "day"} else value for key, value in row.items()}
        for key in table.foreign_keys:
            if key.parent.name in values:  # ids are not given again: the first that there is
                values[key.parent.name] = session.scalar(select(func.min(key.column)))
        if name == "house":  # loading the demo has made it
            session.connection().execute(table.delete())
        session.connection().execute(insert(table).values(**values))


def rows_of(engine, *, without=frozenset()):
    """Return all rows of each table that has any."""
    found = {}
    with engine.connect() as connection:
        for table in Base.metadata.sorted_tables:
            if table.name not in without:
                ordered = connection.execute(select(table).order_by(*table.primary_key))
                found[table.name] = [tuple(row) for row in ordered]
    return {name: rows for name, rows in found.items() if rows}


def kept_rows_of(engine):
    """Return all rows that a restore brings back."""
    return rows_of(engine, without=TRANSIENT | {"data_version"})


def plain_engine(path):
    """Return an engine that reads a finished backup and leaves the file as it is."""
    return create_engine(**engine_options(f"sqlite:///{path}"))


def url_of(engine):
    return engine.url.render_as_string(hide_password=False)


def new_database(path):
    """Return an engine of a new, empty SQLite database."""
    path.write_bytes(_empty_database())
    return make_engine(f"sqlite:///{path}")


@cache
def _empty_database():
    with TemporaryDirectory() as folder:
        path = Path(folder, "empty.sqlite3")
        engine = make_engine(f"sqlite:///{path}")
        upgrade(engine)
        engine.dispose()
        return path.read_bytes()


def with_small_garden(engine):
    with Session(engine) as session:
        rows.garden(session)
        rows.grower(session)
        session.commit()
    return engine


def add_grower(engine, name):
    with Session(engine) as session:
        session.add(Grower(name=name))
        session.commit()


def grower_names(engine):
    with Session(engine) as session:
        return set(session.scalars(select(Grower.name)))
