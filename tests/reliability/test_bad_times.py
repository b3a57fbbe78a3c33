"""A server that is stopped, whose clock jumps, whose disk is full, or that somebody reads from without end."""

import os
import resource
import signal
import threading
import time
from contextlib import contextmanager

import pytest

from app.storage.engine import reading, wal_bytes
from tests.lengths import SOAK, TIMES
from tests.reliability.browsing import Browser
from tests.reliability.checker import Result
from tests.reliability.serving import path_of, serving
from tests.reliability.working import Crowd, Watch, Worker, faults_of_file, workers_for

STOPPED_SECONDS = 6  # longer than anybody waits to write
SAVE = "app/web/once.py:save"
HOUR = 3600
MEGABYTE = 1024 * 1024
# As the program sets it: what is left of the log after it was longer.
LOG_LIMIT = 64 * MEGABYTE


def until(true, *, seconds=20):
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end
        time.sleep(0.01)


@contextmanager
def stopped(process):
    """Let a process stand still, as a computer's that is put to sleep."""
    os.kill(process.pid, signal.SIGSTOP)
    try:
        yield
    finally:
        os.kill(process.pid, signal.SIGCONT)


def test_whoever_is_stopped_while_saving_loses_nothing_and_others_are_told(garden, cookies, opened, tmp_path):
    engine = opened(garden)
    watch = Watch(engine)
    engine.dispose()
    hold = tmp_path / "hold"
    plan = {"kill": "before a commit", "place": SAVE, "hold": str(hold)}
    with (
        serving(garden, plan=plan) as one,
        serving(garden, plan={}) as other,
        Browser(one.port, cookies[0]) as browser,
        Browser(other.port, cookies[1]) as another,
    ):
        slow, quick = Worker(browser, watch.story), Worker(another, watch.story)
        saving = threading.Thread(target=slow.add)
        saving.start()
        until(hold.exists)
        with stopped(one.process):
            begin = time.monotonic()
            assert another.get("/growers").status == 200
            assert time.monotonic() - begin < 2  # whoever only looks does not wait
            refused = quick.add()
            assert refused.status == 503
            assert 'value="Grower' in refused.text  # what was typed is in the page
            time.sleep(max(0, STOPPED_SECONDS - (time.monotonic() - begin)))
        hold.unlink()
        saving.join(30)
        assert watch.story.operations[0].result is Result.OK
        assert quick.add().result is Result.OK
    assert faults_of_file(engine) == []
    assert watch.judge(engine) == []


@pytest.mark.soak
def test_whoever_is_stopped_with_nothing_in_hand_is_in_nobodys_way(garden, cookies, opened):
    engine = opened(garden)
    watch = Watch(engine)
    engine.dispose()
    with (
        serving(garden, plan={}) as one,
        serving(garden, plan={}) as other,
        Browser(one.port, cookies[0]) as browser,
        Browser(other.port, cookies[1]) as another,
    ):
        mine, theirs = Worker(browser, watch.story), Worker(another, watch.story)
        assert mine.add().result is Result.OK
        with stopped(one.process):
            end = time.monotonic() + (STOPPED_SECONDS if SOAK else 0.5)
            while time.monotonic() < end:
                assert theirs.act().result is Result.OK
        assert mine.add().result is Result.OK
    assert watch.judge(engine) == []


@pytest.mark.soak
def test_a_clock_that_jumps_back_and_forth_disturbs_nobody(garden, cookies, opened, tmp_path):
    engine = opened(garden)
    watch = Watch(engine)
    engine.dispose()
    clock = tmp_path / "clock"
    clock.write_text("0", encoding="ascii")
    with serving(garden, plan={"clock": str(clock)}) as server:
        workers = workers_for(server.port, cookies, watch.story, trays=watch.trays)
        with Crowd(workers) as crowd:
            for number, hours in enumerate((0, -2, 2, 0), 1):
                clock.write_text(str(hours * HOUR), encoding="ascii")
                crowd.wait_for_answers(number * 15 * TIMES, seconds=60 * TIMES)
        assert crowd.faults == []
    assert {operation.result for operation in watch.story.operations} == {Result.OK}
    assert faults_of_file(engine) == []
    assert watch.judge(engine) == []


def test_a_full_disk_is_told_and_harms_nothing(garden, cookies, opened):
    engine = opened(garden)
    watch = Watch(engine)
    engine.dispose()
    with serving(garden, plan={}) as server:
        workers = workers_for(server.port, cookies, watch.story, trays=watch.trays)
        with Crowd(workers) as crowd:
            crowd.wait_for_answers(10)
            log = path_of(garden).with_name(f"{path_of(garden).name}-wal")
            room = max(log.stat().st_size, path_of(garden).stat().st_size) + 100_000
            resource.prlimit(server.process.pid, resource.RLIMIT_FSIZE, (room, resource.RLIM_INFINITY))
            until(lambda: watch.story.count(Result.FAIL) >= 5, seconds=60)
            with Browser(server.port, cookies[0]) as browser:
                assert browser.get("/growers").status == 200  # everything can still be read
                page = browser.send(browser.form("/growers/new"), name="Nobody, as long as there is no room")
                assert page.status == 507
                assert "no room left" in page.text
                assert 'value="Nobody, as long as there is no room"' in page.text
            resource.prlimit(server.process.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY,) * 2)
            saved = watch.story.count(Result.OK)
            until(lambda: watch.story.count(Result.OK) >= saved + 10, seconds=60)
        assert crowd.faults == []
    assert faults_of_file(engine) == []
    assert watch.judge(engine) == []


def write_much(engine, megabytes):
    """Write so much in transactions that each change every cell; return the longest that the log has been."""
    longest, written = 0, 0
    while written < megabytes * MEGABYTE:
        before = wal_bytes(engine)
        with engine.begin() as connection:
            # A row grows and shrinks again, so that each page it lies on is written.
            connection.exec_driver_sql("UPDATE sowing SET variety = hex(randomblob(900))")
            connection.exec_driver_sql("UPDATE sowing SET variety = 'x'")
        longest = max(longest, wal_bytes(engine))
        written += max(MEGABYTE, wal_bytes(engine) - before)
    return longest


def test_the_log_stays_short_and_is_cut_after_somebody_has_read_without_end(garden, opened):
    engine = opened(garden)
    alone = write_much(engine, 40)
    assert alone < LOG_LIMIT / 4
    with reading(), engine.connect() as reader:
        growers = reader.exec_driver_sql("SELECT count(*) FROM grower").scalar_one()
        beside = write_much(engine, 80)
        assert beside > LOG_LIMIT  # nothing can be written back over what the reader sees
        assert reader.exec_driver_sql("SELECT count(*) FROM grower").scalar_one() == growers
    write_much(engine, 3)
    assert wal_bytes(engine) <= LOG_LIMIT
    print(f"\n  log: {alone / MEGABYTE:.0f} MB alone, {beside / MEGABYTE:.0f} MB beside a reader, cut to 64 MB after")
    assert faults_of_file(engine) == []
