"""Lots of one class together: soon an answer and bounds, however many lots there are."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.answer import Goal, Phase
from app.core.fitting.branching import least_with_patterns
from app.core.fitting.clock import Clock
from app.core.fitting.fixed import Fixed
from app.core.fitting.model import Model
from app.core.fitting.patterns import Patterns
from app.core.fitting.picked import Values
from app.core.fitting.programme import INFINITE, Open, Solved

Floats = NDArray[np.float64]

# What of the first two goals is given up in the programme of shares of lots, so that whole ones have some play.
SHARE_PLAY = 0.004
PLANTS_PLAY = 0.002
GOOD_ENOUGH = 5e-4


@dataclass
class Rough:
    """A levelling by classes of lots.

    Attributes:
        model: The programme, with shares of lots and trays.
        patterns: When the trays of each group may stand.
        fixed: What is not free.
        clock: When to stop.
    """

    model: Model
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

    def search(self) -> tuple[Floats | None, dict[Goal, float]]:
        """Return near best shares of lots, and what no answer can beat for the first goal."""
        model, programme = self.model, self._programme
        self.clock.enter(Phase.SHARE)
        programme.by_interior_points(first=True)
        share = self._most(self._share)
        programme.by_interior_points(first=False)
        if not share.is_proven:
            return None, {Goal.SHARE: 1.0}
        self._hold_share(share.objective * (1 - SHARE_PLAY))
        self.clock.enter(Phase.PLANTS)
        plants = self._most(model.weights)
        self._hold_plants(plants.objective * (1 - PLANTS_PLAY))
        self.clock.enter(Phase.DAYS)
        found = least_with_patterns(
            programme, model.days, self._used, self._group, self.clock, gap=GOOD_ENOUGH
        )
        return found.values, {Goal.SHARE: min(1.0, share.objective)}

    def bounds(self, reached: Values) -> dict[Goal, float]:
        """Return what no answer can beat for each goal but the first, holding what is reached of those before it."""
        model = self.model
        found: dict[Goal, float] = {}
        self._hold_share(float(reached.share) - 1e-9)
        self._hold_plants(0.0)
        plants = self._most(model.weights)
        found[Goal.PLANTS] = np.floor(plants.bound + 1e-4) + self.fixed.weighted
        self._hold_plants(reached.plants - self.fixed.weighted - 0.5)
        for goal, cost, offset in ((Goal.DAYS, model.days, self.fixed.days), (Goal.TRAYS, model.tray_costs, 0)):
            least = least_with_patterns(
                self._programme, cost, self._used, self._group, self.clock, gap=GOOD_ENOUGH
            )
            found[goal] = float(np.ceil(max(0.0, least.bound) - 1e-4)) + offset
            self._programme.bound_row(model.days_row, -INFINITE, reached.days - self.fixed.days + 0.5)
        return found

    def _most(self, cost: Floats) -> Solved:
        seconds = max(self.clock.left, 5.0)
        return self._programme.solve(cost, largest=True, seconds=seconds, watch=self.clock.watch)

    def _hold_share(self, least: float) -> None:
        self._programme.bound_columns(np.array([self.model.share]), np.array([max(0.0, least)]), np.array([1.0]))

    def _hold_plants(self, least: float) -> None:
        self._programme.bound_row(self.model.plants_row, least, INFINITE)
