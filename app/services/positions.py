"""Where trays stand, by hand: moving them, exchanging two, pinning."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.core.dealing.positions import slots_of_levels
from app.core.words import Place
from app.services.plan import get_plan
from app.storage.errors import ClashError
from app.storage.queries.trays import get_stay, list_stay_rows, list_stays_in_way, set_position
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from datetime import date

    from app.core.plan import Plan
    from app.storage import Session
    from app.storage.models import Stay
    from app.storage.queries.trays import StayRow

# Id of the shelf, level and slot.
Where = tuple[int, int, int]


class PositionTakenError(Exception):
    """Another tray stands there on some of the days."""

    def __init__(self, stays: "tuple[StayRow, ...]") -> None:
        """Keep the stays in the way."""
        super().__init__("The position is taken")
        self.stays = stays


class NoSuchPositionError(Exception):
    """The shelf has no such level or slot, or it is for another place."""


class WaitsError(Exception):
    """A tray without a position can be neither pinned nor exchanged."""


@dataclass(frozen=True, kw_only=True)
class Target:
    """A position that is asked for by hand; level and slot count from 1."""

    shelf_id: int
    level: int
    slot: int


def move_tray(session: "Session", stay_id: int, target: Target, *, today: "date", exchange: bool = False) -> None:
    """Put a tray on another position of its place, from today on if it stands already, and pin it there.

    Args:
        session: Its transaction takes it all.
        stay_id: The stay that gets another position.
        target: The position.
        today: A tray that stands already is moved today.
        exchange: Whether trays that stand there go where this one was.

    Raises:
        NotFoundError: There is no such stay.
        NoSuchPositionError: The shelf has no such position, or is for another place.
        PositionTakenError: Another tray stands there, or would stand in the way of one that is exchanged.
        WaitsError: The tray has no position to give in exchange, or its shelf no longer has it.
    """
    hold_writes(session)
    stay, plan = get_stay(session, stay_id), get_plan(session)
    wanted, had = (target.shelf_id, target.level, target.slot), _position(stay)
    if not is_position(plan, stay.place, wanted):
        raise NoSuchPositionError
    begin = _moved_on(stay, today)
    others = list_stays_in_way(session, wanted, begin, stay.end_on, but=stay.id)
    if others and not exchange:
        raise PositionTakenError(tuple(list_stay_rows(session, [other.id for other in others])))
    if others and (had is None or not is_position(plan, stay.place, had)):
        raise WaitsError
    _leave(session, stay)
    for other in others:
        _leave(session, other)
        _stand(session, other, had or wanted, today)
    _stand(session, stay, wanted, today)


def pin_stay(session: "Session", stay_id: int, *, pinned: bool) -> None:
    """Pin a tray to its position, or let it go.

    Raises:
        NotFoundError: There is no such stay.
        WaitsError: The tray has no position.
    """
    hold_writes(session)
    stay = get_stay(session, stay_id)
    if stay.shelf_id is None:
        raise WaitsError
    stay.pinned = pinned
    session.flush()


def _position(stay: "Stay") -> Where | None:
    if stay.shelf_id is None or stay.level is None or stay.slot is None:
        return None
    return stay.shelf_id, stay.level, stay.slot


def _moved_on(stay: "Stay", today: "date") -> "date":
    """Return the day of a move: a tray that stands already leaves its old position to others only today."""
    return today if stay.begin_on < today < stay.end_on else stay.begin_on


def _leave(session: "Session", stay: "Stay") -> None:
    stay.pinned = False
    stay.shelf_id = stay.level = stay.slot = None
    session.flush()


def _stand(session: "Session", stay: "Stay", position: Where, today: "date") -> None:
    begin = _moved_on(stay, today)
    _require_free(session, stay, position, begin)
    try:
        set_position(session, stay, position, begin)
    except ClashError as error:  # somebody came there between the look and the writing
        _require_free(session, stay, position, begin)
        raise PositionTakenError(()) from error


def _require_free(session: "Session", stay: "Stay", position: Where, begin: "date") -> None:
    in_way = list_stays_in_way(session, position, begin, stay.end_on, but=stay.id)
    if in_way:
        raise PositionTakenError(tuple(list_stay_rows(session, [other.id for other in in_way])))


def is_position(plan: "Plan", place: Place, position: Where) -> bool:
    """Tell whether a place has a position, given by id of the shelf, level and slot."""
    shelf_id, level, slot = position
    shelf = next((shelf for shelf in plan.garden.shelves if shelf.id == shelf_id), None)
    if shelf is None or shelf.place is not place:
        return False
    slots = slots_of_levels(shelf.positions, shelf.levels)
    return 1 <= level <= len(slots) and 1 <= slot <= slots[level - 1]
