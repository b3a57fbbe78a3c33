"""Whole trays for whole lots, where these want more than there are: who goes short, and which plants are given up."""

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from heapq import heapify, heappop, heappush

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.baskets import Allowed
from app.core.fitting.fixed import Fixed
from app.core.fitting.model import Ways, begin
from app.core.fitting.options import Options
from app.core.fitting.patterns import Patterns
from app.core.fitting.wishes import Stand
from app.core.space.packing import sizes_into

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

# What a plant counts whose grower has none to spare; a second one of the same grower counts as much again and more.
NONE_TO_SPARE = 1000.0
# So many trays of a group are looked at one by one; further ones would be plants of few growers, and go last.
MOST_TRAYS = 12
# When to stop looking for the best trays. [s]
SECONDS = 1.0


class _Sizes:
    """The cells of the lots in the trays of a pattern: whole trays of them, and what is left of each lot."""

    def __init__(self, capacity: int, rooms: Sequence[int], sizes: Iterable[int]) -> None:
        """Take the cells of a tray, those that are free in trays that are there already, and those of each lot."""
        self.capacity, self.rooms = capacity, rooms
        self.cells = self._whole = 0
        self._rest: Counter[int] = Counter()
        for size in sizes:
            self.add(size, 1)

    def add(self, size: int, lots: int) -> None:
        """Add so many lots of a size; less than none are taken away."""
        whole, rest = divmod(size, self.capacity)
        self.cells += size * lots
        self._whole += whole * lots
        self._rest[rest] += lots

    def packed(self) -> tuple[int, int]:
        """Return the trays that are needed, and the cells that are taken in the emptiest of the new ones."""
        rest = Counter({size: n for size, n in self._rest.items() if size and n})
        _, new = sizes_into(rest, self.capacity, self.rooms, proven=False)
        return self._whole + len(self.rooms) + len(new), min(map(sum, new), default=0)


@dataclass
class Shedding:
    """Whole lots in the trays that they want, of which some are to be given up.

    Attributes:
        options: What each sowing may get.
        stand: The cells and pots of any number of plants of the lots.
        patterns: When the trays of each group may stand.
        fixed: What is not free.
        is_used: Whether each pattern is used, one of each group. Shape (n_patterns,).
        ways: The ways in patterns that are used.
        allowed: What may be missing.
    """

    options: Options
    stand: Stand
    patterns: Patterns
    fixed: Fixed
    is_used: Flags
    ways: Ways
    allowed: Allowed

    def give_up(self, plants: Ints, way: Ints) -> Ints:
        """Return the plants that are left once whole trays fit on the shelves.

        Args:
            plants: Plants of each allowed lot. Shape (n,). [1]
            way: Its way. Shape (n,).
        """
        self._capacity = self.options.capacity[self.patterns.group]
        self._inside = self._in_patterns(plants, way)
        owner, n_owners = self.allowed.owner, self.allowed.n_owners
        missing = np.bincount(owner, self.allowed.wanted - plants, minlength=n_owners).astype(np.int64)
        # What each grower has beyond his share, by the lots that are given up so far.
        self._spare = self.allowed.most_missing - missing
        wanted = np.array(
            [self._sizes(pattern, plants).packed()[0] for pattern in range(len(self._inside))], dtype=np.int64
        )
        wanted *= self.is_used
        trays = self._affordable(wanted, plants)
        for pattern in np.flatnonzero(trays < wanted).tolist():
            _, left = self._losses(pattern, [int(trays[pattern])], plants)[0]
            np.subtract.at(self._spare, owner, plants - left)
            plants = left
        return plants

    def _in_patterns(self, plants: Ints, way: Ints) -> list[dict[int, list[int]]]:
        """Return the lots in each pattern, with the cells or pots of any number of their plants."""
        inside: list[dict[int, list[int]]] = [{} for _ in self._capacity]
        row = self.stand.row[self.allowed.lot].tolist()
        cells, pots = self.stand.cells.tolist(), self.stand.pots.tolist()
        start, pot = self.ways.start[way].tolist(), self.ways.pot[way].tolist()
        for lot in np.flatnonzero(plants).tolist():
            inside[start[lot]][lot] = cells[row[lot]]
            if pot[lot] >= 0:
                inside[pot[lot]][lot] = pots[row[lot]]
        return inside

    def _sizes(self, pattern: int, plants: Ints) -> _Sizes:
        rooms = self.fixed.rooms[self.patterns.group[pattern]]
        sizes = (need[plants[lot]] for lot, need in self._inside[pattern].items())
        return _Sizes(int(self._capacity[pattern]), rooms, sizes)

    def _affordable(self, wanted: Ints, plants: Ints) -> Ints:
        """Return trays of each pattern that fit, those short of what is wanted where least is lost."""
        frame = begin(self.options, self.patterns, self.fixed, whole_trays=True)
        programme, n = frame.programme, len(wanted)
        every, fewest = np.arange(n), self.fixed.trays[self.patterns.group] * self.is_used
        short, cost = [frame.trays], [np.zeros(programme.n_columns)]
        losses = np.zeros(n)
        may = np.where(self._may_go_short(wanted), np.minimum(MOST_TRAYS, wanted - fewest), 0)
        lost = np.zeros((MOST_TRAYS, n))
        for pattern in np.flatnonzero(may > 0).tolist():
            fewer = [int(wanted[pattern]) - number for number in range(1, int(may[pattern]) + 1)]
            lost[: len(fewer), pattern] = [loss for loss, _ in self._losses(pattern, fewer, plants)]
        for number in range(1, MOST_TRAYS + 1):
            short.append(programme.add_columns(n, upper=(may >= number).astype(np.float64)))
            losses = np.maximum(losses, lost[number - 1])
            # A second tray costs more than a first one, so the first goes first by itself.
            cost.append(losses / number)
        short.append(programme.add_columns(n, upper=np.maximum(0, wanted - MOST_TRAYS - fewest).astype(np.float64)))
        cost.append(np.maximum(losses, NONE_TO_SPARE))
        programme.add_rows([(every, columns, 1.0) for columns in short], n=n, lower=wanted)
        solver = programme.open(whole=True)
        chosen = frame.is_used >= 0
        is_used = self.is_used.astype(np.int64)
        solver.bound_columns(frame.is_used[chosen], is_used[chosen], is_used[chosen])
        solver.bound_columns(frame.trays, fewest, wanted)
        solved = solver.solve(
            np.concatenate(cost), largest=False, seconds=SECONDS, watch=lambda _objective, _bound: False
        )
        if solved.values is None:
            return wanted
        found: Ints = np.round(solved.values[frame.trays]).astype(np.int64)
        return found

    def _losses(self, pattern: int, trays: list[int], plants: Ints) -> list[tuple[float, Ints]]:
        """Return what is lost where the lots of a pattern get no more than so many trays, and their plants then.

        Args:
            pattern: Index of the pattern.
            trays: Numbers of trays, each less than the one before.
            plants: Plants of each allowed lot. Shape (n,). [1]
        """
        plants, spare = plants.copy(), self._spare.copy()
        need_of, sizes = self._inside[pattern], self._sizes(pattern, plants)
        fixed = int(self.fixed.cells[self.patterns.group[pattern]])
        queue = [(*self._step(lot, need_of[lot], plants, spare), lot) for lot in need_of if plants[lot]]
        heapify(queue)
        total, found = 0.0, []
        for number in trays:
            room = number * sizes.capacity - fixed
            while queue:
                if sizes.cells <= room:
                    packed, least = sizes.packed()
                    if packed <= number:
                        break
                    # Lots that leave some room everywhere give up half of what would have to go at the most.
                    room = sizes.cells - max(1, least // 2)
                worth, left, loss, lot = heappop(queue)
                now = self._step(lot, need_of[lot], plants, spare)
                if now != (worth, left, loss):
                    # Its grower has given up others since.
                    heappush(queue, (*now, lot))
                    continue
                total += loss
                sizes.add(need_of[lot][plants[lot]], -1)
                sizes.add(need_of[lot][left], 1)
                spare[self.allowed.owner[lot]] -= plants[lot] - left
                plants[lot] = left
                if left:
                    heappush(queue, (*self._step(lot, need_of[lot], plants, spare), lot))
            found.append((total, plants.copy()))
        return found

    def _step(self, lot: int, need: list[int], plants: Ints, spare: Ints) -> tuple[float, int, float]:
        """Return what a cell less costs a lot, the plants that are left to it then, and what it loses in all."""
        had, its_spare = int(plants[lot]), int(spare[self.allowed.owner[lot]])
        left = bisect_left(need, need[had], hi=had + 1) - 1
        before, after = max(0, -its_spare), max(0, had - left - its_spare)
        beyond = (after * (after + 1) - before * (before + 1)) / 2
        loss = (had - left) * int(self.allowed.weight[self.allowed.row[lot]]) + NONE_TO_SPARE * beyond
        return loss / (need[had] - need[left]), left, loss

    def _may_go_short(self, wanted: Ints) -> Flags:
        """Return which patterns are somewhere on a day on which there are too few positions. Shape (n_patterns,)."""
        patterns, found = self.patterns, np.zeros(len(wanted), dtype=bool)
        for place in np.unique(patterns.stay_place).tolist():
            mine = patterns.stay_place == place
            pattern, start, end = patterns.stay_pattern[mine], patterns.stay_begin[mine], patterns.stay_end[mine]
            for day in np.unique(start).tolist():
                there = np.unique(pattern[(start <= day) & (day < end)])
                if wanted[there].sum() > self.fixed.fewest_positions(place, day, day + 1):
                    found[there] = True
        return found & (wanted > 0)
