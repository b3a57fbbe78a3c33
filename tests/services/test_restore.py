"""A backup of either engine restored into either, from each earlier schema, and what cannot be restored."""

import shutil
import threading
from pathlib import Path

import pytest
from alembic.script import ScriptDirectory
from sqlalchemy import select

from app.services import backups as service
from app.services.backups import KEPT_BEFORE, BackupError, NotEmptyError, back_up, list_kept, restore_backup
from app.storage import Session
from app.storage.backup import check_backup, copy_database
from app.storage.base import Base
from app.storage.models import Account, History, LastNumber, SignIn
from app.storage.queries.version import get_mark
from app.storage.schema import MIGRATIONS, downgrade, upgrade
from tests.backups import NOW, TRANSIENT, add_grower, fill, grower_names, kept_rows_of, new_database, rows_of, url_of
from tests.lengths import every
from tests.migrations.test_migrations import ROWS

REVISIONS = [script.revision for script in reversed(list(ScriptDirectory(str(MIGRATIONS)).walk_revisions()))]


@pytest.fixture
def other(tmp_path):
    """Return another database, new and empty."""
    engine = new_database(tmp_path / "other.sqlite3")
    yield engine
    engine.dispose()


def restored_rows(engine):
    """Return what a restore has brought, and take the note of the restore itself out of the history."""
    found = kept_rows_of(engine)
    found["history"] = [row for row in found["history"] if row[4] != "backup"]
    return {name: rows for name, rows in found.items() if rows}


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

    @pytest.mark.soak
    @pytest.mark.parametrize("revision", REVISIONS[-1 :: -every(3)])
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


def test_every_table_is_brought_back_or_known_to_be_transient(engine):
    """A table that somebody adds later must not be forgotten by the fixture of these tests."""
    fill(engine)
    filled = set(rows_of(engine))
    left = {table.name for table in Base.metadata.sorted_tables} - filled
    assert left <= {"daily_temperature", "label_stock", "levelling", "levelling_change", "public_address"}
