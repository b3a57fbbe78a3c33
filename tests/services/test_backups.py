"""Backups made every day, kept as long as the garden wants, and restored into either engine."""

import errno
import json
import os
import shutil
import threading
from datetime import UTC, datetime
from pathlib import Path

import pytest
from alembic.script import ScriptDirectory
from sqlalchemy import select

from app.core.house.retention import Keeping, choose_kept
from app.services import backups as service
from app.services.backups import (
    DUE_S,
    KEPT_BEFORE,
    BackupError,
    BackupSettings,
    NotEmptyError,
    back_up,
    backup_folder,
    change_settings,
    list_kept,
    look_after_backups,
    read_state,
    restore_backup,
)
from app.services.folder import dump_folder
from app.storage import Session
from app.storage.backup import check_backup, copy_database
from app.storage.base import Base
from app.storage.errors import DatabaseError
from app.storage.models import Account, Grower, History, LastNumber, SignIn
from app.storage.queries.version import get_mark
from app.storage.schema import MIGRATIONS, downgrade, upgrade
from tests import rows
from tests.backups import TRANSIENT, fill, kept_rows_of, new_database, rows_of, url_of
from tests.lengths import TIMES
from tests.migrations.test_migrations import ROWS

NOW = datetime(2027, 4, 10, 12, tzinfo=UTC).timestamp()
DAY_S = 86_400
REVISIONS = [script.revision for script in reversed(list(ScriptDirectory(str(MIGRATIONS)).walk_revisions()))]


@pytest.fixture
def folder(tmp_path):
    """Return the folder of the backups."""
    return backup_folder(tmp_path / "instance")


@pytest.fixture
def other(tmp_path):
    """Return another database, new and empty."""
    engine = new_database(tmp_path / "other.sqlite3")
    yield engine
    engine.dispose()


def with_small_garden(engine):
    with Session(engine) as session:
        rows.garden(session)
        rows.grower(session)
        session.commit()
    return engine


@pytest.fixture
def small(engine):
    """Return a database of each engine with a small garden."""
    return with_small_garden(engine)


@pytest.fixture
def own(tmp_path):
    """Return an SQLite database with a small garden, for what does not depend on the engine."""
    engine = with_small_garden(new_database(tmp_path / "own.sqlite3"))
    yield engine
    engine.dispose()


def restored_rows(engine):
    """Return what a restore has brought, and take the note of the restore itself out of the history."""
    found = kept_rows_of(engine)
    found["history"] = [row for row in found["history"] if row[4] != "backup"]
    return {name: rows for name, rows in found.items() if rows}


def add_grower(engine, name):
    with Session(engine) as session:
        session.add(Grower(name=name))
        session.commit()


def grower_names(engine):
    with Session(engine) as session:
        return set(session.scalars(select(Grower.name)))


class TestRestore:
    def test_a_backup_of_either_engine_restores_to_either(self, engine, other, folder, tmp_path):
        fill(engine)
        before = kept_rows_of(engine)
        first, second = tmp_path / "first.sqlite3", tmp_path / "second.sqlite3"
        back_up(url_of(engine), first)
        restore_backup(url_of(other), first, folder, NOW)
        assert restored_rows(other) == before
        back_up(url_of(other), second)
        add_grower(engine, "Came Later")
        restored = restore_backup(url_of(engine), second, folder, NOW, replace=True)
        after = restored_rows(engine)
        after["last_number"] = [row for row in after["last_number"] if row in before["last_number"]]
        assert after == before  # but for the highest numbers of what was there, which are remembered
        assert restored.before is not None
        assert check_backup(restored.before).counts["grower"] == len(before["grower"]) + 1

    def test_undoing_a_restore_is_restoring_what_was_kept_before_it(self, small, folder, tmp_path):
        back_up(url_of(small), tmp_path / "old.sqlite3")
        add_grower(small, "Came Later")
        restored = restore_backup(url_of(small), tmp_path / "old.sqlite3", folder, NOW, replace=True)
        assert grower_names(small) == {"Ines Moreau"}
        restore_backup(url_of(small), restored.before, folder, NOW + 1, replace=True)
        assert grower_names(small) == {"Ines Moreau", "Came Later"}

    def test_nobody_is_signed_in_afterwards_and_pages_see_a_new_mark(self, engine, folder, tmp_path):
        fill(engine)
        back_up(url_of(engine), tmp_path / "backup.sqlite3")
        with Session(engine) as session:
            mark = get_mark(session)
            account = session.scalars(select(Account)).first()
            session.add(
                SignIn(token="f" * 64, account_id=account.id, is_bench=False, made_at=1, seen_at=2, expires_at=9e9)
            )
            session.commit()
        restore_backup(url_of(engine), tmp_path / "backup.sqlite3", folder, NOW, replace=True)
        assert not TRANSIENT & set(rows_of(engine))
        with Session(engine) as session:
            assert get_mark(session) != mark

    def test_numbers_and_ids_that_were_given_since_are_not_given_again(self, engine, other, folder, tmp_path):
        def note(in_engine):
            with Session(in_engine) as session:
                row = History(at=1, via="page", noun="x", subject="", action="", changes=[])
                session.add(row)
                session.commit()
                return row.id

        with Session(engine) as session:
            session.merge(LastNumber(kind="tray", last=20))
            session.commit()
        note(engine)
        back_up(url_of(engine), tmp_path / "old.sqlite3")
        with Session(engine) as session:
            session.merge(LastNumber(kind="tray", last=30))
            session.merge(LastNumber(kind="sowing", last=5))
            session.commit()
        later = note(engine)
        restore_backup(url_of(engine), tmp_path / "old.sqlite3", folder, NOW, replace=True)
        with Session(engine) as session:
            assert {row.kind: row.last for row in session.scalars(select(LastNumber))} == {"tray": 30, "sowing": 5}
        assert note(engine) > later
        back_up(url_of(engine), tmp_path / "newer.sqlite3")
        restore_backup(url_of(other), tmp_path / "newer.sqlite3", folder, NOW)
        assert note(other) > later + 1

    def test_it_is_written_down_in_the_history(self, small, folder, tmp_path):
        back_up(url_of(small), tmp_path / "april.sqlite3")
        restore_backup(url_of(small), tmp_path / "april.sqlite3", folder, NOW, replace=True)
        with Session(small) as session:
            row = session.scalars(select(History).order_by(History.id.desc())).first()
            assert (row.noun, row.action, row.subject, row.via) == ("backup", "restored", "april.sqlite3", "command")

    def test_a_database_that_holds_anything_is_not_replaced_unasked(self, engine, folder, tmp_path):
        add_grower(engine, "Ines Moreau")
        back_up(url_of(engine), tmp_path / "old.sqlite3")
        add_grower(engine, "Came Later")
        before = rows_of(engine)
        with pytest.raises(NotEmptyError):
            restore_backup(url_of(engine), tmp_path / "old.sqlite3", folder, NOW)
        assert rows_of(engine) == before
        assert list(folder.iterdir()) == []

    @pytest.mark.parametrize("spoil", ["cut", "garbage", "newer", "by hand"])
    def test_a_file_that_cannot_be_restored_changes_nothing(self, small, other, folder, tmp_path, spoil):
        path = tmp_path / "spoiled.sqlite3"
        back_up(url_of(small), path)
        content = path.read_bytes()
        if spoil == "cut":
            path.write_bytes(content[:50_000])
        elif spoil == "garbage":
            path.write_bytes(b"\0" * 50_000)
        elif spoil == "by hand":
            path.write_bytes(content[:18] + b"\x02\x02" + content[20:])
        else:
            add_grower(other, "Somebody")
            with other.begin() as connection:
                connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999_from_the_future'")
            with pytest.raises(BackupError, match="newer version"):
                copy_database(other, path)
            other.dispose()
            path.unlink()
            # what that newer version would have written
            service_copy = tmp_path / "newer.sqlite3"
            shutil.copy(other.url.database, service_copy)
            head = bytearray(service_copy.read_bytes())
            head[18:20] = b"\x01\x01"
            path.write_bytes(head)
        before = rows_of(small)
        with pytest.raises(BackupError, match=r"spoiled\.sqlite3"):
            restore_backup(url_of(small), path, folder, NOW, replace=True)
        assert rows_of(small) == before
        assert list(folder.iterdir()) == []

    def test_a_backup_with_the_log_of_a_database_in_use_beside_it_is_refused(self, small, folder, tmp_path):
        back_up(url_of(small), tmp_path / "b.sqlite3")
        (tmp_path / "b.sqlite3-wal").write_bytes(b"something")
        with pytest.raises(BackupError, match=r"b\.sqlite3-wal beside it"):
            restore_backup(url_of(small), tmp_path / "b.sqlite3", folder, NOW, replace=True)

    def test_the_database_itself_is_no_backup_of_it(self, other, folder):
        with pytest.raises(BackupError, match="the database itself"):
            restore_backup(url_of(other), Path(other.url.database), folder, NOW, replace=True)

    def test_a_file_on_a_disk_that_can_only_be_read_is_restored(self, small, other, folder, tmp_path):
        stick = tmp_path / "stick"
        stick.mkdir()
        back_up(url_of(small), stick / "b.sqlite3")
        (stick / "b.sqlite3").chmod(0o400)
        stick.chmod(0o500)
        before = (stick / "b.sqlite3").read_bytes()
        restore_backup(url_of(other), stick / "b.sqlite3", folder, NOW)
        assert (stick / "b.sqlite3").read_bytes() == before
        assert [path.name for path in stick.iterdir()] == ["b.sqlite3"]
        assert grower_names(other) == {"Ines Moreau"}
        stick.chmod(0o700)

    def test_what_cannot_be_kept_before_is_not_replaced(self, small, folder, tmp_path, monkeypatch):
        back_up(url_of(small), tmp_path / "b.sqlite3")
        before = rows_of(small)

        def fail(_engine, _path):
            raise BackupError("the copy is damaged: Tree 5 page 7: broken.")

        monkeypatch.setattr(service, "copy_database", fail)
        with pytest.raises(BackupError, match="What is there now cannot be kept, so nothing was replaced"):
            restore_backup(url_of(small), tmp_path / "b.sqlite3", folder, NOW, replace=True)
        assert rows_of(small) == before

    def test_the_last_five_of_what_was_replaced_stay(self, own, folder, tmp_path):
        back_up(url_of(own), tmp_path / "b.sqlite3")
        for number in range(KEPT_BEFORE + 2):
            restore_backup(url_of(own), tmp_path / "b.sqlite3", folder, NOW + number, replace=True)
        assert [kept.at - NOW for kept in list_kept(folder, before_restore=True)] == [6, 5, 4, 3, 2]
        assert list_kept(folder) == []

    def test_those_who_write_meanwhile_wait_and_those_who_read_see_the_old_garden(
        self, small, folder, tmp_path, monkeypatch
    ):
        back_up(url_of(small), tmp_path / "b.sqlite3")
        add_grower(small, "Came Later")
        inside, done = threading.Event(), []
        replace_everything = service.replace_everything

        def slow(session, source):
            counts = replace_everything(session, source)
            inside.set()
            assert not written.wait(0.5), "somebody wrote in the middle of a restore"
            done.append(grower_names(small))
            return counts

        written = threading.Event()

        def write():
            inside.wait(10)
            add_grower(small, "Wrote Meanwhile")
            written.set()

        monkeypatch.setattr(service, "replace_everything", slow)
        writer = threading.Thread(target=write)
        writer.start()
        restore_backup(url_of(small), tmp_path / "b.sqlite3", folder, NOW, replace=True)
        writer.join(20)
        assert done == [{"Ines Moreau", "Came Later"}]
        assert grower_names(small) == {"Ines Moreau", "Wrote Meanwhile"}


class TestOldSchemas:
    @pytest.fixture
    def old(self, engine):
        """Return a function that takes the database back to an earlier schema, with the rows of its migration."""

        def take_back(revision):
            downgrade(engine, "base")
            upgrade(engine, revision)
            with engine.begin() as connection:
                for statement in ROWS[revision]:
                    connection.exec_driver_sql(statement)
            return engine

        yield take_back
        downgrade(engine, "base")
        upgrade(engine)

    @pytest.mark.parametrize("revision", REVISIONS)
    def test_a_backup_of_each_earlier_schema_is_made_without_changing_it_and_restores(
        self, old, other, folder, tmp_path, revision
    ):
        engine = old(revision)
        path = tmp_path / "old.sqlite3"
        facts = back_up(url_of(engine), path)
        assert facts.revision == revision
        with engine.connect() as connection:
            assert connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar_one() == revision
        content = path.read_bytes()
        restored = restore_backup(url_of(other), path, folder, NOW)
        assert restored.facts == facts
        assert path.read_bytes() == content
        upgrade(engine)
        assert restored_rows(other) == kept_rows_of(engine)


class TestEveryDay:
    def test_one_is_made_when_the_last_is_a_day_old_and_not_before(self, small, folder):
        url = url_of(small)
        first = look_after_backups(url, folder, NOW)
        assert first.made.path.name == "traymates-2027-04-10T120000Z.sqlite3"
        assert look_after_backups(url, folder, NOW + DUE_S - 1).made is None
        again = look_after_backups(url, folder, NOW + DUE_S)
        assert again.made is not None
        assert [kept.at for kept in list_kept(folder)] == [NOW + DUE_S, NOW]
        assert again.last == list_kept(folder)[0]

    def test_looked_for_once_an_hour_it_is_made_at_the_same_hour_of_each_day(self, own, folder):
        for hour in range(24 * 2 + 1):
            look_after_backups(url_of(own), folder, NOW + hour * 3600 + hour)
        assert [round((kept.at - NOW) / 3600) for kept in list_kept(folder)] == [48, 24, 0]

    def test_an_empty_database_is_not_backed_up(self, engine, folder):
        look = look_after_backups(url_of(engine), folder, NOW)
        assert (look.made, look.fault, look.last) == (None, None, None)

    def test_each_is_opened_and_checked_before_it_gets_its_name(self, own, folder, monkeypatch):
        seen = []

        def refuse(path, *, named=None):
            seen.append([kept.path.name for kept in list_kept(folder)])
            raise BackupError(f"{named} is damaged: a page is broken.")

        monkeypatch.setattr("app.storage.backup.check_backup", refuse)
        look = look_after_backups(url_of(own), folder, NOW)
        assert look.fault == "the copy is damaged: a page is broken"
        assert seen == [[]]
        assert list_kept(folder) == []
        assert read_state(folder).fault == look.fault

    def test_over_a_season_what_is_there_is_what_the_rule_keeps_and_each_of_it_is_whole(self, own, folder):
        keeping = Keeping(days=3, weeks=2, months=2)
        with Session(own) as session:
            change_settings(session, BackupSettings(keeping=keeping, second_folder=None))
            session.commit()
        wanted = set()
        for day in range(12 * TIMES):
            now = NOW + day * DAY_S
            add_grower(own, f"Of day {day}")
            look_after_backups(url_of(own), folder, now)
            moment = datetime.fromtimestamp(now, UTC)
            wanted = choose_kept(wanted | {moment}, moment, keeping)
        kept = list_kept(folder)
        assert {datetime.fromtimestamp(one.at, UTC) for one in kept} == wanted
        for one in kept:
            assert check_backup(one.path).counts["grower"] == 2 + round((one.at - NOW) / DAY_S)

    def test_two_at_once_make_one(self, own, folder):
        looks = []
        ready = threading.Barrier(4)

        def look():
            ready.wait()
            looks.append(look_after_backups(url_of(own), folder, NOW))

        threads = [threading.Thread(target=look) for _ in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert sum(1 for one in looks if one is not None and one.made is not None) == 1
        assert len(list_kept(folder)) == 1

    def test_a_full_disk_keeps_the_old_ones_and_says_so(self, own, folder, monkeypatch):
        for day in range(9):
            look_after_backups(url_of(own), folder, NOW + day * DAY_S)
        before = {kept.path: kept.path.read_bytes() for kept in list_kept(folder)}

        def fill_up(_source, path):
            path.write_bytes(b"\0" * 1000)
            raise OSError(errno.ENOSPC, "No space left on device", str(path.parent))

        monkeypatch.setattr("app.storage.backup._copy_pages", fill_up)
        monkeypatch.setattr("app.storage.backup._copy_rows", fill_up)
        look = look_after_backups(url_of(own), folder, NOW + 400 * DAY_S)
        assert look.fault == f"there is no room left in {folder}"
        assert look.last == list_kept(folder)[0]
        assert {kept.path: kept.path.read_bytes() for kept in list_kept(folder)} == before
        assert not list(folder.glob("*.part"))
        monkeypatch.undo()
        assert look_after_backups(url_of(own), folder, NOW + 400 * DAY_S + 3600).made is not None
        assert read_state(folder).fault is None

    def test_a_clock_set_back_makes_one_and_deletes_none_that_is_newer(self, own, folder):
        for day in range(7):
            look_after_backups(url_of(own), folder, NOW + day * DAY_S)
        newer = {kept.path for kept in list_kept(folder)}
        back = NOW - 100 * DAY_S
        for day in range(10):
            look = look_after_backups(url_of(own), folder, back + day * DAY_S)
            assert look.made is not None
            assert newer | {look.made.path} <= {kept.path for kept in list_kept(folder)}

    def test_other_files_in_the_folder_are_left_alone(self, own, folder):
        kept = {"traymates-notes.txt", "traymates-2027-99-99T999999Z.sqlite3", "holiday.jpg"}
        for name in kept:
            (folder / name).write_text("mine")
        for day in range(9):
            look_after_backups(url_of(own), folder, NOW + day * DAY_S)
        assert kept <= {path.name for path in folder.iterdir()}

    def test_what_a_killed_program_left_half_written_goes_after_a_day(self, own, folder):
        for word, age_s in (("old", DAY_S + 60), ("young", 60)):
            (folder / f".{word}.part").write_text("half")
            (folder / f".{word}-folder.part").mkdir()
            (folder / f".{word}-folder.part" / "backup.sqlite3").write_text("whole")
            for name in (f".{word}.part", f".{word}-folder.part"):
                os.utime(folder / name, (NOW - age_s, NOW - age_s))
        look_after_backups(url_of(own), folder, NOW)
        assert {path.name for path in folder.glob("*.part")} == {".young.part", ".young-folder.part"}

    @pytest.mark.parametrize("content", ["", "[]", '{"tried_at": 1, "unknown": 2}', "{", '"text"'])
    def test_a_damaged_note_of_the_last_tries_stops_nothing(self, own, folder, content):
        (folder / "last.json").write_text(content)
        assert look_after_backups(url_of(own), folder, NOW).made is not None
        assert json.loads((folder / "last.json").read_text())["fault"] is None

    def test_only_its_owner_can_look_into_the_folder(self, folder):
        assert folder.stat().st_mode & 0o777 == 0o700

    def test_each_that_is_kept_restores_and_goes_out_as_a_folder(self, engine, folder, tmp_path):
        fill(engine)
        for day in range(3):
            add_grower(engine, f"Of day {day}")
            look_after_backups(url_of(engine), folder, NOW + day * DAY_S)
        for number, kept in enumerate(reversed(list_kept(folder))):
            spare = new_database(tmp_path / f"spare{number}.sqlite3")
            restore_backup(url_of(spare), kept.path, folder, NOW)
            with Session(spare) as session:
                counts = dump_folder(session, tmp_path / f"folder{number}")
            assert counts["growers.csv"] == len(grower_names(spare))
            written = (tmp_path / f"folder{number}" / "growers.csv").read_text()
            assert [f"Of day {day}" in written for day in range(3)] == [day <= number for day in range(3)]
            spare.dispose()


class TestSecondFolder:
    @pytest.fixture
    def stick(self, own, tmp_path):
        """Return a second folder that is set, and is not there yet."""
        path = tmp_path / "stick"
        with Session(own) as session:
            change_settings(
                session, BackupSettings(keeping=Keeping(days=2, weeks=0, months=0), second_folder=str(path))
            )
            session.commit()
        return path

    def test_while_it_is_not_there_nothing_is_wrong_and_later_it_gets_the_newest(self, own, folder, stick):
        look = look_after_backups(url_of(own), folder, NOW)
        assert look.second_fault is None
        assert not stick.exists()
        stick.mkdir()
        look = look_after_backups(url_of(own), folder, NOW + 3600)
        assert look.made is None
        (copied,) = list_kept(stick)
        assert copied.path.read_bytes() == look.last.path.read_bytes()
        assert copied.path.stat().st_mode & 0o777 == 0o600
        assert check_backup(copied.path).counts["grower"] == 1
        assert read_state(folder).second_at == NOW + 3600

    def test_old_ones_go_by_the_same_rule_and_other_files_stay(self, own, folder, stick):
        stick.mkdir()
        (stick / "holiday.jpg").write_text("mine")
        for day in range(5):
            look_after_backups(url_of(own), folder, NOW + day * DAY_S)
        assert [kept.at for kept in list_kept(stick)] == [NOW + 4 * DAY_S, NOW + 3 * DAY_S]
        assert (stick / "holiday.jpg").exists()

    @pytest.mark.parametrize(
        ("number", "words"),
        [
            (errno.ENOSPC, "there is no room left in"),
            (errno.EACCES, "the program may not write to"),
            (errno.EROFS, "can only be read"),
            (errno.EIO, "does not work"),
        ],
        ids=["full", "not allowed", "read-only", "broken"],
    )
    def test_one_that_cannot_be_written_is_told_and_the_first_is_made_all_the_same(
        self, own, folder, stick, monkeypatch, number, words
    ):
        stick.mkdir()

        def fail(_source, target):
            raise OSError(number, "Some words of the system", str(target))

        monkeypatch.setattr(shutil, "copyfile", fail)
        look = look_after_backups(url_of(own), folder, NOW)
        assert look.made is not None
        assert words in look.second_fault
        assert list(stick.iterdir()) == []
        monkeypatch.undo()
        assert look_after_backups(url_of(own), folder, NOW + 3600).second_fault is None
        assert len(list_kept(stick)) == 1

    def test_a_stick_that_gives_back_something_else_is_told(self, own, folder, stick, monkeypatch):
        stick.mkdir()

        def garble(source, target):
            target.write_bytes(source.read_bytes()[:-1] + b"?")

        monkeypatch.setattr(shutil, "copyfile", garble)
        look = look_after_backups(url_of(own), folder, NOW)
        assert "differs from what was written" in look.second_fault
        assert list(stick.iterdir()) == []


def test_a_backup_is_not_written_over_the_database_itself(own):
    path = Path(own.url.database)
    link = path.with_name("link.sqlite3")
    link.symlink_to(path)
    for named in (path, link):
        with pytest.raises(BackupError, match="the database itself"):
            back_up(url_of(own), named)
    assert grower_names(own) == {"Ines Moreau"}


def test_a_database_that_is_not_there_is_not_made(tmp_path):
    path = tmp_path / "none.sqlite3"
    with pytest.raises(DatabaseError, match="There is no database"):
        back_up(f"sqlite:///{path}", tmp_path / "copy.sqlite3")
    assert list(tmp_path.iterdir()) == []


def test_every_table_is_brought_back_or_known_to_be_transient(engine):
    """A table that somebody adds later must not be forgotten by the fixture of these tests."""
    fill(engine)
    filled = set(rows_of(engine))
    left = {table.name for table in Base.metadata.sorted_tables} - filled
    assert left <= {"daily_temperature", "label_stock", "levelling", "levelling_change", "public_address"}
