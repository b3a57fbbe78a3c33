"""How many spare plants of each crop are still to be had."""

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.storage.models import Sowing, SpareGift, SpareOffer


def count_spares(session: Session) -> dict[int, int]:
    """Return the plants that are offered and not yet given away, by the row number of the crop card. [1]"""
    given = (
        select(SpareGift.offer_id, func.sum(SpareGift.plants).label("plants")).group_by(SpareGift.offer_id).subquery()
    )
    query = (
        select(Sowing.crop_id, func.sum(SpareOffer.plants - func.coalesce(given.c.plants, 0)))
        .join(Sowing, Sowing.id == SpareOffer.sowing_id)
        .outerjoin(given, given.c.offer_id == SpareOffer.id)
        .group_by(Sowing.crop_id)
    )
    return {crop: int(plants) for crop, plants in session.execute(query) if plants > 0}
