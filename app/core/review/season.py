"""A season looked back on: dates, germination, losses, places and shares, all from one plan and one log."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from app.core.calendar import NO_DAY
from app.core.dealing.placing import DealtStays
from app.core.log.entries import Log
from app.core.plan import Plan, make_plan
from app.core.review.dates import StepDates, step_dates
from app.core.review.losses import Losses, losses_of
from app.core.review.places import Used, use_of_places
from app.core.review.seed import CameUp, came_up_of_crops, came_up_of_lots
from app.core.review.shares import Shares, shares_of
from app.core.space.dealt import Dealt
from app.core.work.spares import Given


@dataclass(frozen=True, kw_only=True)
class Review:
    """A season looked back on.

    Attributes:
        plan: The plan that goes by the log.
        foreseen: The plan of the same garden without log, without trays and without today.
        dates: Foreseen and real days.
        lots: What came up of each seed lot.
        crops: What came up of each crop.
        losses: What was lost.
        used: How full the places were.
        shares: What each sowing came to.
    """

    plan: Plan
    foreseen: Plan
    dates: StepDates
    lots: tuple[CameUp, ...]
    crops: tuple[CameUp, ...]
    losses: Losses
    used: Used
    shares: Shares

    @property
    def is_empty(self) -> bool:
        """Whether nothing is written down at all."""
        return not len(self.plan.garden.log)

    @property
    def is_over(self) -> bool:
        """Whether nothing more is to come of any sowing, or days do not pass."""
        return self.plan.garden.today == NO_DAY or bool((self.shares.has_ended() | ~self.shares.is_counted).all())


def look_back(plan: Plan, stays: DealtStays | None = None, given: Iterable[Given] = ()) -> Review:
    """Return a season looked back on.

    Args:
        plan: The plan that goes by the log.
        stays: Where dealt trays stood; None where nothing is dealt.
        given: Spare plants that went from one grower to another.

    Source:
        docs/method.md, Looking back.
    """
    foreseen = make_plan(replace(plan.garden, log=Log(), today=NO_DAY, dealt=Dealt()))
    dates = step_dates(foreseen.timeline, plan.logged, plan.garden.log)
    return Review(
        plan=plan,
        foreseen=foreseen,
        dates=dates,
        lots=came_up_of_lots(plan),
        crops=came_up_of_crops(plan),
        losses=losses_of(plan, stays),
        used=use_of_places(plan, foreseen),
        shares=shares_of(plan, foreseen, np.ascontiguousarray(dates.real[:, -1]), tuple(given)),
    )
