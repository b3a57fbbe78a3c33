"""What sheets say beside the plan: how deep to sow, and which seed is doubtful."""

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.cucurbits import is_cucurbit
from app.core.words import Origin
from app.storage.models import Crop, SeedLot, Sowing


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
        .where(SeedLot.origin.in_((Origin.SAVED, Origin.GIFT)))
        .order_by(Sowing.id)
    )
    return frozenset(row for row, name, botanical in session.execute(query) if is_cucurbit(name, botanical))
