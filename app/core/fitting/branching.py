"""Which pattern of each group is used: few yes-or-no columns over a programme of very many others."""

import heapq
from dataclasses import dataclass
from itertools import count
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.clock import Clock
from app.core.fitting.programme import Open

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

# So near to a whole number a column is one.
WHOLE = 1e-5
# A bound is worth so much more time, unless somebody wants it to stop. [s]
WORTH_WAITING_S = 30.0
# So many programmes are solved whatever time is left: a search that hardly began says little.
LEAST_LOOKED = 20


class End(NamedTuple):
    """Where the search went no further: every answer is in one of these.

    Attributes:
        bound: What no values can beat there; infinite where there are none.
        decided: What is decided of the columns that say whether a pattern is used, by their index among these.
        prices: What rows are worth there, or before the last decision; None where that is not known.
    """

    bound: float
    decided: dict[int, float]
    prices: Floats | None


@dataclass(frozen=True)
class Branched:
    """The best values found with whole columns, if any, and what no values can beat."""

    values: Floats | None
    objective: float
    bound: float
    ends: tuple[End, ...] = ()


def least_with_patterns(
    programme: Open, cost: Floats, used: Ints, group: Ints, clock: Clock, *, gap: float
) -> Branched:
    """Return the values of least cost in which each pattern is used or not.

    The programme without whole numbers is solved again and again from its last corner, with one more group
    decided each time; the most promising comes first.

    Args:
        programme: Without whole numbers.
        cost: What is to be least. Shape (n_columns,).
        used: Columns that say whether a pattern is used. Shape (n_used,).
        group: The group of each; one of each group at most is used. Shape (n_used,).
        clock: When to stop.
        gap: Good enough when so near the bound. [fraction]
    """
    tie = count()
    best = Branched(None, np.inf, -np.inf)
    ends: list[End] = []
    looked = 0
    waiting: list[tuple[float, int, End]] = [(-np.inf, next(tie), End(-np.inf, {}, None))]
    while waiting:
        end = waiting[0][2]
        bound, decided = end.bound, end.decided
        is_near = bound >= best.objective - gap * max(1.0, abs(best.objective))
        is_late = clock.is_stopped() or (looked >= LEAST_LOOKED and not clock.left)
        if (best.values is not None and is_near) or (best.bound > -np.inf and is_late):
            break
        looked += 1
        heapq.heappop(waiting)
        lower, upper = np.zeros(len(used)), np.ones(len(used))
        for which, value in decided.items():
            lower[which] = upper[which] = value
        programme.bound_columns(used, lower, upper)
        solved = programme.solve(cost, largest=False, seconds=max(clock.left, WORTH_WAITING_S), watch=clock.watch)
        if solved.is_impossible:
            # Prices of a sample are asked there all the same: what it has no room for all growers might have.
            ends.append(end._replace(bound=np.inf))
            continue
        if solved.values is None or not solved.is_proven:
            heapq.heappush(waiting, (bound, next(tie), end))
            break
        prices = programme.prices
        best = Branched(best.values, best.objective, max(best.bound, bound))
        is_used = solved.values[used]
        if not decided:
            best = _rounded(programme, cost, used, group, is_used, clock, best.bound)
        away = np.abs(is_used - np.round(is_used))
        which = int(away.argmax()) if len(away) else 0
        if not len(away) or away[which] < WHOLE:
            ends.append(End(solved.objective, decided, prices))
            if solved.objective < best.objective:
                best = Branched(solved.values, solved.objective, best.bound)
            continue
        others = dict.fromkeys(np.flatnonzero(group == group[which]).tolist(), 0.0)
        for more in ({which: 0.0}, others | {which: 1.0}):
            heapq.heappush(waiting, (solved.objective, next(tie), End(solved.objective, decided | more, prices)))
    programme.bound_columns(used, np.zeros(len(used)), np.ones(len(used)))
    bound = min([best.objective, *(node[0] for node in waiting)])
    return Branched(best.values, best.objective, bound, (*ends, *_without_last_decision([node[2] for node in waiting])))


def _without_last_decision(ends: list[End]) -> list[End]:
    """Return ends with both sides of a decision as one: nothing is known of them that is not known of both."""
    found: dict[int, End] = {}
    for end in ends:
        other = found.get(id(end.prices))
        decided = end.decided if other is None else dict(end.decided.items() & other.decided.items())
        found[id(end.prices)] = end._replace(decided=decided)
    return list(found.values())


def _rounded(
    programme: Open, cost: Floats, used: Ints, group: Ints, is_used: Floats, clock: Clock, bound: float
) -> Branched:
    """Return what comes of using in each group the pattern that is used most."""
    most = most_used(group, is_used)
    programme.bound_columns(used, most, most)
    solved = programme.solve(cost, largest=False, seconds=max(clock.left, WORTH_WAITING_S), watch=clock.watch)
    if solved.values is None or not solved.is_proven:
        return Branched(None, np.inf, bound)
    return Branched(solved.values, solved.objective, bound)


def most_used(group: Ints, is_used: Floats) -> Floats:
    """Return 1 for the pattern of each group that is used most, if it is used at all, and 0 for others.

    Args:
        group: The group of each pattern. Shape (n_used,).
        is_used: What part of it is used. Shape (n_used,).
    """
    most = np.zeros(len(group))
    for one in np.unique(group).tolist():
        its = np.flatnonzero(group == one)
        most[its[is_used[its].argmax()]] = float(is_used[its].max() > WHOLE)
    return most
