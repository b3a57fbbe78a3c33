"""Clients that say nothing, half of something, or do not listen: everybody else is served."""

import re
import socket
import statistics
import threading
import time
from contextlib import ExitStack
from pathlib import Path

import pytest

from tests.lengths import SOAK
from tests.reliability.browsing import Browser
from tests.reliability.checker import Result
from tests.reliability.serving import path_of, serving
from tests.reliability.working import Watch, Worker

IDLE, HALF_SENT, SLOW_READERS = 300, 20, 20
MEGABYTE = 1024 * 1024
UPLOAD_MEGABYTES = 300 if SOAK else 64
PAGES = 20
PATIENCE_SECONDS = 10
# The log of a garden in which nobody reads without end.
SHORT_LOG = 8 * MEGABYTE
HALVES = [
    b"GET /growers HTTP/1.1\r\nHost: 127.0.0.1\r\n",
    b"POST /growers/new HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 500\r\n\r\nname=",
    b"G",
    b"POST /growers/new HTTP/1.1\r\nHost: 127.0.0.1\r\nTransfer-Encoding: chunked\r\n\r\n5\r\nhe",
]


def upload(port, cookie, answers):
    """Send a file of many megabytes, and note the answer."""
    head = b'--b\r\nContent-Disposition: form-data; name="file"; filename="x.csv"\r\n\r\n'
    size = len(head) + UPLOAD_MEGABYTES * MEGABYTE
    with socket.create_connection(("127.0.0.1", port), timeout=120) as connection:
        connection.sendall(
            f"POST /frost/record HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nCookie: traymates={cookie}\r\n"
            f"Content-Type: multipart/form-data; boundary=b\r\nContent-Length: {size}\r\n\r\n".encode()
            + head
        )
        try:
            for _ in range(UPLOAD_MEGABYTES):
                connection.sendall(b"x" * MEGABYTE)
        except OSError:
            pass  # broken off by the server, whose answer may have come
        try:
            answers.append(connection.recv(1000))
        except OSError:
            answers.append(b"")


def most_memory(pid):
    """Return the most memory that a process has had. [B]"""
    found = re.search(r"VmHWM:\s+(\d+) kB", Path(f"/proc/{pid}/status").read_text(encoding="ascii"))
    return int(found[1]) * 1024


def times_of_pages(browser, address="/growers"):
    times = []
    for _ in range(PAGES):
        begin = time.monotonic()
        assert browser.get(address).status == 200
        times.append(time.monotonic() - begin)
    return times


@pytest.mark.soak
def test_silent_and_slow_clients_are_in_nobodys_way(garden, cookies, opened):
    engine = opened(garden)
    watch = Watch(engine)
    engine.dispose()
    with ExitStack() as held:
        server = held.enter_context(serving(garden))
        browser = held.enter_context(Browser(server.port, cookies[0], timeout=PATIENCE_SECONDS))
        alone = times_of_pages(browser)
        memory = most_memory(server.process.pid)

        def connect(receive=None):
            client = held.enter_context(socket.socket())
            if receive:
                client.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, receive)
            client.settimeout(PATIENCE_SECONDS)
            client.connect(("127.0.0.1", server.port))
            return client

        idle = [connect() for _ in range(IDLE)]
        for number in range(HALF_SENT):
            connect().sendall(HALVES[number % len(HALVES)])
        asked = (
            f"GET /ledger HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\nCookie: traymates={cookies[1]}\r\n\r\n".encode()
        )
        for _ in range(SLOW_READERS):
            connect(4096).sendall(asked * 3)  # and reads nothing of it
        answers = []
        uploading = threading.Thread(target=upload, args=(server.port, cookies[2], answers))
        uploading.start()
        worker = Worker(held.enter_context(Browser(server.port, cookies[3], timeout=PATIENCE_SECONDS)), watch.story)
        for _ in range(PAGES):
            assert worker.add().result is Result.OK
        beside = times_of_pages(browser)
        uploading.join(120)
        assert answers, "the upload was not answered"
        assert answers[0] == b"" or answers[0].split()[1] in {b"400", b"413"}, answers
        log = path_of(garden).with_name(f"{path_of(garden).name}-wal")
        assert log.stat().st_size < SHORT_LOG  # whoever does not listen holds no transaction open
        assert most_memory(server.process.pid) - memory < UPLOAD_MEGABYTES * MEGABYTE / 2
        one, other = (1e3 * statistics.median(times) for times in (alone, beside))
        slow = IDLE + HALF_SENT + SLOW_READERS
        print(f"\n  a page, median: {one:.1f} ms alone, {other:.1f} ms beside {slow} slow clients and an upload")
        if SOAK:  # in the end silent ones are let go
            time.sleep(40)
            assert sum(is_closed(client) for client in idle) > IDLE / 2
    assert watch.judge(engine) == []


def is_closed(client):
    try:
        return client.recv(1) == b""
    except TimeoutError:
        return False
    except OSError:
        return True
