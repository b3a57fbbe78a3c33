"""Which seed lot each sowing takes, and whose seed it is, for the list of what to have."""

from typing import NamedTuple

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.storage.models import SeedLot, Sowing


class SownLot(NamedTuple):
    """The seed lot of a sowing."""

    id: int
    name: str
    variety: str | None


def list_sown_lots(session: Session) -> dict[int, SownLot]:
    """Return the seed lot of each sowing that has one, by the id of the sowing."""
    query = (
        select(Sowing.id, SeedLot.id, SeedLot.name, SeedLot.variety)
        .join(SeedLot, Sowing.seed_lot_id == SeedLot.id)
        .order_by(Sowing.id)
    )
    lots: dict[int, SownLot] = {}
    found: dict[int, SownLot] = {}
    for sowing_id, lot_id, name, variety in session.execute(query):
        if lot_id not in lots:
            lots[lot_id] = SownLot(lot_id, name, variety)
        found[sowing_id] = lots[lot_id]
    return found


def find_brought(session: Session) -> frozenset[int]:
    """Return the ids of the sowings whose growers bring the seed themselves."""
    return frozenset(session.scalars(select(Sowing.id).where(Sowing.brings_seed)))
