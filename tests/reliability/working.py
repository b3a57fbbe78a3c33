"""People who change a garden all the time and write down what they asked for, and what is found afterwards."""

import http.client
import itertools
import random
import threading
import time
from collections import Counter, defaultdict

from sqlalchemy import func, inspect, select

from app.core.words import CellState
from app.storage.models import Cell, Grower, History, Tray
from app.storage.opening import session_on
from tests.reliability.browsing import Browser, NotSentError, form_of
from tests.reliability.checker import Found, Result, Story, Told, judge

LOST_ANSWERS = (OSError, http.client.HTTPException)
_keys = itertools.count()


def next_key(what="k"):
    return f"{what} {next(_keys)}"


class Sent:
    """A form that was sent, to be sent once more."""

    def __init__(self, operation, form, fields, cookie):
        self.operation, self.form, self.fields, self.cookie = operation, form, fields, cookie

    def again(self, port, *, times=1):
        """Send the same form again, as its sender does who saw no answer; return how often it was answered as saved.

        What the last one answers decides.
        """
        with Browser(port, self.cookie) as browser:
            answers = [browser.send(self.form, **self.fields) for _ in range(times)]
        self.operation.end(answers[-1].result)
        return sum(answer.result is Result.OK for answer in answers)


class Worker:
    """Somebody who adds, changes and removes growers, and marks trays as sown and takes it back."""

    def __init__(self, browser, story, *, seed=0, trays=()):
        self.browser, self.story, self.trays = browser, story, list(trays)
        self.draw = random.Random(seed)
        self.mine = []  # addresses of growers that this one has added
        self.unanswered = []
        self.faults = []
        self.answered = 0

    def act(self):
        """Do one thing."""
        what = self.draw.choices((self.add, self.change, self.remove, self.mark), (5, 4, 1, 2))[0]
        if what in {self.change, self.remove} and not self.mine:
            what = self.add
        if what == self.mark and not self.trays:
            what = self.add
        return what()

    def add(self):
        name = next_key("Grower")
        answer = self._send("added", name, self.browser.form("/growers/new"), name=name)
        if answer.result is Result.OK:
            self.mine.append(answer.location)
        return answer

    def change(self):
        plot = next_key("P")
        form = self.browser.form(f"{self.draw.choice(self.mine)}/edit")
        return self._send("changed", plot, form, plot=plot)

    def remove(self):
        address = self.mine.pop()
        name = self.browser.form(f"{address}/edit").fields["name"]
        return self._send("removed", name, self.browser.form(f"{address}/delete"))

    def mark(self):
        """Mark a tray as sown, or take that back; all its cells are changed or none."""
        number = self.draw.choice(self.trays)
        page = self.browser.get(f"/trays/{number}").text
        what = "filled" if f'action="/trays/{number}/filled"' in page else "not-filled"
        answer = self.browser.send(form_of(page, f"/trays/{number}/{what}"))
        self._note(answer)
        return answer

    def _send(self, action, key, form, **fields):
        with self.story.asked(action, key) as operation:
            sent = Sent(operation, form, fields, self.browser.cookie)
            try:
                answer = self.browser.send(form, **fields)
            except NotSentError:
                operation.end(Result.FAIL)
                raise
            except LOST_ANSWERS:
                self.unanswered.append(sent)
                raise
            operation.end(answer.result)
        self._note(answer)
        return answer

    def _note(self, answer):
        self.answered += 1
        if answer.result is Result.UNKNOWN:
            self.faults.append((answer.status, answer.text[-300:]))


class Crowd:
    """Several workers at once, until they are told to stop or nobody answers any more."""

    def __init__(self, workers, *, pause_s=0.0):
        self.workers, self.pause_s = workers, pause_s
        self._stop = threading.Event()
        self._threads = [threading.Thread(target=self._work, args=(worker,)) for worker in workers]

    def __enter__(self):
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, *_):
        self.stop()

    def stop(self):
        self._stop.set()
        for thread in self._threads:
            thread.join(60)
            assert not thread.is_alive()
        for worker in self.workers:
            worker.browser.close()

    def _work(self, worker):
        while not self._stop.is_set():
            try:
                worker.act()
            except LOST_ANSWERS:
                return
            except AssertionError as error:  # a page that did not come as it should
                worker.faults.append(error)
            if self.pause_s:
                self._stop.wait(self.pause_s)

    def wait_for_answers(self, count, *, seconds=30):
        """Wait until so many were answered in all."""
        end = time.monotonic() + seconds
        while sum(worker.answered for worker in self.workers) < count:
            assert time.monotonic() < end, [worker.faults for worker in self.workers]
            time.sleep(0.005)

    @property
    def faults(self):
        return [fault for worker in self.workers for fault in worker.faults]

    @property
    def unanswered(self):
        return [sent for worker in self.workers for sent in worker.unanswered]


def workers_for(port, cookies, story, *, seed=0, trays=()):
    """Return a worker for each cookie, each with trays that no other one touches."""
    shares = [trays[number :: len(cookies)] for number in range(len(cookies))]
    return [
        Worker(Browser(port, cookie), story, seed=f"{seed} {number}", trays=share)
        for number, (cookie, share) in enumerate(zip(cookies, shares, strict=True))
    ]


class Watch:
    """What a database held at first, to judge afterwards what became of it."""

    def __init__(self, engine):
        """Look at it."""
        self.story = Story()
        with session_on(engine, read_only=True) as session:
            self.before = _growers(session)
            self.last = session.scalar(select(func.max(History.id))) or 0
            self.owned = _owned(session)
            # Trays of which nothing is sown yet, or all: their cells are sown together or not at all. Where one of
            # their sowings gets pots, its cells are emptied into these alone.
            pots = _trays_with_pots(session)
            self.trays = [n for n, states in _states(session).items() if len(states) == 1 and n not in pots]

    def look(self, engine):
        """Return what is found now."""
        with session_on(engine, read_only=True) as session:
            rows = session.scalars(select(History).where(History.id > self.last).order_by(History.id)).all()
            told = [
                Told(row.id, row.subject_id or 0, row.action, {c: (one, other) for c, one, other in row.changes})
                for row in rows
                if row.noun == "grower"
            ]
            states = _states(session)
            sums = [("cells of each sowing", _owned(session), self.owned)]
            sums += [(f"states of tray {number}", len(states[number]), 1) for number in self.trays]
            return Found(before=self.before, after=_growers(session), told=told, sums=sums)

    def judge(self, engine):
        """Return everything that is wrong."""
        return judge(self.story.operations, self.look(engine))


def _growers(session):
    columns = [column.key for column in inspect(Grower).mapper.column_attrs if column.key not in {"id", "name_key"}]
    return {
        row.id: {name: getattr(row, name) for name in columns if getattr(row, name) not in {None, "", False}}
        for row in session.scalars(select(Grower))
    }


def _owned(session):
    """Return how many cells each sowing has."""
    return Counter(dict(session.execute(select(Cell.sowing_id, func.count()).group_by(Cell.sowing_id)).all()))


def _trays_with_pots(session):
    """Return the numbers of trays of pots, and of those with a sowing that is in one."""
    in_pots = select(Cell.sowing_id).join(Tray, Tray.id == Cell.tray_id).where(Tray.potted_on)
    there = select(Tray.number).join(Cell, Cell.tray_id == Tray.id).where(Cell.sowing_id.in_(in_pots))
    return set(session.scalars(there.distinct()))


def _states(session):
    """Return the states of the cells that are somebody's, by number of tray."""
    found = defaultdict(set)
    query = select(Tray.number, Cell.state).join(Tray, Tray.id == Cell.tray_id).where(Cell.sowing_id.is_not(None))
    for number, state in session.execute(query.distinct()):
        found[number].add(CellState(state))
    return found


def faults_of_file(engine):
    """Return what the database itself finds wrong with its file."""
    if engine.dialect.name != "sqlite":
        return []
    with engine.connect() as connection:
        found = connection.exec_driver_sql("PRAGMA integrity_check").scalars().all()
        loose = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    return [fault for fault in found if fault != "ok"] + [f"loose row {tuple(row)}" for row in loose]
