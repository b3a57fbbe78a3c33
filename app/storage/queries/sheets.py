"""What sheets say beside the plan: how deep to sow, and which seed is doubtful."""

from collections.abc import Iterable
from typing import NamedTuple

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.cucurbits import is_cucurbit
from app.core.words import Origin
from app.storage.models import Crop, Grower, SeedLot, Sowing
from app.storage.queries.trays import CELLS, CellRow

SAVED = frozenset({Origin.SAVED, Origin.GIFT})


class SeedRow(NamedTuple):
    """What the bench has to know of a sowing.

    Attributes:
        plot: The grower's plot; None where none is given.
        seed_lot: Name of the seed lot; None where none is given.
        sow_depth_mm: How deep it is sown, where the crop card says. [mm]
        needs_light: Whether the seed comes up in the light only; None where the card does not say.
        is_doubtful: Whether it is a cucurbit from saved or swapped seed.
    """

    plot: str | None
    seed_lot: str | None
    sow_depth_mm: float | None
    needs_light: bool | None
    is_doubtful: bool


def list_sow_depths(session: Session) -> dict[int, float]:
    """Return how deep each crop is sown, by its id, where its card says. [mm]"""
    query = select(Crop.id, Crop.sow_depth_mm).where(Crop.sow_depth_mm.is_not(None)).order_by(Crop.id)
    return {crop_id: depth for crop_id, depth in session.execute(query) if depth is not None}


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
    """Return what the bench has to know of these sowings, by their ids."""
    query = (
        select(
            Sowing.id,
            Grower.plot,
            SeedLot.name,
            Crop.sow_depth_mm,
            Crop.light_to_germinate,
            SeedLot.origin,
            Crop.name,
            Crop.botanical,
        )
        .join(Sowing.grower)
        .join(Sowing.crop)
        .outerjoin(Sowing.seed_lot)
        .where(Sowing.id.in_(list(sowing_ids)))
        .order_by(Sowing.id)
    )
    return {
        row: SeedRow(plot, seed_lot, depth, needs_light, origin in SAVED and is_cucurbit(name, botanical))
        for row, plot, seed_lot, depth, needs_light, origin, name, botanical in session.execute(query)
    }


def list_cells_of_sowings(session: Session, sowing_ids: Iterable[int]) -> list[CellRow]:
    """Return the cells of these sowings, by tray, row and column."""
    return [CellRow(*row) for row in session.execute(CELLS.where(Sowing.id.in_(list(sowing_ids))))]
