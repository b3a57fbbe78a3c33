"""The page of the backups, and what coordinators are told of them."""

import time
from datetime import UTC, datetime

import pytest

from app.services.backups import backup_folder, backup_name, list_kept, look_after_backups, restore_backup
from app.storage import Session
from app.storage.backup import check_backup
from app.storage.models import House
from tests import rows
from tests.people import sign_in_as
from tests.web.filling import errors_of, form_values, send

PAGE = "/setup/backups"
DAY_S = 86_400


@pytest.fixture
def garden(engine):
    with Session(engine) as session:
        rows.garden(session)
        rows.grower(session, name="Petronella Quist")
        session.commit()


@pytest.fixture
def folder(app):
    """Return the folder of the application's backups."""
    return backup_folder(app.config["SETTINGS"].instance)


@pytest.fixture
def take(app, folder, garden):
    """Return a function that has a backup made at a moment."""

    def take(at):
        look = look_after_backups(app.config["SETTINGS"].database_url, folder, at, at_once=True)
        assert look.made is not None, look
        return look.made

    return take


def words_of(answer):
    return answer.text.replace("\u00a0", " ")


def test_without_a_backup_the_page_says_so_and_makes_one(client, garden, folder):
    assert "There is no backup yet." in words_of(client.get(PAGE))
    answer = client.post(f"{PAGE}/now", data=form_values(client.get(PAGE).text), follow_redirects=True)
    page = words_of(answer)
    assert "Backup made. Checked: the file is whole" in page
    assert "There is no backup yet." not in page
    (made,) = list_kept(folder)
    assert made.path.name in page
    assert check_backup(made.path).counts["grower"] == 1


def test_the_page_shows_the_last_good_one_its_age_and_what_was_checked(client, take):
    take(time.time() - 3 * DAY_S - 60)
    made = take(time.time() - 5 * 3600 - 60)
    page = words_of(client.get(PAGE))
    assert "5 hours" in page
    assert "3 days" in page
    assert "Checked before it got its name: the file is whole, every row has the rows it belongs to," in page
    assert made.path.name in page
    assert "backup yet" not in page.split("Second folder")[0]


def test_a_failure_is_told_in_plain_words_and_the_age_stays(client, take, app, folder, monkeypatch):
    take(time.time() - 3 * DAY_S - 60)

    def fail(_engine, path):
        raise OSError(28, "No space left on device", str(path.parent))

    monkeypatch.setattr("app.services.backups.copy_database", fail)
    look = look_after_backups(app.config["SETTINGS"].database_url, folder, time.time())
    assert look.made is None
    page = words_of(client.get(PAGE))
    assert "The last good backup is 3 days old." in page
    assert f"there is no room left in {folder}" in page
    assert "The last good backup is 3 days old." in words_of(client.get("/"))


def test_a_download_is_a_whole_backup_and_leaves_nothing_behind(client, garden, folder, tmp_path):
    answer = client.get(f"{PAGE}/download")
    assert answer.status_code == 200
    assert answer.mimetype == "application/vnd.sqlite3"
    assert answer.headers["Cache-Control"] == "no-store"
    assert ".sqlite3" in answer.headers["Content-Disposition"]
    copy = tmp_path / "copy.sqlite3"
    copy.write_bytes(answer.data)
    answer.close()
    assert check_backup(copy).counts["grower"] == 1
    assert list(folder.iterdir()) == []


def test_a_download_that_cannot_be_made_says_why(client, garden, folder, monkeypatch):
    def fail(_engine, path):
        raise OSError(28, "No space left on device", str(path.parent))

    monkeypatch.setattr("app.services.backups.copy_database", fail)
    answer = client.get(f"{PAGE}/download")
    assert answer.status_code == 500
    assert "there is no room left" in answer.text
    assert list(folder.iterdir()) == []


@pytest.mark.parametrize("path", [PAGE, f"{PAGE}/settings", f"{PAGE}/download"])
def test_backups_are_the_coordinators_alone(app, visitor, garden, path):
    assert visitor.get(path).status_code == 302
    sign_in_as(visitor, "Ida Lund", "member")
    assert visitor.get(path).status_code == 403


def test_after_a_restore_pages_show_the_restored_garden_and_nobody_is_signed_in(client, app, engine, take, folder):
    made = take(time.time())
    with Session(engine) as session:
        rows.grower(session, name="Odo Later")
        session.commit()
    assert "Odo Later" in client.get("/growers").text
    assert "Odo Later" in client.get("/growers").text  # from what is kept
    restore_backup(app.config["SETTINGS"].database_url, made.path, folder, time.time(), replace=True)
    assert client.get("/growers").status_code == 302
    sign_in_as(client)
    page = client.get("/growers").text
    assert "Odo Later" not in page
    assert "Petronella Quist" in page


class TestFirstPage:
    def test_coordinators_are_told_of_a_missing_or_old_backup_and_members_are_not(self, client, visitor, take):
        assert "There is no backup yet." in words_of(client.get("/"))
        take(time.time() - 2 * DAY_S - 600)
        assert "The last good backup is 2 days old." in words_of(client.get("/"))
        sign_in_as(visitor, "Ida Lund", "member")
        page = words_of(visitor.get("/"))
        assert "This week" in page
        assert "backup" not in page

    def test_a_backup_ends_the_notice_though_nothing_in_the_garden_changed(self, client, take):
        assert "There is no backup yet." in words_of(client.get("/"))
        take(time.time() - DAY_S)
        assert "backup" not in words_of(client.get("/")).split("<h1>")[1]

    def test_one_that_seems_to_be_of_the_future_does_not_count(self, client, take):
        take(time.time() + 5 * DAY_S)
        assert "There is no backup yet." in words_of(client.get("/"))
        assert "of the future" in words_of(client.get(PAGE))


@pytest.mark.usefixtures("garden")
class TestSettings:
    def test_what_is_set_is_kept_and_shown(self, client, engine, tmp_path):
        answer = send(client, f"{PAGE}/settings", keep_days="10", second_folder=str(tmp_path / "stick"))
        assert answer.status_code == 302
        with Session(engine) as session:
            house = session.get(House, 1)
            assert (house.keep_days, house.keep_weeks, house.keep_months) == (10, 4, 12)
            assert house.second_folder == str(tmp_path / "stick")
        page = words_of(client.get(PAGE))
        assert "10 days, 4 weeks and 12 months" in page
        assert f"{tmp_path / 'stick'}</strong> is not there now" in page

    @pytest.mark.parametrize(
        ("field", "typed", "words"),
        [
            ("keep_days", "0", "from 1 to 366"),
            ("keep_weeks", "-1", "from 0 to 520"),
            ("keep_months", "x", "from 0 to 240"),
            ("second_folder", "stick", "the whole path"),
            ("second_folder", "../stick", "the whole path"),
        ],
    )
    def test_what_cannot_be_is_refused_at_its_field(self, client, field, typed, words):
        answer = send(client, f"{PAGE}/settings", **{field: typed})
        assert words in errors_of(answer.text)[field]

    def test_the_folder_of_the_backups_is_no_second_one(self, client, folder):
        answer = send(client, f"{PAGE}/settings", second_folder=str(folder))
        assert "already" in errors_of(answer.text)["second_folder"]

    def test_a_second_folder_on_the_same_disk_is_pointed_out(self, client, take, tmp_path):
        (tmp_path / "stick").mkdir()
        send(client, f"{PAGE}/settings", second_folder=str(tmp_path / "stick"))
        made = take(time.time())
        page = words_of(client.get(PAGE))
        assert "The second folder is on the same disk." in page
        assert "has 1 backup, the newest of" in page
        assert (tmp_path / "stick" / made.path.name).exists()


def test_names_tell_the_moment_in_utc():
    assert backup_name(datetime(2027, 4, 10, 3, 12, tzinfo=UTC).timestamp()) == "traymates-2027-04-10T031200Z.sqlite3"
