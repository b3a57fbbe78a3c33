"""Sixteen people who write without a pause: with the queue each gets a fair share, and what a write costs stays."""

import itertools
import threading
import time
from statistics import median

import pytest

from app.services.growers import GrowerValues, add_grower
from app.storage import Session
from app.storage.engine import QueuedConnection, make_engine
from app.storage.models import Grower
from app.storage.schema import upgrade
from tests.benchmarks.timing import ratio, report

PEOPLE = 16
SECONDS = 3.0
# In a round everybody writes once: that long one has to wait. A busy machine may hold one of them up besides.
MOST_ROUNDS = 10
DEAREST = 1.5
NUMBERS = itertools.count()


def write_for(engine, seconds, people=PEOPLE):
    """Let people add growers for some seconds; return each one's waits, from wanting to write to being in. [s]"""
    waits, errors, start = [[] for _ in range(people)], [], threading.Barrier(people)

    def work(mine):
        start.wait()
        end = time.perf_counter() + seconds
        while time.perf_counter() < end:
            begin = time.perf_counter()
            try:
                with Session(engine) as session:
                    session.connection()
                    mine.append(time.perf_counter() - begin)
                    session.add(Grower(name=f"Grower {next(NUMBERS)}"))
                    session.commit()
            except Exception as error:  # noqa: BLE001 - any is one too many
                errors.append(error)

    threads = [threading.Thread(target=work, args=[mine]) for mine in waits]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return waits, errors


def figures(waits, seconds):
    """Return writes [1], what one takes [s], median and longest wait [s], and the smallest share of the mean [1]."""
    counts, together = [len(mine) for mine in waits], sorted(wait for mine in waits for wait in mine)
    writes = sum(counts)
    return writes, seconds / writes, median(together), together[-1], min(counts) * len(counts) / writes


def unfair(waits, errors, seconds=SECONDS):
    """Return what is not as it should be among those who write."""
    _, one, _, longest, share = figures(waits, seconds)
    found = [repr(error) for error in errors[:3]]
    if longest > MOST_ROUNDS * PEOPLE * one:
        found.append(f"the longest wait is {longest / one / PEOPLE:.0f} rounds")
    if share < 0.5:
        found.append(f"somebody had {share:.2f} of the mean")
    return found


@pytest.fixture
def own(tmp_path):
    # a connection for everybody, so that none waits for one
    engine = make_engine(f"sqlite:///{tmp_path / 'own.sqlite3'}")
    engine.pool._max_overflow = PEOPLE
    upgrade(engine)
    yield engine
    engine.dispose()


def without_queue(call):
    """Do something while nobody waits in the queue."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(QueuedConnection, "wait_to_write", lambda _self: None)
        return call()


def test_everybody_gets_a_fair_share(own):
    with_queue = write_for(own, SECONDS)
    without = without_queue(lambda: write_for(own, SECONDS))
    for name, (waits, errors) in (("with the queue", with_queue), ("without", without)):
        writes, one, middle, longest, share = figures(waits, SECONDS)
        print(
            f"\n  {name}: {writes:,} writes by {PEOPLE}, {one * 1e3:.2f} ms each; waits: median {middle * 1e3:.1f} ms, "
            f"longest {longest * 1e3:.0f} ms, {longest / one / PEOPLE:.1f} rounds; "
            f"smallest share {share:.2f}; {len(errors)} errors",
            end="",
        )
    assert unfair(*with_queue) == []


def test_a_write_costs_what_it_did(own):
    def write():
        with Session(own) as session:
            add_grower(session, GrowerValues(name=f"Grower {next(NUMBERS)}", plot=None, contact=None, days=None))
            session.commit()

    found = ratio(write, lambda: without_queue(write), calls=20)
    report("a grower added with the queue, over one without it", found, DEAREST)
    assert found <= DEAREST
