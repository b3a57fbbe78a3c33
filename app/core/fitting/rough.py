"""Lots of one kind together: soon an answer and bounds, however many lots there are."""

import heapq
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.answer import Goal, Phase
from app.core.fitting.branching import WHOLE, WORTH_WAITING_S, End, least_with_patterns, most_used
from app.core.fitting.clock import Clock
from app.core.fitting.fixed import Fixed
from app.core.fitting.flows import FlowModel
from app.core.fitting.market import Settled
from app.core.fitting.model import Model, ask_for_share, fill_trays, hold_share
from app.core.fitting.patterns import Patterns
from app.core.fitting.picked import Values
from app.core.fitting.programme import INFINITE, Open, Solved
from app.core.fitting.whole_plants import WholePlants, Worth, worth_in
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


class _Held(NamedTuple):
    """What is reached of the first goals, without what is not free: plants by weight, and days."""

    plants: float
    days: float


class _ToWhole(NamedTuple):
    """Prices in the patterns of an answer: of whole growers, and by kinds.

    Attributes:
        position_rows: The rows of positions.
        whole: What rows are worth to whole growers there; rows of patterns nothing, since these are given.
        by_kinds: What they are worth by kinds there.
    """

    position_rows: Ints
    whole: Worth
    by_kinds: Worth

    def tries(self, by_kinds: Worth) -> list[Worth]:
        """Return prices that may say much of other patterns, the likeliest last."""
        rows_of_patterns = by_kinds.rows.copy()
        rows_of_patterns[self.position_rows] = 0.0
        there = self.whole.plus(Worth(rows_of_patterns, 0.0, 0.0))
        rows = by_kinds.rows.copy()
        rows[self.position_rows] += (self.whole.rows - self.by_kinds.rows)[self.position_rows]
        moved = Worth(rows, by_kinds.plants + self.whole.plants - self.by_kinds.plants, 0.0)
        half = Worth((moved.rows + there.rows) / 2, (moved.plants + there.plants) / 2, 0.0)
        return [by_kinds, half, moved]


@dataclass
class Rough:
    """A levelling by kinds of lots.

    Attributes:
        model: The programme, with shares of lots and trays.
        patterns: When the trays of each group may stand.
        fixed: What is not free.
        clock: When to stop.
        is_sample: Whether its growers stand for more than themselves: what it comes to is no bound then, though prices
            of its rows give one.
    """

    model: FlowModel
    patterns: Patterns
    fixed: Fixed
    clock: Clock
    is_sample: bool = False

    def __post_init__(self) -> None:
        """Hand the programme to the solver."""
        self._programme: Open = self.model.programme.open(whole=False)
        chosen = self.model.is_used >= 0
        self._used, self._group = self.model.is_used[chosen], self.patterns.group[chosen]
        self._share = np.zeros_like(self.model.weights)
        self._share[self.model.share] = 1.0
        self._chosen: Floats | None = None

    @cached_property
    def _fairest(self) -> Solved:
        """The largest smallest share by shares of lots."""
        self.clock.enter(Phase.SHARE)
        self._programme.by_interior_points(first=True)
        fairest = self._most(self._share)
        self._fair_prices = self._programme.prices
        self._programme.by_interior_points(first=False)
        return fairest

    @property
    def by_shares(self) -> float:
        """What no smallest share can beat, by shares of lots; of a sample that says nothing. [fraction]"""
        return 1.0 if self.is_sample else min(1.0, self._fairest.bound)

    def most_whole_share(self, plants: WholePlants | None, least: Fraction) -> float:
        """Return what no smallest share of whole plants can beat. [fraction]

        Args:
            plants: The growers with a share that is within reach.
            least: That share. [fraction]
        """
        if plants is None or not self._fairest.is_proven:
            return self.by_shares
        return plants.most_share(self._fair_prices, least, self.by_shares)

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

    def bounds(
        self, reached: Values, plants: WholePlants | None, trays: WholeTrays, settled: Settled | None
    ) -> dict[Goal, float]:
        """Return what no answer can beat for each goal, holding what is reached of those before it.

        Args:
            reached: What the answer comes to.
            plants: The growers with the share that is reached, if they do not take too long.
            trays: What may be in the trays of each pattern.
            settled: What positions were worth where the answer was made grower by grower.
        """
        model, fixed = self.model, self.fixed
        found: dict[Goal, float] = {Goal.SHARE: self.most_whole_share(plants, reached.share)}
        hold_share(self._programme, model, reached.share)
        self._hold_plants(-INFINITE)
        self._programme.bound_row(model.days_row, -INFINITE, INFINITE)
        all_of = model if plants is None else plants.model
        most = float(all_of.parts.plants @ all_of.weights[all_of.part_columns])
        solved = self._most(model.weights)
        if solved.is_proven and plants is not None:
            worth = worth_in(model, self._programme.prices, largest=True)
            most = min(most, -plants.least(Goal.PLANTS, worth, decided={}))
        # What a sample holds is as near to the most of its own.
        of_sample = solved.objective / max(1.0, most) if self.is_sample else 1.0
        if not self.is_sample:
            most = min(most, self._in_whole_trays(model.weights, trays, largest=True).bound)
        found[Goal.PLANTS] = float(np.floor(most + 1e-4)) + fixed.weighted
        held = _Held(reached.plants - fixed.weighted - 0.5, reached.days - fixed.days + 0.5)
        self._hold_plants(held.plants * of_sample)
        for goal, cost, offset in ((Goal.DAYS, model.days, fixed.days), (Goal.TRAYS, model.tray_costs, 0)):
            if not self.is_sample:
                self._in_whole_trays(cost, trays, largest=False)
            least = least_with_patterns(self._programme, cost, self._used, self._group, self.clock, gap=GOOD_ENOUGH)
            to_whole = self._to_whole(settled) if settled is not None and goal is Goal.DAYS else None
            bound = self._at_ends(goal, least.ends, plants, held, to_whole)
            found[goal] = float(np.ceil(max(0.0, bound) - 1e-4)) + offset
            of_sample = least.bound / max(1.0, bound) if self.is_sample and np.isfinite(least.bound) else 1.0
            self._programme.bound_row(model.days_row, -INFINITE, held.days * of_sample)
        return found

    def _to_whole(self, settled: Settled) -> "_ToWhole | None":
        """Return how prices of whole growers come from those by kinds, by the patterns of an answer."""
        used = settled.is_used[self.model.is_used >= 0].astype(np.float64)
        self._programme.bound_columns(self._used, used, used)
        solved = self._solve(self.model.days, largest=False)
        by_kinds = worth_in(self.model, self._programme.prices, largest=False)
        self._programme.bound_columns(self._used, np.zeros(len(used)), np.ones(len(used)))
        if not solved.is_proven:
            return None
        rows = np.zeros_like(by_kinds.rows)
        rows[self.model.position_rows] = settled.positions
        return _ToWhole(self.model.position_rows, Worth(rows, settled.plants, 0.0), by_kinds)

    def _at_ends(
        self, goal: Goal, ends: tuple[End, ...], plants: WholePlants | None, held: _Held, to_whole: _ToWhole | None
    ) -> float:
        """Return what a goal comes to at the least, counting plants whole: the least of all ends of a search.

        Only the end that decides is looked at, again and again, until nothing more is known of it.
        """
        waiting: list[tuple[float, int, list[Worth]]] = []
        for number, end in enumerate(ends):
            worths: list[Worth] = []
            if end.prices is not None and plants is not None:
                by_kinds = worth_in(self.model, end.prices, largest=False)
                worths = [by_kinds] if to_whole is None else to_whole.tries(by_kinds)
            waiting.append((-np.inf if self.is_sample else end.bound, number, worths))
        heapq.heapify(waiting)
        while plants is not None and waiting and waiting[0][2] and not self.clock.is_stopped():
            bound, number, worths = heapq.heappop(waiting)
            worth = worths.pop()
            found = plants.least(goal, worth, decided=ends[number].decided, plants=held.plants, days=held.days)
            heapq.heappush(waiting, (max(bound, found), number, worths))
        return waiting[0][0] if waiting else -np.inf

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
