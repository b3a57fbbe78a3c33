"""Looking back on the season."""

from typing import TYPE_CHECKING

from app.core.review.season import Review, look_back
from app.services.plan import get_plan

if TYPE_CHECKING:
    from app.storage import Session


def get_review(session: "Session") -> Review:
    """Return the season looked back on, or raise NoGardenError."""
    return look_back(get_plan(session))
