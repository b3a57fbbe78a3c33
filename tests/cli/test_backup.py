"""Backups made and restored by command."""

import shutil
import time

import pytest

from app.services.backups import list_kept
from tests.backups import kept_rows_of, new_database
from tests.cli.test_copy import rows_of
from tests.servers import free_port, wait_for


@pytest.fixture
def folder(surroundings):
    """Return the folder of the automatic backups."""
    return surroundings.parent / "backups"


def test_a_backup_is_written_checked_and_restored(run, demo, surroundings, tmp_path):
    before = rows_of(f"sqlite:///{surroundings}")
    said = run("backup", tmp_path / "april.sqlite3").stdout.replace("\u00a0", " ")
    assert "Checked: the file is whole, every row has the rows it belongs to" in said
    for path in surroundings.parent.glob("garden*"):
        path.unlink()
    assert "Nobody is signed in any more" in run("restore", tmp_path / "april.sqlite3").stdout
    after = rows_of(f"sqlite:///{surroundings}")
    assert {name: rows for name, rows in after.items() if name != "history"} == {
        name: rows for name, rows in before.items() if name != "history"
    }


def test_a_folder_gets_a_file_named_by_the_moment(run, demo, tmp_path):
    stick = tmp_path / "stick"
    stick.mkdir()
    run("backup", stick)
    (kept,) = list_kept(stick)
    assert abs(kept.at - time.time()) < 60


def test_a_file_that_is_there_is_not_written_over_unasked(run, demo, tmp_path):
    path = tmp_path / "april.sqlite3"
    path.write_text("mine")
    assert "Say --replace" in run("backup", path, status=2).stderr
    assert path.read_text() == "mine"
    run("backup", path, "--replace")
    run("restore", path, "--replace")


def test_a_database_that_holds_something_is_not_replaced_unasked(run, demo, surroundings, folder, tmp_path):
    run("backup", tmp_path / "april.sqlite3")
    before = rows_of(f"sqlite:///{surroundings}")
    assert "Say --replace" in run("restore", tmp_path / "april.sqlite3", status=2).stderr
    assert rows_of(f"sqlite:///{surroundings}") == before
    said = run("restore", tmp_path / "april.sqlite3", "--replace").stdout
    (kept,) = list_kept(folder, before_restore=True)
    assert str(kept.path) in said


@pytest.mark.parametrize("content", [b"", b"hello", b"SQLite format 3\0" + bytes(200)], ids=["empty", "text", "cut"])
def test_a_file_that_is_no_backup_is_told_with_status_1(run, tmp_path, content):
    (tmp_path / "other.bin").write_bytes(content)
    assert "other.bin" in run("restore", tmp_path / "other.bin", status=1).stderr


def test_a_copy_by_hand_of_the_database_is_told_with_status_1(run, demo, surroundings, tmp_path):
    shutil.copy(surroundings, tmp_path / "copied.sqlite3")
    said = run("restore", tmp_path / "copied.sqlite3", "--replace", status=1).stderr
    assert "copied by hand" in said
    assert "traymates backup" in said


@pytest.mark.parametrize("args", [[], ["--daily", "x"], ["--unknown"]], ids=["nothing", "both", "unknown"])
def test_wrong_usage_has_status_2(run, args):
    run("backup", *args, status=2)


def test_a_restore_of_a_file_that_is_not_there_is_wrong_usage(run, tmp_path):
    run("restore", tmp_path / "none", status=2)


def test_a_place_that_cannot_be_written_is_told_with_status_1(run, demo, tmp_path):
    said = run("backup", tmp_path / "none" / "april.sqlite3", status=1).stderr
    assert "april.sqlite3 cannot be used: No such file or directory." in said
    assert ".part" not in said


def test_the_daily_backup_is_made_once_and_tells_what_fails(run, folder, monkeypatch):
    assert "holds nothing yet" in run("backup", "--daily").stdout
    run("demo")
    assert "Wrote" in run("backup", "--daily").stdout
    assert "None is due" in run("backup", "--daily").stdout
    (kept,) = list_kept(folder)
    kept.path.unlink()

    def fail(_engine, path):
        raise OSError(28, "No space left on device", str(path.parent))

    monkeypatch.setattr("app.services.backups.copy_database", fail)
    assert f"No backup was made: there is no room left in {folder}." in run("backup", "--daily", status=1).stderr


def test_the_server_makes_the_days_backup_and_may_run_during_a_restore(
    run, demo, start, surroundings, folder, tmp_path
):
    run("backup", tmp_path / "april.sqlite3")
    port = free_port()
    start("serve", "--port", port)
    wait_for(port)
    end = time.monotonic() + 20
    while not list_kept(folder) and time.monotonic() < end:
        time.sleep(0.1)
    (kept,) = list_kept(folder)
    spare = new_database(tmp_path / "spare.sqlite3")
    run("restore", kept.path, "--database", f"sqlite:///{tmp_path / 'spare.sqlite3'}")
    assert len(kept_rows_of(spare)["sowing"]) == 500
    spare.dispose()
    run("restore", tmp_path / "april.sqlite3", "--replace")
