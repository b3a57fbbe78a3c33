"""List pages at 5,000 sowings, over HTTP: against the same SQL through the driver, and against a bare route."""

import http.client
import os
import secrets
import statistics
import subprocess
import sys
import time
from pathlib import Path
from urllib.parse import quote

import pytest
from sqlalchemy import text

from app.storage.engine import make_engine
from app.storage.schema import upgrade
from tests.benchmarks.gardens import fill
from tests.benchmarks.timing import report
from tests.servers import free_port, wait_for

PAGES = ["/", "/ledger", "/growers", "/sowings", "/crops"]
REQUESTS = 60


@pytest.fixture(scope="module")
def garden(tmp_path_factory):
    """Serve a garden of 5,000 sowings; return its port and its database."""
    folder = tmp_path_factory.mktemp("pages")
    url = f"sqlite:///{folder / 'garden.sqlite3'}"
    engine = make_engine(url)
    upgrade(engine)
    fill(engine, 5_000)
    port = free_port()
    environ = os.environ | {"DATABASE_URL": url, "TRAYMATES_INSTANCE": str(folder)}
    command = [sys.executable, "-m", "tests.benchmarks.page_server", str(port)]
    process = subprocess.Popen(command, env=environ, cwd=Path(__file__).parents[2])
    wait_for(port)
    yield port, engine
    process.kill()
    process.wait()
    engine.dispose()


def get(port, *addresses, before=lambda: None, times=1):
    """Return seconds of each request of each address, asked for in turn over one connection."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    seconds = {address: [] for address in addresses}
    for _ in range(times):
        for address in addresses:
            before()
            begin = time.perf_counter()
            connection.request("GET", address)
            answer = connection.getresponse()
            answer.read()
            seconds[address].append(time.perf_counter() - begin)
            assert answer.status == 200, (address, answer.status)
    connection.close()
    return seconds


def p95(values):
    return statistics.quantiles(values, n=20)[-1]


@pytest.mark.parametrize("page", PAGES)
def test_a_changed_garden_costs_few_times_its_sql(garden, page):
    port, engine = garden

    def change():
        with engine.begin() as connection:
            connection.execute(text("UPDATE data_version SET mark = :mark"), {"mark": secrets.token_hex(16)})

    driver = f"/driver?page={quote(page)}"
    change()
    get(port, f"/learn?page={quote(page)}")
    get(port, page, driver, before=change, times=5)
    seconds = get(port, page, driver, before=change, times=REQUESTS)
    middle = statistics.median(seconds[page]) / statistics.median(seconds[driver])
    tail = p95(seconds[page]) / p95(seconds[driver])
    most = 5 if page == "/" else 4  # the week derives the work of every sowing, and orders it
    report(f"{page}, changed data: p50 over the same SQL", middle, most)
    report(f"{page}, changed data: p95 over the same SQL", tail, most)
    assert middle <= most
    assert tail <= most


# The first page has a form of whoever looks at it, and is made for each.
@pytest.mark.parametrize("page", PAGES[1:])
def test_an_unchanged_page_costs_twice_a_bare_route(garden, page):
    port, _ = garden
    get(port, page, "/bare", times=50)
    seconds = get(port, page, "/bare", times=10 * REQUESTS)
    middle = statistics.median(seconds[page]) / statistics.median(seconds["/bare"])
    tail = p95(seconds[page]) / p95(seconds["/bare"])
    report(f"{page}, unchanged data: p50 over a bare route", middle, 2)
    report(f"{page}, unchanged data: p95 over a bare route", tail, 2)
    assert middle <= 2
    assert tail <= 2
