"""The queue of those who write: first come, first served, over threads and processes, and never left locked."""

import gc
import os
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress

import pytest
from sqlalchemy import text

from app.storage import Session
from app.storage import queue as queues
from app.storage.engine import engine_options, make_engine, reading
from app.storage.errors import BusyError, ReadOnlyError
from app.storage.models import Grower
from app.storage.queue import Line, QueueTimeoutError, WriteQueue, queue_of
from app.storage.schema import upgrade

# Long enough for a thread to have come to where it waits.
A_MOMENT = 0.05


@pytest.fixture
def path(tmp_path):
    return str(tmp_path / "garden.sqlite3")


@pytest.fixture
def own(path):
    """Return an engine on a migrated database of this test's own."""
    engine = make_engine(f"sqlite:///{path}")
    upgrade(engine)
    yield engine
    engine.dispose()


@pytest.fixture
def impatient(monkeypatch):
    """Let nobody wait long."""
    monkeypatch.setattr(queues.WriteQueue.enter, "__defaults__", (0.2,))


def is_free(path):
    """Return whether the queue of a database lets somebody in."""
    queue = queue_of(path)
    try:
        with queue.held(0.2):
            return True
    except QueueTimeoutError:
        return False


@pytest.fixture
def patient(monkeypatch):
    """Let as many wait as like, however slow this machine is."""
    monkeypatch.setattr(queues, "PATIENCE_SECONDS", 600)


class TestLine:
    @pytest.mark.usefixtures("patient")
    def test_lets_in_in_the_order_of_coming(self):
        line, order, threads = Line(), [], []

        def work(number):
            assert line.enter(5)
            order.append(number)
            line.leave()

        assert line.enter(1)
        for number in range(20):
            threads.append(threading.Thread(target=work, args=(number,)))
            threads[-1].start()
            while len(line._waiting) <= number:
                time.sleep(0.001)
        line.leave()
        for thread in threads:
            thread.join()
        assert order == list(range(20))

    def test_never_holds_two(self):
        line, inside, most = Line(), [0], [0]

        def work():
            for _ in range(200):
                assert line.enter(10)
                inside[0] += 1
                most[0] = max(most[0], inside[0])
                time.sleep(0)
                inside[0] -= 1
                line.leave()

        threads = [threading.Thread(target=work) for _ in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert most == [1]

    def test_keeps_threads_for_others_behind_one_who_stays(self, monkeypatch):
        monkeypatch.setattr(queues, "PATIENCE_SECONDS", 0.1)
        line = Line()
        assert line.enter(0)
        with ThreadPoolExecutor(queues.MOST_WAITING) as pool:
            waiting = [pool.submit(line.enter, 20) for _ in range(queues.MOST_WAITING)]
            while len(line._waiting) < queues.MOST_WAITING or time.monotonic() - line._since < 0.2:
                time.sleep(0.01)
            begin = time.monotonic()
            assert not line.enter(20)
            assert time.monotonic() - begin < 10
            for _ in waiting:
                line.leave()
            assert all(one.result() for one in waiting)
        line.leave()
        assert line.enter(0)

    def test_forgets_who_gave_up(self):
        line = Line()
        assert line.enter(0)
        assert not line.enter(0.01)
        line.leave()
        assert line.enter(0)

    def test_is_left_even_by_one_who_is_swept_up_while_the_same_thread_joins_it(self):
        """Sweeping up may run anywhere, so also while the line's own lock is held."""
        line = Line()
        assert line.enter(0)
        with line._mutex:
            line.leave()  # cannot serve now, and does not wait
        line._serve()  # what whoever holds the lock does when it is free again
        assert line.enter(0)

    def test_many_who_give_up_leave_no_gap(self):
        """Turns that come at the very moment in which somebody gives up are passed on."""
        line, let_in = Line(), []

        def work(seconds):
            if line.enter(seconds):
                let_in.append(1)
                time.sleep(0.001)
                line.leave()

        with ThreadPoolExecutor(16) as pool:
            list(pool.map(work, [0.001 * (number % 7) for number in range(400)]))
        assert let_in
        assert line.enter(0)


class TestTransaction:
    """Whatever ends a writing transaction, the next one gets in."""

    def begun(self, own):
        connection = own.connect()
        connection.execute(text("INSERT INTO grower (name) VALUES ('Ines')"))
        return connection

    def test_holds_the_queue_from_its_beginning(self, own, path):
        with self.begun(own):
            assert not is_free(path)

    @pytest.mark.parametrize("end", ["commit", "rollback", "close", "invalidate", "detach"])
    def test_lets_the_next_one_in_at_its_end(self, own, path, end):
        connection = self.begun(own)
        getattr(connection, end)()
        if end == "detach":
            connection.close()
        assert is_free(path)
        connection.close()

    def test_lets_the_next_one_in_after_an_error(self, own, path):
        with suppress(ZeroDivisionError), Session(own) as session:
            session.add(Grower(name="Ines"))
            session.flush()
            raise ZeroDivisionError
        assert is_free(path)

    def test_lets_the_next_one_in_after_a_commit_that_fails(self, own, path):
        connection = self.begun(own)
        connection.exec_driver_sql("PRAGMA defer_foreign_keys = ON")
        connection.exec_driver_sql("INSERT INTO sowing (name, grower_id, crop_id, plants) VALUES ('S', 99, 99, 1)")
        with pytest.raises(Exception, match="FOREIGN KEY"):
            connection.commit()
        connection.close()
        assert is_free(path)

    def test_that_is_dropped_lets_the_next_one_in(self, own, path):
        connection = self.begun(own)
        driver = connection.connection.driver_connection
        connection.detach()
        del connection
        assert not is_free(path)
        del driver
        gc.collect()
        assert is_free(path)

    def test_of_a_thread_that_ends_without_a_word_lets_the_next_one_in(self, own, path):
        def work():
            session = Session(own)
            session.add(Grower(name="Ines"))
            session.flush()

        thread = threading.Thread(target=work)
        thread.start()
        thread.join()
        gc.collect()
        assert is_free(path)
        with Session(own) as session:
            assert session.query(Grower).count() == 0

    @pytest.mark.usefixtures("impatient")
    def test_that_waits_too_long_is_told_so_and_leaves_nothing_locked(self, own, path):
        with self.begun(own) as first, Session(own) as session:
            session.add(Grower(name="Tomas"))
            with pytest.raises(BusyError, match="others are writing"):
                session.commit()
            first.commit()
        assert is_free(path)

    @pytest.mark.usefixtures("impatient")
    def test_that_only_reads_does_not_wait(self, own):
        with self.begun(own), reading(), Session(own) as session:
            assert session.query(Grower).count() == 0


class TestProcesses:
    SCRIPT = """
import sys, time
from app.storage.engine import make_engine
from sqlalchemy import text
engine = make_engine(sys.argv[1])
end = time.time() + float(sys.argv[2])
longest, n = 0.0, 0
while time.time() < end:
    start = time.time()
    with engine.begin() as connection:
        longest = max(longest, time.time() - start)
        connection.execute(text("INSERT INTO failed_try (subject, at) VALUES ('x', 1)"))
        n += 1
print(n, longest)
"""

    @staticmethod
    def run(script, *arguments):
        command = [sys.executable, "-c", script, *map(str, arguments)]
        return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)

    def test_take_turns(self, own):
        """Two who never pause: each of them gets its share, and none waits long."""
        both = [self.run(self.SCRIPT, own.url.render_as_string(), 2) for _ in range(2)]
        found = [tuple(map(float, process.communicate()[0].split())) for process in both]
        assert [process.returncode for process in both] == [0, 0]
        (one, first), (two, second) = found
        assert min(one, two) > 0.2 * max(one, two)
        assert max(first, second) < 1
        with own.connect() as connection:
            assert connection.execute(text("SELECT count(*) FROM failed_try")).scalar_one() == one + two

    def test_one_that_is_killed_lets_the_others_in(self, own, path):
        script = (
            "import sys, time; from app.storage.engine import make_engine; from sqlalchemy import text\n"
            "connection = make_engine(sys.argv[1]).connect()\n"
            "connection.execute(text(\"INSERT INTO grower (name) VALUES ('Ines')\"))\n"
            "print('in', flush=True); time.sleep(60)"
        )
        process = self.run(script, own.url.render_as_string())
        assert process.stdout.readline() == "in\n"
        assert not is_free(path)
        process.kill()
        process.communicate()
        assert is_free(path)
        with Session(own) as session:
            assert session.query(Grower).count() == 0

    @pytest.mark.skipif(not hasattr(os, "fork"), reason="this system has no fork")
    def test_split_from_one_that_writes_has_a_queue_and_connections_of_its_own(self, own, path):
        with own.connect() as connection:
            connection.execute(text("INSERT INTO grower (name) VALUES ('Ines')"))
            pool = own.pool
            child = os.fork()
            if child == 0:
                # not a word of this may go wrong loudly: the child is a copy of the test run
                try:
                    is_own = own.pool is not pool and not queues._Queues.by_path
                    os._exit(0 if is_own and not is_free(path) else 1)
                finally:
                    os._exit(2)
            _, status = os.waitpid(child, 0)
            assert os.waitstatus_to_exitcode(status) == 0
            connection.commit()
        with Session(own) as session:
            assert session.query(Grower).count() == 1


class TestFiles:
    def test_stand_beside_the_database_with_its_rights(self, own, path):
        os.chmod(path, 0o640)  # noqa: PTH101 - a plain path
        with Session(own) as session:
            session.add(Grower(name="Ines"))
            session.commit()
        for name in ("next", "writer"):
            assert os.path.exists(f"{path}-{name}.lock")  # noqa: PTH110 - a plain path

    @pytest.mark.usefixtures("own")
    def test_are_the_same_by_whichever_path_the_database_is_reached(self, path, tmp_path):
        (tmp_path / "other").symlink_to(path)
        assert queue_of(str(tmp_path / "other")) is queue_of(path)

    def test_of_a_database_in_memory_are_none(self):
        for memory in (None, "", ":memory:"):
            with queue_of(memory).held(), queue_of(memory).held():
                pass
        engine = make_engine("sqlite://")
        with engine.begin() as connection:
            connection.execute(text("CREATE TABLE t (x)"))

    def test_that_cannot_be_made_are_said_to_be_so(self, tmp_path, monkeypatch):
        def refuse(*_args):
            raise PermissionError(13, "Permission denied")

        engine = make_engine(f"sqlite:///{tmp_path / 'new.sqlite3'}")
        monkeypatch.setattr(queues, "_make", refuse)
        with pytest.raises(ReadOnlyError, match="may not be written to"), engine.begin():
            pass
        monkeypatch.undo()
        assert is_free(str(tmp_path / "new.sqlite3"))

    def test_are_given_up_when_a_wait_is_broken_off(self, path, monkeypatch):
        queue = WriteQueue(path)
        monkeypatch.setattr(queue, "_lock_files", _interrupt)
        with pytest.raises(KeyboardInterrupt):
            queue.enter(1)
        monkeypatch.undo()
        with queue.held(0.2):
            pass


def _interrupt(_end):
    raise KeyboardInterrupt


def test_postgresql_has_no_queue_but_a_bound(engine, monkeypatch):
    if engine.dialect.name == "sqlite":
        pytest.skip("SQLite has the queue")
    assert "factory" not in engine_options(engine.url.render_as_string(hide_password=False)).get("connect_args", {})
    with engine.connect() as connection:
        assert connection.execute(text("SHOW lock_timeout")).scalar_one() == "5s"
        assert connection.execute(text("SHOW idle_in_transaction_session_timeout")).scalar_one() == "5min"
