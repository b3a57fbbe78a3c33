"""Every lot by itself: the best answer there is, proven, for gardens that are not too large for it."""

from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.answer import Goal, Phase, Reached
from app.core.fitting.clock import Clock
from app.core.fitting.filling import NOTHING, Filling
from app.core.fitting.fixed import Fixed
from app.core.fitting.flows import FlowModel
from app.core.fitting.lots import LotModel
from app.core.fitting.model import Model, ask_for_share, hold_share
from app.core.fitting.options import Options
from app.core.fitting.patterns import Patterns
from app.core.fitting.picked import Picked, Values, values_of
from app.core.fitting.programme import INFINITE, Open, Solved
from app.core.fitting.whole import come_nearer, fill_up, put_all
from app.core.fitting.wishes import Stand, Wishes
from app.core.space.keeping import keep_and_pack
from app.core.space.packing import pack

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

LARGEST = (Goal.SHARE, Goal.PLANTS)
# A solver's whole numbers may be off by this much.
NEARLY = 0.5
# All goals but the first, which has a search of its own, are whole numbers. [the goal's unit]
NEAR_ENOUGH = 0.999
SHARE_NEAR_ENOUGH = 1e-3
# What of the time that is left each goal may take; and the first try, where several may be needed.
PART_OF_TIME = {Goal.SHARE: 0.4, Goal.PLANTS: 0.4, Goal.DAYS: 0.5, Goal.TRAYS: 1.0}
FIRST_TRY = 0.6
# With less time than that the solver is not called again. [s]
LEAST_SECONDS = 0.3
# So many shares at least are tried in the time for the first goal, if none takes less.
TRIES = 6
# What of the time for a goal goes to the trays that are wanted, and to the lots in them.
FOR_TRAYS, FOR_LOTS = 0.25, 0.5


@dataclass
class Exact:
    """A levelling lot by lot.

    Attributes:
        options: What each sowing may get.
        wishes: The free lots, with every number of plants worth a choice.
        stand: The cells and pots of any number of plants of the lots.
        patterns: When the trays of each group may stand.
        fixed: What is not free.
        model: The programme, with whole lots and whole trays.
        clock: When to stop.
        best: The best answer so far.
        most_share: What no smallest share can beat. [fraction]
        by_kinds: The programme of kinds, with whole trays and shares of lots, where the lots are too many for the
            solver to find its way among them alone.
    """

    options: Options
    wishes: Wishes
    stand: Stand
    patterns: Patterns
    fixed: Fixed
    model: LotModel
    clock: Clock
    best: Picked
    most_share: float
    by_kinds: FlowModel | None

    def __post_init__(self) -> None:
        """Hand the programmes to the solver."""
        models: list[Model] = [self.model] if self.by_kinds is None else [self.model, self.by_kinds]
        self._opened = [(model.programme.open(whole=True), model) for model in models]
        self._start: Floats | None = None
        self._reached = values_of(self.options, self.best)
        self._bounds = {Goal.SHARE: self.most_share}
        for goal in (Goal.PLANTS, Goal.DAYS, Goal.TRAYS):
            self._bounds[goal] = self._rounded(goal, INFINITE if goal in LARGEST else -INFINITE)
        self._tell()

    def improve(self) -> tuple[Picked, Values, dict[Goal, float]]:
        """Return the best answer that is found, what it comes to, and what none can beat holding the goals before."""
        bounds = self._bounds
        for goal, phase in zip(Goal, (Phase.SHARE, Phase.PLANTS, Phase.DAYS, Phase.TRAYS), strict=True):
            self.clock.enter(phase)
            self._polish()
            seconds = self.clock.left * PART_OF_TIME[goal]
            bounds[goal] = self._fairest(seconds) if goal is Goal.SHARE else self._best_of(goal, seconds)
            for programme, model in self._opened:
                self._hold(programme, model, goal)
            self._tell()
        return self.best, self._reached, bounds

    def _tell(self) -> None:
        """Say how far each goal is reached, and what is known so far of what none can beat."""
        self.clock.set(Reached(goal=goal, value=self._reached.of(goal), bound=self._bounds[goal]) for goal in Goal)

    def _fairest(self, seconds: float) -> float:
        """Look for the largest smallest share, halving the shares that are possible; return what none can beat."""
        end = self.clock.left - seconds
        if self.by_kinds is not None:
            self.most_share = min(self.most_share, self._most_by_kinds(seconds * FOR_TRAYS))
        possible, unknown = self._shares(), list[Fraction]()
        patience = max(1.0, seconds / TRIES)
        while possible and self.clock.left > end:
            middle = possible[len(possible) // 2]
            for programme, model in self._opened:
                hold_share(programme, model, middle)
            solved = self._lots(None, min(self.clock.left - end, patience))
            if self._reached.share >= middle:
                possible, unknown = (
                    [share for share in shares if share > self._reached.share] for shares in (possible, unknown)
                )
            else:
                unknown += [] if solved.is_impossible else [share for share in possible if share >= middle]
                possible = [share for share in possible if share < middle]
            if not possible:
                # What could not be told in the time is asked again with more.
                possible, unknown, patience = sorted(unknown), [], 2 * patience
        return float(max([self._reached.share, *possible, *unknown]))

    def _most_by_kinds(self, seconds: float) -> float:
        """Return what no smallest share can beat with whole trays."""
        programme, model = self._opened[1]
        ask_for_share(programme, model, 0.0)
        cost = np.zeros_like(model.weights)
        cost[model.share] = 1.0
        solved = programme.solve(
            cost, largest=True, seconds=seconds, watch=self.clock.watch, absolute_gap=SHARE_NEAR_ENOUGH
        )
        return solved.bound

    def _shares(self) -> list[Fraction]:
        """Return the shares above the one that is reached that the smallest may be, rising."""
        wanted = {int(number) for number in self.model.wanted}
        shares = {Fraction(some, number) for number in wanted for some in range(number + 1)}
        most = self.most_share + 1e-9
        return sorted(share for share in shares if self._reached.share < share <= most)

    def _best_of(self, goal: Goal, seconds: float) -> float:
        """Look for the best of a goal; return what no answer can beat."""
        solved = self._lots(goal, seconds)
        return self._rounded(goal, solved.bound)

    def _lots(self, goal: Goal | None, seconds: float) -> Solved:
        """Find out which trays are wanted, who is to be in these, and whether others are better.

        Args:
            goal: What for; None for any answer.
            seconds: When to stop. [s]
        """
        end = self.clock.left - seconds
        bound = INFINITE if goal in LARGEST else -INFINITE
        if self.by_kinds is not None:
            programme = self._opened[1][0]
            solved = programme.solve(
                cost_of(self.by_kinds, goal),
                largest=goal in LARGEST,
                seconds=seconds * FOR_TRAYS,
                watch=self.clock.watch,
                absolute_gap=NEAR_ENOUGH,
            )
            bound = solved.bound
            if solved.is_impossible:
                return solved
            if solved.values is not None:
                self._into_trays(goal, np.round(solved.values[self.by_kinds.trays]), seconds * FOR_LOTS)
                if goal is not None and self._rounded(goal, bound) == self._reached.of(goal):
                    return Solved(None, 0.0, bound, is_proven=True)
        solved = self.solve(self._opened[0][0], cost_of(self.model, goal), goal, self.clock.left - end, self._start)
        self._take(solved)
        best = min(bound, solved.bound) if goal in LARGEST else max(bound, solved.bound)
        return replace(solved, bound=best)

    def _into_trays(self, goal: Goal | None, trays: Floats, seconds: float) -> None:
        """Look for lots that go into so many trays of each pattern."""
        programme = self._opened[0][0]
        # Whole lots fill trays less well than shares of them.
        programme.bound_columns(self.model.trays, np.zeros(len(trays)), trays + (trays > 0))
        self._take(self.solve(programme, cost_of(self.model, goal), goal, seconds, None))
        programme.bound_columns(self.model.trays, np.zeros(len(trays)), np.full(len(trays), INFINITE))

    def _take(self, solved: Solved) -> None:
        """Keep an answer if it is better than the best so far."""
        if solved.values is not None:
            picked = self.picked(solved.values)
            values = values_of(self.options, picked)
            if self._start is None or values.rank > self._reached.rank:
                self._start = solved.values
            if values.rank > self._reached.rank:
                self.best, self._reached = picked, values
                self._tell()
            if not solved.is_proven:
                self._polish()

    def _polish(self) -> None:
        """Give away the room that the best answer leaves, and move lots nearer to their best days."""
        filling = Filling(self.options, self.stand, self.fixed)
        if filling.load(self.best.option, self.best.plants):
            self._keep_filled(filling)

    def _repair(self, picked: Picked) -> None:
        """Put lots on the shelves as they are, give away the room that is left, and keep that if it is better."""
        filling = Filling(self.options, self.stand, self.fixed)
        put_all(filling, picked.option, picked.plants)
        self._keep_filled(filling)

    def _keep_filled(self, filling: Filling) -> None:
        fill_up(filling, self.clock)
        come_nearer(filling, self.clock)
        found = Picked(filling.option, filling.plants)
        values = values_of(self.options, found)
        if values.rank > self._reached.rank:
            self.best, self._reached, self._start = found, values, None
            self._tell()

    def solve(
        self,
        programme: Open,
        cost: Floats,
        goal: Goal | None,
        seconds: float,
        start: Floats | None = None,
    ) -> Solved:
        """Solve, and again with what packing says as long as lots don't fit the trays that are counted for them.

        Args:
            programme: Of whole lots and whole trays.
            cost: What one unit of each column comes to. Shape (n_columns,).
            goal: What for; None where the least is wanted and it is none of the goals.
            seconds: When to stop. [s]
            start: Values to begin with.
        """
        largest = goal in LARGEST
        until = self.clock.left - seconds
        bound = INFINITE if largest else -INFINITE
        while True:
            solved = programme.solve(
                cost,
                largest=largest,
                # What does not fit is to be said and tried again in the time, too.
                seconds=max(0.0, self.clock.left - until) * FIRST_TRY,
                watch=self.clock.watch,
                absolute_gap=NEAR_ENOUGH,
                start=start,
            )
            bound = min(bound, solved.bound) if largest else max(bound, solved.bound)
            cuts = [] if solved.values is None else self._cuts(solved.values)
            for columns, values, lower in cuts:
                programme.add_row(columns, values, lower, INFINITE)
            if not cuts and (solved.is_proven or solved.is_impossible or self.clock.left - until < LEAST_SECONDS):
                return replace(solved, bound=bound)
            if not cuts:
                start = solved.values if solved.values is not None else start
                continue
            if solved.values is not None:
                self._repair(self.picked(solved.values))
            if self.clock.left - until < LEAST_SECONDS:
                return Solved(None, solved.objective, bound, is_proven=False)

    def _rounded(self, goal: Goal, bound: float) -> float:
        """Return a bound of a programme with what is fixed, as whole as the goal; where it has none, what is plain."""
        wishes, fixed = self.wishes, self.fixed
        offset = {Goal.PLANTS: fixed.weighted, Goal.DAYS: fixed.days, Goal.TRAYS: 0}[goal]
        if goal in LARGEST:
            return float(np.floor(min(bound, (wishes.plants * wishes.weight).sum()) + 1e-4)) + offset
        return float(np.ceil(max(bound, 0.0) - 1e-4)) + offset

    def _hold(self, programme: Open, model: Model, goal: Goal) -> None:
        reached = self._reached
        if goal is Goal.SHARE:
            hold_share(programme, model, reached.share)
        elif goal is Goal.PLANTS:
            programme.bound_row(model.plants_row, reached.plants - self.fixed.weighted - NEARLY, INFINITE)
        elif goal is Goal.DAYS:
            programme.bound_row(model.days_row, -INFINITE, reached.days - self.fixed.days + NEARLY)

    def picked(self, values: Floats) -> Picked:
        """Read the choices of the lots."""
        model, wishes = self.model, self.wishes
        option = np.full(len(self.options.lot), NOTHING, dtype=np.int64)
        plants = np.zeros(len(self.options.lot), dtype=np.int64)
        chosen = np.flatnonzero(values[model.choices] > NEARLY)
        lot = wishes.lot[model.choice_wish[chosen]]
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
        capacity, held = int(self.options.capacity[group]), self.fixed.sizes[group]
        if not held:
            return len(pack(sizes.tolist(), capacity))
        return len(keep_and_pack([*held, *sizes.tolist()], capacity, list(self.fixed.dealt[group])))

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
        columns, values, lower = (
            [model.trays[self.patterns.group == group]],
            [],
            float(self._fewest(group, sizes[core])),
        )
        values.append(np.ones(len(columns[0])))
        for choice in core.tolist():
            saves = -(-int(sizes[choice]) // capacity)
            as_much = np.flatnonzero(
                (model.choice_wish == model.choice_wish[choice]) & (group_of == group) & (sizes >= sizes[choice])
            )
            columns.append(model.choices[as_much])
            values.append(np.full(len(as_much), -float(saves)))
            lower -= saves
        return np.concatenate(columns), np.concatenate(values), lower


def tighter(goal: Goal, one: float, other: float) -> float:
    """Return the tighter of two bounds of a goal."""
    return min(one, other) if goal in LARGEST else max(one, other)


def cost_of(model: Model, goal: Goal | None) -> Floats:
    """Return what one unit of each column comes to; nothing, where any answer is good. Shape (n_columns,)."""
    costs = {Goal.PLANTS: model.weights, Goal.DAYS: model.days, Goal.TRAYS: model.tray_costs}
    return np.zeros_like(model.weights) if goal is None else costs[goal]
