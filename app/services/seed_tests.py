"""Tests of seed on damp paper: what came up of so many seeds."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from app.services.columns import set_columns
from app.storage.models import SeedTest
from app.storage.queries.seed_lots import get_seed_lot, get_seed_test
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from app.storage import Session


class MoreUpThanTriedError(Exception):
    """More seeds came up than were laid out."""


class NotCountedYetError(Exception):
    """The day on which the seeds are said to have been counted is still to come."""

    def __init__(self, counted_on: date) -> None:
        """Keep that day."""
        super().__init__(f"Counted on {counted_on}")
        self.counted_on = counted_on


@dataclass(frozen=True, kw_only=True)
class SeedTestValues:
    """What is written down of a test.

    Attributes:
        seed_lot_id: Whose seed it was.
        date: The day on which it was begun.
        tried: Seeds laid out. [1]
        up: Seeds that came up. [1]
        days: After how many days they were counted last. [d]
    """

    seed_lot_id: int
    date: date
    tried: int
    up: int
    days: int


def add_seed_test(session: "Session", values: SeedTestValues, *, today: date) -> SeedTest:
    """Write down a test of seed.

    Args:
        session: Its transaction takes it.
        values: The test.
        today: The latest day on which it can have been counted.

    Raises:
        NotFoundError: There is no such seed lot.
        MoreUpThanTriedError: More came up than were laid out.
        NotCountedYetError: It has not been counted by today.
    """
    hold_writes(session)
    get_seed_lot(session, values.seed_lot_id)
    if values.up > values.tried:
        raise MoreUpThanTriedError
    counted_on = values.date + timedelta(days=values.days)
    if counted_on > today:
        raise NotCountedYetError(counted_on)
    test = SeedTest(seeds_per_cell=1.0)  # on paper each seed is seen by itself
    set_columns(test, values)
    session.add(test)
    session.flush()
    return test


def remove_seed_test(session: "Session", seed_test_id: int) -> SeedTest:
    """Remove a test of seed, and return what it was. Raises NotFoundError."""
    hold_writes(session)
    test = get_seed_test(session, seed_test_id)
    session.delete(test)
    session.flush()
    return test
