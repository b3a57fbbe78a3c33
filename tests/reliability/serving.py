"""Servers and commands that a test starts as people do, and a garden for them."""

import itertools
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from app.storage.engine import make_engine
from tests.reliability.browsing import SECRET, cookies_for
from tests.servers import free_port

ROOT = Path(__file__).resolve().parents[2]
DAY = "2027-04-10"
COMMAND = [sys.executable, "-c", "from app.cli import main; main(prog_name='traymates')"]
HERE = "Traymates is at http"  # it listens, and knows how to end
KILLED = -signal.SIGKILL
START_SECONDS, END_SECONDS = 60, 120
LEFT_OUT = frozenset({"PORT", "PUBLIC_URL", "TRUSTED_PROXY", "TRAYMATES_TODAY"})


def is_open(port):
    """Return whether somebody listens on a port."""
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def environ_of(folder, url=None, **more):
    """Return the surroundings of a process whose database and key stand in a folder."""
    kept = {name: value for name, value in os.environ.items() if name not in LEFT_OUT}
    return kept | {
        "DATABASE_URL": url or url_of(folder),
        "TRAYMATES_INSTANCE": str(folder),
        "TRAYMATES_SECRET_KEY": SECRET,
        "PYTHONPATH": str(ROOT),
        **more,
    }


def url_of(folder):
    return f"sqlite:///{path_of(folder)}"


def path_of(folder):
    return Path(folder) / "garden.sqlite3"


class Driver:
    """The one process from which those are split off that have a plan."""

    _made = None
    _lock = threading.Lock()

    def __init__(self):
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.reliability.driver"],
            cwd=ROOT,
            env=os.environ | {"PYTHONPATH": str(ROOT)},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )
        self._numbers = itertools.count()
        self._told = {}
        self._has_ended = False
        self._changed = threading.Condition()
        threading.Thread(target=self._listen, daemon=True).start()

    @classmethod
    def get(cls):
        with cls._lock:
            if cls._made is None:
                cls._made = cls()
            return cls._made

    @classmethod
    def end(cls):
        """End it, at the end of all tests."""
        with cls._lock:
            if cls._made is not None:
                cls._made._kill_all()
                cls._made._process.communicate(timeout=60)
            cls._made = None

    def _listen(self):
        for line in self._process.stdout:
            number, what, value = line.split()
            with self._changed:
                self._told[int(number), what.decode()] = int(value)
                self._changed.notify_all()
        with self._changed:
            self._has_ended = True
            self._changed.notify_all()

    def _kill_all(self):
        """Kill what a test that failed has left."""
        with self._changed:
            for (number, what), pid in self._told.items():
                if what == "pid" and (number, "status") not in self._told:
                    os.kill(pid, signal.SIGKILL)

    def begin(self, **request):
        """Split off a process, and return its number."""
        number = next(self._numbers)
        self._process.stdin.write(json.dumps(request | {"number": number}).encode() + b"\n")
        self._process.stdin.flush()
        return number

    def find(self, number, what, seconds):
        """Return the id or the status of a process; None where it is not known within some seconds."""
        with self._changed:
            self._changed.wait_for(lambda: (number, what) in self._told or self._has_ended, seconds)
            assert not self._has_ended, "what processes are split off from has ended"
            return self._told.get((number, what))


class Split:
    """A process split off from the driver, with what a test needs of `subprocess.Popen`."""

    def __init__(self, arguments, environ, output, plan):
        self._driver = Driver.get()
        self._number = self._driver.begin(
            arguments=list(map(str, arguments)), environ=environ, output=str(output), plan=plan
        )
        self.pid = self._driver.find(self._number, "pid", START_SECONDS)
        assert self.pid, "the driver does not answer"

    def poll(self):
        return self._driver.find(self._number, "status", 0)

    def wait(self, timeout=END_SECONDS):
        status = self._driver.find(self._number, "status", timeout)
        if status is None:
            raise subprocess.TimeoutExpired("traymates", timeout)
        return status

    def send_signal(self, number):
        if self.poll() is None:
            os.kill(self.pid, number)

    def kill(self):
        self.send_signal(signal.SIGKILL)

    def terminate(self):
        self.send_signal(signal.SIGTERM)


@dataclass(frozen=True)
class Done:
    """How a command ended, and what it said."""

    returncode: int
    said: str


def run(folder, *arguments, plan=None, env=None):
    """Run a command to its end."""
    with tempfile.NamedTemporaryFile() as output:
        status = Split(arguments, env or environ_of(folder), output.name, plan or {}).wait()
        return Done(status, Path(output.name).read_text(encoding="utf-8", errors="replace"))


class Server:
    """A server, on a database of its own or one that it shares.

    Without a plan it is started by the command, as people start it.
    """

    def __init__(self, folder, *, url=None, plan=None, arguments=(), env=None):
        self.folder, self.port = Path(folder), free_port()
        self._output = tempfile.NamedTemporaryFile()  # noqa: SIM115 - read when the server has ended
        arguments = ["serve", "--port", str(self.port), "--today", DAY, *arguments]
        environ = environ_of(folder, url, **(env or {}))
        if plan is None:
            self.process = subprocess.Popen(
                [*COMMAND, *arguments], env=environ, cwd=ROOT, stdout=self._output, stderr=subprocess.STDOUT
            )
        else:
            self.process = Split(arguments, environ, self._output.name, plan)
        end = time.monotonic() + START_SECONDS
        while HERE not in self.output() or not is_open(self.port):
            if self.process.poll() is not None or time.monotonic() > end:
                said = self.output()
                self.__exit__()
                raise AssertionError(said)
            time.sleep(0.02)

    def kill(self):
        """Kill it as the kernel does when memory is short: nothing of it runs any more."""
        self.process.kill()
        self.process.wait(END_SECONDS)

    def stop(self):
        """Tell it to stop, and wait until it has; return its status."""
        self.process.terminate()
        return self.process.wait(END_SECONDS)

    def output(self):
        """Return all that it has said so far."""
        return Path(self._output.name).read_text(encoding="utf-8", errors="replace")

    def __enter__(self):
        return self

    def __exit__(self, *_):
        if self.process.poll() is None:
            self.kill()
        self._output.close()


@contextmanager
def serving(folder, **options):
    """Serve inside the block; it may have said nothing of an unexpected error."""
    with Server(folder, **options) as server:
        yield server
        assert "Traceback" not in server.output(), server.output()


def make_garden(folder, people=("Odile Brandt",)):
    """Make a folder with the demo garden, and people who are signed in; return their cookies."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    done = run(folder, "demo", "--yes")
    assert done.returncode == 0, done.said
    engine = make_engine(url_of(folder))
    cookies = cookies_for(engine, people)
    engine.dispose()
    return cookies


def copy_garden(made, folder):
    """Copy a garden that no process has open."""
    shutil.copytree(made, folder)
    return folder
