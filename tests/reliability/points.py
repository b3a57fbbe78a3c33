"""The points at which a process is killed, and for each place of the program that makes something last, who reaches it.

A point wraps something that every such place passes through, and knows from which place it was passed. A place is
written `file:function`.
"""

import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Engine, event

from app.storage.engine import QueuedConnection

ROOT = Path(__file__).resolve().parents[2]
OURS = (str(ROOT / "app") + os.sep, str(ROOT / "migrations") + os.sep)
# The door of every commit on SQLite: the place is the one that goes through it.
DOOR = "QueuedConnection."


@dataclass(frozen=True)
class Kind:
    """A kind of point.

    Attributes:
        owner: Whose function is wrapped.
        name: Of the function.
        after: Whether the point lies after its work, else before it.
        only: Whether a call counts, by its arguments.
    """

    owner: object
    name: str
    after: bool
    only: Callable[..., bool] = lambda *_: True

    def wrap(self, passed):
        """Let a function be called at the point, with the place that it is passed from."""
        real = getattr(self.owner, self.name)

        def wrapped(*args, **kwargs):
            counts = self.only(*args)
            if counts and not self.after:
                passed(place())
            result = real(*args, **kwargs)
            if counts and self.after:
                passed(place())
            return result

        setattr(self.owner, self.name, wrapped)


class Statement:
    """Before each statement that a process gives to its database."""

    def wrap(self, passed):
        """As of the other kinds."""

        @event.listens_for(Engine, "before_cursor_execute")
        def note(*_):
            passed(place())


def place():
    """Return the place in the program that leads here."""
    frame = sys._getframe(2)
    while frame is not None:
        code = frame.f_code
        if code.co_filename.startswith(OURS) and not code.co_qualname.startswith(DOOR):
            return f"{Path(code.co_filename).relative_to(ROOT).as_posix()}:{code.co_qualname}"
        frame = frame.f_back
    return "outside"


def _writes(connection):
    return connection._queue is not None


POINTS = {
    "before a commit": Kind(QueuedConnection, "commit", after=False, only=_writes),
    "after a commit": Kind(QueuedConnection, "commit", after=True, only=_writes),
    "before a replace": Kind(Path, "replace", after=False),
    "after a replace": Kind(Path, "replace", after=True),
    "before a rename": Kind(Path, "rename", after=False),
    "after a rename": Kind(Path, "rename", after=True),
    "before a link": Kind(os, "link", after=False),
    "after a link": Kind(os, "link", after=True),
    "before a sync": Kind(os, "fsync", after=False),
    "at a statement": Statement(),
}
