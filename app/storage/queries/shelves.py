"""Shelves."""

from typing import NamedTuple

from sqlalchemy import case, select
from sqlalchemy.orm import Session

from app.core.words import PLACES, Place
from app.storage.models import Shelf
from app.storage.queries.rows import get_row


class ShelfRow(NamedTuple):
    """A shelf as the list shows it; its own count of positions, if it has one."""

    id: int
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


def get_shelf(session: Session, shelf_id: int) -> Shelf:
    """Return a shelf, or raise NotFoundError."""
    return get_row(session, Shelf, shelf_id, "shelf")


def list_shelves(session: Session) -> list[ShelfRow]:
    """Return every shelf, by place in the ledger's order and then by name."""
    columns = [getattr(Shelf, name) for name in ShelfRow._fields]
    order = case({place.value: number for number, place in enumerate(PLACES)}, value=Shelf.place)
    return [ShelfRow(*row) for row in session.execute(select(*columns).order_by(order, Shelf.name, Shelf.id))]


def has_shelves(session: Session) -> bool:
    """Return whether there is any shelf."""
    return session.scalar(select(Shelf.id).limit(1)) is not None
