"""What is said to a machine that watches the server."""

import time
from dataclasses import replace

import pytest
from sqlalchemy import event, text

from app import create_app
from app.extensions import db
from app.services import health
from app.services.backups import back_up, backup_folder, backup_name
from app.storage.engine import make_engine, writing


@pytest.fixture(autouse=True)
def instance(app):
    """Make the instance folder, as a server's start does."""
    app.config["SETTINGS"].instance.mkdir(exist_ok=True)


def ask(app):
    return app.test_client().get("/healthz")


def test_a_server_that_is_well_says_so_with_what_may_run_short(app, engine):
    answer = ask(app)
    assert answer.status_code == 200
    assert answer.mimetype == "application/json"
    assert answer.headers["Cache-Control"] == "no-store"
    said = answer.json
    assert (said["status"], said["database"], said["schema"]) == ("ok", "ok", "ok")
    assert (said["wal_bytes"] is not None) == (engine.dialect.name == "sqlite")
    assert said["free_bytes"] > 0
    assert said["backup_age_s"] is None


def test_the_age_of_the_last_good_backup_is_told(app):
    settings = app.config["SETTINGS"]
    at = time.time() - 5000
    back_up(settings.database_url, backup_folder(settings.instance) / backup_name(at))
    assert 4990 < ask(app).json["backup_age_s"] < 5100


def test_a_disk_that_is_nearly_full_is_told_while_requests_are_answered(app, monkeypatch):
    monkeypatch.setattr(health, "LEAST_FREE_BYTES", 2**62)
    answer = ask(app)
    assert (answer.status_code, answer.json["disk"]) == (200, "nearly full")


def test_a_database_that_is_away_is_a_failure(app, tmp_path):
    away = create_app(replace(app.config["SETTINGS"], database_url=f"sqlite:///{tmp_path / 'no' / 'such.sqlite3'}"))
    answer = ask(away)
    assert (answer.status_code, answer.json["status"], answer.json["database"]) == (503, "failed", "away")


def test_a_schema_of_another_version_is_a_failure(app, tmp_path):
    url = f"sqlite:///{tmp_path / 'empty.sqlite3'}"
    make_engine(url).dispose()
    answer = ask(create_app(replace(app.config["SETTINGS"], database_url=url)))
    assert (answer.status_code, answer.json["database"], answer.json["schema"]) == (503, "ok", "wrong")


def test_it_answers_while_somebody_writes_and_itself_never_begins_to(app, engine):
    with app.app_context():
        begun = []
        event.listen(db.engine, "before_cursor_execute", lambda _c, _k, statement, *_: begun.append(statement))
    with writing(), engine.connect() as other:
        other.execute(text("SELECT 1"))
        asked = time.monotonic()
        assert ask(app).status_code == 200
        assert time.monotonic() - asked < 4
    assert begun
    assert [
        statement for statement in begun if not statement.lstrip().startswith(("SELECT", "PRAGMA", "BEGIN", "SET"))
    ] == []
    assert "BEGIN IMMEDIATE" not in begun


@pytest.mark.parametrize("method", ["post", "put", "delete"])
def test_it_is_only_asked(app, method):
    assert getattr(app.test_client(), method)("/healthz").status_code == 405
