"""What tests of making it fit share: a small garden, and who searches."""

from types import SimpleNamespace

import pytest

from app.core.words import Place
from app.services import levelling_run
from tests import levelling as double
from tests import rows


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
