"""How many whole trays each group gets."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.branching import WHOLE
from app.core.fitting.clock import Clock
from app.core.fitting.fixed import Fixed
from app.core.fitting.model import Model, add_positions
from app.core.fitting.patterns import Patterns
from app.core.fitting.programme import INFINITE, Open, Programme
from app.core.words import PLACES

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

# From which part of a tray on another one is rather given than taken.
ROUNDS_UP = 0.3
# So many trays may change from one trial to the next: to begin with, and at most.
FIRST_STEP, LONGEST_STEP = 8, 48
# A trial is better if by more than this; and when so many in a row are not, that is it. [d]
BETTER = 1.0
IN_VAIN = 6
# What one more change has to bring, so that nothing changes to no end. [d]
WORTH_A_CHANGE = 1.0
# How long the next trial is looked for. [s]
NEXT_S = 1.0


@dataclass(frozen=True)
class Counted:
    """Whole trays of each pattern, and the best shares of lots in them."""

    trays: Ints
    values: Floats


class Counts:
    """Looks for whole trays near to those of a programme without whole numbers.

    Once the trays are whole, the programme says what one tray more of each group would bring. That of all trials so far
    says which other ones look best, a few trays from the best so far: the next trial.

    Source:
        Cuts of J. F. Benders, Numerische Mathematik 4, 1962, kept near the best point so far, as in trust regions. From
        memory.
    """

    def __init__(
        self,
        programme: Open,
        model: Model,
        capacity: Ints,
        patterns: Patterns,
        fixed: Fixed,
        cost: Floats,
        clock: Clock,
    ) -> None:
        """Take a programme without whole numbers that is ready to be solved for a cost, with its patterns decided."""
        self._programme, self._model, self._capacity, self._clock = programme, model, capacity, clock
        self._patterns, self._fixed, self._cost = patterns, fixed, cost
        self._cuts: list[tuple[float, Floats, Ints]] = []

    def find(self, values: Floats, seconds: float) -> Counted | None:
        """Return whole trays and what goes with them; None where none are found in time.

        Args:
            values: Of the programme without whole trays.
            seconds: How long to look for better ones. [s]
        """
        end = self._clock.left - seconds
        trays = self._rounded(values[self._model.trays])
        found = None if trays is None else self._try(trays)
        if trays is None or found is None:
            return None
        best, objective = Counted(trays, found[1]), found[0]
        step, in_vain = FIRST_STEP, 0
        while self._clock.left > end and in_vain < IN_VAIN and self._clock.left:
            trays = self._next(best.trays, step)
            if trays is None or (trays == best.trays).all():
                step *= 2
                if step > LONGEST_STEP:
                    break
                continue
            found = self._try(trays)
            if found is not None and found[0] < objective - BETTER:
                best, objective = Counted(trays, found[1]), found[0]
                step, in_vain = min(LONGEST_STEP, step * 3 // 2), 0
            else:
                step, in_vain = max(2, step // 2), in_vain + 1
        self._bound(best.trays)
        return best

    def _bound(self, trays: Ints) -> None:
        self._programme.bound_columns(self._model.trays, np.zeros(len(trays)), trays)

    def _try(self, trays: Ints) -> tuple[float, Floats] | None:
        self._bound(trays)
        solved = self._programme.solve(self._cost, largest=False, seconds=self._clock.patience, watch=self._clock.watch)
        if solved.values is None or not solved.is_proven:
            return None
        worth = self._programme.reduced_costs[self._model.trays]
        self._cuts.append((solved.objective, worth, trays))
        return solved.objective, solved.values

    def _positions(self) -> tuple[Programme, Ints]:
        programme = Programme()
        trays = programme.add_columns(len(self._capacity), whole=True)
        extra = programme.add_columns(len(PLACES), upper=0.0)
        add_positions(programme, self._patterns, self._fixed, trays, extra)
        return programme, trays

    def _rounded(self, trays: Floats) -> Ints | None:
        """Return whole trays next to others, as many cells as the positions allow."""
        programme, columns = self._positions()
        low, high = np.floor(trays + WHOLE), np.ceil(trays - WHOLE)
        cost = np.zeros(programme.n_columns)
        cost[columns] = (trays - low - ROUNDS_UP) * self._capacity
        opened = programme.open(whole=True)
        opened.bound_columns(columns, low, np.maximum(low, high))
        solved = opened.solve(cost, largest=True, seconds=NEXT_S, watch=self._clock.watch)
        return None if solved.values is None else np.round(solved.values[columns]).astype(np.int64)

    def _next(self, best: Ints, step: int) -> Ints | None:
        """Return the whole trays that look best, by all trials so far, of those a few trays from the best."""
        programme, trays = self._positions()
        n = np.arange(len(trays))
        more, fewer = programme.add_columns(len(trays)), programme.add_columns(len(trays))
        level = programme.add_columns(1)
        # A column is never negative, so what the trials come to is counted from far below.
        below = 10 * max(abs(objective) for objective, _, _ in self._cuts) + 1e6
        programme.add_rows([(n, trays, 1.0), (n, more, -1.0), (n, fewer, 1.0)], n=len(n), lower=best, upper=best)
        changes = np.concatenate([more, fewer])
        programme.add_rows([(np.zeros(len(changes), dtype=np.int64), changes, 1.0)], n=1, upper=float(step))
        row = np.repeat(np.arange(len(self._cuts)), len(trays))
        programme.add_rows(
            [
                (row, np.tile(trays, len(self._cuts)), -np.concatenate([worth for _, worth, _ in self._cuts])),
                (np.arange(len(self._cuts)), np.repeat(level, len(self._cuts)), 1.0),
            ],
            n=len(self._cuts),
            lower=np.array([objective - worth @ at + below for objective, worth, at in self._cuts]),
            upper=INFINITE,
        )
        cost = np.zeros(programme.n_columns)
        cost[level], cost[changes] = 1.0, WORTH_A_CHANGE
        solved = programme.open(whole=True).solve(
            cost, largest=False, seconds=NEXT_S, watch=self._clock.watch, absolute_gap=BETTER
        )
        return None if solved.values is None else np.round(solved.values[trays]).astype(np.int64)
