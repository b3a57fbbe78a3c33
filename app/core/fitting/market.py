"""Shares of baskets: a programme in which each grower gets one, or parts of some that come to one.

Its columns are made as they are asked for: at the prices of an answer each grower says which basket would be worth
more, until nobody knows a better one. With thousands of lots few growers are then left with parts of several.
"""

from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.answer import Goal
from app.core.fitting.baskets import NEVER, Allowed, Baskets, Prices, best_baskets
from app.core.fitting.clock import Clock
from app.core.fitting.fixed import Fixed
from app.core.fitting.model import Ways, begin, find_ways
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
# Of so many growers the programme takes long, so there and of a sample an answer is sooner good enough.
MANY = 1_000
GOOD_ENOUGH_OF_MANY = 5e-4
# So much of the prices of the best bound is kept when new baskets are asked for.
KEPT = 0.5
# Baskets at so many of the last prices of a sample, of each goal, are there to begin with.
LEARNT = 4
# Nor are they asked again where the last answer was better than the one before by no more than this. [fraction]
SLOW = {Goal.PLANTS: 1e-4, Goal.DAYS: 1e-3}
# Where there are very many, so many baskets of each grower are in the programme at a time.
MOST_A_GROWER = 3
# With no time at all a last answer is still looked for. [s]
LEAST_SECONDS = 1.0
# Where there are many, or a sample of many, an answer that is nearly settled is waited for: so often growers are asked.
LEAST_ASKED = 5
PATIENT_SECONDS = 20.0
# Parts of baskets up to this are none but for rounding.
NONE = 1e-6
# So much more than the trays hold is a row worth. [trays]
WORTH_A_ROW = 0.02


class Setting(NamedTuple):
    """Which patterns are used, and how full their trays are hoped to be.

    Attributes:
        is_used: Whether each pattern is used, one of each group. Shape (n_patterns,).
        ways: The ways in patterns that are used.
        room: What the trays of each pattern leave empty. Shape (n_patterns,). [trays]
    """

    is_used: Flags
    ways: Ways
    room: Floats


class _Worth(NamedTuple):
    """What rows are worth in an answer.

    Attributes:
        plants: One more plant of those that are to be placed at the least.
        trays: One more tray in each row of trays. Shape (n_tray_rows,).
        rest: All rows but those of growers and of plants, together.
    """

    plants: float
    trays: Floats
    rest: float

    def nearer(self, other: "_Worth", part: float) -> "_Worth":
        """Return a part of another one and the rest of this; rows that the other does not know are worth nothing."""
        known = np.zeros(len(self.trays))
        known[: len(other.trays)] = other.trays
        return _Worth(
            plants=part * other.plants + (1 - part) * self.plants,
            trays=part * known + (1 - part) * self.trays,
            rest=part * other.rest + (1 - part) * self.rest,
        )


class Settled(NamedTuple):
    """What positions and plants are worth in a settled programme, for one pattern of each group.

    Attributes:
        is_used: Whether each pattern is used. Shape (n_patterns,).
        positions: What one position more would cost, so less than nothing, in each row of positions. [d]
        plants: What one more plant that is to be placed costs. [d]
    """

    is_used: Flags
    positions: Floats
    plants: float


class _Row(NamedTuple):
    """What lots count in the trays of a pattern, where only some sizes are given."""

    pattern: int
    sizes: Ints
    counts: Floats


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
        setting: Setting,
        allowed: Allowed,
        *,
        clock: Clock,
        times: float = 1.0,
        like: "Market | None" = None,
    ) -> None:
        """Begin with what every grower would like best, or with what they would like at the prices of a sample.

        Args:
            options: What each sowing may get.
            patterns: When the trays of each group may stand.
            fixed: What is not free.
            setting: Which patterns are used.
            allowed: What may be missing.
            clock: When to stop.
            times: How many growers each of them stands for. [1]
            like: A sample of these growers, settled for both goals.
        """
        is_used, ways, room = setting
        self.ways, self.allowed, self._clock, self._times = ways, allowed, clock, times
        self._off = options.off[ways.option]
        self._n = len(patterns.group)
        self._capacity = options.capacity[patterns.group]
        self._fixed_cells = fixed.cells[patterns.group] * is_used
        self._most = int(max(allowed.cells.max(initial=0), allowed.pots.max(initial=0)))
        frame = begin(options, patterns, fixed, whole_trays=False)
        programme = frame.programme
        self._is_used, self._position_rows = is_used, frame.position_rows
        self._trays, self._extra = frame.trays, frame.extra
        every = np.arange(self._n)
        # Rows of trays come last, since more of them come later.
        self._plants_row = int(programme.add_rows([], n=1)[0])
        self._owner_row = programme.add_rows([], n=allowed.n_owners, lower=times, upper=times)
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
        self._inside: list[Ints] = [np.zeros((3, 0), dtype=np.int64)]
        self.trays, self.values = np.zeros(self._n), np.zeros(0)
        self._is_many = allowed.n_owners > MANY
        self._is_patient = self._is_many or times > 1
        self.rows: list[_Row] = []
        self.asked: dict[Goal, list[_Worth]] = {Goal.PLANTS: [], Goal.DAYS: []}
        begin_with = {Goal.PLANTS: [_Worth(0.0, np.zeros(self._n), 0.0)]}
        self._known: dict[Goal, _Worth] = {}
        if like is not None and all(like.asked.values()):
            self._add_rows(like.rows)
            begin_with = {goal: asked[-LEARNT:] for goal, asked in like.asked.items()}
            self._known = {goal: asked[-1] for goal, asked in begin_with.items()}
        self.is_possible = True
        for goal, asked in begin_with.items():
            self._goal = goal
            for worth in asked:
                found = best_baskets(allowed, ways, self._off, self._prices(worth))
                self.is_possible = self.is_possible and bool((found.worth > NEVER / 2).all())
                if self.is_possible:
                    self._offer(found)
        self.aim(Goal.PLANTS, -INFINITE)

    def aim(self, goal: Goal, plants: float) -> None:
        """Look for the most plants, or the fewest days with so many plants at least."""
        self._goal, self._least_plants = goal, max(0.0, plants)
        self._bound, self._dear = -np.inf, np.zeros(0)
        self._center: _Worth | None = None
        self._programme.bound_row(self._plants_row, plants, INFINITE)
        if goal in self._known:
            self._offer(self._asked_at(self._known[goal]))

    def settle(self, rounds: float = INFINITE) -> float | None:
        """Return what the goal comes to once nobody knows a better basket; None without an answer that fits.

        Args:
            rounds: How many answers that fit to look at, at the most. [1]
        """
        before = INFINITE
        while True:
            seconds = max(self._clock.left, PATIENT_SECONDS if self._is_patient else LEAST_SECONDS)
            if self._is_many:
                self._leave_out()
                self._programme.begin_inside()
            solved = self._programme.solve(self._cost(), largest=False, seconds=seconds, watch=self._clock.watch)
            if solved.values is None or not solved.is_proven:
                return None
            self.trays, self.values = solved.values[self._trays], solved.values[self._n_before :]
            self._dear = self._programme.reduced_costs[self._n_before :]
            fits = float(solved.values[self._extra].max(initial=0.0)) <= NONE
            rounds -= fits
            hardly = before - solved.objective < SLOW[self._goal] * max(1.0, abs(solved.objective))
            # Where the programme takes long, what was looked for so long is not given up for a little time.
            is_enough = not self._is_patient or (fits and len(self.asked[self._goal]) >= LEAST_ASKED)
            is_late = self._clock.is_stopped() or (is_enough and not self._clock.left)
            if rounds <= 0 or is_late or (self._is_many and fits and hardly):
                break
            before = solved.objective
            if not self._ask_more(self._worth(solved.objective), solved.objective):
                break
        return abs(solved.objective) if fits else None

    def tighten(self) -> int:
        """Add rows for trays that whole lots do not fit into as their cells would; return how many."""
        is_dear = np.zeros(self._n, dtype=bool)
        is_dear[self._pattern_of_row[self._programme.prices[self._tray_row] > NONE]] = True
        basket, pattern, cells = self._contents()
        part = self.values[basket]
        rows = []
        for one in np.flatnonzero(is_dear & (self._fixed_cells == 0)).tolist():
            mine = (pattern == one) & (part > NONE)
            capacity = int(self._capacity[one])
            whole, rest = np.divmod(cells[mine], capacity)
            demand = np.bincount(rest, part[mine], minlength=capacity).astype(np.float64)
            demand[0] = 0.0
            sizes = np.flatnonzero(demand > NONE)
            fewest, counts = fewest_in_parts(sizes, demand[sizes], capacity)
            if fewest + whole @ part[mine] > self.trays[one] + WORTH_A_ROW:
                rows.append(_Row(one, sizes, counts))
        self._add_rows(rows)
        return len(rows)

    def _add_rows(self, rows: list[_Row]) -> None:
        basket, pattern, cells = self._contents()
        for row in rows:
            count = in_steps_of(row.sizes, row.counts, int(self._capacity[row.pattern]), self._most)
            mine = pattern == row.pattern
            of_basket = np.bincount(basket[mine], count[cells[mine]], minlength=len(self._owner))
            there = np.flatnonzero(of_basket)
            self._programme.add_row(
                np.concatenate([self._trays[[row.pattern]], self._n_before + there]),
                np.concatenate([[1.0], -of_basket[there]]),
                float(self._least[row.pattern]),
                INFINITE,
            )
            self._counts = np.vstack([self._counts, count])
        self.rows += rows
        self._pattern_of_row = np.concatenate([self._pattern_of_row, [row.pattern for row in rows]]).astype(np.int64)
        self._tray_row = int(self._tray_row[0]) + np.arange(len(self._pattern_of_row))

    def settled(self) -> Settled:
        """Return what positions and plants are worth in the last answer."""
        duals = self._programme.prices
        return Settled(self._is_used, duals[self._position_rows], float(duals[self._plants_row]))

    def _leave_out(self) -> None:
        """Leave out the baskets that are worth least by the last answer, where there are very many."""
        columns = np.arange(self._n_before, self._n_before + len(self._owner))
        dear = np.zeros(len(columns))
        dear[: len(self._dear)] = self._dear
        most = MOST_A_GROWER * self.allowed.n_owners
        limit = np.partition(dear, most)[most] if len(dear) > most else 0.0
        upper = np.where(dear > max(limit, NONE), 0.0, INFINITE)
        self._programme.bound_columns(columns, np.zeros(len(columns)), upper)

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
                plants[mine] = allowed.plants[allowed.row[mine], missing]
                way[mine] = of_lots
        return plants, way

    def _cost(self) -> Floats:
        cost = np.zeros(self._n_before + len(self._owner))
        cost[self._extra] = EXTRA_COST
        cost[self._n_before :] = self._days if self._goal is Goal.DAYS else -np.array(self._weight)
        return cost

    def _worth(self, objective: float) -> _Worth:
        """Return what rows are worth in the last answer."""
        duals = self._programme.prices
        plants = max(0.0, float(duals[self._plants_row]))
        of_growers = self._times * float(duals[self._owner_row].sum())
        trays = np.maximum(0.0, duals[self._tray_row])
        return _Worth(plants, trays, objective - of_growers - plants * self._least_plants)

    def _ask_more(self, worth: _Worth, objective: float) -> bool:
        """Ask for better baskets at prices near to those of the last answer, then at these; say whether there are any.

        Source:
            P. Wentges, International Transactions in Operational Research 4, 1997: between the prices of the last
            answer and those of the best bound so far, since prices that jump about ask for what nobody takes.
        """
        good = GOOD_ENOUGH_OF_MANY if self._is_patient else GOOD_ENOUGH
        tries = [worth] if self._center is None else [worth.nearer(self._center, KEPT), worth]
        for one in tries:
            found = self._asked_at(one)
            if objective - self._bound <= good * max(1.0, abs(objective)):
                return False
            if self._offer(found):
                return True
        return False

    def _asked_at(self, worth: _Worth) -> Baskets:
        """Return the best baskets where rows are worth that; it says what the goal can't come to less than, too."""
        self.asked[self._goal].append(worth)
        found = best_baskets(self.allowed, self.ways, self._off, self._prices(worth))
        bound = worth.rest + worth.plants * self._least_plants - self._times * float(found.worth.sum())
        if bound > self._bound:
            self._bound, self._center = bound, worth
        return found

    def _prices(self, worth: _Worth) -> Prices:
        cells = np.zeros((self._n + 1, self._most + 1))
        dear = np.flatnonzero(worth.trays > 0)
        np.add.at(cells, self._pattern_of_row[dear], worth.trays[dear, np.newaxis] * self._counts[dear])
        return Prices(
            cells=cells,
            plant=worth.plants + (self._goal is Goal.PLANTS),
            day=float(self._goal is Goal.DAYS),
        )

    def _offer(self, baskets: Baskets) -> int:
        """Add those baskets that are new; return how many."""
        allowed, ways = self.allowed, self.ways
        plants = allowed.plants[allowed.row, baskets.missing]
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
        weight = np.bincount(basket, plants[there] * allowed.weight[allowed.row[there]], minlength=len(new))
        days = np.bincount(basket, plants[there] * self._off[way[there]], minlength=len(new))
        pattern = np.concatenate([ways.start[way[there]], ways.pot[way[there]]])
        at = allowed.row[there], baskets.missing[there]
        cells = np.concatenate([allowed.cells[at], allowed.pots[at]])
        basket = np.tile(basket, 2)
        inside = np.flatnonzero((pattern >= 0) & (cells > 0))
        basket, pattern, cells = basket[inside], pattern[inside], cells[inside]
        self._inside.append(np.stack([basket + len(self._owner), pattern, cells]))
        # Cells of all lots of a basket in a pattern are one entry of its row; rows of packings count lots one by one.
        pairs, pair = np.unique(basket * self._n + pattern, return_inverse=True)
        taken = np.bincount(pair.ravel(), self._counts[pattern, cells], minlength=len(pairs))
        in_rows = [np.stack([*np.divmod(pairs, self._n), taken])]
        for at_row in range(self._n, len(self._pattern_of_row)):
            mine = pattern == self._pattern_of_row[at_row]
            taken = np.bincount(basket[mine], self._counts[at_row, cells[mine]], minlength=len(new))
            there = np.flatnonzero(taken)
            in_rows.append(np.stack([there, np.full(len(there), at_row), taken[there]]))
        column, row, value = np.concatenate(in_rows, axis=1)
        column, row = column.astype(np.int64), row.astype(np.int64)
        number = np.arange(len(new))
        columns = np.concatenate([column, number, number])
        rows = np.concatenate([self._tray_row[row], np.full(len(new), self._plants_row), self._owner_row[new]])
        values = np.concatenate([-value, weight, np.ones(len(new))])
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


def setting_of(options: Options, patterns: Patterns, is_used: Flags, room: Floats) -> Setting:
    """Return a setting in which some patterns are used, one of each group."""
    ways = find_ways(options, patterns)
    there = is_used[ways.start] & ((ways.pot < 0) | is_used[ways.pot])
    ways = Ways(kind=ways.kind[there], option=ways.option[there], start=ways.start[there], pot=ways.pot[there])
    return Setting(is_used, ways, room)
