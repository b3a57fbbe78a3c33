"""Whole trays for whole lots, where these want more than there are: who goes short, and which plants are given up."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.baskets import Allowed
from app.core.fitting.fixed import Fixed
from app.core.fitting.model import Ways, begin
from app.core.fitting.options import Options
from app.core.fitting.patterns import Patterns
from app.core.fitting.wishes import Stand
from app.core.space.packing import pack_into

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

# What a plant counts whose grower has none to spare; a second one of the same grower counts as much again and more.
NONE_TO_SPARE = 1000.0
# So many trays of a group are looked at one by one; further ones would be plants of few growers, and go last.
MOST_TRAYS = 3
# When to stop looking for the best trays. [s]
SECONDS = 1.0


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
        missing = np.bincount(owner, self.allowed.plants[:, 0] - plants, minlength=n_owners).astype(np.int64)
        # What each grower has beyond his share, by the lots that are given up so far.
        self._spare = self.allowed.most_missing - missing
        wanted = np.array([self._trays(pattern, plants) for pattern in range(len(self._inside))], dtype=np.int64)
        wanted *= self.is_used
        trays = self._affordable(wanted, plants)
        for pattern in np.flatnonzero(trays < wanted).tolist():
            left = self._loss(pattern, int(trays[pattern]), plants)[1]
            np.subtract.at(self._spare, owner, plants - left)
            plants = left
        return plants

    def _in_patterns(self, plants: Ints, way: Ints) -> list[list[tuple[int, Ints]]]:
        """Return the lots in each pattern, with the cells or pots of any number of their plants."""
        inside: list[list[tuple[int, Ints]]] = [[] for _ in self._capacity]
        row = self.stand.row[self.allowed.lot]
        for lot in np.flatnonzero(plants).tolist():
            inside[self.ways.start[way[lot]]].append((lot, self.stand.cells[row[lot]]))
            if self.ways.pot[way[lot]] >= 0:
                inside[self.ways.pot[way[lot]]].append((lot, self.stand.pots[row[lot]]))
        return inside

    def _trays(self, pattern: int, plants: Ints) -> int:
        capacity = int(self._capacity[pattern])
        sizes = [int(need[plants[lot]]) for lot, need in self._inside[pattern]]
        rooms = self.fixed.rooms[self.patterns.group[pattern]]
        rest = [size % capacity for size in sizes if size % capacity]
        _, new = pack_into(rest, capacity, rooms, proven=False)
        return sum(size // capacity for size in sizes) + len(rooms) + len(new)

    def _affordable(self, wanted: Ints, plants: Ints) -> Ints:
        """Return trays of each pattern that fit, those short of what is wanted where least is lost."""
        frame = begin(self.options, self.patterns, self.fixed, whole_trays=True)
        programme, n = frame.programme, len(wanted)
        every, fewest = np.arange(n), self.fixed.trays[self.patterns.group] * self.is_used
        short, cost = [frame.trays], [np.zeros(programme.n_columns)]
        losses = np.zeros(n)
        in_need = self._may_go_short(wanted)
        for number in range(1, MOST_TRAYS + 1):
            may = in_need & (wanted - number >= fewest)
            short.append(programme.add_columns(n, upper=may.astype(np.float64)))
            for pattern in np.flatnonzero(may).tolist():
                losses[pattern] = max(losses[pattern], self._loss(pattern, int(wanted[pattern]) - number, plants)[0])
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

    def _loss(self, pattern: int, trays: int, plants: Ints) -> tuple[float, Ints]:
        """Return what is lost where the lots of a pattern get no more than so many trays, and their plants then."""
        allowed, plants, spare = self.allowed, plants.copy(), self._spare.copy()
        held = int(self.fixed.cells[self.patterns.group[pattern]])
        cells = held + sum(int(need[plants[lot]]) for lot, need in self._inside[pattern])
        total, room = 0.0, trays * int(self._capacity[pattern])
        while cells > room or self._trays(pattern, plants) > trays:
            best = (np.inf, 0, 0, 0.0, 0)
            for lot, need in self._inside[pattern]:
                had = int(plants[lot])
                if not had:
                    continue
                left = int(np.searchsorted(need[: had + 1], need[had], side="left")) - 1
                short_of = [max(0, -int(spare[allowed.owner[lot]])), 0]
                short_of[1] = max(0, had - left - int(spare[allowed.owner[lot]]))
                beyond = (short_of[1] * (short_of[1] + 1) - short_of[0] * (short_of[0] + 1)) / 2
                loss = (had - left) * int(allowed.weight[lot]) + NONE_TO_SPARE * beyond
                fewer = int(need[had] - need[left])
                best = min(best, (loss / fewer, lot, left, loss, fewer))
            _, lot, left, loss, fewer = best
            if best[0] == np.inf:
                break
            total += loss
            cells -= fewer
            spare[allowed.owner[lot]] -= plants[lot] - left
            plants[lot] = left
        return total, plants

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
