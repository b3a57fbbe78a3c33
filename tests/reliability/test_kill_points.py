"""A process is killed at each point at which something lasts; afterwards all of it is done, or nothing."""

import csv
import random
import shutil
from collections.abc import Callable
from dataclasses import dataclass

import pytest
from sqlalchemy import MetaData, select, text

from app.services.growers import GrowerValues, add_grower
from app.services.passphrases import hash_secret
from app.storage import Session
from app.storage.backup import check_backup
from app.storage.models import Grower
from app.storage.schema import upgrade
from tests.lengths import SOAK
from tests.migrations.test_migrations import REVISIONS, ROWS
from tests.people import add_account
from tests.reliability.browsing import Browser
from tests.reliability.serving import KILLED, Server, environ_of, run
from tests.reliability.working import LOST_ANSWERS, Watch, Worker, faults_of_file

EXTRA = "Somebody of now"
PASSPHRASE = "wet clay and warm sand"


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
    check_backup(folder / "was.sqlite3")
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
    ("restore --replace", "at a statement"),
    ("backup --replace", "before a replace"),
    ("dump --replace", "after a rename"),
}
MOST_TIMES = 5  # for each point that is passed often: the first, the last, and some between


def numbers_of(folder, arguments, point, place):
    """Return the times at which to be killed, found by a run on a copy that is not."""
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
def test_a_command_that_is_killed_has_done_all_or_nothing(garden, opened, tmp_path, name, point, place):
    command = COMMANDS[name]
    arguments = command.prepare(garden)
    engine = opened(garden)
    add_extra(engine)
    before = contents(engine)
    engine.dispose()
    for number in numbers_of(garden, arguments, point, place):
        done = run(garden, *arguments, plan={"kill": point, "place": place, "number": number})
        assert done.returncode == KILLED, (done.returncode, done.said)
        assert faults_of_file(engine) == []
        is_done = contents(engine) != before
        if is_done:
            assert command.changes
            assert point == "after a commit"
        if is_done or not command.changes:
            assert command.check(garden, engine) == []
        engine.dispose()
    again = run(garden, *arguments)
    assert again.returncode == 0, again.said
    assert command.check(garden, engine) == []
    assert faults_of_file(engine) == []


# ---------------------------------------------------------------- migrations


@pytest.mark.soak
@pytest.mark.parametrize("revision", REVISIONS)
def test_an_upgrade_that_is_killed_has_done_all_or_nothing(tmp_path, opened, revision):
    folder = tmp_path / "garden"
    folder.mkdir()
    position = REVISIONS.index(revision)
    engine = opened(folder)
    if position:
        upgrade(engine, REVISIONS[position - 1])
        with engine.begin() as connection:
            for statement in ROWS[REVISIONS[position - 1]]:
                connection.exec_driver_sql(statement)
    before = contents(engine)
    engine.dispose()
    place, commit = f"migrations/versions/{revision}.py", "migrations/env.py:<module>"
    passed = tmp_path / "passed"
    copied = folder.with_name("counted")
    shutil.copytree(folder, copied)
    run(copied, "frost", plan={"kill": "at a statement", "number": 0, "passed": str(passed)})
    statements = [n for n, one in enumerate(passed.read_text(encoding="utf-8").split(), 1) if one.startswith(place)]
    assert statements
    drawn = random.Random(revision).sample(statements, min(len(statements), MOST_TIMES if SOAK else 1))
    plans = [{"kill": "at a statement", "number": number} for number in drawn]
    if SOAK or position == len(REVISIONS) - 1:
        plans += [{"kill": point, "place": commit} for point in ("before a commit", "after a commit")]
    for plan in plans:
        done = run(folder, "frost", plan=plan)
        assert done.returncode == KILLED, (plan, done.said)
        assert faults_of_file(engine) == []
        if plan["kill"] != "after a commit":
            assert contents(engine) == before
        engine.dispose()
    upgrade(engine)
    with engine.connect() as connection:
        assert connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar_one() == REVISIONS[-1]
    assert faults_of_file(engine) == []


# ---------------------------------------------------------------- the key


KEY_POINTS = ("before a sync", "before a link", "after a link")


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


# ---------------------------------------------------------------- pages


@dataclass(frozen=True)
class Page:
    """Something that is sent to a server, which is killed by it.

    Attributes:
        place: Where it makes something last.
        send: Sends it from a browser and returns its answer; None for what a worker sends.
        check: Returns what is wrong where it was answered.
        again: Whether it is sent again even where it was done, since the answer is what counts.
    """

    place: str
    send: Callable
    check: Callable
    again: bool = False


def sign_in(browser):
    return browser.send(browser.form("/sign-in", "/sign-in"), name="Ines Moreau", passphrase=PASSPHRASE)


def sign_out(browser):
    return browser.send(browser.form("/account", "/sign-out"))


def sign_out_everywhere(browser):
    return browser.send(browser.form("/account", "/account/sign-out-everywhere"))


def make_labels(browser):
    return browser.send(browser.form("/labels?trays=1-4", "/labels/print"), trays="1-4")


def is_signed_in(browser):
    return [] if browser.get("/account").status == 200 else ["nobody is signed in"]


def is_signed_out(browser):
    return [] if browser.get("/account").status == 302 else ["somebody is still signed in"]


def nothing_more(_browser):
    return []


ACCOUNTS, SIGN_IN = "app/services/accounts.py", "app/web/views/sign_in.py"
PAGES = {
    "add a grower": Page("app/web/once.py:save", None, nothing_more),
    "sign in": Page(f"{SIGN_IN}:_come_in", sign_in, is_signed_in, again=True),
    "sign in, its try counted": Page(f"{ACCOUNTS}:count_try", sign_in, is_signed_in, again=True),
    "sign out": Page(f"{SIGN_IN}:sign_out", sign_out, is_signed_out),
    "sign out everywhere": Page("app/web/views/account.py:sign_out_everywhere", sign_out_everywhere, is_signed_out),
    "make labels": Page("app/web/views/labels.py:make", make_labels, nothing_more, again=True),
}
COMMIT_POINTS = ("before a commit", "after a commit")


@pytest.mark.soak
@pytest.mark.parametrize(
    ("name", "point"),
    [
        pytest.param(name, point, id=f"{name} {point}")
        for number, name in enumerate(PAGES)
        for at, point in enumerate(COMMIT_POINTS)
        if SOAK or number == 0 or number % 2 == at
    ],
)
def test_a_page_that_is_killed_has_done_all_or_nothing(garden, cookies, opened, name, point):
    assert kill_page(garden, cookies, opened, name, point) == []


def kill_page(garden, cookies, opened, name, point, **plan):
    """Kill a server by what is sent to it, and send that again to the next one; return what is wrong."""
    page, engine = PAGES[name], opened(garden)
    with Session(engine) as session:
        add_account(session, "Ines Moreau", passphrase=hash_secret(PASSPHRASE))
        session.commit()
    watch = Watch(engine)
    engine.dispose()
    is_adding = page.send is None
    with Browser(0, None if page.send is sign_in else cookies[0]) as browser:
        worker = Worker(browser, watch.story)
        with Server(garden, plan={"kill": point, "place": page.place} | plan) as server:
            browser.port = server.port
            try:
                answer = worker.add() if is_adding else page.send(browser)
            except LOST_ANSWERS:
                faults = []
            else:
                faults = [f"it was answered by {answer.status}: {answer.text[-2000:]}"]
            if not faults and server.process.wait(5) != KILLED:
                faults.append(f"it was not killed: {server.output()}")
        browser.close()
        has_acted = bool(watch.look(engine).told)
        faults += faults_of_file(engine) + watch.judge(engine)
        engine.dispose()
        with Server(garden, plan={}) as server:
            browser.port = server.port
            if is_adding:
                if has_acted != (point == "after a commit"):
                    faults.append(f"killed {point}, and it is {'' if has_acted else 'not '}there")
                for sent in worker.unanswered:
                    if (saved := sent.again(server.port, times=2)) != 2:
                        faults.append(f"sent again, twice: saved by {saved}")
            elif page.again or point == "before a commit":
                status = page.send(browser).status
                faults += [] if status in {200, 302} else [f"sent again: {status}"]
            faults += page.check(browser)
            faults += faults_of_file(engine) + watch.judge(engine)
            assert server.stop() == 0, server.output()
    engine.dispose()
    return faults
