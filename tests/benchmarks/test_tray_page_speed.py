"""A tray's page, over HTTP: in a garden of 10,000 trays it opens as fast as in one of 100; and what the plan costs."""

import os
import statistics
import subprocess
import sys
from pathlib import Path

import pytest
from sqlalchemy import func, select

from app.core.plan import make_plan
from app.storage import Session
from app.storage.engine import make_engine, reading
from app.storage.models import Cell
from app.storage.queries.dealt import DEALT
from app.storage.queries.plan import get_garden
from app.storage.schema import upgrade
from tests.benchmarks.dealt_gardens import CELLS, fill_with_trays
from tests.benchmarks.test_page_speed import get
from tests.benchmarks.timing import ratio, report
from tests.servers import free_port, wait_for

MANY, FEW = 10_000, 100


@pytest.fixture(scope="module")
def gardens(tmp_path_factory):
    """Serve gardens of 100 and of 10,000 trays; return port and engine of each."""
    made, processes = {}, []
    for n_trays, n_sowings in ((FEW, 500), (MANY, 5_000)):
        folder = tmp_path_factory.mktemp("trays")
        url = f"sqlite:///{folder / 'garden.sqlite3'}"
        engine = make_engine(url)
        upgrade(engine)
        fill_with_trays(engine, n_trays, n_sowings)
        port = free_port()
        environ = os.environ | {"DATABASE_URL": url, "TRAYMATES_INSTANCE": str(folder)}
        command = [sys.executable, "-m", "tests.benchmarks.page_server", str(port)]
        processes.append(subprocess.Popen(command, env=environ, cwd=Path(__file__).parents[2]))
        wait_for(port)
        made[n_trays] = port, engine
    yield made
    for process in processes:
        process.kill()
        process.wait()
    for _, engine in made.values():
        engine.dispose()


def test_a_trays_page_opens_as_fast_among_10000_as_among_100(gardens):
    with Session(gardens[MANY][1]) as session:
        assert session.scalar(select(func.count()).select_from(Cell)) == MANY * CELLS == 720_000
    seconds = {n: [] for n in gardens}
    for port, _ in gardens.values():
        get(port, "/trays/1")  # each server makes its plan once
    # Each page is opened once, so that none is answered from what was kept.
    for number in range(2, FEW + 1):
        for n, (port, _) in gardens.items():
            address = f"/trays/{number if n == FEW else 97 * number}"
            seconds[n] += get(port, address)[address]
    times = statistics.median(seconds[MANY]) / statistics.median(seconds[FEW])
    report("a tray's page in a garden of 10,000 trays over one of 100, p50", times, 1.5)
    assert times <= 1.5


def test_reading_720000_cells_costs_little_beside_making_the_plan(gardens):
    with reading(), Session(gardens[MANY][1]) as session:
        garden = get_garden(session)

        def count_cells():
            return session.connection().execute(DEALT).cursor.fetchall()

        times = ratio(count_cells, lambda: make_plan(garden), rounds=3)
    report("counting 720,000 cells over making the plan from them", times, 0.5)
    assert times <= 0.5
