"""The process in which a server lets a levelling run, so that the pages keep the interpreter to themselves.

Its standard input is a pipe from the server: one line says what to do, and when the pipe closes the server is gone.
"""

import json
import logging
import os
import signal
import sys
from threading import Event, Thread

from app.services.levelling_run import run_levelling

# A search that does not come to its end in this time after the server is gone is broken off. [s]
GRACE_SECONDS = 30
NICENESS = 10


def main() -> None:
    """Run the levelling that the first line of standard input names."""
    stop = Event()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is meant for the server, which then closes the pipe
    signal.signal(signal.SIGTERM, lambda _number, _frame: stop.set())
    if hasattr(os, "nice"):
        os.nice(NICENESS)
    logging.basicConfig()
    logging.getLogger("app").setLevel(logging.DEBUG)
    order = json.loads(sys.stdin.buffer.readline())
    Thread(target=_watch_server, args=[sys.stdin.fileno(), stop], daemon=True).start()
    run_levelling(order["url"], order["levelling"], stop)


def _watch_server(pipe: int, stop: Event) -> None:
    while os.read(pipe, 1):
        pass
    stop.set()
    Event().wait(GRACE_SECONDS)
    os._exit(1)


if __name__ == "__main__":
    main()
