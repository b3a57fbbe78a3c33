"""Each safety of the database is taken away in turn: the check that shows it must then fail.

Every check here returns what is wrong. It finds nothing with the program as it is, and something without its safety.
"""

import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from threading import Barrier, BrokenBarrierError

import pytest
from sqlalchemy import event, text

from app.services import sowings as service
from app.services import trays
from app.services.sowings import add_sowing, remove_sowing
from app.storage import Session, opening
from app.storage import engine as engines
from app.storage import queue as queues
from app.storage.engine import QueuedConnection, make_engine, reading_after_commit, require_sound_sqlite, writing
from app.storage.errors import BusyError, DatabaseError
from app.storage.models import Grower
from app.storage.opening import open_session
from app.storage.queue import queue_of
from app.storage.schema import upgrade
from app.web import kept_form
from tests import rows
from tests.migrations.test_migrations import REVISIONS
from tests.reliability.saboteur import expect_red
from tests.services.test_together import wish

EVERYBODY = 8


@pytest.fixture
def path(tmp_path):
    return tmp_path / "own.sqlite3"


@pytest.fixture
def own(path):
    engine = make_engine(f"sqlite:///{path}")
    upgrade(engine)
    yield engine
    engine.dispose()


# ---------------------------------------------------------------- settings of each connection


def unsafe_settings(path):
    """Check that what is committed is on the disk, and that no row loses the one it belongs to."""
    wanted = {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}
    engine = make_engine(f"sqlite:///{path}")
    with engine.connect() as connection:
        found = {name: connection.exec_driver_sql(f"PRAGMA {name}").scalar_one() for name in wanted}
    engine.dispose()
    return [name for name in wanted if found[name] != wanted[name]]


@pytest.mark.parametrize("spoilt", ["synchronous = NORMAL", "foreign_keys = OFF", "journal_mode = DELETE"])
def test_settings(path, monkeypatch, spoilt):
    assert unsafe_settings(path) == []
    connect = engines._on_connect

    def spoil(connection, record):
        connect(connection, record)
        connection.execute(f"PRAGMA {spoilt}")

    monkeypatch.setattr(engines, "_on_connect", spoil)
    expect_red(unsafe_settings, path, match=spoilt.split()[0])


def used_with_fault():
    """Check that no library is used that loses commits."""
    try:
        require_sound_sqlite((3, 51, 2))
    except DatabaseError:
        return []
    return ["3.51.2 is used"]


def test_library(monkeypatch):
    assert used_with_fault() == []
    monkeypatch.setattr(engines, "SOUND_SQLITE", ((3, 7, 0),))
    expect_red(used_with_fault, match="3.51.2 is used")


# ---------------------------------------------------------------- the queue


def out_of_turn(engine):
    """Let people come one after the other while somebody writes; return who was let in before their turn."""
    let_in, threads = [], []

    def work(number):
        with engine.begin():
            let_in.append(number)
            time.sleep(0.02)

    with engine.begin():
        for number in range(EVERYBODY):
            threads.append(threading.Thread(target=work, args=[number]))
            threads[-1].start()
            time.sleep(0.05)  # so that they come in this order
    for thread in threads:
        thread.join()
    return [f"{number} was let in out of turn" for at, number in enumerate(let_in) if at != number]


def test_turns(own, monkeypatch):
    monkeypatch.setattr(queues, "PATIENCE_SECONDS", 600)  # however slow this machine is
    assert out_of_turn(own) == []
    monkeypatch.setattr(QueuedConnection, "wait_to_write", lambda _self: None)
    # Left to chance, eight are seldom in order; three rounds never are.
    expect_red(lambda: [wrong for _ in range(3) for wrong in out_of_turn(own)], match="out of turn")


def let_in_twice(path):
    """Let another process ask for its turn while this one writes; return whether it was let in."""
    script = (
        "import sys; from app.storage.queue import QueueTimeoutError, queue_of\n"
        "try: queue_of(sys.argv[1]).enter(0.3); print('in')\n"
        "except QueueTimeoutError: print('waits')"
    )
    with queue_of(str(path)).held():
        done = subprocess.run([sys.executable, "-c", script, str(path)], capture_output=True, text=True, check=True)
    return [] if done.stdout == "waits\n" else [done.stdout]


def test_turns_over_processes(path, monkeypatch):
    assert let_in_twice(path) == []
    monkeypatch.setattr(queues.WriteQueue, "_lock_files", lambda _self, _end: None)
    expect_red(let_in_twice, path, match="in")


def left_locked(engine, path):
    """Check that a transaction that fails lets the next one in."""
    with suppress(ZeroDivisionError), Session(engine) as session:
        session.add(Grower(name="Ines"))
        session.flush()
        raise ZeroDivisionError
    try:
        with queue_of(str(path)).held(0.2):
            return []
    except queues.QueueTimeoutError:
        return ["nobody gets in"]


def test_end_of_a_turn(own, path, monkeypatch):
    assert left_locked(own, path) == []
    held = []
    monkeypatch.setattr(QueuedConnection, "_leave", lambda self: held.append(self._queue))
    expect_red(left_locked, own, path, match="nobody gets in")
    queue_of(str(path)).leave()  # what the spoilt one has kept


def waits_after_saving(engine):
    """Save, and look at it while somebody else writes; return what goes wrong."""
    with Session(engine) as session, writing(), reading_after_commit():
        session.add(Grower(name="Ines"))
        session.commit()
        with ThreadPoolExecutor(1) as pool:
            inside, done = threading.Event(), threading.Event()
            other = pool.submit(_write_until, engine, inside, done)
            inside.wait(5)
            try:
                session.query(Grower).count()
            except BusyError:
                return ["what was saved is said not to be"]
            finally:
                done.set()
                other.result()
                session.rollback()
    return []


def _write_until(engine, inside, done):
    with engine.begin() as connection:
        connection.execute(text("DELETE FROM grower"))
        inside.set()
        done.wait(10)


def test_saying_what_was_saved(own, monkeypatch):
    monkeypatch.setattr(queues.WriteQueue.enter, "__defaults__", (0.3,))
    assert waits_after_saving(own) == []
    event.remove(Session, "after_commit", engines._after_commit)
    try:
        expect_red(waits_after_saving, own, match="is said not to be")
    finally:
        event.listen(Session, "after_commit", engines._after_commit)


# ---------------------------------------------------------------- locks and numbers


def keys_given_twice(engine):
    """Let two people add a sowing, each of whom has looked for the next key before either writes."""
    with Session(engine) as session:
        rows.garden(session)
        ids = rows.grower(session).id, rows.crop(session).id
        session.commit()

    def add(_):
        with Session(engine) as session:
            try:
                name = add_sowing(session, wish(*ids)).name
                session.commit()
            except Exception as error:  # noqa: BLE001 - what the database makes of it
                return repr(error)
            return name

    with ThreadPoolExecutor(2) as pool:
        names = list(pool.map(add, range(2)))
    return [] if sorted(names) == ["S-0001", "S-0002"] else names


def test_lock_of_who_looks_before_writing(engine, monkeypatch):
    together, next_key = Barrier(2), service.next_key

    def look(session):
        key = next_key(session)
        with suppress(BrokenBarrierError):
            together.wait(0.5)  # with the lock in place the other one cannot come here
        return key

    monkeypatch.setattr(service, "next_key", look)
    assert keys_given_twice(engine) == []
    with engine.begin() as connection:
        for table in ("sowing", "crop", "grower", "garden", "frost_point"):
            connection.execute(text(f"DELETE FROM {table}"))
    together.reset()
    monkeypatch.setattr(service, "hold_writes", lambda _session: None)
    monkeypatch.setattr(QueuedConnection, "wait_to_write", lambda _self: None)
    begin = engines._begin_sqlite
    if engine.dialect.name == "sqlite":
        event.remove(engine, "begin", begin)
        event.listen(engine, "begin", begin_as_reader)
    try:
        expect_red(keys_given_twice, engine, match="S-0001")
    finally:
        if engine.dialect.name == "sqlite":
            event.remove(engine, "begin", begin_as_reader)
            event.listen(engine, "begin", begin)


def begin_as_reader(connection):
    connection.exec_driver_sql("BEGIN")


def keys_given_again(session):
    """Check that the key of a sowing that was removed is not given to another one."""
    rows.garden(session)
    ids = rows.grower(session).id, rows.crop(session).id
    first = add_sowing(session, wish(*ids))
    key = first.name
    remove_sowing(session, first.id)
    again = add_sowing(session, wish(*ids)).name
    session.rollback()
    return [] if again != key else [key]


def test_numbers_on_paper(session, monkeypatch):
    assert keys_given_again(session) == []
    for module in (service, trays):
        monkeypatch.setattr(module, "note_numbers", lambda _session: None)
    expect_red(keys_given_again, session, match="S-0001")


# ---------------------------------------------------------------- upgrades, pages


def upgraded_without_copy(path):
    """Bring an older database up to date; return whether there is no copy of how it was."""
    engine = make_engine(f"sqlite:///{path}")
    upgrade(engine, REVISIONS[-2])
    engine.dispose()
    with open_session(f"sqlite:///{path}"):
        pass
    return [] if list(path.parent.glob(f"{path.stem}-before-*")) else ["no copy"]


def test_copy_before_an_upgrade(path, monkeypatch):
    assert upgraded_without_copy(path) == []
    monkeypatch.setattr(opening, "_keep_copy", lambda *_args: None)
    expect_red(upgraded_without_copy, path.with_name("other.sqlite3"), match="no copy")


def given_to_others(client):
    """Send a form from another site; return what of it stands in the page that answers."""
    answer = client.post(
        "/growers/new",
        data={"name": "Planted by others", "csrf_token": "x"},
        headers={"Origin": "http://elsewhere.example"},
    )
    return ["Planted by others"] if "Planted by others" in answer.text else []


def test_forms_from_elsewhere(app, monkeypatch):
    client = app.test_client()
    assert given_to_others(client) == []
    monkeypatch.setattr(kept_form, "_is_ours", lambda: True)
    expect_red(given_to_others, client, match="Planted by others")
