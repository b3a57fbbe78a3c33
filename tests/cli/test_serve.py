"""The server as it is started, asked and stopped."""

import contextlib
import http.client
import json
import re
import signal
import socket
import threading
import time
import urllib.request

import pytest

from app.network import own_addresses
from tests.conftest import POSTGRES
from tests.lengths import every
from tests.servers import Browser, wait_for

# The server of the command around an application that answers slowly, and much where it is asked for much.
SLOW = """
import time
import app.cli.serving as serving
import app.cli.workers as workers

def slow(environ, start_response):
    time.sleep(float(environ["QUERY_STRING"] or 0))
    start_response("200 OK", [("Content-Type", "text/plain")])
    yield b"all "
    yield b"of it"
    if environ["PATH_INFO"] == "/much":
        yield b"x" * 20_000_000

serving.create_app = workers.create_app = lambda settings: slow
from app.cli import main
main(prog_name="traymates")
"""
WAITRESS, GUNICORN = [], ["--workers", "2"]


def settle(way):
    """Return the surroundings of a way of serving; several workers have a database of PostgreSQL."""
    if not way:
        return {}
    if not POSTGRES:
        pytest.skip("TRAYMATES_TEST_POSTGRES is not set")
    return {"DATABASE_URL": POSTGRES}


@pytest.fixture(autouse=True)
def day_of_the_clock(surroundings, monkeypatch):
    """These look at what the server says of its day when it is told one, and when not."""
    monkeypatch.delenv("TRAYMATES_TODAY", raising=False)


@pytest.fixture
def port():
    with socket.create_server(("127.0.0.1", 0)) as held:
        return held.getsockname()[1]


def wait_for_line(process):
    line = process.stdout.readline()
    assert line, process.stderr.read()
    return line


def test_it_says_where_it_is_and_which_day_it_takes_and_stops_when_told(start, port):
    process = start("serve", "--port", port, "--today", "2027-04-10")
    assert "Sat 10 Apr 2027" in wait_for_line(process)
    assert f"http://127.0.0.1:{port}" in wait_for_line(process)
    first = wait_for_line(process)
    assert f"http://127.0.0.1:{port}/slips/" in first
    assert "once, until " in wait_for_line(process)
    assert "For phones, start it with --host 0.0.0.0" in wait_for_line(process)
    with urllib.request.urlopen(re.search(r"http\S+", first)[0], timeout=10) as answer:
        assert "passphrase" in answer.read().decode()
    with socket.create_connection(("127.0.0.1", port), timeout=10):
        pass
    process.terminate()
    said, errors = process.communicate(timeout=20)
    assert (process.returncode, said, errors) == (0, "Stopped.\n", "")


def test_port_is_read_from_the_environment_and_the_option_goes_before_it(start, port):
    assert f":{port} " in wait_for_line(start("serve", env={"PORT": str(port)}))
    with socket.create_server(("127.0.0.1", 0)) as held:
        other = held.getsockname()[1]
    assert f":{other} " in wait_for_line(start("serve", "--port", other, env={"PORT": str(port)}))


ENDED = [
    pytest.param(WAITRESS, signal.SIGTERM, id="SIGTERM-one process"),
    pytest.param(WAITRESS, signal.SIGINT, id="Ctrl-C-one process"),
    pytest.param(GUNICORN, signal.SIGTERM, id="SIGTERM-workers", marks=pytest.mark.postgres),
    pytest.param(GUNICORN, signal.SIGINT, id="Ctrl-C-workers", marks=pytest.mark.postgres),
]


@pytest.mark.soak
@pytest.mark.parametrize(("way", "number"), ENDED[:: every(3)])
def test_requests_that_have_begun_are_finished_when_it_is_stopped(start, port, way, number):
    """Longer than the library's own patience of 5 s; and an answer that somebody reads slowly."""
    process = start("serve", "--port", port, *way, script=SLOW, env=settle(way))
    wait_for(port)
    until(lambda: ask(port, "/?0"))
    answers = []
    asking = [threading.Thread(target=lambda: answers.append(ask(port, "/?6.5"))) for _ in range(3)]
    for thread in asking:
        thread.start()
    with contextlib.closing(http.client.HTTPConnection("127.0.0.1", port, timeout=20)) as much:
        if not way:  # before workers stands a proxy, which takes in the answers too
            much.request("GET", "/much?0.2")
        time.sleep(1)
        process.send_signal(number)
        time.sleep(0.7)
        if not way:
            with pytest.raises(OSError, match=r"refused|reset"):
                socket.create_connection(("127.0.0.1", port), timeout=5)
            assert len(much.getresponse().read()) == 20_000_009
    for thread in asking:
        thread.join(20)
    said, _ = process.communicate(timeout=40)
    assert answers == [b"all of it"] * 3
    assert (process.returncode, said.splitlines()[-1]) == (0, "Stopped.")


def ask(port, path):
    """Return what the server answers; nothing where it does not."""
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}{path}", timeout=20) as answer:
            return answer.read()
    except OSError:
        return b""


def until(true, *, seconds=20):
    """Wait for something to become true."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end
        time.sleep(0.1)


def test_told_twice_it_ends_at_once(start, port):
    process = start("serve", "--port", port, script=SLOW)
    wait_for(port)
    threading.Thread(target=ask, args=[port, "/?25"]).start()
    time.sleep(0.7)
    process.terminate()
    time.sleep(0.3)
    process.terminate()
    process.communicate(timeout=10)
    assert process.returncode == 0


def test_a_port_that_is_taken_is_told(start):
    with socket.create_server(("127.0.0.1", 0)) as held:
        process = start("serve", "--port", held.getsockname()[1])
        said, errors = process.communicate(timeout=20)
    assert process.returncode == 1
    assert said == ""
    assert "is taken" in errors
    assert "Traceback" not in errors


@pytest.mark.postgres
def test_a_port_that_is_taken_is_told_by_workers_too(start):
    with socket.create_server(("127.0.0.1", 0)) as held:
        process = start("serve", "--port", held.getsockname()[1], *GUNICORN, env=settle(GUNICORN))
        said, errors = process.communicate(timeout=20)
    assert (process.returncode, said) == (1, "")
    assert "is taken" in errors


def test_it_says_where_phones_find_it_when_others_can_reach_it(start, port):
    process = start("serve", "--host", "0.0.0.0", "--port", port)  # noqa: S104 - what is told
    said = "".join(wait_for_line(process) for _ in range(4))
    assert f"Traymates is at http://127.0.0.1:{port} " in said
    numbers = [str(ip) for ip in own_addresses() if ip.version == 4]
    assert all(f"http://{number}:{port}" in said for number in numbers)
    assert ("connected to no network" in said) == (not numbers)


def test_the_public_address_is_what_it_says(start, port):
    process = start("serve", "--port", port, env={"PUBLIC_URL": "https://shed.garden.example"})
    said = "".join(wait_for_line(process) for _ in range(4))
    assert "Phones open https://shed.garden.example\n" in said
    assert "opens https://shed.garden.example/slips/" in said


def test_the_demo_garden_needs_no_first_link(start, port, run, demo):
    process = start("serve", "--port", port)
    wait_for(port)
    process.terminate()
    said, _ = process.communicate(timeout=20)
    assert "/slips/" not in said


def test_several_workers_on_sqlite_are_refused(run):
    assert "use PostgreSQL" in run("serve", "--workers", "2", status=2).stderr


def test_each_request_has_its_line_in_the_log_if_that_is_asked_for(start, port):
    process = start("serve", "--port", port, "--log", "requests")
    wait_for(port)
    ask(port, "/slips/ann-of-the-slip")
    ask(port, "/growers/new?name=ann")
    process.terminate()
    _, errors = process.communicate(timeout=20)
    lines = [json.loads(line) for line in errors.splitlines()]
    asked = [(line["method"], line["route"]) for line in lines]
    assert ("GET", "/slips/<token>") in asked
    assert ("GET", "/growers/new") in asked
    assert "ann" not in errors


# The program itself, in which each answer says by which process it was given.
NAMED = """
import os
import app.cli.workers as workers

make = workers.create_app

def named(settings):
    app = make(settings)
    app.after_request(lambda answer: answer.headers.set("X-Process", str(os.getpid())) or answer)
    return app

workers.create_app = named
from app.cli import main
main(prog_name="traymates")
"""


@pytest.mark.postgres
def test_a_change_by_one_worker_is_seen_by_the_other_at_once(start, port, run, monkeypatch, engine):
    if engine.dialect.name != "postgresql":
        pytest.skip("several workers need PostgreSQL")
    monkeypatch.setenv("DATABASE_URL", POSTGRES)
    with engine.begin():
        pass  # that something was committed has it emptied afterwards
    run("demo", "--yes")
    start("serve", "--port", port, *GUNICORN, script=NAMED)
    wait_for(port)
    browser = Browser(port)
    browser.sign_in_to_demo()
    for round_ in range(5):
        name = f"Grower of round {round_}"
        assert all(name not in page for page in browser.from_every_process("/growers", 2))
        browser.open("/growers/new", browser.hidden("/growers/new") | {"name": name})
        assert all(name in page for page in browser.from_every_process("/growers", 2))
