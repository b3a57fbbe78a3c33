"""What tests of making it fit share: a small garden, and who searches; and what tests of backups share."""

from types import SimpleNamespace

import pytest

from app.core.words import Place
from app.services import levelling_run
from app.services.backups import backup_folder
from tests import levelling as double
from tests import rows
from tests.backups import new_database, with_small_garden


@pytest.fixture
def tomatoes(session):
    """Add three sowings of tomatoes, and one of carrots, which are sown outside; commit."""
    rows.garden(session)
    box, who = rows.container(session), rows.grower(session)
    rows.shelf(session, "Lamp rack", positions=4)
    rows.shelf(session, "Cold frame", place=Place.HARDENING, positions=4)
    crop = rows.crop(session, box=box)
    ids = [rows.sowing(session, who, crop, f"S-{number}", plants=20).id for number in (1, 2, 3)]
    rows.sowing(session, who, rows.crop(session, "Carrot"), "S-4")
    made = SimpleNamespace(crop=crop.id, sowings=ids)
    session.commit()
    return made


@pytest.fixture
def search(monkeypatch):
    """Return a function that lets another one of tests/levelling.py search; at first it answers at once."""

    def use(function):
        monkeypatch.setattr(levelling_run, "level", function)

    monkeypatch.setattr(levelling_run, "BEAT_SECONDS", 0.05)
    use(double.a_week_later)
    return use


@pytest.fixture
def folder(tmp_path):
    """Return the folder of the backups."""
    return backup_folder(tmp_path / "instance")


@pytest.fixture
def small(engine):
    """Return a database of each engine with a small garden."""
    return with_small_garden(engine)


@pytest.fixture
def own(tmp_path):
    """Return an SQLite database with a small garden, for what does not depend on the engine."""
    engine = with_small_garden(new_database(tmp_path / "own.sqlite3"))
    yield engine
    engine.dispose()
