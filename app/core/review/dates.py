"""Foreseen days beside real ones: how late each step of each sowing was."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY, Days
from app.core.dates.timeline import Timeline
from app.core.log.entries import HANDED_OUT, PLANTED_OUT, Log
from app.core.log.state import Logged
from app.language import N_

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

# Up to so many days off counts as in time: it is looked at the shelves once a week or so; chosen here.
IN_TIME_DAYS = 3

STEPS = (N_("sown"), N_("came up"), N_("potted on"), N_("handed out"))
N_STEPS = len(STEPS)


@dataclass(frozen=True, kw_only=True)
class StepDates:
    """The days of each step of each sowing; 0 where there is none. Columns are `STEPS`, shape (n_sowings, 4).

    Attributes:
        foreseen: By the plan without a log. [day number]
        real: By the log. [day number]
    """

    foreseen: Days
    real: Days

    @property
    def is_known(self) -> Flags:
        """Whether a step has both its days. Shape (n_sowings, 4)."""
        known: Flags = (self.foreseen != NO_DAY) & (self.real != NO_DAY)
        return known

    @property
    def late_days(self) -> Ints:
        """How late each step was, negative for early; only where both days are known. Shape (n_sowings, 4). [d]"""
        return np.where(self.is_known, self.real - self.foreseen, 0)


@dataclass(frozen=True, kw_only=True)
class Lateness:
    """How late one step was in a number of sowings.

    Attributes:
        n: Sowings of which both days are known. [1]
        mean_days: The mean; negative for early. [d]
        median_days: The median. [d]
        earliest_days: The one that was the earliest against its plan. [d]
        latest_days: The latest. [d]
        in_time: Sowings at most three days off. [1]
    """

    n: int
    mean_days: float
    median_days: float
    earliest_days: int
    latest_days: int
    in_time: int


def step_dates(foreseen: Timeline, logged: Logged, log: Log) -> StepDates:
    """Return the days of the four steps.

    What is handed out or planted out counts from the first day on which any of the sowing was.

    Args:
        foreseen: The dates of the plan without a log.
        logged: What the log comes to.
        log: The entries.
    """
    n = len(logged.sown_on)
    return StepDates(
        foreseen=np.stack([foreseen.sow_on, foreseen.emerges, foreseen.pot_on, foreseen.plant_out], axis=1),
        real=np.stack([logged.sown_on, logged.up_on, logged.potted_on, _first_out(log, n)], axis=1),
    )


def lateness(dates: StepDates, step: int, sowings: Flags) -> Lateness | None:
    """Return how late a step was in some sowings; None where no day is known of any.

    Args:
        dates: The days.
        step: Index into `STEPS`.
        sowings: Which sowings count. Shape (n_sowings,).
    """
    counts = dates.is_known[:, step] & sowings
    late = dates.late_days[counts, step]
    if not len(late):
        return None
    return Lateness(
        n=len(late),
        mean_days=float(late.mean()),
        median_days=float(np.median(late)),
        earliest_days=int(late.min()),
        latest_days=int(late.max()),
        in_time=int((np.abs(late) <= IN_TIME_DAYS).sum()),
    )


def _first_out(log: Log, n: int) -> Days:
    """Return the first day on which any of each sowing left for the plots. Shape (n,). [day number]"""
    entries = np.concatenate([log.of(HANDED_OUT), log.of(PLANTED_OUT)])
    first = np.full(n, np.iinfo(np.int64).max)
    np.minimum.at(first, log.sowing[entries], log.day[entries])
    return np.where(first == np.iinfo(np.int64).max, NO_DAY, first)
