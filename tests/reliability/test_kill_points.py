"""A process is killed at each point at which something lasts; afterwards all of it is done, or nothing."""

import csv
import random
import shutil
import struct
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass

import pytest
from sqlalchemy import MetaData, select, text

from app.services.growers import GrowerValues, add_grower
from app.storage import Session
from app.storage.backup import BackupError, check_backup
from app.storage.models import Grower
from app.storage.schema import upgrade
from tests.lengths import SOAK, every
from tests.migrations.test_migrations import REVISIONS, ROWS
from tests.reliability.serving import KILLED, Server, environ_of, path_of, run
from tests.reliability.working import Crowd, Watch, faults_of_file, workers_for

EXTRA = "Somebody of now"


def contents(engine):
    """Return every row of every table, and the schema."""
    metadata = MetaData()
    metadata.reflect(engine)
    with engine.connect() as connection:
        rows = {
            name: sorted(map(repr, connection.execute(select(table)).all())) for name, table in metadata.tables.items()
        }
        rows["schema"] = sorted(map(repr, connection.execute(text("SELECT name, sql FROM sqlite_master")).all()))
    return rows


def growers_in(engine):
    with Session(engine) as session:
        return set(session.scalars(select(Grower.name)))


def add_extra(engine):
    with Session(engine) as session:
        add_grower(session, GrowerValues(name=EXTRA, plot=None, contact=None, days=None))
        session.commit()


# ---------------------------------------------------------------- commands


@dataclass(frozen=True)
class Command:
    """A command to be killed, in a garden that has somebody who was not there when its other state was taken.

    Attributes:
        prepare: Gets the garden's folder ready and returns the arguments of the command.
        check: Returns what is wrong in a garden where it is done.
        points: The points to be killed at, each with the places from which they are passed.
        changes: Whether it changes the database.
    """

    prepare: Callable
    check: Callable
    points: tuple[tuple[str, str | None], ...]
    changes: bool = True


def prepare_load(folder):
    done = run(folder, "dump", folder / "was")
    assert done.returncode == 0, done.said
    return ["load", "--replace", folder / "was"]


def prepare_restore(folder):
    done = run(folder, "backup", folder / "was.sqlite3")
    assert done.returncode == 0, done.said
    return ["restore", "--replace", folder / "was.sqlite3"]


def prepare_backup(folder):
    return ["backup", "--replace", *prepare_restore(folder)[2:]]


def prepare_dump(folder):
    return ["dump", "--replace", prepare_load(folder)[2]]


def extra_is_gone(folder, engine):
    return [f"{EXTRA} is still there"] if EXTRA in growers_in(engine) else []


def backup_is_good(folder, _engine):
    """A backup of the name is there, whole, whichever it is; what was begun does not bear a backup's name."""
    try:
        check_backup(folder / "was.sqlite3")
    except BackupError as error:
        return [str(error)]
    return []


def folder_is_whole(folder, _engine):
    """The folder is there whole; killed between taking the old one away and putting the new one there, both are aside.

    They are found beside its place.
    """
    places = [folder / "was"] if (folder / "was").exists() else sorted(folder.glob(".was-*/old"))
    faults = [] if len(places) == 1 else [f"the folder is in {len(places)} places"]
    for place in places:
        with (place / "growers.csv").open(encoding="utf-8-sig", newline="") as file:
            faults += [] if len(list(csv.reader(file))) > 5 else [f"{place} is not whole"]
    return faults


COMMIT = "app/storage/opening.py:session_on"
WRITTEN = "app/storage/whole_files.py:written_aside"
SWAPPED = "app/storage/folder/writing.py:_swap_in"
OF_COMMIT = (("before a commit", COMMIT), ("after a commit", COMMIT))
COMMANDS = {
    "load --replace": Command(prepare_load, extra_is_gone, (*OF_COMMIT, ("at a statement", None))),
    "restore --replace": Command(
        prepare_restore,
        extra_is_gone,
        (*OF_COMMIT, ("before a replace", WRITTEN), ("after a replace", WRITTEN), ("at a statement", None)),
    ),
    "backup --replace": Command(
        prepare_backup,
        backup_is_good,
        (("before a replace", WRITTEN), ("after a replace", WRITTEN), ("before a sync", None)),
        changes=False,
    ),
    "dump --replace": Command(
        prepare_dump,
        folder_is_whole,
        (("before a rename", SWAPPED), ("after a rename", SWAPPED), ("before a sync", None)),
        changes=False,
    ),
}
# What is gone through in `make test`; `make soak` takes all.
QUICK = {
    ("load --replace", "before a commit"),
    ("load --replace", "at a statement"),
    ("restore --replace", "after a commit"),
    ("backup --replace", "before a replace"),
    ("dump --replace", "after a rename"),
}
MOST_TIMES = 5  # for each point that is passed often: the first, the last, and some between


def numbers_of(folder, arguments, point, place):
    """Return the times at which to be killed, found by a run on a copy that is not."""
    if place is not None and not SOAK:
        return [1]
    copied = folder.with_name("counted")
    shutil.copytree(folder, copied)
    passed = copied / "passed"
    arguments = [str(one).replace(str(folder), str(copied)) for one in arguments]
    done = run(copied, *arguments, plan={"kill": point, "number": 0, "passed": str(passed)})
    assert done.returncode == 0, done.said
    places = passed.read_text(encoding="utf-8").split()
    times = len(places) if place is None else places.count(place)
    shutil.rmtree(copied)
    drawn = random.Random(point).sample(range(1, times + 1), min(times, MOST_TIMES))
    return sorted({1, times, *drawn}) if SOAK else [sorted(drawn)[len(drawn) // 2]]


@pytest.mark.soak
@pytest.mark.parametrize(
    ("name", "point", "place"),
    [
        pytest.param(name, point, place, id=f"{name} {point}")
        for name, command in COMMANDS.items()
        for point, place in command.points
        if SOAK or (name, point) in QUICK
    ],
)
def test_a_command_that_is_killed_has_done_all_or_nothing(garden, opened, name, point, place):
    assert kill_command(garden, opened, name, point, place) == []


def kill_command(garden, opened, name, point, place, **plan):
    """Kill a command at a point, once or at several times that it is passed; return what is wrong."""
    command = COMMANDS[name]
    arguments = command.prepare(garden)
    engine = opened(garden)
    add_extra(engine)
    before = contents(engine)
    engine.dispose()
    faults = []
    for number in [plan["number"]] if "number" in plan else numbers_of(garden, arguments, point, place):
        done = run(garden, *arguments, plan={"kill": point, "place": place} | plan | {"number": number})
        if done.returncode != KILLED:
            faults.append(f"it was not killed but ended with {done.returncode}: {done.said}")
        faults += faults_of_file(engine)
        is_done = contents(engine) != before
        if is_done and not (command.changes and point == "after a commit"):
            faults.append(f"killed {point}, and it has changed something")
        if is_done or not command.changes:
            faults += command.check(garden, engine)
        engine.dispose()
        if not command.changes:  # what was killed in the middle is put right for the next time
            for left in garden.glob(".was*-*"):
                shutil.rmtree(left)
            run(garden, *arguments)
    again = run(garden, *arguments)
    if again.returncode:
        faults.append(again.said)
    faults += [*command.check(garden, engine), *faults_of_file(engine)]
    engine.dispose()
    return faults


# ---------------------------------------------------------------- migrations


@pytest.mark.soak
@pytest.mark.parametrize("revision", REVISIONS[-1 :: -every(4)])
def test_an_upgrade_that_is_killed_has_done_all_or_nothing(tmp_path, opened, revision):
    assert kill_upgrade(tmp_path, opened, revision) == []


def kill_upgrade(tmp_path, opened, revision, **plan):
    """Kill an upgrade of the oldest schema within one of its steps, and around its commit; return what is wrong.

    The first step starts from nothing.
    """
    folder = tmp_path / "garden"
    folder.mkdir()
    engine = opened(folder)
    if revision != REVISIONS[0]:
        upgrade(engine, REVISIONS[0])
        with engine.begin() as connection:
            for statement in ROWS[REVISIONS[0]]:
                connection.exec_driver_sql(statement)
    before = contents(engine)
    engine.dispose()
    step, commit = f"migrations/versions/{revision}.py", "migrations/env.py:<module>"
    passed, copied = tmp_path / "passed", tmp_path / "counted"
    shutil.copytree(folder, copied)
    run(copied, "frost", plan={"kill": "at a statement", "number": 0, "passed": str(passed)})
    statements = [n for n, one in enumerate(passed.read_text(encoding="utf-8").split(), 1) if one.startswith(step)]
    faults = [] if statements else [f"{step} gives no statement"]
    drawn = random.Random(revision).sample(statements, min(len(statements), MOST_TIMES if SOAK else 1))
    plans = [{"kill": "at a statement", "number": number} for number in drawn]
    if SOAK or revision == REVISIONS[-1]:
        plans += [{"kill": point, "place": commit} for point in ("before a commit", "after a commit")]
    for one in plans:
        done = run(folder, "frost", plan=one | plan)
        if done.returncode != KILLED:
            faults.append(f"{one}: it was not killed but ended with {done.returncode}: {done.said}")
        faults += faults_of_file(engine)
        if one["kill"] != "after a commit" and contents(engine) != before:
            faults.append(f"{one}: a part of it is done")
        engine.dispose()
    upgrade(engine)
    faults += faults_of_file(engine)
    engine.dispose()
    return faults


# ---------------------------------------------------------------- the key


KEY_POINTS = ("before a sync", "before a link", "after a link")


@pytest.mark.soak
@pytest.mark.parametrize("point", KEY_POINTS if SOAK else KEY_POINTS[1:])
def test_a_key_is_whole_or_not_there(garden, point):
    """Killed while it makes its `secret_key`, the server makes it at the next start, or finds it whole."""
    environ = environ_of(garden)
    del environ["TRAYMATES_SECRET_KEY"]
    plan = {"kill": point, "place": "app/settings.py:_place_new_key"}
    done = run(garden, "serve", "--port", "1", plan=plan, env=environ)
    assert done.returncode == KILLED, done.said
    key = garden / "secret_key"
    made = key.read_text(encoding="ascii") if key.exists() else None
    assert (made is not None) == (point == "after a link")
    with Server(garden, env={"TRAYMATES_SECRET_KEY": ""}, plan={}) as server:
        assert server.stop() == 0
    assert len(key.read_text(encoding="ascii")) == 64
    assert made in {None, key.read_text(encoding="ascii")}
    assert [path.stat().st_mode & 0o777 for path in garden.iterdir() if path.is_file() and not is_database(path)] == [
        0o600 for path in garden.iterdir() if path.is_file() and not is_database(path)
    ]


def is_database(path):
    return path.name.startswith("garden.sqlite3")


# ---------------------------------------------------------------- a checkpoint

# Where the index of the log says up to which frame it is written back, and up to which that has been begun
# (sqlite.org, "WAL-mode File Format", 2.1: nBackfill and nBackfillAttempted of the checkpoint information).
DONE_AT, BEGUN_AT = 96, 128
# A process of its own sees it soonest.
SPOT = f"""
import mmap, os, signal, struct, sys, time
with open(sys.argv[1], "rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as index:
    end = time.monotonic() + 60
    while time.monotonic() < end:
        done, begun = (struct.unpack_from("=I", index, at)[0] for at in ({DONE_AT}, {BEGUN_AT}))
        if begun > done:
            os.kill(int(sys.argv[2]), signal.SIGKILL)
            break
"""
TRIES = 20


def is_half_written_back(folder):
    """Return whether what nobody has open any more was left in the middle of a checkpoint."""
    index = path_of(folder).with_name(f"{path_of(folder).name}-shm").read_bytes()
    done, begun = (struct.unpack_from("=I", index, at)[0] for at in (DONE_AT, BEGUN_AT))
    return begun > done


@pytest.mark.soak
def test_a_server_that_is_killed_in_a_checkpoint_loses_nothing(garden, cookies, opened):
    engine = opened(garden)
    wanted, hit = (10 if SOAK else 1), 0
    for number in range(wanted + TRIES):
        watch = Watch(engine)
        engine.dispose()
        with Server(garden, plan={}) as server:
            index = path_of(garden).with_name(f"{path_of(garden).name}-shm")
            with Crowd(workers_for(server.port, cookies, watch.story, seed=number)) as crowd:
                crowd.wait_for_answers(1)
                subprocess.run([sys.executable, "-c", SPOT, index, str(server.process.pid)], check=True)
                assert server.process.wait(90) == KILLED
        hit += is_half_written_back(garden)
        assert crowd.faults == []
        assert faults_of_file(engine) == []
        assert watch.judge(engine) == []
        if hit == wanted:
            break
    assert hit == wanted, f"of {number + 1} kills {hit} came in the middle"
    engine.dispose()
