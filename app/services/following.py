"""Trays that are begun follow the log: where they stand, and until when."""

from typing import TYPE_CHECKING

import numpy as np

from app.core.calendar import as_date
from app.core.dealing.following import Follows, follow
from app.core.words import PLACES
from app.services.plan import get_plan
from app.storage.models import Stay
from app.storage.queries.dealt import get_dealt_stays
from app.storage.queries.garden import find_garden
from app.storage.queries.trays import replace_stays
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from collections.abc import Iterable

    from app.core.dealing.placing import DealtStays
    from app.core.plan import Plan
    from app.storage import Session


def follow_log(session: "Session", sowing_ids: "Iterable[int]") -> int:
    """Let the begun trays stand as long as the plan has them after an entry, each in its position.

    Args:
        session: Its transaction takes it.
        sowing_ids: The sowings that the entry is of; what stands beside them moves with them.

    Returns:
        The number of trays whose days have changed. [1]
    """
    hold_writes(session)
    if find_garden(session) is None:
        return 0
    plan = get_plan(session)
    if not plan.garden.dealt.is_filled.any():
        return 0
    stays = get_dealt_stays(session, plan.garden)
    index = np.array([plan.index_of[sowing] for sowing in sowing_ids], dtype=np.int64)
    changed = follow(plan, stays, index)
    if changed:
        ids = [int(plan.garden.dealt.ids[tray]) for tray in changed]
        own = zip(ids, changed.values(), strict=True)
        replace_stays(session, ids, [_stay(plan, stays, tray, stay) for tray, found in own for stay in found])
    return len(changed)


def _stay(plan: "Plan", stays: "DealtStays", tray_id: int, stay: Follows) -> Stay:
    at, waits = stay.before, stay.before < 0
    return Stay(
        tray_id=tray_id,
        place=PLACES[stay.place],
        shelf_id=None if waits else plan.garden.shelves[int(stays.shelf[at])].id,
        level=None if waits else int(stays.level[at]),
        slot=None if waits else int(stays.slot[at]),
        begin_on=as_date(stay.begin),
        end_on=as_date(stay.end),
        pinned=not waits and bool(stays.is_pinned[at]),
    )
