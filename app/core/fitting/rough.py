"""Lots of one class together: soon an answer and bounds, however many lots there are."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.answer import Goal, Phase
from app.core.fitting.branching import WHOLE, WORTH_WAITING_S, least_with_patterns
from app.core.fitting.clock import Clock
from app.core.fitting.fixed import Fixed
from app.core.fitting.model import Model, ask_for_share, hold_share
from app.core.fitting.patterns import Patterns
from app.core.fitting.picked import Values
from app.core.fitting.programme import INFINITE, Open, Solved

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

# What of the first two goals is given up in the programme of shares of lots, so that whole ones have some play.
PLAY = 0.001
# Of the share of trays that lots don't fill, so much is missing in the smallest share; if that is too little, twice
# as much is. Seen with gardens of 1,000 to 50,000 sowings.
LOST_WITH_ROOM = 0.3
# So much of their trays lots of many sizes leave empty, and of the last tray of each group. [fraction]
NEVER_FILLED = 0.025
LAST_EMPTY = 0.25
EMPTIEST = 0.6
# From which gap on the patterns are good enough: to go on from, and to be shown as a bound. [fraction]
GOOD_START = 5e-3
GOOD_ENOUGH = 5e-4


@dataclass
class Rough:
    """A levelling by classes of lots.

    Attributes:
        model: The programme, with shares of lots and trays.
        capacity: Cells of a tray of each pattern. Shape (n_patterns,). [1]
        patterns: When the trays of each group may stand.
        fixed: What is not free.
        most_plants: All plants that are free, each counting 4 - priority. [1]
        clock: When to stop.
    """

    model: Model
    capacity: Ints
    patterns: Patterns
    fixed: Fixed
    most_plants: int
    clock: Clock

    def __post_init__(self) -> None:
        """Hand the programme to the solver."""
        self._programme: Open = self.model.programme.open(whole=False)
        chosen = self.model.is_used >= 0
        self._used, self._group = self.model.is_used[chosen], self.patterns.group[chosen]
        self._share = np.zeros_like(self.model.weights)
        self._share[self.model.share] = 1.0

    def search(self) -> tuple[Floats | None, float]:
        """Return near best shares of lots that leave whole lots some room, and the bound of the first goal."""
        model, programme = self.model, self._programme
        self.clock.enter(Phase.SHARE)
        programme.by_interior_points(first=True)
        share = self._most(self._share)
        programme.by_interior_points(first=False)
        if not share.is_proven or share.values is None:
            return None, 1.0
        self.clock.enter(Phase.PLANTS)
        filled = filled_part(model, share.values)
        fill_trays(programme, model, self.capacity * filled)
        for times in (1, 2, 4, 1 / (LOST_WITH_ROOM * max(1e-9, 1 - filled))):
            least = share.objective * (1 - PLAY - times * LOST_WITH_ROOM * (1 - filled))
            ask_for_share(programme, model, least)
            plants = self._most(model.weights)
            if plants.values is not None and plants.is_proven:
                break
        self._hold_plants(plants.objective * (1 - PLAY))
        self.clock.enter(Phase.DAYS)
        found = least_with_patterns(programme, model.days, self._used, self._group, self.clock, gap=GOOD_START)
        fill_trays(programme, model, self.capacity)
        return found.values, min(1.0, share.objective)

    def bounds(self, reached: Values) -> dict[Goal, float]:
        """Return what no answer can beat for each goal but the first, holding what is reached of those before it."""
        model = self.model
        found: dict[Goal, float] = {}
        hold_share(self._programme, model, reached.share)
        self._hold_plants(0.0)
        plants = self._most(model.weights)
        found[Goal.PLANTS] = np.floor(min(plants.bound, self.most_plants) + 1e-4) + self.fixed.weighted
        self._hold_plants(reached.plants - self.fixed.weighted - 0.5)
        for goal, cost, offset in ((Goal.DAYS, model.days, self.fixed.days), (Goal.TRAYS, model.tray_costs, 0)):
            least = least_with_patterns(self._programme, cost, self._used, self._group, self.clock, gap=GOOD_ENOUGH)
            found[goal] = float(np.ceil(max(0.0, least.bound) - 1e-4)) + offset
            self._programme.bound_row(model.days_row, -INFINITE, reached.days - self.fixed.days + 0.5)
        return found

    def _most(self, cost: Floats) -> Solved:
        seconds = max(self.clock.left, WORTH_WAITING_S)
        return self._programme.solve(cost, largest=True, seconds=seconds, watch=self.clock.watch)

    def _hold_plants(self, least: float) -> None:
        self._programme.bound_row(self.model.plants_row, least, INFINITE)


def filled_part(model: Model, values: Floats) -> float:
    """Return which part of their trays whole lots may be hoped to fill. [fraction]"""
    trays = values[model.trays]
    last_ones = LAST_EMPTY * float((trays > WHOLE).sum()) / max(1.0, float(trays.sum()))
    return max(EMPTIEST, 1 - NEVER_FILLED - last_ones)


def fill_trays(programme: Open, model: Model, cells: "NDArray[np.floating] | Ints") -> None:
    """Have a tray of each pattern hold so many cells.

    Args:
        programme: Of shares of lots.
        model: Its columns and rows.
        cells: Shape (n_patterns,). [1]
    """
    programme.set_values(model.tray_rows, model.trays, np.asarray(cells, dtype=np.float64))
