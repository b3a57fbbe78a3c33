"""What sheets say beside the plan: which seed is sown, which is doubtful, and all cells of a sowing."""

from collections.abc import Iterable
from typing import NamedTuple

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.plants.cucurbits import is_cucurbit
from app.core.words import Origin
from app.storage.models import Crop, SeedLot, Sowing
from app.storage.queries.trays import CELLS, CellRow

SAVED = frozenset({Origin.SAVED, Origin.GIFT})


class SeedRow(NamedTuple):
    """The seed of a sowing.

    Attributes:
        seed_lot: Name of the seed lot.
        is_doubtful: Whether it is a cucurbit from saved or swapped seed.
    """

    seed_lot: str
    is_doubtful: bool


def list_cucurbits(session: Session) -> frozenset[int]:
    """Return the ids of the crops that are cucurbits."""
    query = select(Crop.id, Crop.name, Crop.botanical).order_by(Crop.id)
    return frozenset(row for row, name, botanical in session.execute(query) if is_cucurbit(name, botanical))


def list_saved_cucurbits(session: Session) -> frozenset[int]:
    """Return the ids of the sowings of cucurbits whose seed was saved or swapped."""
    query = (
        select(Sowing.id, Crop.name, Crop.botanical)
        .join(Sowing.seed_lot)
        .join(Sowing.crop)
        .where(SeedLot.origin.in_(SAVED))
        .order_by(Sowing.id)
    )
    return frozenset(row for row, name, botanical in session.execute(query) if is_cucurbit(name, botanical))


def list_seed(session: Session, sowing_ids: Iterable[int]) -> dict[int, SeedRow]:
    """Return the seed of those of these sowings that have a seed lot, by their ids."""
    query = (
        select(Sowing.id, SeedLot.name, SeedLot.origin, Crop.name, Crop.botanical)
        .join(Sowing.seed_lot)
        .join(Sowing.crop)
        .where(Sowing.id.in_(list(sowing_ids)))
        .order_by(Sowing.id)
    )
    return {
        row: SeedRow(seed_lot, origin in SAVED and is_cucurbit(name, botanical))
        for row, seed_lot, origin, name, botanical in session.execute(query)
    }


def list_cells_of_sowings(session: Session, sowing_ids: Iterable[int]) -> list[CellRow]:
    """Return the cells of these sowings, by tray, row and column."""
    return [CellRow(*row) for row in session.execute(CELLS.where(Sowing.id.in_(list(sowing_ids))))]
