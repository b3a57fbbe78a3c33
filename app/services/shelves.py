"""Adding, changing and removing shelves, and the room on them."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.core.words import PLACES, Place
from app.services.columns import set_columns
from app.services.names import require_free
from app.services.removal import require_unused
from app.storage.models import Shelf
from app.storage.queries.shelves import ShelfRow, get_shelf, list_shelves
from app.storage.queries.trays import take_off_shelf
from app.storage.queries.uses import list_trays_on_shelf
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from datetime import date

    from app.core.plan import Plan
    from app.storage import Session


@dataclass(frozen=True, kw_only=True)
class ShelfValues:
    """What is written down of a shelf.

    Attributes:
        name: What people call it.
        place: The kind of space it is.
        width_cm: Width of a level. [cm]
        depth_cm: Depth of a level. [cm]
        levels: Levels of this size.
        positions: Trays that stand on all levels together, where counted by hand.
        bench_temp_c: Temperature of the mix on it. [deg C]
        ppfd: Light that reaches the leaves. [umol m-2 s-1]
        hours_per_day: Hours the lamps are on. [h]
        watts: Power of the whole shelf. [W]
        pan_depth_mm: Depth of water in its wick pan. [mm]
        fan: Whether a fan blows over it.
    """

    name: str
    place: Place
    width_cm: float
    depth_cm: float
    levels: int
    positions: int | None
    bench_temp_c: float | None
    ppfd: float | None
    hours_per_day: float | None
    watts: float | None
    pan_depth_mm: float | None
    fan: bool | None


def add_shelf(session: "Session", values: ShelfValues) -> Shelf:
    """Add a shelf.

    Raises:
        NameTakenError: Another shelf has this name.
    """
    hold_writes(session)
    require_free(session, Shelf.name, values.name)
    shelf = Shelf()
    set_columns(shelf, values)
    session.add(shelf)
    session.flush()
    return shelf


def change_shelf(session: "Session", shelf_id: int, values: ShelfValues) -> Shelf:
    """Change a shelf.

    Raises:
        NotFoundError: There is no such shelf.
        NameTakenError: Another shelf has this name.
    """
    hold_writes(session)
    shelf = get_shelf(session, shelf_id)
    require_free(session, Shelf.name, values.name, shelf)
    set_columns(shelf, values)
    session.flush()
    return shelf


def remove_shelf(session: "Session", shelf_id: int, *, today: "date") -> str:
    """Remove a shelf and return its name; where on it trays stood that have left it is forgotten.

    Args:
        session: Its transaction takes it all.
        shelf_id: Id of the shelf.
        today: Trays that stand on it on this day or later keep it from being removed.

    Raises:
        NotFoundError: There is no such shelf.
        InUseError: Trays stand on it, or will.
    """
    hold_writes(session)
    shelf = get_shelf(session, shelf_id)
    require_unused(list_trays_on_shelf(session, shelf_id, today))
    take_off_shelf(session, shelf_id)
    session.delete(shelf)
    session.flush()
    return shelf.name


@dataclass(frozen=True, kw_only=True)
class ShelfRoom:
    """Shelves with the positions that the plan counts.

    Attributes:
        shelves: Every shelf, by place and name, with its positions.
        totals: Positions of each place, in the ledger's order.
    """

    shelves: tuple[tuple[ShelfRow, int], ...]
    totals: tuple[tuple[Place, int], ...]


def list_shelf_room(session: "Session", plan: "Plan") -> ShelfRoom:
    """Return every shelf with the positions that the plan counts, and their sums by place."""
    positions = {card.id: card.positions for card in plan.garden.shelves}
    rows = tuple((row, positions[row.id]) for row in list_shelves(session))
    totals = tuple((place, sum(count for row, count in rows if row.place is place)) for place in PLACES)
    return ShelfRoom(shelves=rows, totals=totals)
