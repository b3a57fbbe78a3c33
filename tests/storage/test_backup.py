"""A copy of a whole database as one file, and what a check of such a file refuses."""

import resource
import shutil
import stat
import subprocess
import sys

import pytest

from app.storage import Session, backup
from app.storage.backup import BackupError, check_backup, copy_database
from app.storage.given_ids import read_given_ids
from app.storage.models import Account, Grower, History
from tests.backups import PEOPLE, fill, new_database, plain_engine, rows_of


@pytest.fixture
def live(tmp_path):
    """Return a database with a grower in it that stays open, as a server's does."""
    engine = new_database(tmp_path / "live.sqlite3")
    with Session(engine) as session:
        session.add(Grower(name="Petronella Quist"))
        session.commit()
    yield engine
    engine.dispose()


@pytest.fixture
def copied(live, tmp_path):
    """Return a finished backup."""
    copy_database(live, tmp_path / "copy.sqlite3")
    return tmp_path / "copy.sqlite3"


def add_grower(engine, name):
    with Session(engine) as session:
        session.add(Grower(name=name))
        session.commit()


def names_in(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_copy_holds_every_row_of_every_table(engine, tmp_path):
    fill(engine)
    facts = copy_database(engine, tmp_path / "copy.sqlite3")
    copy = plain_engine(tmp_path / "copy.sqlite3")
    held = rows_of(copy)
    copy.dispose()
    assert held == rows_of(engine)
    assert set(PEOPLE) < set(held)
    assert {name: count for name, count in facts.counts.items() if count} == {
        name: len(rows) for name, rows in held.items()
    }


def test_a_copy_is_one_file_that_its_owner_alone_can_read(live, tmp_path):
    folder = tmp_path / "copies"
    folder.mkdir()
    copy_database(live, folder / "copy.sqlite3")
    assert names_in(folder) == ["copy.sqlite3"]
    assert stat.S_IMODE((folder / "copy.sqlite3").stat().st_mode) == 0o600
    check_backup(folder / "copy.sqlite3")
    assert names_in(folder) == ["copy.sqlite3"]


def test_what_was_erased_does_not_travel_along(live, tmp_path):
    with live.begin() as connection:
        for number in range(2_000):
            statement = "INSERT INTO grower (name, contact) VALUES (?, ?)"
            connection.exec_driver_sql(statement, (f"Odo Erased {number}", f"erased{number}@example.org"))
    copy_database(live, tmp_path / "before.sqlite3")
    assert b"Odo Erased" in (tmp_path / "before.sqlite3").read_bytes()
    with live.begin() as connection:  # every second one, then the rest: pages are emptied in part and whole
        connection.exec_driver_sql("DELETE FROM grower WHERE id % 2 = 0")
    with live.begin() as connection:
        connection.exec_driver_sql("DELETE FROM grower WHERE name LIKE 'Odo%'")
    copy_database(live, tmp_path / "copy.sqlite3")
    content = (tmp_path / "copy.sqlite3").read_bytes()
    assert b"Erased" not in content
    assert b"erased" not in content
    assert b"Petronella Quist" in content


def test_ids_that_were_given_are_known_to_the_copy_though_their_rows_are_gone(engine, tmp_path):
    with Session(engine) as session:
        rows = [History(at=1, via="page", noun="x", subject="", action="", changes=[]) for _ in range(3)]
        session.add_all(rows)
        session.flush()
        last = max(row.id for row in rows)
        for row in rows:
            session.delete(row)
        session.commit()
    copy_database(engine, tmp_path / "copy.sqlite3")
    copy = plain_engine(tmp_path / "copy.sqlite3")
    with copy.connect() as connection:
        assert read_given_ids(connection)["history"] == last
    copy.dispose()


def test_a_file_that_is_there_is_replaced_only_by_a_whole_copy(live, copied, monkeypatch):
    before = copied.read_bytes()
    add_grower(live, "Ben Ito")

    def lose_a_row(source, path, copy=backup._copy_pages):
        copy(source, path)
        engine = plain_engine(path)
        with engine.begin() as connection:
            connection.exec_driver_sql("DELETE FROM grower WHERE name = 'Ben Ito'")
        engine.dispose()

    monkeypatch.setattr(backup, "_copy_pages", lose_a_row)
    folder = names_in(copied.parent)
    with pytest.raises(BackupError, match="other rows than the database did"):
        copy_database(live, copied)
    assert copied.read_bytes() == before
    assert names_in(copied.parent) == folder


def test_a_full_disk_leaves_the_file_of_before_and_no_other(live, copied):
    with Session(live) as session:
        session.add_all(Grower(name=f"Grower {number}") for number in range(5_000))
        session.commit()
    before, folder = copied.read_bytes(), names_in(copied.parent)
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, limits[1]))
    try:
        with pytest.raises(OSError, match="No space left"):
            copy_database(live, copied)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
    assert copied.read_bytes() == before
    assert names_in(copied.parent) == folder
    copy_database(live, copied)
    assert check_backup(copied).counts["grower"] == 5_001


class TestCheck:
    def test_a_file_copied_from_a_database_in_use_is_refused(self, live, tmp_path):
        """What a copy by hand lacks is not seen by looking into it: it is whole, and older than it should be."""
        with live.connect() as connection:
            connection.connection.driver_connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        add_grower(live, "Written Just Now")
        taken = tmp_path / "taken.sqlite3"
        # By another process: this one must not touch the file of its own database.
        subprocess.run(
            [sys.executable, "-c", "import shutil, sys; shutil.copy(*sys.argv[1:])", live.url.database, taken],
            check=True,
        )
        looked_at = tmp_path / "looked_at.sqlite3"
        shutil.copy(taken, looked_at)
        engine = plain_engine(looked_at)
        with engine.connect() as connection:
            assert connection.exec_driver_sql("PRAGMA integrity_check").scalar_one() == "ok"
            names = connection.exec_driver_sql("SELECT name FROM grower").scalars().all()
        engine.dispose()
        assert names == ["Petronella Quist"]
        with pytest.raises(BackupError, match="copied by hand"):
            check_backup(taken)

    @pytest.mark.parametrize("share", [0.0, 0.001, 0.1, 0.5, 0.9, 0.9999])
    def test_a_file_cut_short_is_refused(self, copied, share):
        content = copied.read_bytes()
        copied.write_bytes(content[: int(len(content) * share)])
        with pytest.raises(BackupError, match="ends too early" if share > 0.0001 else "is no backup"):
            check_backup(copied)

    def test_each_damaged_page_is_noticed(self, copied):
        content = copied.read_bytes()
        for begin in range(4096, len(content), 4096):
            spoiled = bytearray(content)
            spoiled[begin : begin + 4096] = b"\xa5" * 4096
            copied.write_bytes(spoiled)
            with pytest.raises(BackupError, match=r"damaged|something else"):
                check_backup(copied)

    @pytest.mark.parametrize("content", [b"", b"hello", b"PK\x03\x04" + bytes(5000), b"SQLite format 3\0" + bytes(80)])
    def test_a_file_of_something_else_is_refused(self, tmp_path, content):
        path = tmp_path / "other.bin"
        path.write_bytes(content)
        with pytest.raises(BackupError, match=r"other\.bin"):
            check_backup(path)

    def test_a_database_of_something_else_is_refused(self, tmp_path):
        path = tmp_path / "other.sqlite3"
        engine = plain_engine(path)
        with engine.begin() as connection:
            connection.exec_driver_sql("CREATE TABLE grower (id INTEGER)")
        engine.dispose()
        with pytest.raises(BackupError, match="of something else"):
            check_backup(path)

    @pytest.mark.parametrize(
        ("statement", "words"),
        [
            ("UPDATE alembic_version SET version_num = '9999_from_the_future'", "newer version of the program"),
            ("INSERT INTO frost_point (id, side, chance_percent, month_day) VALUES (1, 'mid', 5, 'x')", "damaged"),
            ("INSERT INTO seed_lot (name, crop_id) VALUES ('L1', 99)", "belongs to a row that is missing"),
        ],
        ids=["newer schema", "check broken", "row missing"],
    )
    def test_rows_that_the_program_would_not_write_are_refused(self, copied, statement, words):
        engine = plain_engine(copied)
        with engine.begin() as connection:
            connection.exec_driver_sql("PRAGMA ignore_check_constraints = ON")
            connection.exec_driver_sql(statement)
        engine.dispose()
        with pytest.raises(BackupError, match=words):
            check_backup(copied)

    def test_a_check_leaves_the_file_as_it_is(self, copied):
        before = copied.read_bytes()
        copied.chmod(0o400)
        check_backup(copied)
        assert copied.read_bytes() == before


def test_an_empty_file_in_place_of_a_database_is_nothing_to_back_up(tmp_path):
    engine = plain_engine(tmp_path / "new.sqlite3")
    with pytest.raises(BackupError, match="nothing to back up"):
        copy_database(engine, tmp_path / "copy.sqlite3")
    engine.dispose()
    assert not (tmp_path / "copy.sqlite3").exists()


def test_a_damaged_database_is_told_when_it_is_copied(tmp_path):
    engine = new_database(tmp_path / "live.sqlite3")
    with Session(engine) as session:
        session.add_all(
            Account(name=f"N{n}", name_key=f"n{n}", role="member", is_demo=False, made_at=n) for n in range(500)
        )
        session.commit()
    engine.dispose()
    content = bytearray((tmp_path / "live.sqlite3").read_bytes())
    content[-8192:-4096] = b"\xa5" * 4096
    (tmp_path / "live.sqlite3").write_bytes(content)
    with pytest.raises(BackupError, match=r"damaged|malformed|cannot be copied"):
        copy_database(engine, tmp_path / "copy.sqlite3")
    engine.dispose()
    assert not (tmp_path / "copy.sqlite3").exists()
