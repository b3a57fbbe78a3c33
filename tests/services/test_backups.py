"""Backups made every day, and kept as long as the garden wants, in the garden's folder and a second one."""

import errno
import json
import os
import shutil
import threading
from datetime import UTC, datetime
from pathlib import Path

import pytest

from app.core.house.retention import Keeping, choose_kept
from app.services.backups import (
    DUE_S,
    BackupError,
    BackupSettings,
    back_up,
    change_settings,
    list_kept,
    look_after_backups,
    read_state,
    restore_backup,
)
from app.services.folder import dump_folder
from app.storage import Session
from app.storage.backup import check_backup
from app.storage.errors import DatabaseError
from tests.backups import NOW, add_grower, fill, grower_names, new_database, url_of
from tests.lengths import TIMES

DAY_S = 86_400


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

    @pytest.mark.soak
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
