"""What depends on a row, as the page that refuses to remove it lists it."""

from dataclasses import dataclass
from typing import Any, NamedTuple

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from app.storage.models import Crop, Grower, SeedLot, Sowing

FIRST_USES = 20


class Use(NamedTuple):
    """One row that depends on another: its id, its name, and a few words on it."""

    id: int
    name: str
    words: str


@dataclass(frozen=True)
class Uses:
    """All rows of one noun that depend on a row: how many, and the first of them."""

    noun: str
    count: int
    first: tuple[Use, ...]


def list_sowings_of_grower(session: Session, grower_id: int) -> Uses:
    """Return the sowings of a grower."""
    query = select(Sowing.id, Sowing.name, Crop.name).join(Sowing.crop).where(Sowing.grower_id == grower_id)
    return _uses(session, "sowings", query, Sowing.name)


def list_sowings_of_crop(session: Session, crop_id: int) -> Uses:
    """Return the sowings of a crop."""
    query = select(Sowing.id, Sowing.name, Grower.name).join(Sowing.grower).where(Sowing.crop_id == crop_id)
    return _uses(session, "sowings", query, Sowing.name)


def list_sowings_of_seed_lot(session: Session, seed_lot_id: int) -> Uses:
    """Return the sowings that take a seed lot."""
    query = select(Sowing.id, Sowing.name, Grower.name).join(Sowing.grower).where(Sowing.seed_lot_id == seed_lot_id)
    return _uses(session, "sowings", query, Sowing.name)


def list_seed_lots_of_crop(session: Session, crop_id: int) -> Uses:
    """Return the seed lots of a crop."""
    query = select(SeedLot.id, SeedLot.name, func.coalesce(SeedLot.variety, "")).where(SeedLot.crop_id == crop_id)
    return _uses(session, "seed_lots", query, SeedLot.name)


def list_crops_of_container(session: Session, container_id: int) -> Uses:
    """Return the crop cards that start in a container or are potted on into it."""
    query = select(Crop.id, Crop.name, func.coalesce(Crop.botanical, "")).where(
        (Crop.start_container_id == container_id) | (Crop.pot_on_container_id == container_id)
    )
    return _uses(session, "crops", query, Crop.name)


def _uses(session: Session, noun: str, query: Select[int, str, str], name: Any) -> Uses:  # noqa: ANN401 - a column
    count = session.scalar(select(func.count()).select_from(query.subquery())) or 0
    model = name.class_
    rows = session.execute(query.order_by(name, model.id).limit(FIRST_USES)) if count else ()
    return Uses(noun, count, tuple(Use(*row) for row in rows))
