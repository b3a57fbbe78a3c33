"""The command, run in this process on a database of its own."""

import os
import signal
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest
from click.testing import CliRunner

from app.cli import main

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def surroundings(tmp_path, monkeypatch):
    """Set the environment so that nothing outside the test's folder is touched; return its SQLite file."""
    for name in ("PORT", "TRAYMATES_SECRET_KEY"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TRAYMATES_TODAY", "2027-01-04")  # before the season of the examples, whatever day it is
    path = tmp_path / "instance" / "garden.sqlite3"
    monkeypatch.setenv("TRAYMATES_INSTANCE", str(tmp_path / "instance"))
    monkeypatch.setenv("DATABASE_URL", f"sqlite:///{path}")
    return path


@pytest.fixture
def run(surroundings):
    """Return a function that runs the command and checks its exit status; nothing may end in a traceback."""

    def run(*args, status=0, typed=None):
        result = CliRunner().invoke(main, [str(arg) for arg in args], input=typed)
        assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
        assert result.exit_code == status, result.output
        assert (status == 0) == (not result.stderr) or status == 0
        return result

    return run


@pytest.fixture(scope="session")
def kept_demo():
    """Return where the file of the demo garden is kept once the command has made one."""
    return []


@pytest.fixture
def demo(run, surroundings, kept_demo):
    """Return `run` on the demo garden, which the command has made for the first test that asks for it."""
    if not kept_demo:
        run("demo")
        assert not Path(f"{surroundings}-wal").exists(), "some of the garden is outside the file"
        kept_demo.append(surroundings.read_bytes())
    else:
        surroundings.parent.mkdir(mode=0o700)
        surroundings.write_bytes(kept_demo[0])
    return run


@pytest.fixture
def start(surroundings):
    """Return a function that starts the command as a process of its own."""
    started = []

    def start(*args, script="from app.cli import main; main(prog_name='traymates')", env=None):
        process = subprocess.Popen(
            [sys.executable, "-c", script, *map(str, args)],
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT), **(env or {})},
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,  # so that what it starts itself can be ended with it
        )
        started.append(process)
        return process

    yield start
    for process in started:
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.communicate()
