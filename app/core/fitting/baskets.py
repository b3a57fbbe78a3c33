"""Baskets: what all lots of a grower get together, and the best basket of each grower at given prices.

A grower is to get a share of the plants wanted, and it is open which of them: so many of these may be missing, and no
more. Which are left out is a knapsack for each grower alone, solved to proof for all growers at once.
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from math import ceil
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.fixed import Fixed
from app.core.fitting.model import Ways
from app.core.fitting.options import Options
from app.core.fitting.wishes import Stand

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
T = TypeVar("T")

# So many growers are looked at together, on each core some: of more, arrays grow too large to be near at hand.
GROWERS_IN_PART = 100
CORES = 2
# What nobody would pay.
NEVER = -1e15


@dataclass(frozen=True, kw_only=True)
class Allowed:
    """Free lots, those of a grower together, and how many plants of each may be missing.

    Attributes:
        grower: Each grower with free lots, who may miss fewest first. Shape (n_owners,).
        lot: Each free lot, those of a grower together. Shape (n,).
        owner: Its grower as an index into these, rising. Shape (n,).
        first: The first lot of each grower, and last their number. Shape (n_owners + 1,).
        weight: What each plant counts, 4 - priority. Shape (n,). [1]
        first_way: The first of the ways that are open to it, which follow each other. Shape (n,).
        n_ways: Their number. Shape (n,).
        plants: Plants left if so many are missing as the column says. Shape (n, most_missing + 1). [1]
        cells: Their cells. Same shape. [1]
        pots: Their pots, if they are potted on. Same shape. [1]
        may_miss: Whether so many may. Same shape.
        most_missing: Plants of each grower that may be missing. Shape (n_owners,). [1]
    """

    grower: Ints
    lot: Ints
    owner: Ints
    first: Ints
    weight: Ints
    first_way: Ints
    n_ways: Ints
    plants: Ints
    cells: Ints
    pots: Ints
    may_miss: Flags
    most_missing: Ints

    @property
    def n_owners(self) -> int:
        """The number of growers with free lots."""
        return len(self.most_missing)

    @cached_property
    def parts(self) -> "tuple[Allowed, ...]":
        """The same by some growers at a time, where there are many: arrays of all at once are slower to go through."""
        edges = _edges(self.n_owners)
        return tuple(self._of_growers(begin, end) for begin, end in edges) if len(edges) > 1 else (self,)

    def _of_growers(self, begin: int, end: int) -> "Allowed":
        mine = slice(int(self.first[begin]), int(self.first[end]))
        numbers = slice(int(self.most_missing[begin:end].max(initial=0)) + 1)
        return Allowed(
            grower=self.grower[begin:end],
            lot=self.lot[mine],
            owner=self.owner[mine] - begin,
            first=self.first[begin : end + 1] - self.first[begin],
            weight=self.weight[mine],
            first_way=self.first_way[mine],
            n_ways=self.n_ways[mine],
            plants=self.plants[mine, numbers],
            cells=self.cells[mine, numbers],
            pots=self.pots[mine, numbers],
            may_miss=self.may_miss[mine, numbers],
            most_missing=self.most_missing[begin:end],
        )


@dataclass(frozen=True, kw_only=True)
class Prices:
    """What room, plants and days are worth, all in one unit.

    Attributes:
        cells: Of so many cells or pots in trays of each pattern; the last row, of no pattern, is 0. Shape
            (n_patterns + 1, most cells + 1).
        plant: Of a plant that counts 1, to whoever gets it.
        day: Of a plant-day away from the best day.
    """

    cells: Floats
    plant: float
    day: float


@dataclass(frozen=True, kw_only=True)
class Baskets:
    """A basket for each grower.

    Attributes:
        worth: What each is worth beyond its price. Shape (n_owners,).
        missing: Plants of each lot that are missing. Shape (n,). [1]
        way: The way of each lot, where it has plants. Shape (n,).
    """

    worth: Floats
    missing: Ints
    way: Ints


def work_with(options: Options, fixed: Fixed, share: Fraction) -> int:
    """Return what the best baskets of all growers take to find, at the most. [comparisons]

    Args:
        options: What each sowing may get.
        fixed: What is not free.
        share: The smallest share.
    """
    _, _, owner, most_missing = _growers(options, fixed, share)
    lots = np.bincount(owner, minlength=len(most_missing))
    return sum(
        (end - begin) * int(lots[begin:end].max()) * (int(most_missing[end - 1]) + 1) ** 2
        for begin, end in _edges(len(most_missing))
    )


def _edges(n: int) -> list[tuple[int, int]]:
    """Return the first of the growers that are looked at together, and the one after the last."""
    return list(pairwise(np.linspace(0, n, max(1, n // GROWERS_IN_PART) + 1).astype(np.int64).tolist())) if n else []


def _growers(options: Options, fixed: Fixed, share: Fraction) -> tuple[Ints, Ints, Ints, Ints]:
    """Return the growers with free lots, these lots, the grower of each, and what each grower may miss."""
    sowings = options.plan.garden.sowings
    free = np.flatnonzero(options.is_free)
    # The largest first: of most growers the last ones are then small, and few numbers may be missing of these.
    free = free[np.lexsort((-sowings.plants[options.lot[free]], sowings.grower[options.lot[free]]))]
    grower, owner = np.unique(sowings.grower[options.lot[free]], return_inverse=True)
    owner = owner.ravel().astype(np.int64)
    of_all = np.bincount(sowings.grower[options.lot], sowings.plants[options.lot]).astype(np.int64)[grower]
    least = np.array([ceil(share * number) for number in of_all.tolist()], dtype=np.int64) - fixed.placed[grower]
    of_free = np.bincount(owner, sowings.plants[options.lot[free]], minlength=len(grower)).astype(np.int64)
    most_missing = of_free - np.clip(least, 0, of_free)
    by_size = np.argsort(most_missing, kind="stable")
    rank = np.argsort(by_size, kind="stable")
    order = np.argsort(rank[owner], kind="stable")
    return grower[by_size], free[order], rank[owner][order], most_missing[by_size]


def find_allowed(options: Options, stand: Stand, ways: Ways, fixed: Fixed, share: Fraction) -> Allowed:
    """Return what may be missing where each grower gets no less than a share of the plants wanted.

    Args:
        options: What each sowing may get.
        stand: The cells and pots of any number of plants of the lots.
        ways: The ways that are open.
        fixed: What is not free.
        share: The smallest share.
    """
    grower, free, owner, most_missing = _growers(options, fixed, share)
    n_owners, wanted = len(grower), options.plan.garden.sowings.plants[options.lot[free]]
    missing = np.arange(int(most_missing.max(initial=0)) + 1)
    plants = np.maximum(0, wanted[:, np.newaxis] - missing)
    row = stand.row[free][:, np.newaxis]
    first_way = np.searchsorted(ways.kind, np.arange(len(options.first)))
    kind = options.kind[free]
    return Allowed(
        grower=grower,
        lot=free,
        owner=owner,
        first=np.searchsorted(owner, np.arange(n_owners + 1)),
        weight=4 - options.plan.garden.sowings.priority[options.lot[free]],
        first_way=first_way[kind],
        n_ways=np.diff(first_way)[kind],
        plants=plants,
        cells=stand.cells[row, plants],
        pots=stand.pots[row, plants],
        may_miss=(missing <= wanted[:, np.newaxis]) & (missing <= most_missing[owner][:, np.newaxis]),
        most_missing=most_missing,
    )


def best_baskets(allowed: Allowed, ways: Ways, off: "Ints | Floats", prices: Prices) -> Baskets:
    """Return the basket of each grower that is worth the most beyond its price, of all that are allowed.

    Args:
        allowed: What may be missing.
        ways: The ways, with the patterns of their trays as rows of `prices.cells`.
        off: Days between the day of each way and the best one, and whatever else a plant costs there. Shape
            (n_ways,). [d]
        prices: What things are worth.
    """
    found = _for_each_part(allowed, lambda part: _best_baskets(part, ways, off, prices))
    return Baskets(
        worth=np.concatenate([one.worth for one in found]),
        missing=np.concatenate([one.missing for one in found]),
        way=np.concatenate([one.way for one in found]),
    )


def _for_each_part(allowed: Allowed, find: Callable[[Allowed], T]) -> list[T]:
    if len(allowed.parts) == 1:
        return [find(allowed)]
    with ThreadPoolExecutor(CORES) as pool:
        return list(pool.map(find, allowed.parts))


def _best_baskets(allowed: Allowed, ways: Ways, off: "Ints | Floats", prices: Prices) -> Baskets:
    worth, way = _worths(allowed, ways, off, prices)
    at = np.arange(len(allowed.lot))
    missing = worth.argmax(axis=1)
    of_owner = np.bincount(allowed.owner, worth[at, missing], minlength=allowed.n_owners).astype(np.float64)
    is_short = np.bincount(allowed.owner, missing, minlength=allowed.n_owners) > allowed.most_missing
    short = np.flatnonzero(is_short)
    if len(short):
        lots = _lots_of(allowed, short)
        so_far, choices = _knapsacks(worth, lots, allowed.most_missing[short])
        left = so_far.argmax(axis=1)
        of_owner[short] = so_far[np.arange(len(short)), left]
        taken = _taken(choices, left)
        inside = lots < len(allowed.lot)
        missing[lots[inside]] = taken[inside]
    return Baskets(worth=of_owner, missing=missing, way=way[at, missing])


def least_costs(allowed: Allowed, ways: Ways, off: "Ints | Floats", prices: Prices) -> Floats:
    """Return what the cheapest basket of each grower costs with no more plants missing than the column says.

    Args:
        allowed: What may be missing.
        ways: The ways.
        off: Days between the day of each way and the best one, and whatever else a plant costs there. Shape
            (n_ways,). [d]
        prices: What things are worth.

    Returns:
        Costs of shape (n_owners, most_missing + 1); beyond what may be missing, those of the last number that may.
    """
    costs = _for_each_part(allowed, lambda part: _least_costs(part, ways, off, prices))
    width = allowed.plants.shape[1]
    return np.concatenate([np.pad(cost, ((0, 0), (0, width - cost.shape[1])), mode="edge") for cost in costs])


def _least_costs(allowed: Allowed, ways: Ways, off: "Ints | Floats", prices: Prices) -> Floats:
    worth, _ = _worths(allowed, ways, off, prices)
    every = np.arange(allowed.n_owners)
    so_far, _ = _knapsacks(worth, _lots_of(allowed, every), allowed.most_missing)
    costs: Floats = -np.maximum.accumulate(so_far, axis=1)
    return costs


def _lots_of(allowed: Allowed, owners: Ints) -> Ints:
    """Return the lots of growers, a row each; who has fewer than others has the row after all lots in their place."""
    lots = np.full((len(owners), int(np.diff(allowed.first)[owners].max(initial=0))), len(allowed.lot))
    for row, owner in enumerate(owners.tolist()):
        mine = np.arange(allowed.first[owner], allowed.first[owner + 1])
        lots[row, : len(mine)] = mine
    return lots


def _worths(allowed: Allowed, ways: Ways, off: "Ints | Floats", prices: Prices) -> tuple[Floats, Ints]:
    """Return what each number of missing plants of each lot leaves it worth, and the cheapest way for the others."""
    least = np.full(allowed.plants.shape, np.inf)
    best = np.zeros(allowed.plants.shape, dtype=np.int64)
    for number in range(int(allowed.n_ways.max(initial=0))):
        lots = np.flatnonzero(allowed.n_ways > number)
        way = allowed.first_way[lots] + number
        cost = prices.cells[ways.start[way][:, np.newaxis], allowed.cells[lots]]
        cost += prices.cells[ways.pot[way][:, np.newaxis], allowed.pots[lots]]
        if prices.day:
            cost += prices.day * off[way][:, np.newaxis] * allowed.plants[lots]
        is_less = cost < least[lots]
        least[lots] = np.where(is_less, cost, least[lots])
        best[lots] = np.where(is_less, way[:, np.newaxis], best[lots])
    # Without a way nothing is placed.
    least[allowed.plants == 0] = 0.0
    worth = prices.plant * allowed.weight[:, np.newaxis] * allowed.plants - least
    worth[~allowed.may_miss | np.isinf(least)] = NEVER
    return worth, best


def _knapsacks(worth: Floats, lots: Ints, most: Ints) -> tuple[Floats, list[Ints]]:
    """Return the most that the lots of each grower are worth together with so many plants missing.

    Args:
        worth: What so many missing plants of each lot leave it worth. Shape (n, k + 1).
        lots: Rows of `worth` of the lots of each grower; n for none. Shape (n_growers, most_lots).
        most: Plants of each grower that may be missing. Shape (n_growers,). [1]

    Returns:
        Worths of shape (n_growers, k + 1), and for each column of `lots` what is missing of it to get there.

    Source:
        Dynamic programming over the plants missing so far, as for any knapsack.
    """
    # Nothing is missing of no lot, and that costs nothing.
    none = np.full((1, worth.shape[1]), NEVER)
    none[0, 0] = 0.0
    worth = np.vstack([worth, none])
    n, k = len(lots), worth.shape[1]
    beyond = np.arange(k) > most[:, np.newaxis]
    so_far = np.full((n, k), NEVER)
    so_far[:, 0] = 0.0
    choices = []
    for lot in lots.T:
        of_lot = worth[lot]
        possible = np.flatnonzero((of_lot > NEVER / 2).any(axis=0))
        best, choice = so_far + of_lot[:, :1], np.zeros((n, k), dtype=np.int64)
        for missing in range(1, int(possible.max(initial=0)) + 1):
            other = so_far[:, :-missing] + of_lot[:, missing : missing + 1]
            is_more = other > best[:, missing:]
            np.copyto(best[:, missing:], other, where=is_more)
            np.copyto(choice[:, missing:], missing, where=is_more)
        best[beyond] = NEVER
        so_far = best
        choices.append(choice)
    return so_far, choices


def _taken(choices: list[Ints], left: Ints) -> Ints:
    """Return what is missing of each lot where so much is missing of all, going back over the choices."""
    rows, left = np.arange(len(left)), left.copy()
    taken = np.zeros((len(left), len(choices)), dtype=np.int64)
    for column in reversed(range(len(choices))):
        taken[:, column] = choices[column][rows, left]
        left -= taken[:, column]
    return taken
