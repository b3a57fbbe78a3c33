"""Why a levelling changes what it changes: the full places, who is left out and what else would do, each one's share."""

from dataclasses import dataclass
from enum import StrEnum

from app.core.fitting.answer import Answer
from app.core.ledger import Ledger


class Why(StrEnum):
    """Why a sowing is changed; the first that holds, in this order.

    FULL: it leaves place and weeks that were over-full. ROOM: it leaves place and weeks that are full of others now.
    MORE: there is room for more of its plants than it was granted. NEARER: it comes nearer to its best day.
    TRAYS: it fills up trays of others. SAME: what is set for it changes, but neither day, place nor plants do.
    """

    FULL = "full"
    ROOM = "room"
    MORE = "more"
    NEARER = "nearer"
    TRAYS = "trays"
    SAME = "same"


@dataclass(frozen=True, kw_only=True)
class FullWeeks:
    """Weeks in which a place is full or over-full.

    Attributes:
        place: Index of the place.
        weeks: Running numbers of the weeks (`core.calendar.week_number`), rising.
        over: Trays beyond its positions in the fullest of these weeks; 0 where it is full and no more, negative where
            some positions are free, but too few. [1]
    """

    place: int
    weeks: tuple[int, ...]
    over: int


@dataclass(frozen=True, kw_only=True)
class Change:
    """A sowing for which something else is to be written; pairs are before and after.

    Attributes:
        sowing: Index of the sowing.
        day: Sowing day. [day number]
        light: Index of the light place.
        off: Days from its best day, negative for earlier. [d]
        wanted: Plants wanted. [1]
        placed: Plants that are given room. [1]
        why: Why it is changed.
        full: The place and weeks of which `why` speaks: of the plan as it was for FULL and TRAYS, of the new one for
            ROOM, else none.
    """

    sowing: int
    day: tuple[int, int]
    light: tuple[int, int]
    off: tuple[int, int]
    wanted: int
    placed: tuple[int, int]
    why: Why
    full: tuple[FullWeeks, ...]


@dataclass(frozen=True, kw_only=True)
class Alternative:
    """Sowing and planting out moved together by whole weeks, so that the plants left out fit in trays of their own.

    Attributes:
        weeks: Weeks by which it is later, negative for earlier; 0 where there is room at its own dates. [weeks]
        sow_on: Sowing day then. [day number]
        plant_out: Day of planting out then. [day number]
        is_early: Whether that is before the first day outside by the frost dates.
    """

    weeks: int
    sow_on: int
    plant_out: int
    is_early: bool


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """A sowing of which not all plants, or none, find room in the new plan.

    Attributes:
        sowing: Index of the sowing.
        wanted: Plants wanted. [1]
        placed: Plants placed. [1]
        full: Place and weeks of the new plan, at the sowing's dates there, in which trays for the rest have no room.
        alternative: The nearest later weeks that do, else the nearest earlier ones; None where there are none. It is
            found for each sowing as if it alone were moved.
    """

    sowing: int
    wanted: int
    placed: int
    full: tuple[FullWeeks, ...]
    alternative: Alternative | None


@dataclass(frozen=True, kw_only=True)
class GrowerShare:
    """What a grower gets of the plants that need room on the shelves.

    Attributes:
        grower: Index of the grower.
        wanted: Plants wanted of sowings that are started indoors. [1]
        placed: Of these, plants that are given room, before and after. [1]
    """

    grower: int
    wanted: int
    placed: tuple[int, int]

    @property
    def share(self) -> tuple[float, float]:
        """The share that is given room, before and after. [fraction]"""
        return self.placed[0] / self.wanted, self.placed[1] / self.wanted


@dataclass(frozen=True, kw_only=True)
class Explained:
    """An answer explained.

    Attributes:
        changes: Every sowing that is changed, in the order of the sowings.
        left_out: Every sowing that levelling leaves out wholly or in part, in the order of the sowings.
        shares: Every grower with sowings that need room on the shelves, in the order of the growers.
        before: The ledger as it was.
        after: The ledger then, over the same weeks.
    """

    changes: tuple[Change, ...]
    left_out: tuple[LeftOut, ...]
    shares: tuple[GrowerShare, ...]
    before: Ledger
    after: Ledger


def explain(answer: Answer, *, today: int) -> Explained:
    """Return what an answer changes and why.

    Args:
        answer: The answer.
        today: No alternative is sown before it, unless the season is over. [day number]
    """
    raise NotImplementedError
