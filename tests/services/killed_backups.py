"""Kills what takes, thins out and restores backups at every point, one after the other, and looks what is left.

A script of its own, so that it may split itself: each try is a child that ends itself at its n-th point. It is called
with what is tried, the address of the database, a folder, a stride (of what happens, every so many of each kind are
points) and perhaps a saboteur. It prints one line of JSON: the kind of each point and what was found after.
"""

import json
import os
import shutil
import signal
import sys
from collections import Counter
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import event
from sqlalchemy.engine import Engine
from sqlalchemy.engine.default import DefaultDialect

from app.services import backups as service
from app.services.backups import backup_folder, list_kept, look_after_backups, restore_backup
from app.storage import Session, backup, restoring
from app.storage.backup import check_backup, copy_database
from app.storage.engine import make_engine
from app.storage.models import Grower
from tests import rows
from tests.backups import kept_rows_of, new_database

NOW = 1_800_000_000
DAY_S = 86_400
DAYS = 8  # one more than are kept
WRITES = ("INSERT", "UPDATE", "DELETE", "LOCK", "VACUUM", "PRAGMA JOURNAL_MODE")


class Points:
    """Counts the points of a child, and ends it at the wanted one."""

    def __init__(self, wanted, stride, report):
        self.wanted, self.stride, self.report = wanted, stride, report
        self.passed, self.happened = 0, Counter()

    def reach(self, name):
        self.happened[name] += 1
        if (self.happened[name] - 1) % self.stride:
            return
        if self.passed == self.wanted:
            os.write(self.report, name.encode())
            os.kill(os.getpid(), signal.SIGKILL)
        self.passed += 1

    def around(self, owner, name, words):
        call = getattr(owner, name)

        def called(*args, **kwargs):
            self.reach(f"before {words}")
            answer = call(*args, **kwargs)
            self.reach(f"after {words}")
            return answer

        setattr(owner, name, called)

    def lay(self):
        for name in ("replace", "fsync", "unlink"):
            self.around(os, name, name)
        self.around(DefaultDialect, "do_commit", "commit")

        @event.listens_for(Engine, "before_cursor_execute")
        def count(_connection, _cursor, statement, *_rest):
            if statement.upper().startswith(WRITES):
                self.reach("statement")


def die_at(wanted, stride, act):
    """Run a piece of work in a child that ends at its n-th point; return what the point is, None if it has fewer."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        status = 1
        try:
            os.close(reading)
            Points(wanted, stride, writing).lay()
            act()
            status = 0
        finally:
            os._exit(status)
    os.close(writing)
    with os.fdopen(reading) as report:
        name = report.read()
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        return name
    assert os.waitstatus_to_exitcode(status) == 0, "the work failed by itself"
    return None


def grow(engine, name):
    with Session(engine) as session:
        session.add(Grower(name=name))
        session.commit()


def held(url):
    engine = make_engine(url)
    found = kept_rows_of(engine)
    engine.dispose()
    found.pop("history", None)  # a restore adds its own line
    return found


def names_of(folder):
    return sorted(path.name for path in folder.iterdir() if not path.name.startswith("."))


class Trial:
    """A database and backups as they stand before each try."""

    def __init__(self, url, room):
        self.room, self.base = room / "now", room / "base"
        self.judged = 0
        self.is_sqlite = url.startswith("sqlite")
        self.base.mkdir(parents=True)
        self.live = new_database(self.base / "live.sqlite3")
        with Session(self.live) as session:
            rows.garden(session)
            rows.grower(session, name="First")
            session.commit()
        copy_database(self.live, self.base / "old.sqlite3")
        backups = backup_folder(self.base)
        for day in range(DAYS - 1):
            copy = backups / f"traymates-2027-01-{day + 8:02}T080000Z.sqlite3"
            shutil.copy(self.base / "old.sqlite3", copy)
        grow(self.live, "Second")
        copy_database(self.live, self.base / "both.sqlite3")
        self.live.dispose()
        self.url = f"sqlite:///{self.room / 'live.sqlite3'}" if self.is_sqlite else url
        self.set_back()
        self.both = held(self.url)
        restore_backup(self.url, self.room / "old.sqlite3", backup_folder(self.room), NOW, replace=True)
        self.first = held(self.url)
        self.set_back()

    def set_back(self):
        shutil.rmtree(self.room, ignore_errors=True)
        shutil.copytree(self.base, self.room)
        if not self.is_sqlite:
            source, target = make_engine(f"sqlite:///{self.base / 'live.sqlite3'}"), make_engine(self.url)
            with source.connect() as connection, Session(target) as session:
                restoring.replace_everything(session, connection)
                session.commit()
            source.dispose()
            target.dispose()

    def copy(self):
        """Take a backup over an older one."""
        engine = make_engine(self.url)
        copy_database(engine, self.room / "old.sqlite3")
        engine.dispose()

    def judge_copy(self, point):
        assert held(self.url) == self.both
        growers = check_backup(self.room / "old.sqlite3").counts["grower"]
        assert growers in {1, 2}
        if point in {"after replace", None}:
            assert growers == 2
        return "new" if growers == 2 else "old"

    def day(self):
        """Make the day's backup, which is one more than are kept."""
        look = look_after_backups(self.url, backup_folder(self.room), self.at)
        assert look.made is not None

    @property
    def at(self):
        return list_kept(self.base / "backups")[0].at + DAY_S

    def judge_day(self, _point):
        assert held(self.url) == self.both
        folder = self.room / "backups"
        there = list_kept(folder)
        for kept in there:
            assert check_backup(kept.path).counts["grower"] == (2 if kept.at == self.at else 1)
        before = {kept.path.name for kept in list_kept(self.base / "backups")}
        gone = before - {kept.path.name for kept in there}
        is_made = there[0].at == self.at
        assert not gone or is_made, "an old one went before the new one was there"
        assert len(gone) <= 1
        look_after_backups(self.url, folder, self.at + 3600)  # whoever comes next has nothing to repair
        assert list_kept(folder)[0].at >= self.at
        return f"{len(gone)} gone, {'made' if is_made else 'not made'}"

    def restore(self):
        """Put an older backup in the place of everything."""
        restore_backup(self.url, self.room / "old.sqlite3", backup_folder(self.room), NOW, replace=True)

    def judge_restore(self, point):
        found = held(self.url)
        assert found in (self.first, self.both), "half of it is restored"
        is_done = found == self.first
        before = list_kept(self.room / "backups", before_restore=True)
        for kept in before:
            assert check_backup(kept.path).counts["grower"] == 2
        if is_done:
            assert len(before) == 1, "what was there is not kept"
        assert is_done or point is not None
        self.judged += 1
        if self.judged % 5 == 1:  # and it can be done again
            self.restore()
            assert held(self.url) == self.first
        return "restored" if is_done else "as before"


def write_in_place():
    """Let a backup be written where it is to stand in the end."""

    @contextmanager
    def written_in_place(path):
        path.unlink(missing_ok=True)
        yield path
        os.fsync(os.open(path, os.O_RDWR))

    backup.written_aside = written_in_place


def make_room_first():
    """Let old backups go before the new one is made."""
    copy = service.copy_database

    def remove_and_copy(engine, path):
        list_kept(path.parent)[-1].path.unlink()
        return copy(engine, path)

    service.copy_database = remove_and_copy


def commit_half_way():
    """Let a restore commit once everything of before is deleted."""
    copy = restoring.copy_tables

    def commit_and_copy(source, target):
        target.connection.driver_connection.execute("COMMIT")
        return copy(source, target)

    restoring.copy_tables = commit_and_copy


SABOTEURS = {"in place": write_in_place, "room first": make_room_first, "half way": commit_half_way}


def main(what, url, room, stride, saboteur=None):
    trial = Trial(url, Path(room))
    if saboteur:
        SABOTEURS[saboteur]()
    act, judge = getattr(trial, what), getattr(trial, f"judge_{what}")
    found = []
    while True:
        trial.set_back()
        point = die_at(len(found), int(stride), act)
        found.append((point, judge(point)))
        if point is None:
            break
    print(json.dumps(found))


if __name__ == "__main__":
    main(*sys.argv[1:])
