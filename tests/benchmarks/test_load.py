"""Fifty people, hundreds of open connections and a search for a plan that fits, on the server as people start it.

The goals are ratios and hold on a machine with nothing else to do: `make soak` asserts them. In `make test` nobody may
get an error, nothing may be lost, and everybody must be served.
"""

import json
import socket
import statistics
import subprocess
import sys
import time
from contextlib import ExitStack, contextmanager

import pytest
from sqlalchemy.orm import Session

from app.core.words import LevellingState
from app.services.demo import set_up_demo
from app.services.levelling import find_latest_levelling, stop_levelling
from tests.benchmarks.load import alone, p95, times_of, together
from tests.benchmarks.timing import report
from tests.conftest import TODAY
from tests.kept_gardens import kept
from tests.lengths import SOAK, TIMES
from tests.reliability.browsing import Browser, cookies_for
from tests.reliability.serving import ROOT, Driver, serving
from tests.reliability.working import Watch, faults_of_file

PEOPLE, CONNECTIONS, SLOW = 50, 300, 10
SECONDS = 6 * TIMES
ALONE = 60 * TIMES
FLOOD, FLOOD_SECONDS = 50, 1 * TIMES
SEARCH_SECONDS = 300 if SOAK else 60
WORKERS = 2
MOST_P95, MOST_WRITE_SECONDS, LEAST_SHARE = 3, 1, 0.5
# Beside a flood that asks for nothing a page waits for all who came before it; beside one that signs in it may wait
# longer, since a passphrase is looked at for each who is admitted (chosen).
MOST_FLOODED = 3
BARE = "/bare"


@pytest.fixture
def server(engine, tmp_path):
    """Serve the demo garden: by threads on SQLite, by two workers on PostgreSQL."""
    url = engine.url.render_as_string(hide_password=False)
    with Session(engine) as session:
        kept(session, set_up_demo)
        session.commit()
    arguments = ["--workers", str(WORKERS)] if engine.dialect.name == "postgresql" else []
    with serving(tmp_path, url=url, arguments=arguments, plan={"spoil": "bare route"}) as server:
        yield server
    Driver.end()


@contextmanager
def held_open(port, idle, slow):
    """Hold connections open on which nothing comes, and some on which half a request came."""
    with ExitStack() as held:
        for number in range(idle + slow):
            client = held.enter_context(socket.create_connection(("127.0.0.1", port), timeout=10))
            if number < slow:
                client.sendall(b"POST /growers/new HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 900\r\n\r\nname=")
        yield


@contextmanager
def looking_for_a_plan(engine, port, cookie):
    """Let the server look for a plan that fits inside the block; it must still do so at its end."""
    with Browser(port, cookie) as browser:
        answer = browser.send(browser.form("/fit", "/fit"), seconds=str(SEARCH_SECONDS))
        assert answer.status == 302, answer.text
    yield
    with Session(engine) as session:
        latest = find_latest_levelling(session, today=TODAY)
        assert latest.state is LevellingState.RUNNING
        stop_levelling(session, latest.id)
        session.commit()
    end = time.monotonic() + 60
    while latest.state is LevellingState.RUNNING:
        assert time.monotonic() < end
        time.sleep(0.1)
        with Session(engine) as session:
            latest = find_latest_levelling(session, today=TODAY)


@pytest.mark.soak
def test_fifty_people_are_served_like_one(engine, server):
    cookies = cookies_for(engine, [f"Person {number}" for number in range(PEOPLE)])
    watch = Watch(engine)
    is_buffered = engine.dialect.name == "sqlite"  # workers have a proxy before them that takes in what comes slowly
    times_of(server.port, BARE, None, 20, anew=not is_buffered)
    bare = times_of(server.port, BARE, None, 10 * ALONE, anew=not is_buffered)
    one = alone(server.port, cookies[0], watch.story, ALONE, anew=not is_buffered)
    with ExitStack() as held:
        if is_buffered:
            held.enter_context(held_open(server.port, CONNECTIONS - SLOW - PEOPLE, SLOW))
        held.enter_context(looking_for_a_plan(engine, server.port, cookies[0]))
        all_of_them = together(server.port, cookies, watch.story, SECONDS, anew=not is_buffered)
    assert one.faults == []
    assert all_of_them.faults == []
    assert faults_of_file(engine) == []
    assert watch.judge(engine) == []
    ratio = p95(all_of_them.pages) / p95(one.pages)
    share = min(all_of_them.by_person) / statistics.median(all_of_them.by_person)
    print(
        f"\n  {engine.dialect.name}: {len(all_of_them.pages)} pages, {len(all_of_them.writes)} writes; p50/p95 in ms:"
        f" bare {words(bare)}, one person {words(one.pages)}, writes {words(one.writes)};"
        f" {PEOPLE} people {words(all_of_them.pages)}, writes {words(all_of_them.writes)}"
    )
    report("p95 of fifty over p95 of one", ratio, MOST_P95)
    report("p95 of fifty over p95 of a bare route", p95(all_of_them.pages) / p95(bare), "none")
    report("longest write [s]", max(all_of_them.writes), MOST_WRITE_SECONDS)
    report("least served over median", share, LEAST_SHARE)
    assert share >= LEAST_SHARE
    if SOAK:
        assert ratio <= MOST_P95
        assert max(all_of_them.writes) <= MOST_WRITE_SECONDS


def words(seconds):
    return f"{1e3 * statistics.median(seconds):.1f}/{1e3 * p95(seconds):.1f}"


@pytest.mark.soak
def test_a_flood_of_people_signing_in_leaves_pages_to_others(engine, server):
    (cookie,) = cookies_for(engine, ["Person"])
    anew = engine.dialect.name == "postgresql"
    idle = times_of(server.port, "/growers", cookie, ALONE, anew=anew)
    asked, _ = beside("bare", server.port, cookie, anew=anew)
    flooded, found = beside("sign in", server.port, cookie, anew=anew)
    print(
        f"\n  {engine.dialect.name}: a page, p50/p95 in ms: idle {words(idle)}, beside {FLOOD} who ask for a page that "
        f"does nothing {words(asked)}, beside {FLOOD} who sign in {words(flooded)}; {found}"
    )
    ratio = statistics.median(flooded) / statistics.median(asked)
    report("a page beside fifty who sign in, p50 over beside fifty on a bare route", ratio, MOST_FLOODED)
    assert found.keys() <= {403, 429, 503}
    assert found.keys() & {403}
    assert ratio <= MOST_FLOODED


def beside(kind, port, cookie, *, anew):
    """Return seconds of a page beside a flood, and how often each status was answered to that."""
    command = [sys.executable, "-m", "tests.benchmarks.load", kind, str(port), str(FLOOD)]
    flood = subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert flood.stdout.readline() == b"begun\n"
    times, end = [], time.monotonic() + FLOOD_SECONDS
    while time.monotonic() < end or len(times) < ALONE:
        times += times_of(port, "/growers", cookie, 5, anew=anew)
    statuses = json.loads(flood.communicate(timeout=60)[0])
    return times, {int(status): count for status, count in statuses.items()}
