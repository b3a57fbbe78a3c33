"""Steps of a levelling in tests of services, with a double that searches."""

from datetime import date
from threading import Event, Thread

from sqlalchemy import select

from app.services.levelling import get_levelling, start_levelling
from app.services.levelling_run import run_levelling
from app.storage.models import Sowing
from tests.conftest import TODAY

# Of tests/web/seasons.py: tomatoes of this garden are sown best on Saturday 1 May; the double sows them a week later.
BEST, LATER = date(2027, 5, 1), date(2027, 5, 8)


def address(session):
    return session.get_bind().url.render_as_string(hide_password=False)


def start(session, **changes):
    levelling = start_levelling(session, **{"seconds": 10, "today": TODAY} | changes)
    session.commit()
    return levelling


def run(session, **changes):
    """Start a levelling and run it to its end; return its id."""
    levelling = start(session, **changes)
    run_levelling(address(session), levelling, Event())
    return levelling


def found(session, levelling, today=TODAY):
    return get_levelling(session, levelling, today=today)


def sowings(session):
    """Return day, place and plants set for each sowing of tomatoes."""
    return session.execute(select(Sowing.sow_on, Sowing.light, Sowing.placed).order_by(Sowing.id).limit(3)).all()


class Running:
    """A levelling that runs in a thread of this process."""

    def __init__(self, session, **changes):
        self.id = start(session, **changes)
        self.stop = Event()
        self._thread = Thread(target=run_levelling, args=[address(session), self.id, self.stop])
        self._thread.start()

    def end(self):
        self._thread.join(timeout=20)
        assert not self._thread.is_alive()


def wait_until(session, levelling, holds):
    """Wait until a levelling as it stands in the database is so, and return it."""
    for _ in range(400):
        row = found(session, levelling)
        session.rollback()  # a session that goes on would keep the levelling from writing
        if holds(row):
            return row
        Event().wait(0.02)
    raise AssertionError(row)
