"""Runs the `traymates` command in processes that end or fail at a named point.

`python -m tests.reliability.driver` reads requests from its input, a line of JSON each, and splits off a process for
each: loading the program once for all is what takes long. A request holds the arguments of the command, its
surroundings, the file for what it says, and a plan:

* `kill`: a point of `points.py`, at which the process kills itself
* `place`: only passing it from this place counts
* `number`: the how manieth time it is, 1 by default; 0 lets it run
* `passed`: a file to which the place is written each time that the point is passed
* `hold`: a file: rather than to kill itself, the process makes this file and waits at the point until it is gone
* `clock`: a file that holds how many seconds the clock is off
* `spoil`: a saboteur of `saboteur.py` that is let in

It answers by a line with the request's number and the process's id, and by another one with its status once it has
ended. Nothing of this stands in the program: its functions are wrapped from outside before it starts.
"""

import importlib
import json
import os
import select
import signal
import sys
import threading
import time
from pathlib import Path

LOADED = ("app.cli", "app.web", "app.storage.schema", "alembic.command", "alembic.autogenerate", "waitress")
LOOK_SECONDS = 0.01


class Point:
    """Notes each time it is passed, and ends the process there at one of them."""

    def __init__(self, plan):
        self._number, self._place = plan.get("number", 1), plan.get("place")
        self._passed, self._hold = plan.get("passed"), plan.get("hold")
        self._times = 0
        self._lock = threading.Lock()

    def __call__(self, place):
        """Be passed."""
        with self._lock:
            if self._passed:
                with Path(self._passed).open("a", encoding="utf-8") as file:
                    file.write(place + "\n")
            if self._place not in {None, place}:
                return
            self._times += 1
            if self._times != self._number:
                return
        if not self._hold:
            os.kill(os.getpid(), signal.SIGKILL)
        Path(self._hold).touch()
        while Path(self._hold).exists():
            time.sleep(0.01)


def shift_clock(path):
    """Let the clock be off by what a file says."""
    real = time.time
    time.time = lambda: real() + float(Path(path).read_text(encoding="ascii") or 0)


def begin(request):
    """Become the process that a request asks for."""
    output = os.open(request["output"], os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    nothing = os.open(os.devnull, os.O_RDONLY)
    for file, standard in ((nothing, 0), (output, 1), (output, 2)):
        os.dup2(file, standard)
    os.environ.clear()
    os.environ.update(request["environ"])
    sys.argv = ["traymates", *request["arguments"]]
    plan = request["plan"]
    points, saboteur = (importlib.import_module(f"tests.reliability.{name}") for name in ("points", "saboteur"))
    if "clock" in plan:
        shift_clock(plan["clock"])
    if "spoil" in plan:
        saboteur.SPOILERS[plan["spoil"]]()
    if "kill" in plan:
        points.POINTS[plan["kill"]].wrap(Point(plan))


def serve_requests():
    """Split off a process for each request; return in each of those."""
    numbers, rest = {}, b""
    while True:
        if select.select([0], [], [], LOOK_SECONDS)[0]:
            more = os.read(0, 1 << 20)
            if not more:  # whoever asks is gone
                for pid in numbers:
                    os.kill(pid, signal.SIGKILL)
                sys.exit(0)
            *lines, rest = (rest + more).split(b"\n")
            for line in lines:
                request = json.loads(line)
                pid = os.fork()
                if pid == 0:
                    return request
                numbers[pid] = request["number"]
                print(request["number"], "pid", pid, flush=True)
        while numbers:
            pid, status = os.waitpid(-1, os.WNOHANG)
            if not pid:
                break
            print(numbers.pop(pid), "status", os.waitstatus_to_exitcode(status), flush=True)


def main():
    """Load the program, and be the command where a request says so."""
    for name in LOADED:
        importlib.import_module(name)
    begin(serve_requests())
    importlib.import_module("app.cli").main(prog_name="traymates")


if __name__ == "__main__":
    main()
