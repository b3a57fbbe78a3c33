"""Levellings in processes of their own, which end with the server."""

import json
import logging
import os
import subprocess
import sys
import time
from pathlib import Path
from threading import Lock, Thread

from app.services.levelling import fail_levelling
from app.storage.engine import make_engine
from app.storage.errors import DatabaseError
from app.storage.opening import session_on

MODULE = "app.services.levelling_child"
ROOT = Path(__file__).resolve().parents[2]

log = logging.getLogger(__name__)


class _Children:
    """The processes that this one has started and that have not ended."""

    running: dict[int, "subprocess.Popen[bytes]"] = {}  # noqa: RUF012 - one for the whole process
    lock = Lock()


def launch_levelling(url: str, levelling_id: int) -> None:
    """Run a levelling that was started and committed, in a process of its own; return at once.

    Where the process cannot begin, or breaks off, the levelling is marked as failed.

    Args:
        url: Address of the database.
        levelling_id: Which.
    """
    path = os.pathsep.join(filter(None, [str(ROOT), os.environ.get("PYTHONPATH")]))
    order = json.dumps({"url": url, "levelling": levelling_id}) + "\n"
    try:
        process = subprocess.Popen(  # noqa: S603 - this program's own module
            [sys.executable, "-m", MODULE],
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            env=os.environ | {"PYTHONPATH": path},
        )
        _tell(process, order)
    except OSError as error:
        log.warning("Making it fit, search %d: no process could be started: %s", levelling_id, error)
        _mark_failed(url, levelling_id)
        return
    with _Children.lock:
        _Children.running[levelling_id] = process
    Thread(target=_wait, args=[url, levelling_id, process], daemon=True).start()


def _tell(process: "subprocess.Popen[bytes]", order: str) -> None:
    if process.stdin is not None:  # always: it was asked for
        process.stdin.write(order.encode())
        process.stdin.flush()


def _close(process: "subprocess.Popen[bytes]") -> None:
    if process.stdin is not None:
        process.stdin.close()


def _wait(url: str, levelling_id: int, process: "subprocess.Popen[bytes]") -> None:
    """Wait for a process, so that nothing of it is left, and see to it that its levelling does not seem to run."""
    process.wait()
    _close(process)
    with _Children.lock:
        _Children.running.pop(levelling_id, None)
    _mark_failed(url, levelling_id)


def _mark_failed(url: str, levelling_id: int) -> None:
    engine = make_engine(url)
    try:
        with session_on(engine) as session:
            fail_levelling(session, levelling_id)
    except DatabaseError as error:
        log.warning("Making it fit, search %d: %s", levelling_id, error)
    finally:
        engine.dispose()


def end_children(seconds: float) -> None:
    """Stop what this process let run; each keeps its best so far, if it can in a time.

    Args:
        seconds: How long to wait for all of them. [s]
    """
    with _Children.lock:
        processes = list(_Children.running.values())
    for process in processes:
        _close(process)
    end = time.monotonic() + seconds
    for process in processes:
        try:
            process.wait(max(0.0, end - time.monotonic()))
        except subprocess.TimeoutExpired:
            process.kill()
