"""Changes that are made together, told together, and undone together."""

import hashlib
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from app.storage.history import ACTOR, Actor, in_batch, note_history
from app.storage.models import Batch
from app.storage.numbers import note_numbers
from app.storage.queries.batches import (
    InTheWay,
    Net,
    find_batch_sent,
    get_batch,
    list_in_the_way,
    list_nets,
    undo_rows,
)
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from app.storage import Session

__all__ = [
    "BatchStandsError",
    "BatchUndoneError",
    "InTheWay",
    "Net",
    "digest_of_rows",
    "find_batch_sent",
    "find_in_the_way",
    "one_batch",
    "undo_batch",
]


class BatchUndoneError(Exception):
    """The batch was undone before."""


class BatchStandsError(Exception):
    """Rows of the batch were changed or built upon since, so that nothing was undone."""

    def __init__(self, rows: list[InTheWay]) -> None:
        """Keep the rows that stand in the way."""
        super().__init__(f"{len(rows)} rows stand in the way")
        self.rows = rows


def digest_of_rows(what: str, *rows: object) -> str:
    """Return by what the same rows are known again."""
    return hashlib.blake2b(repr((what, rows)).encode(), digest_size=16).hexdigest()


@contextmanager
def one_batch(session: "Session", what: str, *, digest: str = "") -> Iterator[Batch]:
    """Make all that is changed meanwhile one batch; whoever calls it says at the end how many rows were added.

    Args:
        session: Its transaction takes it all.
        what: What is done, in words such as `growers pasted`.
        digest: By what the same rows are known again if they are sent once more.
    """
    hold_writes(session)
    actor: Actor | None = session.info.get(ACTOR)
    account_id = None if actor is None else actor.account_id
    batch = Batch(at=time.time(), account_id=account_id, what=what, rows=0, digest=digest)
    session.add(batch)
    session.flush()
    with in_batch(session, batch.id):
        yield batch


def find_in_the_way(session: "Session", batch_id: int) -> list[InTheWay]:
    """Return what keeps a batch from being undone whole. Raises NotFoundError."""
    get_batch(session, batch_id)
    return list_in_the_way(session, batch_id, list_nets(session, batch_id))


def undo_batch(session: "Session", batch_id: int) -> int:
    """Undo a batch whole, and return how many rows were given back what they were before.

    Raises:
        NotFoundError: There is no such batch.
        BatchUndoneError: It was undone before.
        BatchStandsError: Rows were changed or built upon since; nothing was undone.
    """
    hold_writes(session)
    batch = get_batch(session, batch_id)
    if batch.undone_at is not None:
        raise BatchUndoneError
    nets = list_nets(session, batch_id)
    in_the_way = list_in_the_way(session, batch_id, nets)
    if in_the_way:
        raise BatchStandsError(in_the_way)
    note_numbers(session)  # keys of sowings stand on paper
    undo_rows(session, nets)
    actor: Actor | None = session.info.get(ACTOR)
    batch.undone_at, batch.undone_by_id = time.time(), None if actor is None else actor.account_id
    note_history(session, "batch", "undone", subject=f"{batch.id}, {batch.what}", changes=[("rows", len(nets), None)])
    session.flush()
    return len(nets)
