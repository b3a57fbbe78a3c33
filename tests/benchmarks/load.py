"""Many people on one server at moments of their own, each request timed from when it should have begun.

Arrivals are open: a server that is slow does not slow those down who come, as it would if each waited for an answer
before asking again.
"""

import json
import queue
import random
import statistics
import sys
import threading
import time
from collections import Counter
from dataclasses import dataclass, field

from tests.reliability.browsing import Browser
from tests.reliability.working import LOST_ANSWERS, Worker

PAGES = ("/", "/ledger", "/growers", "/sowings", "/shelves", "/trays", "/crops", "/trays/3", "/growers/2")
PAGES_PER_SECOND, WRITES_PER_SECOND = 10, 3


@dataclass
class Served:
    """How long what was asked for took, in seconds.

    Attributes:
        pages: Pages.
        writes: Forms, from when they were sent.
        by_person: How many requests of each person were answered.
        faults: What was not answered as it should.
    """

    pages: list[float] = field(default_factory=list)
    writes: list[float] = field(default_factory=list)
    by_person: list[int] = field(default_factory=list)
    faults: list[object] = field(default_factory=list)


class Person:
    """Somebody who looks at pages, and adds and changes growers."""

    def __init__(self, port, cookie, story, seed, *, anew):
        self.browser = Browser(port, cookie)
        self.worker = Worker(self.browser, story, seed=seed)
        self.draw = random.Random(seed)
        self.anew = anew
        self.served = Served(by_person=[0])
        self.work = queue.SimpleQueue()

    def look(self, since=None):
        since = time.monotonic() if since is None else since
        address = self.draw.choice(PAGES)
        status = self._ask(address)
        self.served.pages.append(time.monotonic() - since)
        if status != 200:
            self.served.faults.append((address, status))

    def _ask(self, address):
        if self.anew:  # the server closes what is not used for some seconds, maybe at this very moment
            self.browser.close()
        return self.browser.get(address).status

    def write(self):
        """Open a form and send it; only the sending is timed, from when it begins."""
        if self.anew:
            self.browser.close()
        send, took = self.browser.send, []

        def timed(form, **fields):
            begin = time.monotonic()
            answer = send(form, **fields)
            took.append(time.monotonic() - begin)
            return answer

        self.browser.send = timed
        try:
            answer = self.worker.change() if self.worker.mine and self.draw.random() < 0.4 else self.worker.add()
        finally:
            self.browser.send = send
        self.served.writes += took
        if answer.status != 302:
            self.served.faults.append(("a form", answer.status))

    def serve_arrivals(self):
        """Do what arrives until None does."""
        while (arrival := self.work.get()) is not None:
            what, at = arrival
            try:
                if what == "page":
                    self.look(at)
                else:
                    self.write()
            except (*LOST_ANSWERS, AssertionError) as error:
                self.served.faults.append(error)
            else:
                self.served.by_person[0] += 1
        self.browser.close()


def alone(port, cookie, story, requests, *, anew=False):
    """Let one person do the same, one request after the other."""
    person = Person(port, cookie, story, "alone", anew=anew)
    share = WRITES_PER_SECOND / (PAGES_PER_SECOND + WRITES_PER_SECOND)
    while len(person.served.pages) < requests:
        if person.draw.random() < share:
            person.write()
        person.look()
    person.browser.close()
    return person.served


def together(port, cookies, story, seconds, *, anew=False, seed=1):
    """Let many people come at random moments, as often in all as the rates say, each as often as the others."""
    people = [Person(port, cookie, story, f"{seed} {n}", anew=anew) for n, cookie in enumerate(cookies)]
    threads = [threading.Thread(target=person.serve_arrivals) for person in people]
    for thread in threads:
        thread.start()
    draw, begin = random.Random(seed), time.monotonic()
    rate = PAGES_PER_SECOND + WRITES_PER_SECOND
    at, number = 0.0, 0
    while (at := at + draw.expovariate(rate)) < seconds:
        time.sleep(max(0.0, begin + at - time.monotonic()))
        what = "page" if draw.random() < PAGES_PER_SECOND / rate else "write"
        people[number % len(people)].work.put((what, begin + at))
        number += 1
    for person in people:
        person.work.put(None)
    for thread in threads:
        thread.join(120)
        assert not thread.is_alive(), "somebody still waits"
    all_served = [person.served for person in people]
    return Served(
        pages=[time for served in all_served for time in served.pages],
        writes=[time for served in all_served for time in served.writes],
        by_person=[served.by_person[0] for served in all_served],
        faults=[fault for served in all_served for fault in served.faults],
    )


def sign_in_again_and_again(port, number, statuses, stop):
    """Sign in with a wrong passphrase, from an address and under names of one's own."""
    with Browser(port, source=f"127.0.1.{number + 1}") as browser:
        form = browser.form("/sign-in", "/sign-in")
        while not stop.is_set():
            answer = browser.send(form, name=f"Nobody {number} {len(statuses)}", passphrase="not the right one")
            statuses.append(answer.status)


def ask_again_and_again(port, _number, statuses, stop):
    """Ask for the page that does nothing."""
    with Browser(port) as browser:
        while not stop.is_set():
            statuses.append(browser.get("/bare").status)


KINDS = {"sign in": sign_in_again_and_again, "bare": ask_again_and_again}


def flood(kind, port, clients):
    """Let many sign in at once, or ask for the page that does nothing, until the input ends.

    It prints that it has begun, and in the end how often each status came.
    """
    statuses, stop = [], threading.Event()
    threads = [threading.Thread(target=KINDS[kind], args=(port, number, statuses, stop)) for number in range(clients)]
    for thread in threads:
        thread.start()
    while len(statuses) < clients:
        time.sleep(0.01)
    print("begun", flush=True)
    sys.stdin.read()
    stop.set()
    for thread in threads:
        thread.join(60)
    print(json.dumps(Counter(statuses)))


def p95(values):
    return statistics.quantiles(values, n=20)[-1]


def times_of(port, address, cookie, times, *, anew=False):
    """Return seconds of an address, asked for one time after the other."""
    found = []
    with Browser(port, cookie) as browser:
        for _ in range(times):
            if anew:
                browser.close()
            begin = time.monotonic()
            assert browser.get(address).status == 200
            found.append(time.monotonic() - begin)
    return found


if __name__ == "__main__":  # a process of its own, so that it takes nothing from whoever measures beside it
    flood(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
