"""One judge of what a database holds after a bad time: everything that was asked for is held against it.

An operation is written down when it is sent and when it is answered. Its effect carries a key that nothing else
carries, and is looked for in the history of the database, which must itself lead from what was there before to what is
there now.
"""

import threading
import time
from collections import Counter
from collections.abc import Callable
from contextlib import contextmanager
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any


class Result(StrEnum):
    """How an operation was answered."""

    OK = "ok"
    FAIL = "fail"
    UNKNOWN = "unknown"


@dataclass
class Operation:
    """One change that somebody asked for.

    Attributes:
        action: As the history calls it: added, changed or removed.
        key: What its effect carries, and nothing else does.
        sent_at: When it was sent. [s, of one clock]
        ended_at: When it was answered; None while it is not.
        result: How; without an answer it is unknown.
    """

    action: str
    key: str
    sent_at: float
    ended_at: float | None = None
    result: Result = Result.UNKNOWN

    def end(self, result: Result, at: float | None = None) -> None:
        """Write down how it was answered; at once, unless a moment is given."""
        self.result = result
        self.ended_at = time.monotonic() if at is None else at


class Story:
    """Everything that was asked for, by however many at once."""

    def __init__(self) -> None:
        """Begin with nothing."""
        self.operations: list[Operation] = []
        self._lock = threading.Lock()

    @contextmanager
    def asked(self, action: str, key: str):
        """Give an operation that is being sent; if the block ends by an error it stays unknown."""
        operation = Operation(action, key, time.monotonic())
        with self._lock:
            self.operations.append(operation)
        yield operation
        if operation.ended_at is None:
            operation.ended_at = time.monotonic()

    def count(self, result: Result) -> int:
        """Return how many had this result."""
        return sum(operation.result is result for operation in self.operations)


@dataclass(frozen=True)
class Told:
    """A row of the history.

    Attributes:
        id: Its id.
        subject_id: Of what was changed.
        action: added, changed or removed.
        changes: Value before and after by column.
    """

    id: int
    subject_id: int
    action: str
    changes: dict[str, tuple[Any, Any]]


Rows = dict[int, dict[str, Any]]


@dataclass(frozen=True)
class Found:
    """What a database holds.

    Attributes:
        before: The rows of the table as they were before anything was asked for: values by column, by id.
        after: The same now. An empty value is left out, as the history does.
        told: The history since then, in its own order.
        sums: Pairs that must be equal, each with its name.
    """

    before: Rows
    after: Rows
    told: list[Told]
    sums: list[tuple[str, object, object]] = field(default_factory=list)


# The column that holds an operation's key.
KEY_OF: dict[str, Callable[[Told], Any]] = {
    "added": lambda told: told.changes.get("name", (None, None))[1],
    "changed": lambda told: told.changes.get("plot", (None, None))[1],
    "removed": lambda told: told.changes.get("name", (None, None))[0],
}


def judge(operations: list[Operation], found: Found) -> list[str]:
    """Return everything that is wrong; empty where nothing is."""
    faults = _judge_effects(operations, found)
    faults += _judge_history(found)
    faults += _judge_order(operations, found)
    faults += [f"{name}: {one} is not {other}" for name, one, other in found.sums if one != other]
    return faults


def _effects(found: Found) -> Counter[tuple[str, Any]]:
    return Counter((told.action, KEY_OF[told.action](told)) for told in found.told)


def _judge_effects(operations: list[Operation], found: Found) -> list[str]:
    faults = []
    effects = _effects(found)
    asked = Counter((operation.action, operation.key) for operation in operations)
    faults += [f"{what} was asked for {n} times: a key must be of one operation" for what, n in asked.items() if n > 1]
    for operation in operations:
        what = (operation.action, operation.key)
        n = effects[what]
        if operation.result is Result.OK and n == 0:
            faults.append(f"lost: {what} was answered as saved and is not there")
        elif operation.result is Result.FAIL and n:
            faults.append(f"{what} was refused and is there")
        if n > 1:
            faults.append(f"{what} is there {n} times")
    faults += [f"nobody asked for {what}" for what in effects if what not in asked]
    return faults


def _judge_history(found: Found) -> list[str]:
    """Tell the history from the beginning and see whether it ends with what is there."""
    faults = []
    rows = {row: dict(values) for row, values in found.before.items()}
    for told in sorted(found.told, key=lambda told: told.id):
        faults += [f"history {told.id}: {fault}" for fault in _tell(rows, told)]
    for row in sorted(rows.keys() | found.after.keys()):
        told_row, there = (_filled(part.get(row)) for part in (rows, found.after))
        if told_row != there:
            faults.append(f"row {row} is {there}, the history tells {told_row}")
    return faults


def _tell(rows: Rows, told: Told) -> list[str]:
    """Let a change happen to the rows; return what of it does not go with them."""
    row = rows.get(told.subject_id)
    if told.action == "added":
        rows[told.subject_id] = {column: after for column, (_, after) in told.changes.items()}
        return [] if row is None else [f"row {told.subject_id} is added and was there"]
    if row is None:
        return [f"row {told.subject_id} is {told.action} and was not there"]
    faults = [
        f"{column} was {row.get(column)!r}, told as {before!r}"
        for column, (before, _) in told.changes.items()
        if row.get(column) != before
    ]
    row.update({column: after for column, (_, after) in told.changes.items()})
    if told.action == "removed":
        del rows[told.subject_id]
    return faults


def _filled(values: dict[str, Any] | None) -> dict[str, Any] | None:
    return None if values is None else {column: value for column, value in values.items() if value is not None}


def _judge_order(operations: list[Operation], found: Found) -> list[str]:
    """Of two where one was answered before the other was sent, the history tells the first one first."""
    place = {(told.action, KEY_OF[told.action](told)): told.id for told in found.told}
    done = [
        (operation.sent_at, operation.ended_at, place[operation.action, operation.key], operation.key)
        for operation in operations
        if operation.result is Result.OK and (operation.action, operation.key) in place
    ]
    faults, latest = [], None
    ended = sorted(done, key=lambda one: one[1])
    position = 0
    for sent_at, _, row, key in sorted(done):
        while position < len(ended) and ended[position][1] < sent_at:
            latest = max(latest or (0, ""), ended[position][2:])
            position += 1
        if latest is not None and latest[0] > row:
            faults.append(f"{key} was sent after {latest[1]} was answered, and is told before it")
    return faults
