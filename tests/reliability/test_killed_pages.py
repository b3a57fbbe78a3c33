"""A server is killed by what is sent to it, at each commit of a page; afterwards all of it is done, or nothing."""

import re
import time
from collections.abc import Callable
from dataclasses import dataclass

import pytest
from sqlalchemy import text

from app.services.accounts import add_bench
from app.services.passphrases import hash_secret
from app.storage import Session
from tests.lengths import SOAK
from tests.people import add_account
from tests.reliability.browsing import Browser, cookie_of, cookies_for
from tests.reliability.serving import KILLED, Server
from tests.reliability.working import LOST_ANSWERS, Watch, Worker, faults_of_file

PASSPHRASE, PIN = "wet clay and warm sand", "2580"


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
