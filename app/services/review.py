"""Looking back on the season."""

from typing import TYPE_CHECKING

from app.core.review.season import Review, look_back
from app.services.plan import get_plan
from app.services.spares import given_of
from app.storage.queries.dealt import get_dealt_stays
from app.storage.queries.spares import list_gifts

if TYPE_CHECKING:
    from app.storage import Session


def get_review(session: "Session") -> Review:
    """Return the season looked back on, or raise NoGardenError."""
    plan = get_plan(session)
    return look_back(plan, get_dealt_stays(session, plan.garden), given_of(plan, list_gifts(session)))
