"""A process is killed at each point at which something lasts; afterwards all of it is done, or nothing."""

import csv
import random
import re
import shutil
import struct
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

import pytest
from sqlalchemy import MetaData, select, text

from app.services.accounts import add_bench
from app.services.growers import GrowerValues, add_grower
from app.services.passphrases import hash_secret
from app.storage import Session
from app.storage.backup import BackupError, check_backup
from app.storage.models import Grower
from app.storage.schema import upgrade
from tests.lengths import SOAK
from tests.migrations.test_migrations import REVISIONS, ROWS
from tests.people import add_account
from tests.reliability.browsing import Browser, cookie_of, cookies_for
from tests.reliability.serving import KILLED, Server, environ_of, path_of, run
from tests.reliability.working import LOST_ANSWERS, Crowd, Watch, Worker, faults_of_file, workers_for

EXTRA = "Somebody of now"
PASSPHRASE, PIN = "wet clay and warm sand", "2580"


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
@pytest.mark.parametrize("revision", REVISIONS)
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


# ---------------------------------------------------------------- pages


@dataclass(frozen=True)
class Page:
    """Something that is sent to a server, which is killed by it.

    Attributes:
        place: Where it makes something last.
        send: Sends it from a browser and returns its answer; None for what a worker sends.
        check: Returns what is wrong where it was answered.
        again: Whether it is sent again even where it was done, since the answer is what counts.
        cookie: Returns the sender's cookie; by default that of somebody who is signed in.
        judge: Returns what is wrong in the database; by default what the history does not tell.
    """

    place: str
    send: Callable
    check: Callable
    again: bool = False
    cookie: Callable = lambda _engine, cookies, _account_id: cookies[0]
    judge: Callable = lambda engine, watch: watch.judge(engine)


def sign_in(browser):
    return browser.send(browser.form("/sign-in", "/sign-in"), name="Ines Moreau", passphrase=PASSPHRASE)


def sign_out(browser):
    return browser.send(browser.form("/account", "/sign-out"))


def sign_out_everywhere(browser):
    return browser.send(browser.form("/account", "/account/sign-out-everywhere"))


def choose_language(browser):
    return browser.send(browser.form("/language", "/language"), language="fr")


def make_labels(browser):
    return browser.send(browser.form("/labels?trays=1-4", "/labels/print"), trays="1-4")


def nobodys(_engine, _cookies, _account_id):
    return None


def tablet(engine, _cookies, _account_id):
    """Make a bench tablet at which nobody is, and return its cookie."""
    with Session(engine) as session:
        token = add_bench(session, "Test")
        session.commit()
    return cookie_of(token)


def tablet_of_ines(engine, cookies, account_id):
    cookie = tablet(engine, cookies, account_id)
    with engine.begin() as connection:
        now = {"account": account_id, "until": time.time() + 600}
        connection.execute(text("UPDATE sign_in SET account_id = :account, acting_until = :until WHERE is_bench"), now)
    return cookie


def begin_bench(browser):
    return browser.send(browser.form("/bench", "/bench/begin"))


def come_to_bench(browser):
    ines = re.search(r'href="(/bench/\d+)">Ines Moreau', browser.get("/bench").text)
    return browser.send(browser.form(ines[1], ines[1]), pin=PIN)


def leave_bench(browser):
    return browser.send(browser.form("/bench", "/bench/done"))


def end_bench(browser):
    return browser.send(browser.form("/bench/end", "/bench/end"), name="Ines Moreau", passphrase=PASSPHRASE)


def make_slip(browser):
    form = browser.form("/people/slips", "/people/slips")
    who = re.search(r'name="who" value="(\d+)"', browser.get("/people/slips").text)
    return browser.send(form, **{"who": who[1], "as": "page"})


def make_feed(browser):
    return browser.send(browser.form("/calendar", "/calendar/address"), dates="garden")


def clear_demo(browser):
    return browser.send(browser.form("/first-steps/clear", "/first-steps/clear"))


def in_the_demo(engine, cookies, _account_id):
    """Let the garden be the demo."""
    with engine.begin() as connection:
        connection.exec_driver_sql("DELETE FROM house")
        connection.exec_driver_sql(
            "INSERT INTO house (id, open_to_visitors, keep_days, keep_weeks, keep_months, holds_demo)"
            " VALUES (1, 0, 7, 4, 12, 1)"
        )
    return cookies[0]


def there_or_gone(engine, _watch):
    """Return what of a garden that is cleared whole is left without the rest; its history does not tell row by row."""
    with engine.connect() as connection:
        tables = ("garden", "grower", "sowing", "tray", "cell")
        left = {name: connection.scalar(text(f"SELECT count(*) FROM {name}")) > 0 for name in tables}
    return [] if len(set(left.values())) == 1 else [f"half of it is gone: {left}"]


def is_cleared(browser):
    return [] if browser.get("/").status == 302 else ["the demo garden is still there"]


def on_two_devices(engine, cookies, _account_id):
    """Let the sender be signed in elsewhere too."""
    cookies_for(engine, ["Person 0"])
    return cookies[0]


def with_address(engine, cookies, _account_id):
    """Let there be an address for slips."""
    with engine.begin() as connection:
        connection.exec_driver_sql("DELETE FROM public_address")
        connection.exec_driver_sql("INSERT INTO public_address (id, address) VALUES (1, 'http://192.168.7.7:5000')")
    return cookies[0]


def is_signed_in(browser):
    return [] if browser.get("/account").status == 200 else ["nobody is signed in"]


def is_signed_out(browser):
    return [] if browser.get("/account").status == 302 else ["somebody is still signed in"]


def speaks_french(browser):
    return [] if '<html lang="fr">' in browser.get("/account").text else ["the language is as it was"]


def nothing_more(_browser):
    return []


ACCOUNTS, SIGN_IN, BENCH = "app/services/accounts.py", "app/web/views/sign_in.py", "app/web/views/bench.py"
PAGES = {
    "add a grower": Page("app/web/once.py:save", None, nothing_more),
    "sign in": Page(f"{SIGN_IN}:_come_in", sign_in, is_signed_in, again=True, cookie=nobodys),
    "sign in, its try counted": Page(f"{ACCOUNTS}:count_try", sign_in, is_signed_in, again=True, cookie=nobodys),
    "sign out": Page(f"{SIGN_IN}:sign_out", sign_out, is_signed_out),
    "sign out everywhere": Page(
        "app/web/views/account.py:sign_out_everywhere", sign_out_everywhere, is_signed_out, cookie=on_two_devices
    ),
    "begin the bench tablet": Page(f"{BENCH}:begin", begin_bench, nothing_more),
    "come to the bench tablet": Page(f"{BENCH}:person", come_to_bench, nothing_more, cookie=tablet),
    "leave the bench tablet": Page(f"{BENCH}:done", leave_bench, nothing_more, cookie=tablet_of_ines),
    "end the bench tablet": Page(f"{BENCH}:end", end_bench, nothing_more, cookie=tablet),
    "make a slip": Page("app/web/views/people.py:hand_out", make_slip, nothing_more, again=True, cookie=with_address),
    "make an address for calendars": Page("app/web/views/feeds.py:make", make_feed, nothing_more, again=True),
    "clear the demo garden": Page(
        "app/web/views/first_steps.py:clear", clear_demo, is_cleared, cookie=in_the_demo, judge=there_or_gone
    ),
    "choose a language": Page("app/web/views/language.py:index", choose_language, speaks_french),
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
        ines = add_account(session, "Ines Moreau", passphrase=hash_secret(PASSPHRASE), pin=hash_secret(PIN)).id
        session.commit()
    cookie = page.cookie(engine, cookies, ines)
    watch = Watch(engine)
    engine.dispose()
    is_adding = page.send is None
    with Browser(0, cookie) as browser:
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
        faults += faults_of_file(engine) + page.judge(engine, watch)
        engine.dispose()
        with Server(garden, plan={name: value for name, value in plan.items() if name == "spoil"}) as server:
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
            faults += faults_of_file(engine) + page.judge(engine, watch)
            assert server.stop() == 0, server.output()
    engine.dispose()
    return faults
