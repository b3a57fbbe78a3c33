"""Ports and waiting for servers that a test starts as processes of their own."""

import http.client
import re
import socket
import time
import urllib.parse


def free_port():
    """Return a port on which nobody listens."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def wait_for(port, *, seconds=60):
    """Wait until somebody listens on a port."""
    end = time.monotonic() + seconds
    while True:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
        except OSError:
            if time.monotonic() > end:
                raise
            time.sleep(0.05)
        else:
            return


class Browser:
    """Somebody with a cookie, on a new connection each time."""

    def __init__(self, port):
        self.port, self.cookie, self.processes = port, "", set()

    def open(self, path, form=None):
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        body = None if form is None else urllib.parse.urlencode(form)
        headers = {"Cookie": self.cookie, "Connection": "close"}
        headers |= {} if body is None else {"Content-Type": "application/x-www-form-urlencoded"}
        connection.request("GET" if form is None else "POST", path, body, headers)
        answer = connection.getresponse()
        text = answer.read().decode()
        self.processes.add(answer.headers["X-Process"])
        if answer.headers["Set-Cookie"]:
            self.cookie = answer.headers["Set-Cookie"].partition(";")[0]
        connection.close()
        return text

    def sign_in_to_demo(self):
        """Sign in to the demo garden."""
        self.open("/sign-in/demo", self.hidden("/sign-in"))

    def hidden(self, path):
        """Return what a page's form holds by itself."""
        return {
            name: value
            for tag in re.findall(r'<input[^>]*type="hidden"[^>]*>', self.open(path))
            for name, value in [(re.search(r'name="([^"]*)"', tag)[1], re.search(r'value="([^"]*)"', tag)[1])]
        }

    def from_every_process(self, path, number):
        """Return a page as each of so many processes has it."""
        self.processes, pages = set(), []
        for _ in range(200):
            pages.append(self.open(path))
            if len(self.processes) == number:
                return pages
        raise AssertionError(f"only {self.processes} answered")
