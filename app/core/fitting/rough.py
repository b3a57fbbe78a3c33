"""Lots of one kind together: soon an answer and bounds, however many lots there are."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.answer import Goal, Phase
from app.core.fitting.branching import WHOLE, WORTH_WAITING_S, least_with_patterns, most_used
from app.core.fitting.clock import Clock
from app.core.fitting.fixed import Fixed
from app.core.fitting.flows import FlowModel
from app.core.fitting.model import Model, ask_for_share, fill_trays, hold_share
from app.core.fitting.patterns import Patterns
from app.core.fitting.picked import Values
from app.core.fitting.programme import INFINITE, Open, Solved
from app.core.fitting.whole_plants import WholePlants
from app.core.fitting.whole_trays import WholeTrays

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

# What of the first two goals is given up in the programme of shares of lots, so that whole ones have some play.
PLAY = 0.001
# So much lots leave empty of the last tray of each group. [fraction]
LAST_EMPTY = 0.25
EMPTIEST = 0.6
# From which gap on the patterns are good enough: to go on from, and to be shown as a bound. [fraction]
GOOD_START = 5e-3
GOOD_ENOUGH = 5e-4
# How often rows for whole trays are looked for; with more trays than these they say next to nothing.
ROUNDS = 5
MOST_TRAYS = 10_000


class Room(NamedTuple):
    """The room that shares of lots leave for whole ones.

    Attributes:
        in_trays: So much of their trays lots of many sizes leave empty. [fraction]
        of_share: So much less the smallest share is than it could be then. [fraction]
    """

    in_trays: float
    of_share: float


# With more room all that was hoped for fits, with less of it more is hoped for: tried in this order, as long as there
# is time. Seen with gardens of 1,000 to 50,000 sowings.
ROOMS = tuple(
    Room(in_trays, of_share)
    for in_trays, of_share in (
        (0.035, 0.003),
        (0.02, 0.003),
        (0.03, 0.006),
        (0.01, 0.001),
        (0.025, 0.002),
        (0.015, 0.001),
        (0.015, 0.003),
        (0.03, 0.003),
        (0.02, 0.006),
        (0.005, 0.001),
    )
)


@dataclass
class Rough:
    """A levelling by kinds of lots.

    Attributes:
        model: The programme, with shares of lots and trays.
        patterns: When the trays of each group may stand.
        fixed: What is not free.
        clock: When to stop.
    """

    model: FlowModel
    patterns: Patterns
    fixed: Fixed
    clock: Clock

    def __post_init__(self) -> None:
        """Hand the programme to the solver."""
        self._programme: Open = self.model.programme.open(whole=False)
        chosen = self.model.is_used >= 0
        self._used, self._group = self.model.is_used[chosen], self.patterns.group[chosen]
        self._share = np.zeros_like(self.model.weights)
        self._share[self.model.share] = 1.0
        self._chosen: Floats | None = None

    def most_share(self) -> float:
        """Return what no smallest share can beat. [fraction]"""
        self.clock.enter(Phase.SHARE)
        self._programme.by_interior_points(first=True)
        self._fairest = self._most(self._share)
        self._fair_prices = self._programme.prices
        self._programme.by_interior_points(first=False)
        return min(1.0, self._fairest.bound)

    def most_whole_share(self, plants: WholePlants, least: Fraction) -> float:
        """Return what no smallest share of whole plants can beat. [fraction]

        Args:
            plants: The growers with a share that is within reach.
            least: That share. [fraction]
        """
        most = min(1.0, self._fairest.bound)
        return plants.most_share(self._fair_prices, least, most) if self._fairest.is_proven else most

    def hoped_share(self) -> float:
        """Return the smallest share that whole trays may be hoped to allow, the last one of each group half empty."""
        model, programme, fairest = self.model, self._programme, self._fairest
        if not fairest.is_proven or fairest.values is None:
            return 0.0
        fill_trays(programme, model, filled_part(model, fairest.values, 0.0))
        self._hold_plants(-INFINITE)
        ask_for_share(programme, model, 0.0)
        with self._in_chosen_patterns():
            share = self._most(self._share)
        fill_trays(programme, model, 1.0)
        return share.objective if share.is_proven else 0.0

    def near_best(self, room: Room) -> Floats | None:
        """Return near best shares of lots that leave whole lots some room; None where there is no time for it.

        Where much is left out, parts of patterns may come to a share that no choice of them gives. It is then the best
        with the patterns that are used most, from then on.
        """
        model, fairest = self.model, self._fairest
        if not fairest.is_proven or fairest.values is None:
            return None
        fill_trays(self._programme, model, filled_part(model, fairest.values, room.in_trays))
        values = self._near_best(room)
        if values is None and self._chosen is None and self.clock.left:
            self._chosen = most_used(self._group, fairest.values[self._used])
            values = self._near_best(room)
        fill_trays(self._programme, model, 1.0)
        return values

    def _near_best(self, room: Room) -> Floats | None:
        model, programme, values = self.model, self._programme, None
        self.clock.enter(Phase.PLANTS)
        with self._in_chosen_patterns():
            self._hold_plants(-INFINITE)
            ask_for_share(programme, model, 0.0)
            share = self._most(self._share)
            ask_for_share(programme, model, share.objective - room.of_share)
            plants = self._most(model.weights)
            if share.is_proven and plants.is_proven:
                self._hold_plants(plants.objective * (1 - PLAY))
                self.clock.enter(Phase.DAYS)
                if self._chosen is None:
                    clock = self.clock
                    values = least_with_patterns(
                        programme, model.days, self._used, self._group, clock, gap=GOOD_START
                    ).values
                else:
                    days = self._solve(model.days, largest=False)
                    values = days.values if days.is_proven else None
        return values

    @contextmanager
    def _in_chosen_patterns(self) -> Iterator[None]:
        if self._chosen is None:
            yield
            return
        self._programme.bound_columns(self._used, self._chosen, self._chosen)
        yield
        self._programme.bound_columns(self._used, np.zeros(len(self._used)), np.ones(len(self._used)))

    def bounds(self, reached: Values, plants: WholePlants, trays: WholeTrays) -> dict[Goal, float]:
        """Return what no answer can beat for each goal, holding what is reached of those before it.

        Args:
            reached: What the answer comes to.
            plants: The growers with the share that is reached.
            trays: What may be in the trays of each pattern.
        """
        model = self.model
        found: dict[Goal, float] = {Goal.SHARE: self.most_whole_share(plants, reached.share)}
        hold_share(self._programme, model, reached.share)
        self._hold_plants(-INFINITE)
        most = float(model.parts.plants @ model.weights[model.part_columns])
        solved = self._most(model.weights)
        if solved.is_proven:
            most = min(most, plants.most_plants(self._programme.prices))
        solved = self._in_whole_trays(model.weights, trays, largest=True)
        found[Goal.PLANTS] = float(np.floor(min(most, solved.bound) + 1e-4)) + self.fixed.weighted
        self._hold_plants(reached.plants - self.fixed.weighted - 0.5)
        for goal, cost, offset in ((Goal.DAYS, model.days, self.fixed.days), (Goal.TRAYS, model.tray_costs, 0)):
            self._in_whole_trays(cost, trays, largest=False)
            least = least_with_patterns(self._programme, cost, self._used, self._group, self.clock, gap=GOOD_ENOUGH)
            found[goal] = float(np.ceil(max(0.0, least.bound) - 1e-4)) + offset
            self._programme.bound_row(model.days_row, -INFINITE, reached.days - self.fixed.days + 0.5)
        return found

    def _in_whole_trays(self, cost: Floats, trays: WholeTrays, *, largest: bool) -> Solved:
        """Return what a goal comes to with rows for whole trays; they stay."""
        solved = self._solve(cost, largest=largest)
        for _ in range(ROUNDS):
            values = solved.values
            if values is None or not solved.is_proven or values[self.model.trays].sum() > MOST_TRAYS:
                break
            if not trays.add_rows(self._programme, values):
                break
            solved = self._solve(cost, largest=largest)
        return solved

    def _most(self, cost: Floats) -> Solved:
        return self._solve(cost, largest=True)

    def _solve(self, cost: Floats, *, largest: bool) -> Solved:
        seconds = max(self.clock.left, WORTH_WAITING_S)
        return self._programme.solve(cost, largest=largest, seconds=seconds, watch=self.clock.watch)

    def _hold_plants(self, least: float) -> None:
        self._programme.bound_row(self.model.plants_row, least, INFINITE)


def filled_part(model: Model, values: Floats, empty: float) -> float:
    """Return which part of their trays whole lots may be hoped to fill, if they leave some empty. [fraction]"""
    trays = values[model.trays]
    last_ones = LAST_EMPTY * float((trays > WHOLE).sum()) / max(1.0, float(trays.sum()))
    return max(EMPTIEST, 1 - empty - last_ones)
