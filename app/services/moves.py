"""Moves of trays: which come, go or change places on some days, as they were dealt."""

from datetime import date, timedelta
from itertools import groupby, pairwise
from typing import TYPE_CHECKING, NamedTuple

from app.core.dealing.redeal import count_outdated
from app.storage.queries.dealt import get_dealt_stays
from app.storage.queries.trays import StayRow, list_stays, list_stays_between

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from app.core.plan import Plan
    from app.storage import Session


class Move(NamedTuple):
    """A tray that is carried on a day: from a stay, None where it is new, to the next, None where it leaves."""

    day: date
    before: StayRow | None
    after: StayRow | None

    @property
    def here(self) -> StayRow:
        """The stay that is there: the one before, or of a new tray the one after."""
        stay = self.before or self.after
        if stay is None:
            raise ValueError("a move without stays")
        return stay

    def concerns(self, shelf_id: int) -> bool:
        """Tell whether the tray leaves a shelf or comes to it."""
        return any(stay is not None and stay.shelf_id == shelf_id for stay in (self.before, self.after))


def list_moves(session: "Session", first: date, end: date, *, shelf_id: int | None = None) -> list[Move]:
    """Return the moves on the days of [first, end), by day and tray.

    Args:
        session: Where the trays are.
        first: First day.
        end: The day after the last.
        shelf_id: The only shelf whose comings and goings are wanted; None for all.
    """
    moves = _moves_of(session, _near(session, first, end, shelf_id), first, end)
    return moves if shelf_id is None else [move for move in moves if move.concerns(shelf_id)]


def list_moves_and_waiting(session: "Session", first: date, end: date) -> tuple[list[Move], list[StayRow]]:
    """Return the moves on the days of [first, end), and the stays of these days without a position.

    Both by day and tray.
    """
    near = _near(session, first, end)
    return _moves_of(session, near, first, end), [
        stay for stay in near if stay.shelf_id is None and stay.end_on > first
    ]


def _near(session: "Session", first: date, end: date, shelf_id: int | None = None) -> list[StayRow]:
    """Return the stays of [first, end), and those that end on the first day."""
    return list_stays_between(session, first - timedelta(days=1), end, shelf_id=shelf_id)


def _moves_of(session: "Session", near: list[StayRow], first: date, end: date) -> list[Move]:
    trays = {stay.tray_id for stay in near if first <= stay.begin_on < end or first <= stay.end_on < end}
    stays = list_stays(session, sorted(trays)) if trays else []
    moves = (move for move in _moves(stays) if first <= move.day < end)
    return sorted(moves, key=lambda move: (move.day, move.here.tray))


def _moves(stays: "Iterable[StayRow]") -> "Iterator[Move]":
    by_tray = sorted(stays, key=lambda stay: (stay.tray, stay.begin_on))
    for _, group in groupby(by_tray, key=lambda stay: stay.tray):
        own = list(group)
        yield Move(own[0].begin_on, None, own[0])
        for one, other in pairwise(own):
            yield Move(other.begin_on, one, other)
        yield Move(own[-1].end_on, own[-1], None)


def count_dealt_otherwise(session: "Session", plan: "Plan", first: date, end: date, today: date) -> int:
    """Return how many trays the plan has otherwise on the days of [first, end) than they were dealt. [1]"""
    stays = get_dealt_stays(session, plan.garden)
    return count_outdated(plan, stays, first=first.toordinal(), end=end.toordinal(), today=today.toordinal())
