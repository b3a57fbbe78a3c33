"""How many spare plants of each crop are still to be had."""

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.storage.models import Sowing, SpareGift, SpareOffer

_GIVEN = select(SpareGift.offer_id, func.sum(SpareGift.plants).label("plants")).group_by(SpareGift.offer_id).subquery()
SPARES = (
    select(Sowing.crop_id, func.sum(SpareOffer.plants - func.coalesce(_GIVEN.c.plants, 0)))
    .join(Sowing, Sowing.id == SpareOffer.sowing_id)
    .outerjoin(_GIVEN, _GIVEN.c.offer_id == SpareOffer.id)
    .group_by(Sowing.crop_id)
)


def count_spares(session: Session) -> dict[int, int]:
    """Return the plants that are offered and not yet given away, by the row number of the crop card. [1]"""
    return {crop: int(plants) for crop, plants in session.execute(SPARES) if plants > 0}
