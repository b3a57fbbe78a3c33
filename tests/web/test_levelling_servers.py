"""Making it fit on two server processes and one database: one at a time, stopped, killed, taken up again."""

import os
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import select, update

from app.core.words import LevellingState
from app.services.levelling import find_latest_levelling, list_levellings
from app.storage import Session
from app.storage.models import Levelling, Sowing
from app.storage.queries.levelling import SILENT_SECONDS
from tests import levelling as double
from tests.reliability.browsing import SECRET, Browser, Form, cookies_for
from tests.servers import free_port, wait_for
from tests.web.seasons import one_sowing
from tests.web.test_two_servers import TODAY

pytestmark = pytest.mark.postgres

ROOT = Path(__file__).parents[2]
COMMAND = "from app.cli import main; main(prog_name='traymates')"


@pytest.fixture
def serve(engine, tmp_path):
    """Return a function that starts a server on the database; who searches there looks until somebody says stop."""
    path = os.pathsep.join([str(double.install(tmp_path / "double", "until_stopped")), str(ROOT)])
    environ = os.environ | {
        "DATABASE_URL": engine.url.render_as_string(hide_password=False),
        "TRAYMATES_INSTANCE": str(tmp_path / "instance"),
        "TRAYMATES_SECRET_KEY": SECRET,
        "PYTHONPATH": path,
    }
    servers = []

    def serve():
        port = free_port()
        command = [sys.executable, "-c", COMMAND, "serve", "--port", str(port), "--today", TODAY.isoformat()]
        process = subprocess.Popen(command, env=environ, cwd=ROOT, stdout=subprocess.DEVNULL)
        servers.append(process)
        wait_for(port)
        return port, process

    with Session(engine) as session:
        one_sowing(session)
    yield serve
    for process in servers:
        process.kill()
        process.wait()


def children_of(process):
    """Return the ids of a process's children, those that nobody has waited for included."""
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = path.read_text().rpartition(")")[2].split()
        except OSError:  # it has ended meanwhile
            continue
        if int(fields[1]) == process.pid:
            found.append(int(path.parent.name))
    return found


def is_alive(number):
    """Tell whether a process runs; one that has ended and waits to be waited for does not."""
    try:
        return Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def latest(engine):
    with Session(engine) as session:
        return find_latest_levelling(session, today=TODAY)


def wait_until(holds, *, seconds=30):
    end = time.monotonic() + seconds
    while not (found := holds()):
        assert time.monotonic() < end
        time.sleep(0.05)
    return found


def browser(engine, port):
    return Browser(port, cookies_for(engine, ["Odile Brandt"])[0], timeout=60)


def send(engine, port, address, **fields):
    """Send a form to an address, with the token and the key that every form has; return the status."""
    with browser(engine, port) as own:
        form = own.form("/growers/new", "/growers/new")
        guards = {name: form.fields[name] for name in ("csrf_token", "key")}
        return own.send(Form(address, guards), **fields).status


def read(engine, port, address):
    with browser(engine, port) as own:
        return own.get(address).text


def begin(engine, port):
    """Start a search on a page, and return its id once it has something to show."""
    assert send(engine, port, "/fit", seconds="60") == 302
    return wait_until(lambda: (row := latest(engine)) is not None and row.reached and row).id


def has_ended(engine):
    return wait_until(lambda: not (row := latest(engine)).is_running and row)


def set_days(engine):
    with Session(engine) as session:
        return list(session.scalars(select(Sowing.sow_on)))


def test_of_two_started_at_once_one_runs_and_is_seen_stopped_and_accepted_on_either_server(engine, serve):
    (one, first), (other, second) = serve(), serve()
    cookies_for(engine, ["Odile Brandt"])  # whose account is there before two ask at once
    with ThreadPoolExecutor(2) as pool:
        starts = pool.map(lambda port: send(engine, port, "/fit", seconds="60"), (one, other))
        assert list(starts) == [302, 302]
    with Session(engine) as session:
        (row,) = list_levellings(session, today=TODAY)
    (mine,) = children_of(first) or children_of(second)
    wait_until(lambda: latest(engine).reached)
    for port in (one, other):
        assert "Looking for a plan that fits" in read(engine, port, f"/fit/{row.id}")
    assert send(engine, other, f"/fit/{row.id}/stop") == 302
    row = has_ended(engine)
    assert (row.state, row.can_be_accepted) == (LevellingState.STOPPED, True)
    # Nothing is left of it, not even an entry in the list of processes.
    wait_until(lambda: not children_of(first) + children_of(second))
    assert not is_alive(mine)
    assert set_days(engine) == [None]
    assert send(engine, one, f"/fit/{row.id}/accept") == 302
    assert set_days(engine) == [date(2027, 5, 8)]
    assert "Accepted" in read(engine, other, f"/fit/{row.id}")


def test_a_server_that_ends_takes_the_search_along_and_the_next_one_goes_on(engine, serve):
    # Killed alone: its search notices, and keeps its best.
    port, server = serve()
    killed = begin(engine, port)
    (child,) = children_of(server)
    server.kill()
    row = has_ended(engine)
    assert (row.id, row.state, row.can_be_accepted) == (killed, LevellingState.STOPPED, True)
    wait_until(lambda: not is_alive(child))

    # Killed with all that belongs to it, as when the power fails: the next server marks the search as stopped.
    port, server = serve()
    assert "Accept" in read(engine, port, f"/fit/{killed}")
    lost = begin(engine, port)
    (child,) = children_of(server)
    os.kill(child, signal.SIGSTOP)  # so that it cannot notice
    server.kill()
    os.kill(child, signal.SIGKILL)
    with Session(engine) as session:
        session.execute(update(Levelling).values(beat_at=Levelling.beat_at - SILENT_SECONDS))
        session.commit()
    port, server = serve()
    with Session(engine) as session:
        assert session.get(Levelling, lost).state is LevellingState.STOPPED
    assert "It ended before it had found a plan" in read(engine, port, f"/fit/{lost}")
    assert set_days(engine) == [None]

    # Told to end: it waits for the search to keep its best.
    begin(engine, port)
    (child,) = children_of(server)
    server.terminate()
    assert server.wait(20) == 0
    assert not is_alive(child)
    row = latest(engine)
    assert (row.state, row.has_answer) == (LevellingState.STOPPED, True)
