"""Who got what share of the plants they wished for, and which sowings were late or failed."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY
from app.core.cards import Sowings
from app.core.plan import Plan
from app.core.work.spares import Given
from app.language import N_

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

# A sowing that is so much later than foreseen is called late; a hand-out day later, chosen here.
LATE_DAYS = 7


class Ended(StrEnum):
    """What became of a sowing."""

    WHOLE = N_("all plants handed out")
    PART = N_("some plants handed out")
    FAILED = N_("failed")
    TOO_LATE = N_("not sown")
    SILENT = N_("not said what became of it")
    GROWING = N_("still growing")
    TO_COME = N_("still to come")


ENDINGS: tuple[Ended, ...] = tuple(Ended)
# Of these nothing more is to come.
FINAL = (Ended.WHOLE, Ended.PART, Ended.FAILED, Ended.TOO_LATE, Ended.SILENT)


@dataclass(frozen=True, kw_only=True)
class Shares:
    """What each sowing that is started indoors came to; sowings outside have none. All of shape (n_sowings,).

    Attributes:
        is_counted: Whether the sowing is started indoors.
        wanted: Plants wished for. [1]
        got: Plants handed out or planted out, to its own grower. [1]
        given: Spare plants of it that went to other growers. [1]
        here: Plants that are still on the shelves. [1]
        ended: Index into `ENDINGS`.
        is_late: Whether it was handed out, or is foreseen, more than a week later than it was first.
        gifts: Spare plants that went from one grower to another.
        sowings: The sowings.
    """

    is_counted: Flags
    wanted: Ints
    got: Ints
    given: Ints
    here: Ints
    ended: Ints
    is_late: Flags
    gifts: tuple[Given, ...]
    sowings: Sowings

    def share(self, grower: int) -> float | None:
        """Return the share of the plants wished for that a grower has got; None where they wished for none. [fraction]

        Spare plants that they got make up for what is missing of the same crop. More than was wished of one sowing
        does not make up for less of another.

        Args:
            grower: Index of the grower.
        """
        counts = self.is_counted & (self.sowings.grower == grower)
        wanted = int(self.wanted[counts].sum())
        if not wanted:
            return None
        missing = np.maximum(0, self.wanted - self.got)
        had = wanted - int(missing[counts].sum())
        for crop, spare in self._spare_by_crop(grower).items():
            had += min(spare, int(missing[counts & (self.sowings.crop == crop)].sum()))
        return had / wanted

    def spare_got(self, grower: int) -> int:
        """Return the spare plants that a grower got from others. [1]"""
        return sum(self._spare_by_crop(grower).values())

    def _spare_by_crop(self, grower: int) -> dict[int, int]:
        found: dict[int, int] = {}
        for gift in self.gifts:
            if gift.grower == grower:
                crop = int(self.sowings.crop[gift.sowing])
                found[crop] = found.get(crop, 0) + gift.plants
        return found

    def has_ended(self) -> Flags:
        """Return of which sowings nothing more is to come. Shape (n_sowings,)."""
        return self.is_counted & np.isin(self.ended, [ENDINGS.index(one) for one in FINAL])


def shares_of(plan: Plan, foreseen: Plan, out_on: Ints, gifts: tuple[Given, ...] = ()) -> Shares:
    """Return what each sowing came to.

    Args:
        plan: The plan that goes by the log.
        foreseen: The plan without a log.
        out_on: The first day on which any of each was handed out; 0 where none was. Shape (n_sowings,). [day number]
        gifts: Spare plants that went from one grower to another; in the log they are handed out.

    Source:
        What counts as late, failed and forgotten is chosen here (docs/method.md).
    """
    logged, today = plan.logged, plan.garden.today
    is_counted = plan.first_place >= 0
    left, given = logged.left, np.zeros(len(logged.left), dtype=np.int64)
    for gift in gifts:
        # Who gives to themselves has it all the same.
        given[gift.sowing] += gift.plants * (gift.grower != plan.garden.sowings.grower[gift.sowing])
    given = np.minimum(given, left)
    is_sown = plan.progress.sown_on != NO_DAY
    is_over = plan.progress.over_on != NO_DAY
    out = np.where(out_on != NO_DAY, out_on, plan.timeline.plant_out)
    # A week after the last day in question has passed nobody will write down any more what was done.
    is_past = (today != NO_DAY) & (today > np.maximum(plan.due.plant_out, foreseen.timeline.plant_out) + LATE_DAYS)
    is_unsown = ~is_sown & (plan.is_too_late | is_past)
    order = (
        (left >= plan.garden.sowings.plants, Ended.WHOLE),
        (is_over & (left == 0), Ended.FAILED),
        (is_over | (is_past & (left > 0)), Ended.PART),
        (is_unsown, Ended.TOO_LATE),
        (is_past, Ended.SILENT),
        (is_sown, Ended.GROWING),
    )
    ended = np.select(
        [holds for holds, _ in order], [ENDINGS.index(one) for _, one in order], ENDINGS.index(Ended.TO_COME)
    )
    return Shares(
        is_counted=is_counted,
        wanted=plan.garden.sowings.plants,
        got=left - given,
        given=given,
        here=np.where(is_over | is_past, 0, plan.living),
        ended=ended.astype(np.int64),
        is_late=is_counted & ~is_unsown & (out > foreseen.timeline.plant_out + LATE_DAYS),
        gifts=gifts,
        sowings=plan.garden.sowings,
    )
