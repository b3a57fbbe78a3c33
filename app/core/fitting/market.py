"""Shares of baskets: a programme in which each grower gets one, or parts of some that come to one.

Its columns are made as they are asked for: at the prices of an answer each grower says which basket would be worth
more, until nobody knows a better one. With thousands of lots few growers are then left with parts of several.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.answer import Goal
from app.core.fitting.baskets import NEVER, Allowed, Baskets, Prices, best_baskets
from app.core.fitting.clock import Clock
from app.core.fitting.fixed import Fixed
from app.core.fitting.model import Ways, begin
from app.core.fitting.options import Options
from app.core.fitting.packings import fewest_in_parts, in_steps_of
from app.core.fitting.patterns import Patterns
from app.core.fitting.programme import INFINITE, Open

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# A position more than there is costs as much as this: more than anything that could be had for it.
EXTRA_COST = 10_000.0
# Answers are good enough when all that growers could still gain is less than this. [fraction]
GOOD_ENOUGH = 2e-4
# So much of the prices of the best bound is kept when new baskets are asked for.
KEPT = 0.5
# With no time at all a last answer is still looked for. [s]
LEAST_SECONDS = 1.0
# Parts of baskets up to this are none but for rounding.
NONE = 1e-6
# So much more than the trays hold is a row worth. [trays]
WORTH_A_ROW = 0.02


class Market:
    """The programme of baskets for one pattern of each group.

    Attributes:
        ways: The ways in patterns that are used.
        allowed: What may be missing.
        trays: Trays of each pattern in the last answer. Shape (n_patterns,).
        values: What part of each basket so far is taken in the last answer. Shape (n_baskets,).
        is_possible: Whether there is a basket for each grower at all, however much room it takes.
    """

    def __init__(
        self,
        options: Options,
        patterns: Patterns,
        fixed: Fixed,
        ways: Ways,
        allowed: Allowed,
        clock: Clock,
        *,
        is_used: Flags,
        room: Floats,
    ) -> None:
        """Begin with what every grower would like best.

        Args:
            options: What each sowing may get.
            patterns: When the trays of each group may stand.
            fixed: What is not free.
            ways: The ways in patterns that are used.
            allowed: What may be missing.
            clock: When to stop.
            is_used: Whether each pattern is used, one of each group. Shape (n_patterns,).
            room: What the trays of each pattern leave empty. Shape (n_patterns,). [trays]
        """
        self.ways, self.allowed, self._clock = ways, allowed, clock
        self._off = options.off[ways.option]
        self._n = len(patterns.group)
        self._capacity = options.capacity[patterns.group]
        self._fixed_cells = fixed.cells[patterns.group] * is_used
        self._most = int(max(allowed.cells.max(initial=0), allowed.pots.max(initial=0)))
        frame = begin(options, patterns, fixed, whole_trays=False)
        programme = frame.programme
        self._trays, self._extra = frame.trays, frame.extra
        every = np.arange(self._n)
        # Rows of trays come last, since more of them come later.
        self._plants_row = int(programme.add_rows([], n=1)[0])
        self._owner_row = programme.add_rows([], n=allowed.n_owners, lower=1.0, upper=1.0)
        self._least = self._fixed_cells / self._capacity + room * is_used
        self._tray_row = programme.add_rows([(every, frame.trays, 1.0)], n=self._n, lower=self._least)
        self._n_before = programme.n_columns
        self._pattern_of_row = every
        self._counts = np.arange(self._most + 1) / self._capacity[:, np.newaxis]
        self._programme: Open = programme.open(whole=False)
        chosen = frame.is_used >= 0
        self._programme.bound_columns(
            frame.is_used[chosen], is_used[chosen].astype(np.int64), is_used[chosen].astype(np.int64)
        )
        self._programme.bound_columns(
            self._trays, fixed.trays[patterns.group] * is_used, np.where(is_used, INFINITE, 0.0)
        )
        self._programme.bound_columns(self._extra, np.zeros(len(self._extra)), np.full(len(self._extra), INFINITE))
        self._seen: set[tuple[int, bytes, bytes]] = set()
        self._owner: list[int] = []
        self._missing: list[Ints] = []
        self._way: list[Ints] = []
        self._weight: list[float] = []
        self._days: list[float] = []
        # What is in the trays of each basket: basket, pattern, cells.
        self._inside: list[Ints] = []
        self.trays, self.values = np.zeros(self._n), np.zeros(0)
        self._goal = Goal.PLANTS
        self._bound, self._center, self._center_rows = -np.inf, np.zeros(0), 0.0
        none = Prices(cells=np.zeros((self._n + 1, self._most + 1)), plant=1.0, day=0.0)
        first = best_baskets(allowed, ways, self._off, none)
        self.is_possible = bool((first.worth > NEVER / 2).all())
        if self.is_possible:
            self._offer(first)

    def aim(self, goal: Goal, plants: float) -> None:
        """Look for the most plants, or the fewest days with so many plants at least."""
        self._goal = goal
        self._bound, self._center, self._center_rows = -np.inf, np.zeros(0), 0.0
        self._programme.bound_row(self._plants_row, plants, INFINITE)

    def settle(self) -> float | None:
        """Return what the goal comes to once nobody knows a better basket; None without an answer that fits."""
        while True:
            seconds = max(self._clock.left, LEAST_SECONDS)
            solved = self._programme.solve(self._cost(), largest=False, seconds=seconds, watch=self._clock.watch)
            if solved.values is None or not solved.is_proven:
                return None
            self.trays, self.values = solved.values[self._trays], solved.values[self._n_before :]
            duals = self._programme.prices
            if not self._clock.left or not self._ask_more(duals, solved.objective):
                break
        if solved.values[self._extra].max(initial=0.0) > NONE:
            return None
        return abs(solved.objective)

    def tighten(self) -> int:
        """Add rows for trays that whole lots do not fit into as their cells would; return how many."""
        is_dear = np.zeros(self._n, dtype=bool)
        is_dear[self._pattern_of_row[self._programme.prices[self._tray_row] > NONE]] = True
        basket, pattern, cells = self._contents()
        part = self.values[basket]
        counts, patterns = [], []
        for one in np.flatnonzero(is_dear & (self._fixed_cells == 0)).tolist():
            mine = (pattern == one) & (part > NONE)
            capacity = int(self._capacity[one])
            whole, rest = np.divmod(cells[mine], capacity)
            demand = np.bincount(rest, part[mine], minlength=capacity).astype(np.float64)
            demand[0] = 0.0
            sizes = np.flatnonzero(demand > NONE)
            fewest, worth = fewest_in_parts(sizes, demand[sizes], capacity)
            if fewest + whole @ part[mine] > self.trays[one] + WORTH_A_ROW:
                counts.append(in_steps_of(sizes, worth, capacity, self._most))
                patterns.append(one)
        for one, count in zip(patterns, counts, strict=True):
            mine = pattern == one
            of_basket = np.bincount(basket[mine], count[cells[mine]], minlength=len(self._owner))
            there = np.flatnonzero(of_basket)
            self._programme.add_row(
                np.concatenate([self._trays[[one]], self._n_before + there]),
                np.concatenate([[1.0], -of_basket[there]]),
                float(self._least[one]),
                INFINITE,
            )
        if counts:
            self._counts = np.vstack([self._counts, counts])
            self._pattern_of_row = np.concatenate([self._pattern_of_row, patterns])
            first = int(self._tray_row[0])
            self._tray_row = np.arange(first, first + len(self._pattern_of_row))
        return len(counts)

    def taken(self) -> tuple[Ints, Ints]:
        """Return the plants and the way of each allowed lot in the baskets of which growers take most."""
        allowed = self.allowed
        plants, way = np.zeros(len(allowed.lot), dtype=np.int64), np.zeros(len(allowed.lot), dtype=np.int64)
        most = np.zeros(allowed.n_owners)
        for owner, part, missing, of_lots in zip(
            self._owner, self.values.tolist(), self._missing, self._way, strict=False
        ):
            if part > most[owner]:
                most[owner] = part
                mine = slice(allowed.first[owner], allowed.first[owner + 1])
                plants[mine] = allowed.plants[np.arange(mine.start, mine.stop), missing]
                way[mine] = of_lots
        return plants, way

    def _cost(self) -> Floats:
        cost = np.zeros(self._n_before + len(self._owner))
        cost[self._extra] = EXTRA_COST
        cost[self._n_before :] = self._days if self._goal is Goal.DAYS else -np.array(self._weight)
        return cost

    def _ask_more(self, duals: Floats, objective: float) -> bool:
        """Ask for better baskets at prices near to those of the last answer, then at these; say whether there are any.

        Source:
            P. Wentges, International Transactions in Operational Research 4, 1997: between the prices of the last
            answer and those of the best bound so far, since prices that jump about ask for what nobody takes.
        """
        of_rows = objective - float(duals[self._owner_row].sum())
        near = np.zeros(len(duals))
        near[: len(self._center)] = self._center
        tries = [(duals, of_rows)]
        if len(self._center):
            tries.insert(0, (KEPT * near + (1 - KEPT) * duals, KEPT * self._center_rows + (1 - KEPT) * of_rows))
        for prices, rows in tries:
            found = best_baskets(self.allowed, self.ways, self._off, self._prices(prices))
            bound = rows - float(found.worth.sum())
            if bound > self._bound:
                self._bound, self._center, self._center_rows = bound, prices, rows
            if objective - self._bound <= GOOD_ENOUGH * max(1.0, abs(objective)):
                return False
            if self._offer(found):
                return True
        return False

    def _prices(self, duals: Floats) -> Prices:
        cells = np.zeros((self._n + 1, self._most + 1))
        of_rows = np.maximum(0.0, duals[self._tray_row])
        dear = np.flatnonzero(of_rows > 0)
        np.add.at(cells, self._pattern_of_row[dear], of_rows[dear, np.newaxis] * self._counts[dear])
        return Prices(
            cells=cells,
            plant=max(0.0, float(duals[self._plants_row])) + (self._goal is Goal.PLANTS),
            day=float(self._goal is Goal.DAYS),
        )

    def _offer(self, baskets: Baskets) -> int:
        """Add those baskets that are new; return how many."""
        allowed, ways = self.allowed, self.ways
        at = np.arange(len(allowed.lot))
        plants = allowed.plants[at, baskets.missing]
        way = np.where(plants > 0, baskets.way, 0)
        new = []
        for owner, (start, end) in enumerate(pairwise(allowed.first.tolist())):
            key = owner, plants[start:end].tobytes(), way[start:end].tobytes()
            if key not in self._seen:
                self._seen.add(key)
                new.append(owner)
                self._missing.append(baskets.missing[start:end])
                self._way.append(way[start:end])
        if not new:
            return 0
        number_of = np.full(allowed.n_owners, -1)
        number_of[new] = np.arange(len(new))
        there = np.flatnonzero((plants > 0) & (number_of[allowed.owner] >= 0))
        basket = number_of[allowed.owner[there]]
        weight = np.bincount(basket, plants[there] * allowed.weight[there], minlength=len(new))
        days = np.bincount(basket, plants[there] * self._off[way[there]], minlength=len(new))
        pattern = np.concatenate([ways.start[way[there]], ways.pot[way[there]]])
        cells = np.concatenate(
            [allowed.cells[there, baskets.missing[there]], allowed.pots[there, baskets.missing[there]]]
        )
        basket = np.tile(basket, 2)
        inside = np.flatnonzero((pattern >= 0) & (cells > 0))
        basket, pattern, cells = basket[inside], pattern[inside], cells[inside]
        self._inside.append(np.stack([basket + len(self._owner), pattern, cells]))
        in_rows = np.zeros((len(new), len(self._pattern_of_row)))
        for at_row, of_pattern in enumerate(self._pattern_of_row.tolist()):
            mine = pattern == of_pattern
            np.add.at(in_rows[:, at_row], basket[mine], self._counts[at_row, cells[mine]])
        column, row = np.nonzero(in_rows)
        number = np.arange(len(new))
        columns = np.concatenate([column, number, number])
        rows = np.concatenate([self._tray_row[row], np.full(len(new), self._plants_row), self._owner_row[new]])
        values = np.concatenate([-in_rows[column, row], weight, np.ones(len(new))])
        order = np.lexsort((rows, columns))
        self._programme.add_columns(np.searchsorted(columns[order], number), rows[order], values[order])
        self._owner += new
        self._weight += weight.tolist()
        self._days += days.tolist()
        return len(new)

    def _contents(self) -> Ints:
        if len(self._inside) > 1:
            self._inside = [np.concatenate(self._inside, axis=1)]
        return self._inside[0]


def ways_in(ways: Ways, is_used: Flags) -> Ways:
    """Return the ways in patterns that are used."""
    there = is_used[ways.start] & ((ways.pot < 0) | is_used[ways.pot])
    return Ways(kind=ways.kind[there], option=ways.option[there], start=ways.start[there], pot=ways.pot[there])
