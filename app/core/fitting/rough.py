"""Lots of one class together: soon an answer and bounds, however many lots there are."""

from dataclasses import dataclass
from fractions import Fraction
from math import ceil

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.answer import Goal, Phase
from app.core.fitting.branching import WHOLE, least_with_patterns
from app.core.fitting.clock import Clock
from app.core.fitting.counts import Counts
from app.core.fitting.dealing import MISSING, Dealing
from app.core.fitting.fixed import Fixed
from app.core.fitting.model import Model, hold_share
from app.core.fitting.options import Options
from app.core.fitting.patterns import Patterns
from app.core.fitting.picked import Picked, Values, values_of
from app.core.fitting.programme import INFINITE, Open, Solved
from app.core.fitting.whole import whole_lots
from app.core.fitting.wishes import Wishes

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

# What of the first two goals is given up in the programme of shares of lots, so that whole ones have some play: as much
# of the smallest share as of the cells is reserved, this many times, and more if that is too little; and so much of the
# plants. [fraction]
PLAY_SHARE = 1.0
PLAY_PLANTS = 0.004
# Of all trays as much is reserved, for what whole lots leave empty: times the root of groups over trays; no more than
# so much; and, as long as there is time, other times that. Seen with gardens of 500 to 5,000 sowings. [fraction]
LAST_EMPTY = 0.04
MOST_EMPTY = 0.4
RESERVES = (1.0, 0.5, 1.5, 0.75, 2.0)
# Another one is tried if there is so many times the time that the last took, and so much of all. [times, fraction]
FOR_ANOTHER = 2.5
# With more choices than that only the first goal is bounded, in a part of the time. [1, fraction]
MOST_CHOICES = 40_000
FOR_SHARE_ALONE = 0.6
FOR_BOUNDS = 0.3
# Whole lots may fall short of that smallest share by so much. [fraction]
FALLS_SHORT = 0.1
# What an empty tray costs, so that there are none. [d]
EMPTY_TRAY = 0.01
# From which gap on the patterns are good enough: for what it would take, and to be shown as a bound. [fraction]
GOOD_START = 5e-3
GOOD_ENOUGH = 5e-4
# What of the time that is left goes to the numbers of trays, and to the lots in them. [fraction]
FOR_TRAYS, FOR_LOTS = 0.25, 0.35
# So often all growers are served and all trays filled anew.
ROUNDS = 3
# So much of their trays, and of each group's last, lots leave empty where nothing fills them up. [fraction]
NEVER_FILLED = 0.025
EMPTY_OF_LAST = 0.25
EMPTIEST = 0.6


@dataclass
class Rough:
    """A levelling by classes of lots.

    Attributes:
        options: What each sowing may get.
        wishes: The classes.
        model: The programme, with shares of lots and trays.
        patterns: When the trays of each group may stand.
        fixed: What is not free.
        clock: When to stop.
    """

    options: Options
    wishes: Wishes
    model: Model
    patterns: Patterns
    fixed: Fixed
    clock: Clock

    def __post_init__(self) -> None:
        """Hand the programme to the solver."""
        self._programme: Open = self.model.programme.open(whole=False)
        chosen = self.model.is_used >= 0
        self._used, self._group = self.model.is_used[chosen], self.patterns.group[chosen]
        self._capacity = self.options.capacity[self.patterns.group]
        self._share = np.zeros_like(self.model.weights)
        self._share[self.model.share] = 1.0
        self._is_too_large = len(self.model.choices) > MOST_CHOICES

    def search(self) -> tuple[Picked | None, float]:
        """Return whole lots near to best shares of them, and the bound of the first goal."""
        model, programme, clock = self.model, self._programme, self.clock
        clock.enter(Phase.SHARE)
        programme.by_interior_points(first=True)
        seconds = clock.left * FOR_SHARE_ALONE if self._is_too_large else clock.patience
        share = programme.solve(self._share, largest=True, seconds=seconds, watch=clock.watch)
        programme.by_interior_points(first=False)
        if not share.is_proven or share.values is None:
            return None, 1.0
        most_share = min(1.0, share.objective)
        if self._is_too_large:
            return None, most_share
        trays = share.values[model.trays]
        empty = LAST_EMPTY * np.sqrt(float((trays > WHOLE).sum()) / max(1.0, float(trays.sum())))
        found: list[Picked] = []
        for times in RESERVES:
            begin = clock.left
            found += self._reserving(min(MOST_EMPTY, times * float(empty)), most_share)
            # Bounds take about as long as an answer.
            if clock.left < FOR_ANOTHER * (begin - clock.left) or clock.left < FOR_BOUNDS * clock.seconds:
                break
        best = max(found, key=lambda picked: values_of(self.options, picked).rank, default=None)
        return best, most_share

    def _reserving(self, empty: float, most_share: float) -> list[Picked]:
        """Return whole lots near to best shares of them, if any are found, that leave a part of the trays empty."""
        model, programme, clock = self.model, self._programme, self.clock
        clock.enter(Phase.PLANTS)
        fill_trays(programme, model, self._capacity * (1 - empty))
        for times in (1, 2, 4, 8, 16, 1 / max(empty, WHOLE)):
            least = Fraction(max(0.0, most_share * (1 - times * PLAY_SHARE * empty)))
            hold_share(programme, model, least)
            plants = self._most(model.weights)
            if plants.values is not None or not clock.left:
                break
        picked = None
        if plants.values is not None and plants.is_proven:
            self._hold_plants(plants.objective * (1 - PLAY_PLANTS))
            clock.enter(Phase.DAYS)
            picked = self._whole(least, most_share)
        fill_trays(programme, model, self._capacity)
        self._hold_plants(0.0)
        programme.bound_columns(model.missing, np.zeros(len(model.missing)), np.zeros(len(model.missing)))
        programme.bound_columns(model.trays, np.zeros(len(model.trays)), np.full(len(model.trays), INFINITE))
        programme.bound_columns(self._used, np.zeros(len(self._used)), np.ones(len(self._used)))
        return [] if picked is None else [picked]

    def _whole(self, least: Fraction, most_share: float) -> Picked | None:
        """Return whole lots in whole trays, as near to their best days as the plants that are held allow."""
        model, programme, clock, options = self.model, self._programme, self.clock, self.options
        found = least_with_patterns(programme, model.days, self._used, self._group, clock, gap=np.inf)
        if found.values is None:
            return None
        programme.bound_columns(self._used, np.zeros(len(self._used)), np.round(found.values[self._used]))
        solved = self._least(model.days)
        if solved.values is None:
            return None
        worth = max(programme.price_of(model.plants_row), 0.1)
        self._hold_plants(0.0)
        n = len(model.missing)
        programme.bound_columns(model.missing, np.zeros(n), np.full(n, INFINITE))
        cost = model.days - worth * model.weights + EMPTY_TRAY * model.tray_costs
        cost[model.missing] = 2 * MISSING
        solved = self._least(cost)
        if solved.values is None:
            return None
        counts = Counts(programme, model, self._capacity, self.patterns, self.fixed, cost, clock)
        counted = counts.find(solved.values, clock.left * FOR_TRAYS)
        if counted is None:
            return None
        trays = np.bincount(self.patterns.group, counted.trays, minlength=options.n_groups).astype(np.int64)
        sowings = options.plan.garden.sowings
        wanted = np.bincount(sowings.grower[options.lot], sowings.plants[options.lot], minlength=len(self.fixed.placed))
        needed = np.array([ceil(least * int(number)) for number in wanted], dtype=np.int64)
        dealing = Dealing(options, self.wishes.stand, self.fixed, trays, least=needed, weight_days=worth)
        end = clock.left * (1 - FOR_LOTS)
        dealing.deal(*whole_lots(options, self.wishes, model, counted.values))
        dealing.grow_all(clock)
        dealing.make_fairest(wanted, float(least) * (1 - FALLS_SHORT), most_share, clock)
        dealing.grow_all(clock)
        for _ in range(ROUNDS):
            if clock.left < end:
                break
            dealing.refill_all(clock)
            dealing.grow_all(clock)
            dealing.make_fair(clock)
        return dealing.picked

    def _least(self, cost: Floats) -> Solved:
        seconds = self.clock.patience
        return self._programme.solve(cost, largest=False, seconds=seconds, watch=self.clock.watch)

    def bounds(self, reached: Values) -> dict[Goal, float]:
        """Return what no answer can beat for each goal but the first, holding what is reached of those before it."""
        model = self.model
        found = {Goal.PLANTS: float(self._most_plants + self.fixed.weighted), Goal.DAYS: 0.0, Goal.TRAYS: 0.0}
        if self._is_too_large:
            return found
        hold_share(self._programme, model, reached.share)
        self._hold_plants(0.0)
        plants = self._most(model.weights)
        found[Goal.PLANTS] = np.floor(min(plants.bound, self._most_plants) + 1e-4) + self.fixed.weighted
        self._hold_plants(reached.plants - self.fixed.weighted - 0.5)
        for goal, cost, offset in ((Goal.DAYS, model.days, self.fixed.days), (Goal.TRAYS, model.tray_costs, 0)):
            least = least_with_patterns(self._programme, cost, self._used, self._group, self.clock, gap=GOOD_ENOUGH)
            found[goal] = float(np.ceil(max(0.0, least.bound) - 1e-4)) + offset
            self._programme.bound_row(model.days_row, -INFINITE, reached.days - self.fixed.days + 0.5)
        return found

    def _most(self, cost: Floats) -> Solved:
        seconds = self.clock.patience
        return self._programme.solve(cost, largest=True, seconds=seconds, watch=self.clock.watch)

    @property
    def _most_plants(self) -> int:
        wishes = self.wishes
        return int((wishes.plants * wishes.weight * wishes.count).sum())

    def _hold_plants(self, least: float) -> None:
        self._programme.bound_row(self.model.plants_row, least, INFINITE)


def filled_part(model: Model, values: Floats) -> float:
    """Return which part of their trays whole lots may be hoped to fill. [fraction]"""
    trays = values[model.trays]
    last_ones = EMPTY_OF_LAST * float((trays > WHOLE).sum()) / max(1.0, float(trays.sum()))
    return max(EMPTIEST, 1 - NEVER_FILLED - last_ones)


def fill_trays(programme: Open, model: Model, cells: "NDArray[np.floating] | Ints") -> None:
    """Have a tray of each pattern hold so many cells.

    Args:
        programme: Of shares of lots.
        model: Its columns and rows.
        cells: Shape (n_patterns,). [1]
    """
    programme.set_values(model.tray_rows, model.trays, np.asarray(cells, dtype=np.float64))
