"""Settings from the environment, and the key that is made at the first start."""

import stat
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta

import pytest

from app import clock
from app.settings import Settings, SettingsError, kept_secret_key, read_settings


def test_without_an_environment_everything_has_its_place_beside_the_program():
    settings = read_settings({})
    assert settings.instance.name == "instance"
    assert settings.database_url == f"sqlite:///{(settings.instance / 'traymates.sqlite3').as_posix()}"
    assert (settings.port, settings.today, settings.secret_key) == (5000, None, None)


def test_the_environment_is_honoured(tmp_path):
    settings = read_settings(
        {
            "DATABASE_URL": "postgresql+psycopg://garden@localhost/garden",
            "PORT": "8080",
            "PUBLIC_URL": "HTTP://Shed.LAN:8080/",
            "TRAYMATES_INSTANCE": str(tmp_path),
            "TRAYMATES_TODAY": "2027-04-10",
            "TRAYMATES_SECRET_KEY": "k" * 32,
        }
    )
    assert settings == Settings(
        database_url="postgresql+psycopg://garden@localhost/garden",
        instance=tmp_path,
        port=8080,
        today=date(2027, 4, 10),
        secret_key="k" * 32,
        public_url="http://shed.lan:8080",
    )


def test_an_empty_variable_is_one_that_is_not_set():
    names = ("DATABASE_URL", "PORT", "PUBLIC_URL", "TRAYMATES_INSTANCE", "TRAYMATES_TODAY", "TRAYMATES_SECRET_KEY")
    assert read_settings(dict.fromkeys(names, "")) == read_settings({})


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("PORT", "0"),
        ("PORT", "65536"),
        ("PORT", "http"),
        ("PORT", "\uff11"),
        ("PORT", "9" * 5000),
        ("PUBLIC_URL", "shed.lan"),
        ("PUBLIC_URL", "http://localhost:5000"),
        ("TRAYMATES_TODAY", "10/4/2027"),
        ("TRAYMATES_TODAY", "2027-02-30"),
        ("TRAYMATES_SECRET_KEY", "short"),
    ],
)
def test_a_setting_that_cannot_be_used_is_named(name, value):
    with pytest.raises(SettingsError, match=name):
        read_settings({name: value})


def test_a_message_about_the_key_does_not_repeat_it():
    with pytest.raises(SettingsError) as error:
        read_settings({"TRAYMATES_SECRET_KEY": "hunter2"})
    assert "hunter2" not in str(error.value)


def test_the_key_is_made_once_and_kept(tmp_path):
    first = kept_secret_key(tmp_path / "new" / "instance")
    assert len(first) == 64
    assert kept_secret_key(tmp_path / "new" / "instance") == first
    assert kept_secret_key(tmp_path / "other") != first


@pytest.mark.skipif(sys.platform == "win32", reason="permissions of that system are not modes")
def test_only_its_owner_may_read_the_key(tmp_path):
    kept_secret_key(tmp_path)
    assert [stat.S_IMODE(path.stat().st_mode) for path in tmp_path.iterdir()] == [0o600]


def test_starts_at_the_same_moment_agree_on_one_key(tmp_path):
    with ThreadPoolExecutor(8) as pool:
        keys = list(pool.map(lambda _: kept_secret_key(tmp_path), range(32)))
    assert len(set(keys)) == 1
    assert [path.name for path in tmp_path.iterdir()] == ["secret_key"]


def test_a_damaged_key_file_is_named(tmp_path):
    (tmp_path / "secret_key").write_text("")
    with pytest.raises(SettingsError, match="secret_key in the instance folder"):
        kept_secret_key(tmp_path)


def test_today_is_the_fixed_day_or_the_real_one(tmp_path):
    settings = Settings(database_url="sqlite://", instance=tmp_path)
    fixed = Settings(database_url="sqlite://", instance=tmp_path, today=date(2027, 4, 10))
    assert clock.today(fixed) == date(2027, 4, 10)
    assert abs(clock.today(settings) - date(*time.localtime()[:3])) <= timedelta(days=1)
