"""What one plan of a garden does differently from another, sowing by sowing and crop by crop."""

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY, Days
from app.core.plan import Plan, Warned
from app.core.plants.season import Verdict

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Span:
    """The earliest and the latest of some days; both None where there are none."""

    first: date | None
    last: date | None


@dataclass(frozen=True, kw_only=True)
class CropChange:
    """One crop before and after.

    Attributes:
        crop: Index of the crop card.
        sowings: Sowings of the crop. [1]
        moved: Sowings that are sown on another day. [1]
        least_days: The smallest move of those that move, negative for earlier; 0 where none does. [d]
        most_days: The largest move. [d]
        sown: Days on which it is sown: indoors the sowing day, outside the first good day. Before and after.
        planted_out: Days on which it is planted out. Before and after.
        verdict: The season's verdict. Before and after.
        too_long: Sowings that no longer ripen. Before and after. [1]
    """

    crop: int
    sowings: int
    moved: int
    least_days: int
    most_days: int
    sown: tuple[Span, Span]
    planted_out: tuple[Span, Span]
    verdict: tuple[Verdict, Verdict]
    too_long: tuple[int, int]

    @property
    def is_one(self) -> bool:
        """Whether anything is different."""
        pairs = (self.sown, self.planted_out, self.verdict, self.too_long)
        return bool(self.moved) or any(before != after for before, after in pairs)


@dataclass(frozen=True, kw_only=True)
class PlanChange:
    """A plan before and after a setting was changed, for the same sowings in the same order.

    Attributes:
        crops: Every crop that has sowings or whose verdict changes, in the order of the cards.
        moved: Sowings that are sown on another day. [1]
        held: Sowings whose day was set by hand, so that they stay. [1]
        least_days: The smallest move of those that move, negative for earlier; 0 where none does. [d]
        most_days: The largest move. [d]
        over_weeks: Over-full weeks of each place, before and after. [1]
    """

    crops: tuple[CropChange, ...]
    moved: int
    held: int
    least_days: int
    most_days: int
    over_weeks: tuple[tuple[int, int], ...]


def compare_plans(before: Plan, after: Plan) -> PlanChange:
    """Return what changes from one plan to the other; both have the same sowings, cards and shelves."""
    days_before, days_after = _sown(before), _sown(after)
    moves = days_after - days_before
    least, most = _range(moves)
    crops = (_crop(index, before, after, (days_before, days_after)) for index in range(len(before.garden.cards)))
    over = ((plan.ledger.free < 0).sum(axis=0).tolist() for plan in (before, after))
    return PlanChange(
        crops=tuple(crop for crop in crops if crop.sowings or crop.is_one),
        moved=int((moves != 0).sum()),
        held=int((before.garden.sowings.sow_on != NO_DAY).sum()),
        least_days=least,
        most_days=most,
        over_weeks=tuple(zip(*over, strict=True)),
    )


def _sown(plan: Plan) -> Days:
    """Return the sowing day of each sowing, outside the first good day."""
    line = plan.timeline
    return np.where(line.sow_on == NO_DAY, line.sow_from, line.sow_on)


def _range(moves: Ints) -> tuple[int, int]:
    """Return the smallest and the largest move of those that move, 0 where none does."""
    moved = moves[moves != 0]
    return (int(moved.min()), int(moved.max())) if len(moved) else (0, 0)


def _crop(index: int, before: Plan, after: Plan, sown: tuple[Days, Days]) -> CropChange:
    own = before.garden.sowings.crop == index
    moves = (sown[1] - sown[0])[own]
    least, most = _range(moves)
    return CropChange(
        crop=index,
        sowings=int(own.sum()),
        moved=int((moves != 0).sum()),
        least_days=least,
        most_days=most,
        sown=(_span(sown[0], own), _span(sown[1], own)),
        planted_out=(_span(before.timeline.plant_out, own), _span(after.timeline.plant_out, own)),
        verdict=(before.fits[index].verdict, after.fits[index].verdict),
        too_long=(_too_long(before, own), _too_long(after, own)),
    )


def _too_long(plan: Plan, chosen: Flags) -> int:
    return int(np.count_nonzero(plan.warned[chosen] & int(Warned.TOO_LONG)))


def _span(days: Days, chosen: Flags) -> Span:
    there = days[chosen & (days != NO_DAY)]
    if not len(there):
        return Span(first=None, last=None)
    return Span(first=date.fromordinal(int(there.min())), last=date.fromordinal(int(there.max())))
