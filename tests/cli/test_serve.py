"""The server as it is started, asked and stopped."""

import socket
import threading
import time
import urllib.request

import pytest

# The server of the command around an application that answers slowly.
SLOW = """
import time
import app.cli.serving as serving

def slow(environ, start_response):
    time.sleep(1.5)
    start_response("200 OK", [("Content-Type", "text/plain")])
    return [b"all of it"]

serving.create_app = lambda settings: slow
from app.cli import main
main(prog_name="traymates")
"""


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


def test_a_request_that_has_begun_is_finished_when_it_is_stopped(start, port):
    process = start("serve", "--port", port, script=SLOW)
    wait_for_line(process)
    answers = []

    def ask():
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=20) as answer:
            answers.append(answer.read())

    asking = threading.Thread(target=ask)
    asking.start()
    time.sleep(0.7)
    process.terminate()
    asking.join(20)
    process.communicate(timeout=20)
    assert answers == [b"all of it"]
    assert process.returncode == 0


def test_a_port_that_is_taken_is_told(start):
    with socket.create_server(("127.0.0.1", 0)) as held:
        process = start("serve", "--port", held.getsockname()[1])
        said, errors = process.communicate(timeout=20)
    assert process.returncode == 1
    assert said == ""
    assert "is taken" in errors
    assert "Traceback" not in errors


def test_it_warns_when_others_can_reach_it(start, port):
    process = start("serve", "--host", "0.0.0.0", "--port", port)  # noqa: S104 - what is warned of
    wait_for_line(process)
    process.terminate()
    _, errors = process.communicate(timeout=20)
    assert "no accounts yet" in errors
