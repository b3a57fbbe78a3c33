"""What levelling is asked, what it says while it looks, and what it answers."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import Days
from app.core.cards import Garden
from app.core.plan import Plan, make_plan

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]


class Goal(StrEnum):
    """The goals of levelling, in their order; none gives up what an earlier one reached."""

    SHARE = "share"
    PLANTS = "plants"
    DAYS = "days"
    TRAYS = "trays"


class Phase(StrEnum):
    """What a levelling is doing."""

    DATES = "dates"
    SHARE = "share"
    PLANTS = "plants"
    DAYS = "days"
    TRAYS = "trays"
    EXTRA = "extra"
    CHECK = "check"


@dataclass(frozen=True, kw_only=True)
class Reached:
    """How far a goal is reached.

    Attributes:
        goal: Which goal.
        value: What the best answer so far comes to: the smallest share of wanted plants [fraction], placed plants
            times 4 - priority [1], plant-days away from the best day [d], trays [1].
        bound: What no answer can beat that holds the earlier goals; in the same unit.
    """

    goal: Goal
    value: float
    bound: float

    @property
    def gap(self) -> float:
        """How far the value may be from the best there is. [fraction]"""
        return abs(self.value - self.bound) / max(1.0, abs(self.value))


@dataclass(frozen=True, kw_only=True)
class Choices:
    """What a levelling would write to the columns of the same names of the garden's sowings; all of shape (n,).

    Attributes:
        sow_on: The day set; 0 for none. [day number]
        light: Index of the place in place of the card's light; -1 for none.
        placed: Plants granted; -1 where all are. [1]
    """

    sow_on: Days
    light: Ints
    placed: Ints

    def is_changed(self, garden: Garden) -> Flags:
        """Whether a sowing gets anything else than it has. Shape (n,)."""
        now = garden.sowings
        same = (self.sow_on == now.sow_on) & (self.light == now.light) & (self.placed == now.placed)
        changed: Flags = ~same
        return changed

    def made_in(self, garden: Garden) -> Garden:
        """Return the garden with these choices made."""
        sowings = replace(garden.sowings, sow_on=self.sow_on, light=self.light, placed=self.placed)
        return replace(garden, sowings=sowings)


@dataclass(frozen=True, kw_only=True)
class Stuck:
    """A place that is over-full on some days by what is sown or pinned alone, which levelling does not touch.

    Attributes:
        place: Index of the place.
        first: First such day. [day number]
        last: Last such day. [day number]
        over: By how many positions at most. [1]
    """

    place: int
    first: int
    last: int
    over: int


@dataclass(frozen=True, kw_only=True)
class Extra:
    """The fewest extra positions with which everything fits, every sowing in its window and with all its plants.

    Attributes:
        positions: More positions of each place: heat, lamp, window, hardening. Shape (4,). [1]
        bound: What no answer can beat for their sum. [1]
        choices: The sowing days and places with which they do.
    """

    positions: tuple[int, ...]
    bound: int
    choices: Choices


@dataclass(frozen=True, kw_only=True)
class Progress:
    """What a levelling says while it looks.

    Attributes:
        phase: What it is doing.
        reached: The goals for which there is an answer or a bound so far, in order.
    """

    phase: Phase
    reached: tuple[Reached, ...]


@dataclass(frozen=True, kw_only=True)
class Answer:
    """A plan that fits.

    Attributes:
        garden: The garden as it was.
        choices: What would change.
        reached: The four goals.
        extra: What it would take for everything to fit; None where it was stopped before that was known.
        stuck: Where what is sown or pinned alone does not fit.
        is_stopped: Whether it was stopped, by somebody or by its time, before every goal was proven.
    """

    garden: Garden
    choices: Choices
    reached: tuple[Reached, ...]
    extra: Extra | None
    stuck: tuple[Stuck, ...]
    is_stopped: bool

    @property
    def gap(self) -> float:
        """The largest gap of any goal. [fraction]"""
        return max((reached.gap for reached in self.reached), default=0.0)

    @cached_property
    def before(self) -> Plan:
        """The plan as it was."""
        return make_plan(self.garden)

    @cached_property
    def after(self) -> Plan:
        """The plan with the choices made."""
        return make_plan(self.choices.made_in(self.garden))


# Called every half second or so while a levelling runs.
Report = Callable[[Progress], None]
IsStopped = Callable[[], bool]
