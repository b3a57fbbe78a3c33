"""A database that is busy, full, not to be written to or away: a clear page, the form kept, no damage."""

import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from io import BytesIO
from threading import Event, Thread

import pytest
from sqlalchemy import event, text

from app import create_app
from app.extensions import db
from app.settings import Settings
from app.storage import Session
from app.storage import engine as engines
from app.storage import queue as queues
from app.storage.engine import make_engine
from app.storage.errors import AwayError, BusyError, CrossedError, FullError
from app.storage.models import Grower
from app.storage.queries.version import hold_writes
from app.storage.schema import upgrade
from app.web import acting
from app.web.views import growers as view
from tests import rows
from tests.conftest import TODAY
from tests.people import sign_in_as
from tests.powerless import open_folder, powerless
from tests.web.filling import form_values

pytestmark = pytest.mark.postgres

OURS = {"Sec-Fetch-Site": "same-origin"}
NEW = "/growers/new"
FILLING = text("INSERT INTO history (at, via, noun, subject, action, changes) VALUES (1, 'page', :x, '', '', '[]')")


@pytest.fixture
def impatient(engine, monkeypatch):
    """Let nobody wait long."""
    monkeypatch.setattr(queues.WriteQueue.enter, "__defaults__", (0.2,))
    monkeypatch.setattr(engines, "LOCK_TIMEOUT_MS", 200)
    yield
    engine.dispose()  # its connections would stay impatient


@contextmanager
def somebody_writes(engine):
    """Let somebody else be in the middle of writing."""
    with Session(engine) as session:
        hold_writes(session)
        yield


@pytest.fixture
def garden(session):
    rows.garden(session)
    session.commit()


def filled(client, **changes):
    """Return a form for a new grower, filled in."""
    values = form_values(client.get(NEW).text)
    return values | {"name": ["Ines Moreau"], "contact": ["two\nlines & <signs>"]} | changes


def send(client, values, headers=OURS):
    return client.post(NEW, data=values, headers=headers)


def names(engine):
    with Session(engine) as session:
        return [row.name for row in session.query(Grower)]


def told(caplog):
    return [record.message for record in caplog.records if record.levelname == "ERROR"]


@pytest.mark.usefixtures("impatient", "garden")
class TestBusy:
    def test_keeps_the_form_to_be_sent_again(self, engine, client):
        values = filled(client)
        with somebody_writes(engine):
            answer = send(client, values)
        assert answer.status_code == 503
        assert int(answer.headers["Retry-After"]) > 0
        assert "Nothing was saved" in answer.text
        assert names(engine) == []
        kept = form_values(answer.text)
        assert [kept[name] for name in ("name", "contact", "key")] == [
            values[name] for name in ("name", "contact", "key")
        ]
        assert send(client, kept).status_code == 302
        assert names(engine) == ["Ines Moreau"]

    def test_gives_nothing_back_to_a_form_from_elsewhere(self, engine, client):
        values = filled(client)
        for headers in ({"Sec-Fetch-Site": "cross-site"}, {"Origin": "http://elsewhere.example"}, {}):
            with somebody_writes(engine):
                answer = send(client, values, headers)
            assert answer.status_code == 503
            assert "Ines Moreau" not in answer.text

    def test_a_file_is_sent_again_by_the_browser_alone(self, engine, client):
        values = filled(client) | {"file": (BytesIO(b"x"), "record.csv")}
        with somebody_writes(engine):
            answer = send(client, values)
        assert answer.status_code == 503
        assert "Ines Moreau" not in answer.text
        assert "Go back, and send the form again" in answer.text

    def test_reading_does_not_wait(self, engine, client):
        with somebody_writes(engine):
            assert client.get("/growers").status_code == 200

    def test_what_is_saved_is_said_to_be_so_while_somebody_else_writes(self, engine, client, monkeypatch):
        """Whatever is looked up to say what was saved only reads."""

        def save(*_):
            db.session.commit()
            others = []
            Thread(target=write, args=(others,)).start()
            while not others:
                time.sleep(0.001)
            try:
                return f"{db.session.query(Grower).count()} saved", {"Content-Type": "text/plain"}
            finally:
                others[0].set()

        def write(others):
            with somebody_writes(engine):
                others.append(Event())
                others[0].wait(10)

        monkeypatch.setattr(view, "save", save)
        answer = send(client, filled(client))
        assert (answer.status_code, answer.text) == (200, "1 saved")
        assert names(engine) == ["Ines Moreau"]


@pytest.mark.usefixtures("garden")
class TestCrossed:
    """Two changes crossed, and the database gave one of them up."""

    def cross(self, monkeypatch, times):
        add, tries = view.growers.add_grower, []

        def added(session, values):
            tries.append(1)
            grower = add(session, values)
            if len(tries) <= times:
                raise CrossedError("crossed")
            return grower

        monkeypatch.setattr(view.growers, "add_grower", added)
        return tries

    def test_is_done_again_as_a_whole(self, engine, client, monkeypatch):
        values, tries = filled(client), self.cross(monkeypatch, acting.TRIES - 1)
        assert send(client, values).status_code == 302
        assert len(tries) == acting.TRIES
        assert names(engine) == ["Ines Moreau"]

    def test_is_not_tried_for_ever(self, engine, client, monkeypatch):
        values, tries = filled(client), self.cross(monkeypatch, acting.TRIES)
        assert send(client, values).status_code == 503
        assert len(tries) == acting.TRIES
        assert names(engine) == []

    def test_deadlocks_of_the_database_are_such(self, engine):
        if engine.dialect.name == "sqlite":
            pytest.skip("SQLite has one lock, which nobody can cross")
        with Session(engine) as session:
            shelves = [rows.shelf(session, name).id for name in ("One", "Two")]
            session.commit()
        lock = text("SELECT id FROM shelf WHERE id = :id FOR UPDATE")
        with engine.connect() as one, engine.connect() as other:
            both = (one, other)

            def cross(connection, shelf):
                try:
                    connection.execute(lock, {"id": shelf})
                except CrossedError as error:
                    connection.rollback()
                    return error
                return None

            for connection, shelf in zip(both, shelves, strict=True):
                cross(connection, shelf)
            with ThreadPoolExecutor(2) as pool:
                results = list(pool.map(cross, both, reversed(shelves)))
        assert sorted(str(type(result).__name__) for result in results) == ["CrossedError", "NoneType"]


class TestFull:
    """SQLite lets a test bound the pages of a file, which fails as a full disk does."""

    @pytest.fixture
    def own(self, tmp_path, read_templates):
        """Return an application on a database of this test's own that has no room left, and an engine of the file."""
        url = f"sqlite:///{tmp_path / 'own.sqlite3'}"
        plain = make_engine(url)
        upgrade(plain)
        with Session(plain) as session:
            rows.garden(session)
            session.commit()
        app = create_app(Settings(database_url=url, instance=tmp_path / "i", today=TODAY, secret_key="x" * 40))
        app.jinja_env.bytecode_cache = read_templates
        client = app.test_client()
        sign_in_as(client)
        values = filled(client)
        with app.app_context():
            event.listen(db.engine, "connect", bound_pages)
            db.engine.dispose()
            self.fill(db.engine)
        yield app, client, values, plain
        with app.app_context():
            db.engine.dispose()
        plain.dispose()

    @staticmethod
    def fill(engine):
        """Insert rows until there is no room for another one."""
        for size in (1_000, 100, 10):
            for _ in range(10_000):
                try:
                    with engine.begin() as connection:
                        connection.execute(FILLING, {"x": "x" * size})
                except FullError:
                    break
            else:
                pytest.fail("there is always room")

    def test_keeps_the_form_and_harms_nothing(self, own, caplog):
        app, client, values, plain = own
        before = rows_of(plain)
        answer = send(client, values)
        assert answer.status_code == 507
        assert "There is no room left" in answer.text
        assert form_values(answer.text)["name"] == ["Ines Moreau"]
        assert any("no room left" in words for words in told(caplog))
        assert client.get("/growers").status_code == 200
        assert rows_of(plain) == before
        with plain.connect() as connection:
            assert connection.exec_driver_sql("PRAGMA integrity_check").scalar_one() == "ok"
        with app.app_context():
            event.remove(db.engine, "connect", bound_pages)
            db.engine.dispose()
        assert send(client, form_values(answer.text)).status_code == 302
        assert names(plain) == ["Ines Moreau"]


def bound_pages(connection, _record):
    pages = connection.execute("PRAGMA page_count").fetchone()[0]
    connection.execute(f"PRAGMA max_page_count = {pages}")


def rows_of(engine):
    with engine.connect() as connection:
        return {
            name: connection.exec_driver_sql(f"SELECT count(*) FROM {name}").scalar_one()
            for name in ("grower", "history", "form_key")
        }


class TestReadOnly:
    @pytest.fixture
    def own(self):
        """Return a client of an application whose database lies in a folder that can lose its rights."""
        with open_folder() as folder:
            url = f"sqlite:///{folder / 'own.sqlite3'}"
            plain = make_engine(url)
            upgrade(plain)
            with Session(plain) as session:
                rows.garden(session)
                session.commit()
            app = create_app(Settings(database_url=url, instance=folder, today=TODAY, secret_key="x" * 40))
            client = app.test_client()
            sign_in_as(client)
            yield folder, app, client, filled(client), plain
            with app.app_context():
                db.engine.dispose()
            plain.dispose()

    @pytest.mark.parametrize("is_open", [True, False], ids=["open already", "opened anew"])
    def test_says_so_without_the_database_and_harms_nothing(self, own, is_open):
        folder, app, client, values, plain = own
        plain.dispose()
        for name in ("kept_form", "unusable"):
            app.jinja_env.get_template(f"errors/{name}.html")  # nothing of the program can be read below
        if not is_open:
            with app.app_context():
                db.engine.dispose()
        with powerless(folder):
            answer = send(client, values)
            page = client.get("/growers")
        assert answer.status_code == 503
        assert "cannot be opened for writing" in answer.text
        assert form_values(answer.text)["name"] == ["Ines Moreau"]
        assert page.status_code == (200 if is_open else 503)
        assert send(client, form_values(answer.text)).status_code == 302
        assert names(plain) == ["Ines Moreau"]


@pytest.mark.parametrize("error", [AwayError("away"), BusyError("busy")], ids=["away", "busy"])
def test_pages_need_no_database_to_say_that_it_is_away(client, monkeypatch, error):
    def fail(*_args):
        raise error

    monkeypatch.setattr("app.web.context.get_facts", fail)
    answer = client.get("/growers")
    assert answer.status_code == 503
    assert "Traceback" not in answer.text
    assert "Try again" in answer.text
