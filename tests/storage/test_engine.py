"""How databases are opened, and the mark that tells of changes."""

import threading
from contextlib import contextmanager

import pytest
from sqlalchemy import delete, insert
from sqlalchemy.exc import DBAPIError, IntegrityError

from app.storage import Session
from app.storage.engine import make_engine, reading, set_reading
from app.storage.models import Grower, Sowing
from app.storage.queries.version import get_mark


def test_sqlite_opens_with_the_safe_settings(tmp_path):
    engine = make_engine(f"sqlite:///{tmp_path / 'new.sqlite3'}")
    with engine.connect() as connection:
        settings = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()
            for name in ("journal_mode", "foreign_keys", "synchronous")
        }
        library = connection.exec_driver_sql("SELECT sqlite_version()").scalar_one()
    engine.dispose()
    assert settings == {"journal_mode": "wal", "foreign_keys": 1, "synchronous": 2}
    # SQLite before 3.51.3 can lose a commit at a checkpoint (sqlite.org, wal.html, "WAL-reset").
    assert tuple(map(int, library.split("."))) >= (3, 51, 3)


@contextmanager
def writing():
    """Begin transactions as writers inside a block of readers."""
    set_reading(False)
    yield
    set_reading(True)


def test_a_row_must_have_the_row_it_belongs_to(session):
    session.add(Sowing(name="S001", grower_id=99, crop_id=99, plants=1))
    with pytest.raises(IntegrityError):
        session.flush()


def test_many_threads_that_read_and_then_write_all_get_through(engine):
    errors = []

    def work(number):
        try:
            with Session(engine) as session:
                get_mark(session)
                session.add(Grower(name=f"Grower {number}"))
                session.commit()
        except DBAPIError as error:
            errors.append(error)

    threads = [threading.Thread(target=work, args=(number,)) for number in range(16)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert errors == []
    with Session(engine) as session:
        assert session.query(Grower).count() == 16


def test_a_reader_sees_one_state_while_others_write(engine):
    with reading(), Session(engine) as reader:
        before = get_mark(reader)
        with Session(engine) as writer, writing():
            writer.add(Grower(name="Ines Moreau"))
            writer.commit()
        assert reader.query(Grower).count() == 0
        assert get_mark(reader) == before


class TestMark:
    def test_stays_while_nothing_changes(self, session):
        first = get_mark(session)
        session.commit()
        assert get_mark(session) == first

    @pytest.mark.parametrize(
        "change",
        [
            pytest.param(lambda s: s.add(Grower(name="Ines")), id="added"),
            pytest.param(lambda s: s.execute(insert(Grower), [{"name": "Ines"}, {"name": "Tomas"}]), id="many"),
            pytest.param(lambda s: s.execute(delete(Grower)), id="deleted by statement"),
        ],
    )
    def test_is_new_after_a_change(self, session, change):
        first = get_mark(session)
        change(session)
        session.commit()
        assert get_mark(session) != first

    def test_stays_when_a_change_is_taken_back(self, session):
        first = get_mark(session)
        session.add(Grower(name="Ines"))
        session.flush()
        session.rollback()
        session.commit()
        assert get_mark(session) == first

    def test_is_seen_by_another_connection(self, engine):
        with Session(engine) as one, Session(engine) as other:
            first = get_mark(other)
            other.rollback()
            one.add(Grower(name="Ines"))
            one.commit()
            assert get_mark(other) != first
