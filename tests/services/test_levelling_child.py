"""A levelling in a process of its own: it ends with whoever started it, and leaves nothing behind."""

import os
import signal
import subprocess
import sys
import time
from datetime import date
from pathlib import Path

import pytest

from app.core.words import LevellingState
from app.services import levelling_children
from app.services.levelling import get_levelling, start_levelling, stop_levelling
from app.services.levelling_children import end_children, launch_levelling
from app.storage import Session
from tests import levelling as double
from tests import rows
from tests.conftest import TODAY

ROOT = Path(__file__).parents[2]
PARENT = """
import sys, time
from app.services.levelling_children import launch_levelling
launch_levelling(sys.argv[1], int(sys.argv[2]))
print(flush=True)
time.sleep(60)
"""


@pytest.fixture
def started(engine):
    """Add a garden with one sowing and a levelling that is to run; return its id."""
    with Session(engine) as session:
        rows.garden(session)
        crop = rows.crop(session, box=rows.container(session))
        rows.sowing(session, rows.grower(session), crop)
        rows.shelf(session)
        levelling = start_levelling(session, seconds=30, today=TODAY)
        session.commit()
    return levelling


@pytest.fixture
def search(tmp_path, monkeypatch):
    """Return a function that says which of tests/levelling.py searches in processes started from here on."""

    def use(name):
        monkeypatch.setenv("PYTHONPATH", os.pathsep.join([str(double.install(tmp_path / "double", name)), str(ROOT)]))

    return use


def address(engine):
    return engine.url.render_as_string(hide_password=False)


def found(engine, levelling):
    with Session(engine) as session:
        return get_levelling(session, levelling, today=date(2027, 4, 10))


def wait_until(engine, levelling, holds):
    """Wait until a levelling is so, and return it."""
    end = time.monotonic() + 30
    while not holds(row := found(engine, levelling)):
        assert time.monotonic() < end, row
        time.sleep(0.05)
    return row


def process_of(levelling):
    return levelling_children._Children.running[levelling]


def test_it_runs_to_its_end_and_is_waited_for(engine, started, search):
    search("a_week_later")
    launch_levelling(address(engine), started)
    process = process_of(started)
    row = wait_until(engine, started, lambda row: not row.is_running)
    assert (row.state, row.changes) == (LevellingState.FINISHED, 1)
    assert process.wait(10) == 0
    wait_for_no_children()


def wait_for_no_children():
    end = time.monotonic() + 10
    while levelling_children._Children.running:
        assert time.monotonic() < end
        time.sleep(0.02)


def test_it_shows_how_far_it_is_and_stops_when_asked(engine, started, search):
    search("until_stopped")
    launch_levelling(address(engine), started)
    row = wait_until(engine, started, lambda row: row.reached)
    assert row.reached == double.REACHED[:1]
    with Session(engine) as session:
        stop_levelling(session, started)
        session.commit()
    row = wait_until(engine, started, lambda row: not row.is_running)
    assert (row.state, row.has_answer) == (LevellingState.STOPPED, True)
    wait_for_no_children()


def test_ending_the_children_keeps_the_best_so_far(engine, started, search):
    search("until_stopped")
    launch_levelling(address(engine), started)
    process = process_of(started)
    wait_until(engine, started, lambda row: row.reached)
    end_children(10)
    assert process.poll() == 0
    row = found(engine, started)
    assert (row.state, row.has_answer) == (LevellingState.STOPPED, True)
    wait_for_no_children()


def test_one_that_does_not_end_is_ended_and_has_failed(engine, started, search):
    search("never_ends")
    launch_levelling(address(engine), started)
    process = process_of(started)
    end_children(0.2)
    assert process.wait(10) < 0
    row = wait_until(engine, started, lambda row: not row.is_running)
    assert (row.state, row.has_answer) == (LevellingState.FAILED, False)
    assert "broke off" in row.fault
    wait_for_no_children()


def test_one_that_cannot_begin_has_failed(engine, started, monkeypatch):
    monkeypatch.setattr(sys, "executable", "/nowhere/python")
    launch_levelling(address(engine), started)
    assert found(engine, started).state is LevellingState.FAILED


def test_it_stops_and_keeps_its_best_when_whoever_started_it_is_killed(engine, started, search):
    search("until_stopped")
    parent = subprocess.Popen([sys.executable, "-c", PARENT, address(engine), str(started)], stdout=subprocess.PIPE)
    with parent:
        parent.stdout.readline()
        wait_until(engine, started, lambda row: row.reached)
        parent.kill()
    row = wait_until(engine, started, lambda row: not row.is_running)
    assert (row.state, row.has_answer) == (LevellingState.STOPPED, True)


def test_ctrl_c_on_the_terminal_does_not_break_it_off_and_a_request_to_end_stops_it(engine, started, search):
    search("until_stopped")
    launch_levelling(address(engine), started)
    process = process_of(started)
    wait_until(engine, started, lambda row: row.reached)
    process.send_signal(signal.SIGINT)
    time.sleep(0.2)
    assert process.poll() is None
    process.send_signal(signal.SIGTERM)
    row = wait_until(engine, started, lambda row: not row.is_running)
    assert (row.state, row.has_answer) == (LevellingState.STOPPED, True)
    wait_for_no_children()
