"""Many people at one position, one deal or two trays at the same moment, and saboteurs that show that it is noticed.

The saboteurs work on a database of their own: without the lock everybody looks before anybody writes; without the
refusal the database takes whatever is written.
"""

import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from datetime import date
from threading import Barrier, BrokenBarrierError

import pytest
from sqlalchemy import NullPool, create_engine, delete, event, text
from sqlalchemy.exc import DBAPIError

from app.services import deal as dealing
from app.services import positions
from app.services.deal import StaleDealError, accept_deal, season_days
from app.services.plan import get_plan
from app.services.positions import PositionTakenError, Target, move_tray
from app.storage import Session
from app.storage import engine as engines
from app.storage.errors import ClashError
from app.storage.models import Stay, Tray
from app.storage.queries.version import get_mark
from app.storage.queue import WriteQueue
from app.storage.schema import upgrade
from tests.dealing import (
    CLIENTS,
    TODAY,
    WINDOWS,
    ask_for_one_position,
    everything,
    fifty_that_wait,
    garden_to_deal,
    slots_of,
    three_trays,
    wrong_deal,
    wrong_winners,
)
from tests.lengths import TIMES

ERRORS = (PositionTakenError, StaleDealError, DBAPIError)
SCHEMA = "sabotaged"


def at_once(engine, tasks):
    """Run tasks at the same moment, each in a transaction of its own; return what each gave, or its error."""
    start = Barrier(len(tasks))

    def run(task):
        start.wait()
        with Session(engine) as session:
            try:
                result = task(session)
                session.commit()
            except ERRORS as error:
                session.rollback()
                return error
            return result

    with ThreadPoolExecutor(len(tasks)) as pool:
        return list(pool.map(run, tasks))


def connected(engine, *, begin=engines._begin_sqlite, **options):
    """Return an engine on the same database that has a connection for everybody."""
    made = create_engine(**engines.engine_options(engine.url) | options, poolclass=NullPool)
    if engine.dialect.name == "sqlite":
        event.listen(made, "connect", engines._on_connect)
        if begin is not None:
            event.listen(made, "begin", begin)
    return made


@pytest.fixture
def crowd(engine, monkeypatch):
    """Return the migrated database with a connection for everybody, who all have time."""
    monkeypatch.setattr(WriteQueue.enter, "__defaults__", (60.0,))
    monkeypatch.setattr("app.storage.queue.PATIENCE_SECONDS", 60.0)
    return connected(engine)


@contextmanager
def own_database(engine, tmp_path, *, begin=None):
    """Give a migrated database of one test's own; on SQLite `begin` begins transactions, without it there are none."""
    if engine.dialect.name == "sqlite":
        made = connected(engines.make_engine(f"sqlite:///{tmp_path / 'own.sqlite3'}"), begin=begin)
        upgrade(engines.make_engine(f"sqlite:///{tmp_path / 'own.sqlite3'}"))
        yield made
        return
    with engine.begin() as connection:
        connection.execute(text(f"DROP SCHEMA IF EXISTS {SCHEMA} CASCADE"))
        connection.execute(text(f"CREATE SCHEMA {SCHEMA}"))
    made = connected(engine, connect_args={"options": f"-csearch_path={SCHEMA}"})
    upgrade(made)
    yield made
    with engine.begin() as connection:
        connection.execute(text(f"DROP SCHEMA {SCHEMA} CASCADE"))


def refuse_nothing(engine):
    """Take out what keeps two trays off one position and off one number."""
    with engine.begin() as connection:
        if engine.dialect.name == "postgresql":
            for rule in ("position", "tray"):
                connection.execute(text(f"ALTER TABLE stay DROP CONSTRAINT ex_stay_{rule}_once"))
            connection.execute(text("ALTER TABLE tray DROP CONSTRAINT uq_tray_number"))
            return
        for trigger in (
            connection.execute(text("SELECT name FROM sqlite_master WHERE type = 'trigger'")).scalars().all()
        ):
            connection.execute(text(f"DROP TRIGGER {trigger}"))
        table = connection.execute(text("SELECT sql FROM sqlite_master WHERE name = 'tray'")).scalar_one()
        assert "UNIQUE (number)" in table
        connection.execute(text("DROP TABLE tray"))
        connection.execute(text(table.replace("CONSTRAINT uq_tray_number UNIQUE (number)", "CHECK (TRUE)")))


def begin_late(connection):
    """Begin as a reader does, who becomes a writer too late."""
    connection.exec_driver_sql("BEGIN")


def unlocked(monkeypatch, n):
    """Take out the lock; each of `n` threads has looked at what is in its way before any of them writes."""
    for module in (positions, dealing):
        monkeypatch.setattr(module, "hold_writes", lambda session: session)
    seen, looked = Barrier(n), threading.local()

    def after_all(function):
        def wrapped(*args, **kwargs):
            found = function(*args, **kwargs)
            if not getattr(looked, "done", False):
                looked.done = True
                with suppress(BrokenBarrierError):
                    seen.wait(20)
            return found

        return wrapped

    monkeypatch.setattr(positions, "list_stays_in_way", after_all(positions.list_stays_in_way))
    monkeypatch.setattr(dealing, "_propose", after_all(dealing._propose))


def refused_by_database(result):
    """Tell whether the database itself refused, said as it came or in the words of the service."""
    return isinstance(result, DBAPIError) or isinstance(getattr(result, "__context__", None), ClashError)


def days_of(row):
    """Return a row with days for what the driver gave as text."""
    return row | {name: date.fromisoformat(str(row[name])) for name in ("begin_on", "end_on")}


class TestPosition:
    """Fifty people who ask for one position, for days of three windows."""

    @staticmethod
    def ask(engine, stays, target):
        return at_once(
            engine, [lambda session, stay=stay: move_tray(session, stay, target, today=TODAY) for stay in stays]
        )

    def round(self, engine, stays, target):
        with Session(engine) as session:
            before = {row[0]: row for row in everything(session)["stay"]}
        results = self.ask(engine, stays, target)
        won = {stay for stay, result in zip(stays, results, strict=True) if result is None}
        return results, wrong_winners(engine, before, stays, won), won

    @staticmethod
    def put_back(engine, before):
        with Session(engine) as session:
            session.query(Stay).delete()
            names = [column.name for column in Stay.__table__.columns]
            stays = [dict(zip(names, row, strict=True)) for row in before]
            session.connection().execute(Stay.__table__.insert(), [days_of(stay) for stay in stays])
            session.commit()

    @pytest.mark.soak
    def test_goes_to_as_many_as_there_are_places_on_the_days_asked_for(self, engine, crowd):
        stays, target = ask_for_one_position(engine)
        with Session(engine) as session:
            before = everything(session)["stay"]
        for _ in range(TIMES):
            results, wrong, won = self.round(crowd, stays, target)
            assert wrong == []
            assert len(won) == len(WINDOWS)
            lost = [result for result in results if result is not None]
            assert {type(error) for error in lost} == {PositionTakenError}
            # Each of them is told who stands there.
            assert all(len(error.stays) == 1 and error.stays[0].slot == 1 for error in lost)
            self.put_back(engine, before)

    def test_without_the_lock_the_database_itself_refuses(self, engine, tmp_path, monkeypatch):
        with own_database(engine, tmp_path, begin=begin_late) as own:
            stays, target = ask_for_one_position(own)
            unlocked(monkeypatch, CLIENTS)
            results, wrong, won = self.round(own, stays, target)
            assert wrong == []
            assert 1 <= len(won) <= len(WINDOWS)
            assert any(refused_by_database(result) for result in results)

    def test_without_lock_and_refusal_too_many_win_and_it_is_noticed(self, engine, tmp_path, monkeypatch):
        with own_database(engine, tmp_path) as own:
            refuse_nothing(own)
            stays, target = ask_for_one_position(own)
            unlocked(monkeypatch, CLIENTS)
            _, wrong, won = self.round(own, stays, target)
            assert len(won) > len(WINDOWS)
            assert {"clash", "won twice"} <= {kind for kind, *_ in wrong}


class TestShelf:
    """Fifty people who each want any of the ten positions of a shelf, on the same days."""

    POSITIONS = 10

    def test_takes_as_many_as_it_has_positions(self, engine, crowd):
        stays, shelf = fifty_that_wait(engine, self.POSITIONS)

        def ask(stay, first):
            def task(session):
                for turn in range(self.POSITIONS):
                    slot = (first + turn) % self.POSITIONS + 1
                    try:
                        move_tray(session, stay, Target(shelf_id=shelf, level=1, slot=slot), today=TODAY)
                    except PositionTakenError:
                        session.rollback()
                    else:
                        return slot
                raise PositionTakenError(())

            return task

        results = at_once(crowd, [ask(stay, number) for number, stay in enumerate(stays)])
        won = [result for result in results if isinstance(result, int)]
        assert sorted(won) == list(range(1, self.POSITIONS + 1))
        assert {type(result) for result in results if not isinstance(result, int)} == {PositionTakenError}
        slots = dict(zip(stays, slots_of(engine, stays), strict=True))
        assert [slots[stay] for stay, result in zip(stays, results, strict=True) if isinstance(result, int)] == won
        assert sum(slot is None for slot in slots.values()) == len(stays) - self.POSITIONS


class TestDeal:
    """Coordinators who accept one and the same proposal."""

    PEOPLE = 4
    WISHES = ((0, 0, 20), (1, 0, 30), (0, 1, 10), (2, 2, 25), (1, 1, 40))

    def show(self, engine):
        """Return what is shown to all of them: the days and the mark."""
        with Session(engine) as session:
            garden_to_deal(session, self.WISHES)
            session.commit()
            first, last = season_days(get_plan(session))
            return {"first": first, "last": last, "today": TODAY, "mark": get_mark(session)}

    def accept(self, engine, shown):
        return at_once(engine, [lambda session: accept_deal(session, **shown)] * self.PEOPLE)

    @pytest.mark.soak
    def test_is_stored_once_and_the_others_hear_that_it_is_stale(self, engine, crowd):
        shown = self.show(engine)
        for _ in range(TIMES):
            self.check_round(engine, crowd, shown)
            with Session(engine) as session:
                session.execute(delete(Tray))  # cells and stays go with it
                session.commit()
                shown |= {"mark": get_mark(session)}

    def check_round(self, engine, crowd, shown):
        results = self.accept(crowd, shown)
        assert sum(isinstance(result, StaleDealError) for result in results) == self.PEOPLE - 1
        assert wrong_deal(engine) == []
        (stored,) = (result for result in results if not isinstance(result, StaleDealError))
        with Session(engine) as session:
            assert [row[1] for row in everything(session)["tray"]] == stored.deal.number.tolist()
            assert len(everything(session)["cell"]) == len(stored.cells.tray)
            assert len(everything(session)["stay"]) == len(stored.deal.stay_tray)

    def test_without_the_lock_the_database_itself_refuses(self, engine, tmp_path, monkeypatch):
        with own_database(engine, tmp_path, begin=begin_late) as own:
            shown = self.show(own)
            unlocked(monkeypatch, self.PEOPLE)
            results = self.accept(own, shown)
            assert sum(isinstance(result, ERRORS) for result in results) == self.PEOPLE - 1
            assert wrong_deal(own) == []

    def test_without_lock_and_refusal_it_is_stored_twice_or_in_parts_and_noticed(self, engine, tmp_path, monkeypatch):
        with own_database(engine, tmp_path) as own:
            refuse_nothing(own)
            shown = self.show(own)
            unlocked(monkeypatch, self.PEOPLE)
            self.accept(own, shown)
            assert wrong_deal(own) != []


class TestExchange:
    """Two people who at the same moment move trays to where others stand, and those back in exchange."""

    ROUNDS = 10 * TIMES
    CROSSING = ((0, 1), (1, 0))  # each to where the other stands
    SHARING = ((0, 1), (1, 2))  # one is moved by both

    def move(self, engine, stays, shelf, moves):
        """Let each tray of some moves, (tray, other), go to where the other stands, at once; return the errors."""
        before = slots_of(engine, stays)

        def task(tray, other):
            target = Target(shelf_id=shelf, level=1, slot=before[other])
            return lambda session: move_tray(session, stays[tray], target, today=TODAY, exchange=True)

        return [result for result in at_once(engine, [task(*move) for move in moves]) if result is not None]

    @pytest.mark.soak
    def test_crossing_moves_end_with_both_where_they_were_to_be(self, engine, crowd):
        stays, shelf = three_trays(engine)
        for turn in range(self.ROUNDS):
            assert self.move(crowd, stays, shelf, self.CROSSING) == []
            assert slots_of(engine, stays) == ([1, 2, 3] if turn % 2 else [2, 1, 3])

    @pytest.mark.soak
    def test_moves_that_share_a_tray_lose_none(self, engine, crowd):
        stays, shelf = three_trays(engine)
        for _ in range(self.ROUNDS):
            assert self.move(crowd, stays, shelf, self.SHARING) == []
            assert sorted(slots_of(engine, stays)) == [1, 2, 3]

    def test_without_lock_and_refusal_one_fails_or_a_position_is_lost_and_it_is_noticed(
        self, engine, tmp_path, monkeypatch
    ):
        with own_database(engine, tmp_path) as own:
            refuse_nothing(own)
            stays, shelf = three_trays(own)
            unlocked(monkeypatch, 2)
            errors = self.move(own, stays, shelf, self.SHARING)
            assert errors or [slot for slot in slots_of(own, stays) if slot] != [1, 2, 3]
