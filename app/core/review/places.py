"""How full each place was, against its positions and against what was foreseen."""

from dataclasses import dataclass, replace

import numpy as np

from app.core.calendar import DAYS_IN_WEEK, NO_DAY
from app.core.plan import Plan
from app.core.space.ledger import Ledger, count_by_day, over_same_weeks
from app.core.words import PLACES, Place


@dataclass(frozen=True, kw_only=True)
class PlaceUse:
    """The use of one place.

    Attributes:
        place: Which.
        positions: Room for trays. [1]
        fullest: Trays on the fullest day. [1]
        fullest_week: The running number of its week; None where no tray stood there.
        foreseen: Trays on the fullest day that was foreseen. [1]
        tray_weeks: Trays times the weeks for which they stood there. [weeks]
        weeks: From the first to the last week with a tray there. [1]
        over_weeks: Weeks with a day on which there were more trays than positions. [1]
    """

    place: Place
    positions: int
    fullest: int
    fullest_week: int | None
    foreseen: int
    tray_weeks: float
    weeks: int
    over_weeks: int

    @property
    def used_fraction(self) -> float | None:
        """The share of its positions in use, day by day over its weeks; None without either. [fraction]"""
        return self.tray_weeks / (self.positions * self.weeks) if self.positions and self.weeks else None


@dataclass(frozen=True, kw_only=True)
class Used:
    """How full the shelves were.

    Attributes:
        ledger: Trays by the log, week by week, up to today.
        foreseen: The same by the plan without a log, over the same weeks.
        places: Each place.
    """

    ledger: Ledger
    foreseen: Ledger
    places: tuple[PlaceUse, ...]


def use_of_places(plan: Plan, foreseen: Plan) -> Used:
    """Return how full each place was, to the end of today.

    Args:
        plan: The plan that goes by the log; what stood where is what it has by the days that are written down.
        foreseen: The plan without a log.
    """
    stays, today = plan.stays, plan.garden.today
    end = stays.end if today == NO_DAY else np.minimum(stays.end, today + 1)
    # A tray of a sowing that was never begun stood nowhere, however long it was foreseen.
    stood = _stood(plan)
    trays = np.bincount(plan.trays.group, weights=stood, minlength=int(stays.group.max(initial=-1)) + 1)
    first_week, by_day = count_by_day(stays.place, stays.begin, end, trays[stays.group], n_kinds=len(PLACES))
    by_week = by_day.reshape(len(PLACES), -1, DAYS_IN_WEEK)
    ledger = Ledger(
        first_week=first_week, needed=by_week.max(axis=2).T.astype(np.int64), positions=plan.ledger.positions
    )
    planned = foreseen.ledger
    if today != NO_DAY and len(planned.needed):
        planned = replace(
            planned, needed=planned.needed[: max(0, (today - 1) // DAYS_IN_WEEK + 1 - planned.first_week)]
        )
    places = tuple(
        _use(ledger, float(by_day[at].sum()) / DAYS_IN_WEEK, at, int(foreseen.ledger.needed[:, at].max(initial=0)))
        for at in range(len(PLACES))
    )
    same, planned = over_same_weeks(ledger, planned)
    return Used(ledger=same, foreseen=planned, places=places)


def _stood(plan: Plan) -> "np.ndarray[tuple[int], np.dtype[np.float64]]":
    """Return 1 for each tray in which anything was sown by the log or the marks on trays, else 0. Shape (n_trays,)."""
    trays = plan.trays
    is_begun = (plan.progress.sown_on != NO_DAY)[trays.part_lot]
    is_potted = (plan.progress.potted_on != NO_DAY)[trays.part_lot]
    begun = np.where(trays.is_potted_on[trays.part_tray], is_potted, is_begun)
    stood = np.zeros(len(trays.group))
    np.maximum.at(stood, trays.part_tray, begun.astype(np.float64))
    return stood


def _use(ledger: Ledger, tray_weeks: float, at: int, foreseen: int) -> PlaceUse:
    needed = ledger.needed[:, at]
    used = np.flatnonzero(needed)
    positions = int(ledger.positions[at])
    return PlaceUse(
        place=PLACES[at],
        positions=positions,
        fullest=int(needed.max(initial=0)),
        fullest_week=ledger.first_week + int(needed.argmax()) if len(used) else None,
        foreseen=foreseen,
        tray_weeks=tray_weeks,
        weeks=int(used[-1] - used[0]) + 1 if len(used) else 0,
        over_weeks=int((needed > positions).sum()),
    )
