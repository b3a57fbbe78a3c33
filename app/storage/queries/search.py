"""Names that a search goes through. They are compared in Python, since the engines do not fold letters alike."""

from typing import NamedTuple

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.language import _
from app.storage.models import Crop, Grower, SeedLot, Shelf, Sowing
from app.storage.queries.crops import crop_order


class Name(NamedTuple):
    """A row as a search looks at it: what it is called, what else it may be found by, and whose it is."""

    id: int
    name: str
    more: tuple[str, ...]
    grower_id: int | None = None


def list_grower_names(session: Session, grower_id: int | None = None) -> list[Name]:
    """Return growers with their plots, by name; one alone if an id is given."""
    query = select(Grower.id, Grower.name, Grower.plot).order_by(Grower.name, Grower.id)
    if grower_id is not None:
        query = query.where(Grower.id == grower_id)
    return [
        Name(row_id, name, (_("plot %(plot)s", plot=plot),) if plot else ())
        for row_id, name, plot in session.execute(query)
    ]


def list_crop_names(session: Session) -> list[Name]:
    """Return crops with their botanical names, by name."""
    query = select(Crop.id, Crop.name, Crop.botanical).order_by(crop_order(session), Crop.id)
    return [_name(*row) for row in session.execute(query)]


def list_sowing_names(session: Session, grower_id: int | None = None) -> list[Name]:
    """Return sowings with crop, variety and grower, by grower and crop; those of one grower if an id is given."""
    query = (
        select(Sowing.id, Sowing.name, Sowing.grower_id, Crop.name, Sowing.variety, Grower.name)
        .join(Sowing.crop)
        .join(Sowing.grower)
        .order_by(Grower.name, crop_order(session), Sowing.id)
    )
    if grower_id is not None:
        query = query.where(Sowing.grower_id == grower_id)
    return [
        Name(row_id, name, tuple(filter(None, more)), whose) for row_id, name, whose, *more in session.execute(query)
    ]


def list_seed_lot_names(session: Session) -> list[Name]:
    """Return seed lots with crop and variety, by crop and name."""
    query = (
        select(SeedLot.id, SeedLot.name, Crop.name, SeedLot.variety)
        .join(SeedLot.crop)
        .order_by(crop_order(session), SeedLot.name, SeedLot.id)
    )
    return [_name(*row) for row in session.execute(query)]


def list_shelf_names(session: Session) -> list[Name]:
    """Return shelves by name."""
    return [_name(*row) for row in session.execute(select(Shelf.id, Shelf.name).order_by(Shelf.name, Shelf.id))]


def _name(row_id: int, name: str, *more: str | None) -> Name:
    return Name(row_id, name, tuple(part for part in more if part))
