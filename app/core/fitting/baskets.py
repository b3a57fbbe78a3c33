"""Baskets: what all lots of a grower get together, and the best basket of each grower at given prices.

A grower is to get a share of the plants wanted, and it is open which of them: so many of these may be missing, and no
more. Which are left out is a knapsack for each grower alone, solved to proof for all growers at once.
"""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from math import ceil
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.fixed import Fixed
from app.core.fitting.model import Ways
from app.core.fitting.options import Options
from app.core.fitting.wishes import Stand

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

# Worths of growers who are looked at together, on each core some: more of them are too large to be near at hand.
WORTHS_IN_PART = 10_000
CORES = 2
# What nobody would pay.
NEVER = -1e15


@dataclass(frozen=True, kw_only=True)
class Allowed:
    """Free lots, those of a grower together, and what comes of them with some plants missing.

    Lots of one kind with as many plants are alike, so there are tables with one row for all of these.

    Attributes:
        grower: Each grower with free lots, who may miss fewest first. Shape (n_owners,).
        lot: Each free lot, those of a grower together. Shape (n,).
        owner: Its grower as an index into these, rising. Shape (n,).
        first: The first lot of each grower, and last their number. Shape (n_owners + 1,).
        row: The row of each lot in the tables. Shape (n,).
        weight: What each plant counts, 4 - priority. Shape (n_rows,). [1]
        first_way: The first of the ways that are open, which follow each other. Shape (n_rows,).
        n_ways: Their number. Shape (n_rows,).
        plants: Plants left if so many are missing as the column says. Shape (n_rows, most_missing + 1). [1]
        cells: Their cells. Same shape. [1]
        pots: Their pots, if they are potted on. Same shape. [1]
        most_missing: Plants of each grower that may be missing. Shape (n_owners,). [1]
    """

    grower: Ints
    lot: Ints
    owner: Ints
    first: Ints
    row: Ints
    weight: Ints
    first_way: Ints
    n_ways: Ints
    plants: Ints
    cells: Ints
    pots: Ints
    most_missing: Ints

    @property
    def n_owners(self) -> int:
        """The number of growers with free lots."""
        return len(self.most_missing)

    @property
    def wanted(self) -> Ints:
        """Plants wanted of each lot. Shape (n,). [1]"""
        wanted: Ints = self.plants[self.row, 0]
        return wanted


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
    return int(np.bincount(owner, minlength=len(most_missing)) @ (most_missing + 1) ** 2)


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
    sowings = options.plan.garden.sowings
    alike = np.column_stack(
        [
            options.kind[free],
            4 - sowings.priority[options.lot[free]],
            stand.row[free],
            sowings.plants[options.lot[free]],
        ]
    )
    found, row = np.unique(alike, axis=0, return_inverse=True)
    kind, weight, of_stand, wanted = found.T.astype(np.int64)
    plants = np.maximum(0, wanted[:, np.newaxis] - np.arange(int(most_missing.max(initial=0)) + 1))
    first_way = np.searchsorted(ways.kind, np.arange(len(options.first)))
    return Allowed(
        grower=grower,
        lot=free,
        owner=owner,
        first=np.searchsorted(owner, np.arange(len(grower) + 1)),
        row=row.ravel().astype(np.int64),
        weight=weight,
        first_way=first_way[kind],
        n_ways=np.diff(first_way)[kind],
        plants=plants,
        cells=stand.cells[of_stand[:, np.newaxis], plants],
        pots=stand.pots[of_stand[:, np.newaxis], plants],
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
    worth, way = _worths(allowed, ways, off, prices)
    # More than that is never missing of a lot: it would be worth no more, and others could miss less.
    most = worth.argmax(axis=1)
    missing, best = most[allowed.row], worth[allowed.row, most[allowed.row]]
    of_owner = np.bincount(allowed.owner, best, minlength=allowed.n_owners).astype(np.float64)
    is_short = np.bincount(allowed.owner, missing, minlength=allowed.n_owners) > allowed.most_missing
    for owners, part in _for_each_part(allowed, np.flatnonzero(is_short), worth, most):
        left = part.worth.argmax(axis=1)
        of_owner[owners] = part.worth[np.arange(len(owners)), left]
        taken, is_lot = _taken(part.choices, left), part.lots >= 0
        missing[part.lots[is_lot]] = taken[is_lot]
    return Baskets(worth=of_owner, missing=missing, way=way[allowed.row, missing])


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
    worth, _ = _worths(allowed, ways, off, prices)
    so_far = np.full((allowed.n_owners, worth.shape[1]), NEVER)
    for owners, part in _for_each_part(allowed, np.arange(allowed.n_owners), worth, worth.argmax(axis=1)):
        so_far[owners, : part.worth.shape[1]] = part.worth
    costs: Floats = -np.maximum.accumulate(so_far, axis=1)
    return costs


class _Part(NamedTuple):
    """What lots of some growers are worth together.

    Attributes:
        worth: The most they are worth with so many plants missing. Shape (n_growers, k + 1).
        lots: Those of which some may be missing, a row for each grower; -1 for none. Shape (n_growers, most_lots).
        choices: For each column of `lots`, what is missing of it where so much is missing of it and those before.
    """

    worth: Floats
    lots: Ints
    choices: list[Ints]


def _for_each_part(allowed: Allowed, owners: Ints, worth: Floats, most: Ints) -> list[tuple[Ints, _Part]]:
    """Return what lots of growers are worth, a few growers at a time who may miss about as much."""
    parts, begin = [], 0
    while begin < len(owners):
        # Who comes later may miss more, so the last one says how many numbers there are.
        width = allowed.most_missing[owners[begin:]] + 1
        is_too_large = width * np.arange(1, len(width) + 1) > WORTHS_IN_PART
        end = begin + max(1, int(is_too_large.argmax()) if is_too_large.any() else len(width))
        parts.append(owners[begin:end])
        begin = end
    find = partial(_together, allowed, worth, most)
    if len(parts) < CORES:
        return [(part, find(part)) for part in parts]
    with ThreadPoolExecutor(CORES) as pool:
        return list(zip(parts, pool.map(find, parts), strict=True))


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
    is_too_many = np.arange(worth.shape[1]) > allowed.plants[:, :1]
    worth[is_too_many | np.isinf(least)] = NEVER
    return worth, best


def _together(allowed: Allowed, worth: Floats, most: Ints, owners: Ints) -> _Part:
    """Return the most that the lots of some growers are worth together with so many plants missing.

    Args:
        allowed: What may be missing.
        worth: What so many missing plants of a lot leave it worth. Shape (n_rows, k + 1).
        most: What is missing of it at the most. Shape (n_rows,). [1]
        owners: The growers.

    Source:
        Dynamic programming over the plants missing so far, as for any knapsack.
    """
    k = int(allowed.most_missing[owners].max()) + 1
    lots, so_far = _lots_of(allowed, owners), np.full((len(owners), k), NEVER)
    row = allowed.row[lots]
    is_lot, may_miss = lots >= 0, most[row] > 0
    # Of lots of which nothing is missing nothing is left to choose.
    so_far[:, 0] = np.where(is_lot & ~may_miss, worth[row, 0], 0.0).sum(axis=1)
    lots = np.where(is_lot & may_miss, lots, -1)
    # These come first.
    lots = np.take_along_axis(lots, np.argsort(lots < 0, axis=1, kind="stable"), axis=1)
    lots = lots[:, : int((lots >= 0).sum(axis=1).max(initial=0))]
    beyond = np.arange(k) > allowed.most_missing[owners][:, np.newaxis]
    # Nothing is missing of no lot, and that costs nothing.
    none = np.full(k, NEVER)
    none[0] = 0.0
    choices = []
    for lot in lots.T:
        row = allowed.row[lot]
        of_lot = np.where(lot[:, np.newaxis] < 0, none, worth[row, :k])
        best, choice = so_far + of_lot[:, :1], np.zeros((len(owners), k), dtype=np.int64)
        for missing in range(1, min(k - 1, int(most[row[lot >= 0]].max(initial=0))) + 1):
            other = so_far[:, :-missing] + of_lot[:, missing : missing + 1]
            is_more = other > best[:, missing:]
            np.copyto(best[:, missing:], other, where=is_more)
            np.copyto(choice[:, missing:], missing, where=is_more)
        best[beyond] = NEVER
        so_far = best
        choices.append(choice)
    return _Part(so_far, lots, choices)


def _lots_of(allowed: Allowed, owners: Ints) -> Ints:
    """Return the lots of growers, a row each; -1 where one has fewer than others."""
    begin, end = allowed.first[owners], allowed.first[owners + 1]
    lots = begin[:, np.newaxis] + np.arange(int((end - begin).max(initial=0)))
    return np.where(lots < end[:, np.newaxis], lots, -1)


def _taken(choices: list[Ints], left: Ints) -> Ints:
    """Return what is missing of each lot where so much is missing of all, going back over the choices."""
    rows, left = np.arange(len(left)), left.copy()
    taken = np.zeros((len(left), len(choices)), dtype=np.int64)
    for column in reversed(range(len(choices))):
        taken[:, column] = choices[column][rows, left]
        left -= taken[:, column]
    return taken
