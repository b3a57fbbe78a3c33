"""Light pages over HTTP while a levelling runs, in a garden of 5,000 sowings, against the same when idle."""

import os
import statistics
import subprocess
import sys
import time
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import select

from app.core.fitting.answer import Phase
from app.core.words import LevellingState
from app.services.levelling import find_latest_levelling, stop_levelling
from app.settings import KEY_FILE
from app.storage import Session
from app.storage.engine import make_engine
from app.storage.models import Sowing
from app.storage.schema import upgrade
from tests.benchmarks.short_gardens import fill_short
from tests.benchmarks.test_page_speed import get
from tests.benchmarks.timing import report
from tests.reliability.browsing import cookies_for
from tests.servers import free_port, wait_for
from tests.web.test_two_servers import Visitor

SOWINGS = 5_000
REQUESTS = 60
LIMIT = 5
# Long enough for all that is asked for meanwhile; it is stopped after that.
SECONDS = 60
DAY = date(2027, 4, 10)  # the server's


@pytest.fixture(scope="module")
def garden(tmp_path_factory):
    """Serve a garden whose places are a fifth short; return port, engine and the cookie of a coordinator."""
    folder = tmp_path_factory.mktemp("fit")
    url = f"sqlite:///{folder / 'garden.sqlite3'}"
    engine = make_engine(url)
    upgrade(engine)
    fill_short(engine, SOWINGS)
    port = free_port()
    environ = os.environ | {"DATABASE_URL": url, "TRAYMATES_INSTANCE": str(folder)}
    command = [sys.executable, "-m", "tests.benchmarks.page_server", str(port)]
    process = subprocess.Popen(command, env=environ, cwd=Path(__file__).parents[2])
    wait_for(port)
    key = (folder / KEY_FILE).read_text(encoding="ascii").strip()
    yield port, engine, cookies_for(engine, ["Odile Brandt"], key)[0]
    process.kill()
    process.wait()
    engine.dispose()


def find_latest(engine):
    with Session(engine) as session:
        return find_latest_levelling(session, today=DAY)


def wait_until(is_so, *, seconds):
    end = time.monotonic() + seconds
    while not is_so():
        assert time.monotonic() < end
        time.sleep(0.1)


def median_seconds(port, sowings):
    """Return the median seconds of each page; no sowing's page is asked for twice, so none of them is kept."""
    pages = {page: get(port, page, times=REQUESTS)[page] for page in ("/", "/ledger")}
    each = get(port, *(f"/sowings/{sowing}/edit" for sowing in sowings))
    pages["a sowing's page"] = [seconds for (seconds,) in each.values()]
    return {page: statistics.median(seconds) for page, seconds in pages.items()}


def test_light_pages_stay_light_while_a_plan_is_looked_for(garden):
    port, engine, cookie = garden
    with Session(engine) as session:
        sowings = iter(session.scalars(select(Sowing.id).order_by(Sowing.id)).all())

    def some():
        return [next(sowings) for _ in range(REQUESTS)]

    median_seconds(port, some())  # the server makes its plan once
    before = median_seconds(port, some())
    assert Visitor(port, "/fit", cookie).send(seconds=SECONDS)[0] == 302
    wait_until(lambda: find_latest(engine).phase != Phase.DATES, seconds=30)
    meanwhile = median_seconds(port, some())
    assert find_latest(engine).state is LevellingState.RUNNING
    with Session(engine) as session:
        stop_levelling(session, find_latest(engine).id)
        session.commit()
    wait_until(lambda: find_latest(engine).state is not LevellingState.RUNNING, seconds=120)
    after = median_seconds(port, some())
    times = {page: meanwhile[page] / statistics.mean([before[page], after[page]]) for page in before}
    for page, value in times.items():
        print(
            "\n  p50 before, meanwhile, after [ms]:", *(f"{1e3 * one[page]:.2f}" for one in (before, meanwhile, after))
        )
        report(f"{page} while a plan is looked for, p50 over idle", value, LIMIT)
    assert max(times.values()) <= LIMIT
