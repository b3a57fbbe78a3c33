"""The shipped start command under four people at once: one process on SQLite beside two workers on PostgreSQL.

Seconds on a machine that does other things tell little, so what is told is the processor's time for a page, that of the
database's own processes with it, and the memory of the server; Linux counts both.
"""

import os
import secrets
import signal
import subprocess
import sys
import threading
import time
from dataclasses import dataclass
from pathlib import Path

import pytest
from sqlalchemy import make_url, text

from app.storage.engine import make_engine
from tests.benchmarks.timing import report
from tests.conftest import POSTGRES
from tests.servers import Browser, free_port, wait_for

ROOT = Path(__file__).resolve().parents[2]
PAGES = ("/", "/ledger", "/growers", "/sowings", "/crops")
PEOPLE, ROUNDS, WARM_UP = 4, 12, 3
COMMAND = [sys.executable, "-c", "from app.cli import main; main(prog_name='traymates')"]
TICK = os.sysconf("SC_CLK_TCK")

pytestmark = [
    pytest.mark.postgres,
    pytest.mark.skipif(not POSTGRES, reason="TRAYMATES_TEST_POSTGRES is not set"),
    pytest.mark.skipif(sys.platform != "linux", reason="/proc is Linux's"),
]


@dataclass
class Served:
    """A server that runs, and its database."""

    port: int
    pid: int
    url: str

    def processes(self):
        """Return the ids of the server's processes and of the database's that work for it."""
        own = {self.pid}
        for _ in range(3):
            own |= {child for child, parent in parents().items() if parent in own}
        name = make_url(self.url).database
        served = {
            pid
            for pid in parents()
            if POSTGRES and words_of(pid).startswith("postgres:") and f" {name} " in words_of(pid)
        }
        return own, (served if self.url.startswith("postgresql") else set())

    def cpu(self):
        """Return how long processors have worked for it. [s]"""
        own, database = self.processes()
        return sum(map(cpu_of, own | database))

    def memory(self):
        """Return what its own processes hold, shared memory in shares. [MB]"""
        return sum(map(memory_of, self.processes()[0]))


def words_of(pid):
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace")
    except OSError:
        return ""


def parents():
    found = {}
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            found[int(path.parent.name)] = int(path.read_text().rpartition(")")[2].split()[1])
        except OSError:
            continue
    return found


def cpu_of(pid):
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")  # utime and stime, proc(5)


def memory_of(pid):
    lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("Pss:")) / 1000


@pytest.fixture(scope="module", params=["SQLite, one process", "PostgreSQL, two workers"])
def served(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("serving")
    workers = request.param.startswith("PostgreSQL")
    url = POSTGRES if workers else f"sqlite:///{folder / 'garden.sqlite3'}"
    environ = os.environ | {"DATABASE_URL": url, "TRAYMATES_INSTANCE": str(folder), "PYTHONPATH": str(ROOT)}
    subprocess.run([*COMMAND, "demo", "--yes"], env=environ, check=True, capture_output=True)
    port = free_port()
    command = [
        *COMMAND,
        "serve",
        "--port",
        str(port),
        "--today",
        "2027-04-10",
        *(["--workers", "2"] if workers else []),
    ]
    process = subprocess.Popen(command, env=environ, stdout=subprocess.DEVNULL, start_new_session=True)
    wait_for(port)
    yield request.param, Served(port, process.pid, url)
    os.killpg(process.pid, signal.SIGKILL)
    process.wait()


def load(served, *, change):
    """Let people open the pages in turn; return pages a second and the processor's time for each. [1/s, ms]"""
    engine = make_engine(served.url)
    people = [Browser(served.port) for _ in range(PEOPLE)]
    people[0].sign_in_to_demo()
    failed = []

    def walk(person, rounds):
        person.cookie = people[0].cookie
        for _ in range(rounds):
            for page in PAGES:
                if change:
                    with engine.begin() as connection:
                        mark = {"mark": secrets.token_hex(16)}
                        connection.execute(text("UPDATE data_version SET mark = :mark"), mark)
                if "<h1>" not in person.open(page):
                    failed.append(page)

    def all_walk(rounds):
        threads = [threading.Thread(target=walk, args=[person, rounds]) for person in people]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()

    all_walk(WARM_UP)
    began, before = time.perf_counter(), served.cpu()
    all_walk(ROUNDS)
    seconds, cpu = time.perf_counter() - began, served.cpu() - before
    engine.dispose()
    assert failed == []
    pages = PEOPLE * ROUNDS * len(PAGES)
    return pages / seconds, cpu / pages * 1000


figures = {}


@pytest.mark.parametrize("change", [False, True], ids=["unchanged", "changed"])
def test_pages_of_the_shipped_command(served, change):
    name, server = served
    each_second, cpu_ms = load(server, change=change)
    kind = "changed before each page" if change else "unchanged"
    figures[name, change] = cpu_ms
    print(f"\n  {name}, {kind}: {each_second:.0f} pages a second, {cpu_ms:.1f} ms of a processor each")
    print(f"  {name}: {server.memory():.0f} MB")


@pytest.mark.parametrize("change", [False, True], ids=["unchanged", "changed"])
def test_a_page_from_postgresql_costs_no_more_than_so_many_from_sqlite(change):
    one, two = (figures.get((name, change)) for name in ("SQLite, one process", "PostgreSQL, two workers"))
    if one is None or two is None:
        pytest.skip("both are measured in the tests before, in the same run")
    report(f"PostgreSQL over SQLite, processor for a page, {'changed' if change else 'unchanged'}", two / one, 4)
    assert two / one <= 4
