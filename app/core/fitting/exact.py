"""Every lot by itself: the best answer there is, proven, for gardens that are not too large for it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.answer import Goal, Phase, Reached
from app.core.fitting.clock import Clock
from app.core.fitting.filling import NOTHING
from app.core.fitting.fixed import Fixed
from app.core.fitting.model import Model
from app.core.fitting.options import Options
from app.core.fitting.patterns import Patterns
from app.core.fitting.picked import Picked, Values, smallest_share, values_of
from app.core.fitting.programme import INFINITE, Open, Solved
from app.core.fitting.wishes import Wishes
from app.core.packing import pack, pack_into

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

LARGEST = (Goal.SHARE, Goal.PLANTS)
# A solver's whole numbers may be off by this much.
NEARLY = 0.5
# What of the time for a goal goes to the trays that are wanted, and to the lots in them.
FOR_TRAYS, FOR_LOTS = 0.4, 0.3


@dataclass
class Exact:
    """A levelling lot by lot.

    Attributes:
        options: What each sowing may get.
        wishes: A class for each lot, with every number of plants worth a choice.
        patterns: When the trays of each group may stand.
        fixed: What is not free.
        model: The programme, with whole lots and whole trays.
        clock: When to stop.
        best: The best answer so far.
        by_classes: The programme of classes of lots, with whole trays and shares of lots, where the lots are too many
            for the solver to find its way among them alone.
    """

    options: Options
    wishes: Wishes
    patterns: Patterns
    fixed: Fixed
    model: Model
    clock: Clock
    best: Picked
    by_classes: Model | None

    def improve(self) -> tuple[Picked, dict[Goal, float]]:
        """Return the best answer that is found, and what no answer can beat for each goal, holding those before it."""
        self._programme = self.model.programme.open(whole=True)
        self._classes = None if self.by_classes is None else self.by_classes.programme.open(whole=True)
        self._start: Floats | None = None
        self._reached = values_of(self.options, self.best)
        bounds: dict[Goal, float] = {}
        for goal, phase in zip(Goal, (Phase.SHARE, Phase.PLANTS, Phase.DAYS, Phase.TRAYS), strict=True):
            self.clock.enter(phase)
            seconds = self.clock.left / (len(Goal) - list(Goal).index(goal))
            end = self.clock.left - seconds
            bounds[goal] = self._by_classes_first(goal, seconds)
            if bounds[goal] != self._reached.of(goal):
                solved = self.solve(self._programme, goal, seconds=self.clock.left - end, start=self._start)
                self._take(solved)
                bounds[goal] = tighter(goal, bounds[goal], self._bound(goal, solved))
                self.clock.was_cut |= bounds[goal] != self._reached.of(goal)
            self._hold(self._programme, self.model, goal)
            if self._classes is not None and self.by_classes is not None:
                self._hold(self._classes, self.by_classes, goal)
            self.clock.set(Reached(goal=goal, value=self._reached.of(goal), bound=bounds[goal]))
        return self.best, bounds

    def _by_classes_first(self, goal: Goal, seconds: float) -> float:
        """Find out how many trays of each pattern are wanted, then who is to be in just these; return a bound."""
        if self._classes is None or self.by_classes is None:
            return INFINITE if goal in LARGEST else -INFINITE
        solved = self._classes.solve(
            _cost(self.by_classes, goal),
            largest=goal in LARGEST,
            seconds=seconds * FOR_TRAYS,
            watch=self.clock.watch,
            absolute_gap=_near_enough(goal),
        )
        if solved.values is not None:
            trays = np.round(solved.values[self.by_classes.trays])
            self._programme.bound_columns(self.model.trays, np.zeros(len(trays)), trays)
            self._take(self.solve(self._programme, goal, seconds=seconds * FOR_LOTS, start=None))
            self._programme.bound_columns(self.model.trays, np.zeros(len(trays)), np.full(len(trays), INFINITE))
        return self._rounded(goal, solved.bound)

    def _take(self, solved: Solved) -> None:
        """Keep an answer if it is better than the best so far."""
        if solved.values is not None:
            picked = self.picked(solved.values)
            values = values_of(self.options, picked)
            if self._start is None or values.rank > self._reached.rank:
                self._start = solved.values
            if values.rank > self._reached.rank:
                self.best, self._reached = picked, values

    def solve(
        self,
        programme: Open,
        goal: Goal | None,
        *,
        seconds: float,
        start: Floats | None = None,
    ) -> Solved:
        """Solve, and again with what packing says as long as lots don't fit the trays that are counted for them.

        Args:
            programme: Of whole lots and whole trays.
            goal: What for; None for the fewest extra positions.
            seconds: When to stop. [s]
            start: Values to begin with.
        """
        largest, cost = goal in LARGEST, _cost(self.model, goal)
        until = self.clock.left - seconds
        bound = INFINITE if largest else -INFINITE
        while True:
            solved = programme.solve(
                cost,
                largest=largest,
                seconds=max(0.0, self.clock.left - until),
                watch=self.clock.watch,
                absolute_gap=_near_enough(goal),
                start=start,
            )
            bound = min(bound, solved.bound) if largest else max(bound, solved.bound)
            cuts = [] if solved.values is None else self._cuts(solved.values)
            for columns, values, lower in cuts:
                programme.add_row(columns, values, lower, INFINITE)
            if not cuts:
                return Solved(solved.values, solved.objective, bound, solved.is_proven)
            if self.clock.left <= until or not solved.is_proven:
                return Solved(None, solved.objective, bound, is_proven=False)

    def _bound(self, goal: Goal, solved: Solved) -> float:
        """Return a bound as whole as the goal."""
        if goal is Goal.SHARE and solved.is_proven and solved.values is not None:
            return float(smallest_share(self.options, self.picked(solved.values).plants))
        return self._rounded(goal, solved.bound)

    def _rounded(self, goal: Goal, bound: float) -> float:
        """Return a bound of a programme with what is fixed, as whole as the goal."""
        if not np.isfinite(bound):
            return bound
        if goal is Goal.SHARE:
            return min(1.0, bound)
        offset = {Goal.PLANTS: self.fixed.weighted, Goal.DAYS: self.fixed.days, Goal.TRAYS: 0}[goal]
        return float(np.floor(bound + 1e-4) if goal in LARGEST else np.ceil(bound - 1e-4)) + offset

    def _hold(self, programme: Open, model: Model, goal: Goal) -> None:
        reached = self._reached
        if goal is Goal.SHARE:
            programme.bound_columns(np.array([model.share]), np.array([float(reached.share) - 1e-9]), np.array([1.0]))
        elif goal is Goal.PLANTS:
            programme.bound_row(model.plants_row, reached.plants - self.fixed.weighted - NEARLY, INFINITE)
        elif goal is Goal.DAYS:
            programme.bound_row(model.days_row, -INFINITE, reached.days - self.fixed.days + NEARLY)

    def picked(self, values: Floats) -> Picked:
        """Read the choices of the lots."""
        model, wishes = self.model, self.wishes
        option = np.full(len(self.options.lot), NOTHING, dtype=np.int64)
        plants = np.zeros(len(self.options.lot), dtype=np.int64)
        lot_of = np.zeros(len(wishes.kind), dtype=np.int64)
        free = np.flatnonzero(self.options.is_free)
        lot_of[wishes.of_lot[free]] = free
        chosen = np.flatnonzero(values[model.choices] > NEARLY)
        lot = lot_of[model.choice_class[chosen]]
        option[lot] = model.choice_option[chosen]
        plants[lot] = wishes.level_plants[model.choice_level[chosen]]
        fast = np.flatnonzero(~self.options.is_free)
        option[fast] = self.options.first[self.options.kind[fast]]
        plants[fast] = self.options.plan.plants[self.options.lot[fast]]
        return Picked(option, plants)

    def _cuts(self, values: Floats) -> list[tuple[Ints, Floats, float]]:
        """Return rows that say which lots don't fit into the trays that are counted for them."""
        model, wishes, options = self.model, self.wishes, self.options
        trays = np.bincount(self.patterns.group, np.round(values[model.trays]), minlength=options.n_groups)
        chosen = np.flatnonzero(values[model.choices] > NEARLY)
        found = []
        for groups, need in ((options.start_group, wishes.level_cells), (options.pot_group, wishes.level_pots)):
            group_of, sizes = groups[model.choice_option], need[model.choice_level]
            for group in np.unique(group_of[chosen][group_of[chosen] >= 0]).tolist():
                inside = chosen[group_of[chosen] == group]
                if self._fewest(group, sizes[inside]) > trays[group]:
                    found.append(self._cut(group, self._core(group, inside, sizes, int(trays[group])), group_of, sizes))
        return found

    def _fewest(self, group: int, sizes: Ints) -> int:
        """Return the fewest trays that hold lots, with what is fixed in the group."""
        capacity, rooms = int(self.options.capacity[group]), self.fixed.rooms[group]
        if not rooms:
            return len(pack(sizes.tolist(), capacity))
        rest = [size % capacity for size in sizes.tolist() if size % capacity]
        new = pack_into(rest, capacity, rooms)[1]
        return len(rooms) + int((sizes // capacity).sum()) + len(new)

    def _core(self, group: int, inside: Ints, sizes: Ints, trays: int) -> Ints:
        """Return some of the lots that don't fit by themselves, as few as taking one after the other away leaves."""
        core = inside[np.argsort(sizes[inside], kind="stable")]
        for choice in core.tolist():
            without = core[core != choice]
            if self._fewest(group, sizes[without]) > trays:
                core = without
        return core

    def _cut(self, group: int, core: Ints, group_of: Ints, sizes: Ints) -> tuple[Ints, Floats, float]:
        """Trays >= the fewest for these lots, less what each lot takes that is not there, or there with less."""
        model = self.model
        capacity = int(self.options.capacity[group])
        columns, values, lower = [model.trays[self.patterns.group == group]], [], float(self._fewest(group, sizes[core]))
        values.append(np.ones(len(columns[0])))
        for choice in core.tolist():
            saves = -(-int(sizes[choice]) // capacity)
            as_much = np.flatnonzero(
                (model.choice_class == model.choice_class[choice]) & (group_of == group) & (sizes >= sizes[choice])
            )
            columns.append(model.choices[as_much])
            values.append(np.full(len(as_much), -float(saves)))
            lower -= saves
        return np.concatenate(columns), np.concatenate(values), lower


def tighter(goal: Goal, one: float, other: float) -> float:
    """Return the tighter of two bounds of a goal."""
    return min(one, other) if goal in LARGEST else max(one, other)


def _near_enough(goal: Goal | None) -> float:
    """Return from which distance on a bound is as good as reached: all goals but the first are whole numbers."""
    return 1e-9 if goal is Goal.SHARE else 0.999


def _cost(model: Model, goal: Goal | None) -> Floats:
    """Return what one unit of each column comes to."""
    if goal is Goal.SHARE:
        share = np.zeros_like(model.weights)
        share[model.share] = 1.0
        return share
    if goal is None:
        extra = np.zeros_like(model.weights)
        extra[model.extra] = 1.0
        return extra
    return {Goal.PLANTS: model.weights, Goal.DAYS: model.days, Goal.TRAYS: model.tray_costs}[goal]
