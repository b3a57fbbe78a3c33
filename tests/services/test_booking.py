"""Many people at one position, one deal or two trays at the same moment, and saboteurs that show that it is noticed.

The saboteurs work on a database of their own: without the lock everybody looks before anybody writes; without the
refusal the database takes whatever is written.
"""

import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from datetime import date, timedelta
from threading import Barrier, BrokenBarrierError

import pytest
from sqlalchemy import NullPool, create_engine, delete, event, text
from sqlalchemy.exc import DBAPIError

from app.core.words import Place
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
from app.storage.schema import upgrade
from tests import rows
from tests.dealing import TODAY, cells_of_sowings, clashes, everything, garden_to_deal
from tests.lengths import TIMES

CLIENTS = 50
ERRORS = (PositionTakenError, StaleDealError, DBAPIError)
SCHEMA = "sabotaged"
DAY = date(2027, 5, 1)
# All that ask for days of one window share a day; windows only touch.
WINDOWS = ((0, 10), (10, 20), (20, 30))


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
def crowd(engine):
    """Return the migrated database with a connection for everybody."""
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
    def place(engine):
        """Add fifty trays, half of which stand elsewhere, half wait; return their stays and the position."""
        with Session(engine) as session:
            rows.garden(session)
            box = rows.container(session)
            last = rows.shelf(session, "Last one", positions=1, levels=1).id
            store = rows.shelf(session, "Long bench", positions=CLIENTS, levels=1).id
            stays = []
            for number in range(CLIENTS):
                tray = Tray(number=number + 1, container_id=box.id, sow_on=DAY, potted_on=False, pinned=False)
                session.add(tray)
                session.flush()
                first, end = WINDOWS[number % len(WINDOWS)]
                days = first + number % 5, end - number % 4
                position = (store, 1, number + 1) if number % 2 else (None, None, None)
                fields = dict(zip(("shelf_id", "level", "slot"), position, strict=True))
                begin, end = (DAY + timedelta(days=day) for day in days)
                stays.append(
                    Stay(tray_id=tray.id, place=Place.LAMP, begin_on=begin, end_on=end, pinned=False, **fields)
                )
            session.add_all(stays)
            session.flush()
            ids = [stay.id for stay in stays]
            session.commit()
        return ids, Target(shelf_id=last, level=1, slot=1)

    @staticmethod
    def ask(engine, stays, target):
        return at_once(
            engine, [lambda session, stay=stay: move_tray(session, stay, target, today=TODAY) for stay in stays]
        )

    @staticmethod
    def complaints(engine, before, stays, results):
        """Return what is wrong: two at one position, more or fewer winners than windows, somebody half moved."""
        won = {stay for stay, result in zip(stays, results, strict=True) if result is None}
        with Session(engine) as session:
            found = [("clash", *pair) for pair in clashes(session)]
            after = {row[0]: row for row in everything(session)["stay"]}
        windows = [stays.index(stay) % len(WINDOWS) for stay in won]
        found += [("won twice", window) for window in set(windows) if windows.count(window) > 1]
        found += [("changed", stay) for stay in stays if stay not in won and after[stay] != before[stay]]
        return found, won

    def round(self, engine, stays, target):
        with Session(engine) as session:
            before = {row[0]: row for row in everything(session)["stay"]}
        results = self.ask(engine, stays, target)
        return results, *self.complaints(engine, before, stays, results)

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
        stays, target = self.place(engine)
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
            stays, target = self.place(own)
            unlocked(monkeypatch, CLIENTS)
            results, wrong, won = self.round(own, stays, target)
            assert wrong == []
            assert 1 <= len(won) <= len(WINDOWS)
            assert any(refused_by_database(result) for result in results)

    def test_without_lock_and_refusal_too_many_win_and_it_is_noticed(self, engine, tmp_path, monkeypatch):
        with own_database(engine, tmp_path) as own:
            refuse_nothing(own)
            stays, target = self.place(own)
            unlocked(monkeypatch, CLIENTS)
            _, wrong, won = self.round(own, stays, target)
            assert len(won) > len(WINDOWS)
            assert {"clash", "won twice"} <= {kind for kind, *_ in wrong}


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

    @staticmethod
    def complaints(engine):
        """Return what is wrong with what is stored: cells twice or missing, trays too many, clashes."""
        with Session(engine) as session:
            found = [("clash", *pair) for pair in clashes(session)]
            plan, there = get_plan(session), cells_of_sowings(session)
            for index, sowing in enumerate(plan.garden.sowings.ids.tolist()):
                wanted = {(sowing, False): plan.cells[index], (sowing, True): plan.pots[index]}
                found += [("cells", *key) for key, n in wanted.items() if there[key] != n]
            numbers = [row[1] for row in everything(session)["tray"]]
            found += [("number", number) for number in set(numbers) if numbers.count(number) > 1]
            cells = {row[0] for row in everything(session)["cell"]}
            found += [("no cells", row[0]) for row in everything(session)["tray"] if row[0] not in cells]
        return found

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
        assert self.complaints(engine) == []
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
            assert self.complaints(own) == []

    def test_without_lock_and_refusal_it_is_stored_twice_or_in_parts_and_noticed(self, engine, tmp_path, monkeypatch):
        with own_database(engine, tmp_path) as own:
            refuse_nothing(own)
            shown = self.show(own)
            unlocked(monkeypatch, self.PEOPLE)
            self.accept(own, shown)
            assert self.complaints(own) != []


class TestExchange:
    """Two people who at the same moment move trays to where others stand, and those back in exchange."""

    ROUNDS = 10 * TIMES
    CROSSING = ((0, 1), (1, 0))  # each to where the other stands
    SHARING = ((0, 1), (1, 2))  # one is moved by both

    @staticmethod
    def place(engine):
        """Add three trays under the lamps, and return their stays and the shelf."""
        with Session(engine) as session:
            rows.garden(session)
            box, shelf = rows.container(session), rows.shelf(session, positions=3, levels=1)
            stays = []
            for slot in (1, 2, 3):
                tray = Tray(number=slot, container_id=box.id, sow_on=DAY, potted_on=False, pinned=False)
                session.add(tray)
                session.flush()
                days = {"begin_on": DAY, "end_on": DAY + timedelta(days=30)}
                position = {"shelf_id": shelf.id, "level": 1, "slot": slot}
                stays.append(Stay(tray_id=tray.id, place=Place.LAMP, pinned=False, **position, **days))
            session.add_all(stays)
            session.flush()
            made = [stay.id for stay in stays], shelf.id
            session.commit()
        return made

    @staticmethod
    def slots(engine, stays):
        with Session(engine) as session:
            slot_of = {row[0]: row[5] for row in everything(session)["stay"]}
        return [slot_of[stay] for stay in stays]

    def move(self, engine, stays, shelf, moves):
        """Let each tray of some moves, (tray, other), go to where the other stands, at once; return the errors."""
        before = self.slots(engine, stays)

        def task(tray, other):
            target = Target(shelf_id=shelf, level=1, slot=before[other])
            return lambda session: move_tray(session, stays[tray], target, today=TODAY, exchange=True)

        return [result for result in at_once(engine, [task(*move) for move in moves]) if result is not None]

    @pytest.mark.soak
    def test_crossing_moves_end_with_both_where_they_were_to_be(self, engine, crowd):
        stays, shelf = self.place(engine)
        for turn in range(self.ROUNDS):
            assert self.move(crowd, stays, shelf, self.CROSSING) == []
            assert self.slots(engine, stays) == ([1, 2, 3] if turn % 2 else [2, 1, 3])

    @pytest.mark.soak
    def test_moves_that_share_a_tray_lose_none(self, engine, crowd):
        stays, shelf = self.place(engine)
        for _ in range(self.ROUNDS):
            assert self.move(crowd, stays, shelf, self.SHARING) == []
            assert sorted(self.slots(engine, stays)) == [1, 2, 3]

    def test_without_lock_and_refusal_one_fails_or_a_position_is_lost_and_it_is_noticed(
        self, engine, tmp_path, monkeypatch
    ):
        with own_database(engine, tmp_path) as own:
            refuse_nothing(own)
            stays, shelf = self.place(own)
            unlocked(monkeypatch, 2)
            errors = self.move(own, stays, shelf, self.SHARING)
            assert errors or [slot for slot in self.slots(own, stays) if slot] != [1, 2, 3]
