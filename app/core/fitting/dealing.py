"""Whole lots into a given number of trays of each group, filled to the last cell."""

from collections import Counter, defaultdict, deque
from collections.abc import Iterable
from copy import deepcopy

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.clock import Clock
from app.core.fitting.filling import NOTHING
from app.core.fitting.fixed import Fixed
from app.core.fitting.options import Options
from app.core.fitting.picked import Picked
from app.core.fitting.wishes import Stand
from app.core.packing import fullest_companions
from app.core.stand import spare_of

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

# Around so many of the largest items a full tray is looked for, before trays that stay open are filled.
LARGEST_TRIED = 6
# So many open trays are packed anew together with so many full ones, to make room for a lot in one of them.
OPEN_TRAYS, FULL_TRAYS = 6, (2, 5)
# So many lots that have nothing are looked at for the room in a tray.
MOST_NEWCOMERS = 8
# So many growers at most are asked, one after the other, to make room for one plant; so many plants a lot gives up.
MOST_ASKED, MOST_GIVEN_UP = 150, 4
# So often a chain may break off for one grower.
MOST_BROKEN_OFF = 20
# What a plant is worth that a grower's share lacks, in plant-days: more than any move costs. [d]
MISSING = 30.0
IMPOSSIBLE = -1e15
# From which distance on a smallest share is near enough to the largest there is. [fraction]
SHARE_NEAR_ENOUGH = 2e-3
CELLS, POTS = 0, 1
# What of a dealing changes.
CHANGING = ("option", "plants", "got", "_whole", "_tray", "_group", "_side", "_size", "_free", "_members", "_trays_of")


class Dealing:
    """Trays of all groups, their number given, and the lots in them.

    A lot fills whole trays first; what is left of it is in one tray with others.

    Attributes:
        option: The option of each lot; -1 for none. Shape (n_lots,).
        plants: Its plants. Shape (n_lots,). [1]
    """

    def __init__(
        self,
        options: Options,
        stand: Stand,
        fixed: Fixed,
        trays: Ints,
        *,
        least: Ints,
        weight_days: float,
    ) -> None:
        """Begin with empty trays.

        Args:
            options: What each sowing may get.
            stand: Cells and pots for any number of plants.
            fixed: What is not free.
            trays: Trays of each group, those of what is fixed included. Shape (n_groups,). [1]
            least: Plants that each grower is to get at least. Shape (n_growers,). [1]
            weight_days: What a plant of weight 1 is worth. [d]
        """
        self.options, self._stand, self.least = options, stand, least
        sowings = options.plan.garden.sowings
        self.option = np.full(len(options.lot), NOTHING, dtype=np.int64)
        self.plants = np.zeros(len(options.lot), dtype=np.int64)
        fast = np.flatnonzero(~options.is_free)
        self.option[fast] = options.first[options.kind[fast]]
        self.plants[fast] = options.plan.plants[options.lot[fast]]
        self.got = fixed.placed.copy()
        self._grower = sowings.grower[options.lot].tolist()
        self._wanted = sowings.plants[options.lot]
        self._worth = weight_days * (4 - sowings.priority[options.lot])
        self._lots_of: dict[int, list[int]] = defaultdict(list)
        for lot in np.flatnonzero(options.is_free).tolist():
            self._lots_of[self._grower[lot]].append(lot)
        number = np.arange(stand.cells.shape[1])
        pots = np.minimum(stand.cells, number + spare_of(number, stand.spare))
        self._needs = (stand.cells, pots)
        self._need_of: list[list[list[int]]] = [table.tolist() for table in self._needs]
        self._groups: tuple[list[int], list[int]] = (options.start_group.tolist(), options.pot_group.tolist())
        self._kind_of = np.repeat(np.arange(len(options.first) - 1), np.diff(options.first)).tolist()
        self._options_in: dict[int, list[int]] = defaultdict(list)
        for option, group in enumerate(self._groups[CELLS]):
            self._options_in[group].append(option)
        self._whole: tuple[list[int], list[int]] = ([0] * len(self.option), [0] * len(self.option))
        self._tray: tuple[list[int], list[int]] = ([NOTHING] * len(self.option), [NOTHING] * len(self.option))
        self._capacity: list[int] = options.capacity.tolist()
        self._n_trays = trays.tolist()
        # Of each tray: its group, whether it is one of pots, its cells for lots that are free, those left, the lots.
        self._group: list[int] = []
        self._side: list[int] = []
        self._size: list[int] = []
        self._free: list[int] = []
        self._members: list[list[int]] = []
        self._trays_of: list[list[int]] = [[] for _ in range(options.n_groups)]
        is_pots = np.zeros(options.n_groups, dtype=np.int64)
        is_pots[options.pot_group[options.pot_group >= 0]] = POTS
        self._side_of = is_pots.tolist()
        for group, rooms in enumerate(fixed.rooms):
            for room in rooms:
                self._add_tray(group, room)
            self._n_trays[group] -= len(rooms)
        self._turn = 1

    def _add_tray(self, group: int, size: int) -> int:
        tray = len(self._group)
        self._group.append(group)
        self._side.append(self._side_of[group])
        self._size.append(size)
        self._free.append(size)
        self._members.append([])
        self._trays_of[group].append(tray)
        return tray

    @property
    def picked(self) -> Picked:
        """What each lot has."""
        return Picked(self.option.copy(), self.plants.copy())

    def deal(self, option: Ints, plants: Ints) -> None:
        """Put free lots into the empty trays; where they don't fit, as many plants as do.

        Args:
            option: The option of each lot; -1 for none. Shape (n_lots,).
            plants: Its plants. Shape (n_lots,). [1]
        """
        there = np.flatnonzero(self.options.is_free & (plants > 0) & (option != NOTHING))
        self.option[there], self.plants[there] = option[there], plants[there]
        np.add.at(self.got, np.array(self._grower, dtype=np.int64)[there], plants[there])
        for side in (CELLS, POTS):
            group_of = np.array(self._groups[side], dtype=np.int64)[self.option[there]]
            for group in np.unique(group_of[group_of >= 0]).tolist():
                self._deal_group(group, side, [lot for lot in there[group_of == group].tolist() if self.plants[lot]])
        for group, left in enumerate(self._n_trays):
            if self._side_of[group] == CELLS or self._trays_of[group]:
                for _ in range(left):
                    self._add_tray(group, self._capacity[group])
                self._n_trays[group] = 0
        for tray in range(len(self._free)):
            if self._free[tray] < 0:
                self._refill(tray, newcomers={})

    def _deal_group(self, group: int, side: int, lots: list[int]) -> None:
        capacity = self._capacity[group]
        for lot in sorted(lots, key=lambda one: -self._need(one, side)):
            self._whole[side][lot] = self._need(lot, side) // capacity
        over = sum(self._whole[side][lot] for lot in lots) - self._n_trays[group]
        for lot in sorted(lots, key=lambda one: self._need(one, side) % capacity):
            if over <= 0:
                break
            if self._whole[side][lot]:
                self._lose_tray(lot, side, capacity)
                over -= 1
        self._n_trays[group] -= sum(self._whole[side][lot] for lot in lots)
        rest = {lot: self._need(lot, side) - self._whole[side][lot] * capacity for lot in lots}
        bins, late = fill_tightly([(size, lot) for lot, size in rest.items() if size], capacity, self._n_trays[group])
        for members in bins:
            tray = self._add_tray(group, capacity)
            self._n_trays[group] -= 1
            self._set_members(tray, members, rest)
        for lot in late:
            self._take_out(lot)

    def _lose_tray(self, lot: int, side: int, capacity: int) -> None:
        """Take plants from a lot until it fills a whole tray less."""
        plants = int(self.plants[lot])
        while self._need_of[side][self._stand.row[lot]][plants] >= self._whole[side][lot] * capacity:
            plants -= 1
        self.got[self._grower[lot]] -= self.plants[lot] - plants
        self.plants[lot] = plants
        self._whole[side][lot] -= 1

    def _need(self, lot: int, side: int) -> int:
        return self._need_of[side][int(self._stand.row[lot])][int(self.plants[lot])]

    def _rest(self, lot: int, side: int) -> int:
        """Return the cells of a lot that are not in whole trays. [1]"""
        return (
            self._need(lot, side) - self._whole[side][lot] * self._capacity[self._groups[side][int(self.option[lot])]]
        )

    def _slack(self, group: int) -> int:
        return sum(self._free[tray] for tray in self._trays_of[group] if self._free[tray] > 0)

    def _set_members(self, tray: int, members: list[int], rest: dict[int, int]) -> None:
        self._members[tray] = list(members)
        self._free[tray] = self._size[tray] - sum(rest[lot] for lot in members)
        for lot in members:
            self._tray[self._side[tray]][lot] = tray

    def _leave(self, lot: int, side: int) -> None:
        tray = self._tray[side][lot]
        if tray != NOTHING:
            self._free[tray] += self._rest(lot, side)
            self._members[tray].remove(lot)
            self._tray[side][lot] = NOTHING

    def _take_out(self, lot: int) -> None:
        """Take a lot from the shelves; the whole trays that it filled are empty then."""
        for side in (CELLS, POTS):
            group = self._groups[side][self.option[lot]]
            if group >= 0:
                self._leave(lot, side)
                for _ in range(self._whole[side][lot]):
                    self._add_tray(group, self._capacity[group])
                self._whole[side][lot] = 0
        self.got[self._grower[lot]] -= self.plants[lot]
        self.plants[lot], self.option[lot] = 0, NOTHING

    def _shrink(self, lot: int, plants: int) -> None:
        """Leave a lot fewer plants, in the same trays."""
        if plants == 0:
            self._take_out(lot)
            return
        before = [self._need(lot, side) for side in (CELLS, POTS)]
        self.got[self._grower[lot]] += plants - self.plants[lot]
        self.plants[lot] = plants
        for side in (CELLS, POTS):
            tray = self._tray[side][lot]
            if tray != NOTHING:
                self._free[tray] += before[side] - self._need(lot, side)
                if self._rest(lot, side) == 0:
                    self._members[tray].remove(lot)
                    self._tray[side][lot] = NOTHING

    def _sides(self, option: int) -> list[tuple[int, int]]:
        return [(side, self._groups[side][option]) for side in (CELLS, POTS) if self._groups[side][option] >= 0]

    def _put(self, lot: int, plants: int, option: int) -> bool:
        """Give a lot so many plants, more than it has, in its option or, if it has none, in one; say whether it fits.

        It keeps its whole trays and gets no other ones.
        """
        has = self.option[lot] != NOTHING
        places: list[tuple[int, int, list[tuple[int, list[int] | None]]]] = []
        for side, group in self._sides(option):
            size = self._need_of[side][self._stand.row[lot]][plants] - self._whole[side][lot] * self._capacity[group]
            if not 0 <= size <= self._capacity[group]:
                return False
            if size:
                found = self._trays_for(lot, group, side, size, has=has)
                if not found:
                    return False
                places.append((side, size, found))
        for side, size, found in places:
            if has:
                self._leave(lot, side)
            rest = {lot: size} | {
                one: self._rest(one, side) for _, members in found for one in members or () if one != lot
            }
            for tray, members in found:
                self._set_members(
                    tray,
                    [*self._members[tray], lot] if members is None else members,
                    rest if members is not None else rest | {one: self._rest(one, side) for one in self._members[tray]},
                )
        self.got[self._grower[lot]] += plants - self.plants[lot]
        self.plants[lot], self.option[lot] = plants, option
        return True

    def _trays_for(
        self, lot: int, group: int, side: int, size: int, *, has: bool
    ) -> list[tuple[int, list[int] | None]]:
        """Return a tray with room for what is left of a lot, or trays packed anew for it."""
        own = self._tray[side][lot]
        had = self._rest(lot, side) if has and own != NOTHING else 0
        if own != NOTHING and self._free[own] + had >= size:
            return [(own, None)]
        trays, free, capacity = self._trays_of[group], self._free, self._capacity[group]
        fits = [tray for tray in trays if tray != own and free[tray] >= size]
        if fits:
            return [(min(fits, key=lambda tray: free[tray]), None)]
        whole = [tray for tray in trays if self._size[tray] == capacity]
        is_open = sorted((tray for tray in whole if free[tray] > 0 and tray != own), key=lambda tray: -free[tray])
        if own != NOTHING and self._size[own] == capacity:
            is_open = [own, *is_open]
        if sum(max(0, free[tray]) for tray in is_open) + had < size:
            return []
        others = [tray for tray in whole if tray not in is_open[:OPEN_TRAYS]]
        for more in FULL_TRAYS:
            self._turn = (self._turn * 7 + 3) % 1_000_003
            drawn = [others[(self._turn + 13 * n) % len(others)] for n in range(min(more, len(others)))]
            pool = list(dict.fromkeys(is_open[:OPEN_TRAYS] + drawn))
            items = [(self._rest(one, side), one) for tray in pool for one in self._members[tray] if one != lot]
            bins, late = fill_tightly([*items, (size, lot)], capacity, len(pool), strict=True)
            if not late:
                return list(zip(pool, [*bins, *([[]] * (len(pool) - len(bins)))], strict=True))
        return []

    def grow_all(self, clock: Clock) -> None:
        """Give lots without all their plants the room that is left, those of growers who lack most first."""
        lots = np.flatnonzero(self.options.is_free & (self.plants < self._wanted)).tolist()
        for lot in sorted(lots, key=lambda one: (self._missing_of(one), -self._worth[one])):
            if not clock.left:
                break
            self._grow(lot)

    def _missing_of(self, lot: int) -> int:
        grower = self._grower[lot]
        return min(0, int(self.got[grower] - self.least[grower]))

    def _grow(self, lot: int) -> bool:
        """Give a lot as many more plants as fit; say whether any do."""
        now = int(self.plants[lot])
        for option in self._open_to(lot):
            most = int(self._wanted[lot])
            for side, group in self._sides(option):
                need = self._need_of[side][self._stand.row[lot]]
                room = self._slack(group) + (need[now] if now else 0)
                room = room if now else min(room, self._capacity[group])
                while most > now and need[most] > room:
                    most -= 1
            for plants in sorted({most, (most + now + 1) // 2, now + 1}, reverse=True):
                if now < plants <= most and self._put(lot, plants, option):
                    return True
        return False

    def _open_to(self, lot: int) -> Iterable[int]:
        if self.option[lot] != NOTHING:
            return (int(self.option[lot]),)
        kind = int(self.options.kind[lot])
        return range(int(self.options.first[kind]), int(self.options.first[kind + 1]))

    def refill_all(self, clock: Clock) -> None:
        """Fill tray after tray as well as can be with the lots in it and with those that have nothing."""
        newcomers: dict[int, list[int]] = defaultdict(list)
        for lot in np.flatnonzero(self.options.is_free & (self.plants == 0) & (self._wanted > 0)).tolist():
            newcomers[int(self.options.kind[lot])].append(lot)
        for lots in newcomers.values():
            lots.sort(key=lambda lot: (self._missing_of(lot), -self._worth[lot]))
        for tray in range(len(self._free)):
            if not clock.left:
                break
            self._refill(tray, newcomers)

    def _refill(self, tray: int, newcomers: dict[int, list[int]]) -> None:
        """Choose the plants of a tray's lots anew: a knapsack whose items are lots, each with so many plants."""
        group, side, size = self._group[tray], self._side[tray], self._size[tray]
        lots = [(lot, int(self.option[lot]), *self._limits(lot, side)) for lot in self._members[tray]]
        if side == CELLS:
            lots += self._newcomers_to(group, newcomers)
        if not lots:
            return
        room = np.arange(size + 1)
        best, steps = np.zeros(size + 1), []
        for lot, option, low, high in lots:
            cells = self._needs[side][self._stand.row[lot], low : high + 1]
            cells = cells - self._whole[side][lot] * self._capacity[group]
            left = room[:, np.newaxis] - cells
            value = self._value(lot, option, np.arange(low, high + 1))
            table = np.where(left >= 0, best[np.maximum(left, 0)], IMPOSSIBLE) + value
            chosen = table.argmax(axis=1)
            best = table[room, chosen]
            steps.append((chosen, cells, low))
        now = sum(float(self._value(lot, option, self.plants[lot : lot + 1])[0]) for lot, option, _, _ in lots)
        if best[size] <= max(now + 1e-9, IMPOSSIBLE / 2) and self._free[tray] >= 0:
            return
        if best[size] <= IMPOSSIBLE / 2:
            self._take_out(max(self._members[tray], key=lambda lot: self._rest(lot, side)))
            self._refill(tray, newcomers)
            return
        found, left_over = [], size
        for (lot, option, _, _), (chosen, cells, low) in zip(reversed(lots), reversed(steps), strict=True):
            at = int(chosen[left_over])
            left_over -= int(cells[at])
            found.append((lot, option, low + at))
        self._take(found)

    def _take(self, found: list[tuple[int, int, int]]) -> None:
        """Give lots, with their options, other plants; those with fewer first, which makes room."""
        for lot, _, plants in found:
            if plants < self.plants[lot]:
                self._shrink(lot, plants)
        for lot, option, plants in found:
            if plants > self.plants[lot]:
                self._put(lot, plants, option)

    def _value(self, lot: int, option: int, plants: Ints) -> Floats:
        """Return what so many plants of a lot are worth. Shape as theirs. [d]"""
        others = self.got[self._grower[lot]] - self.plants[lot] - self.least[self._grower[lot]]
        off = self.options.off[option]
        value: Floats = (self._worth[lot] - off) * plants + MISSING * np.minimum(0, others + plants)
        return value

    def _limits(self, lot: int, side: int) -> tuple[int, int]:
        """Return the fewest and the most plants with which a lot fills as many whole trays and fits its other tray."""
        low, high, row = 0, int(self._wanted[lot]), int(self._stand.row[lot])
        now = int(self.plants[lot])
        for other, group in self._sides(int(self.option[lot])):
            need, capacity = self._needs[other][row], self._capacity[group]
            begin = self._whole[other][lot] * capacity
            tray = self._tray[other][lot]
            if other == side:
                most = begin + capacity
            elif tray == NOTHING:
                most = begin
            else:
                most = int(need[now]) + max(0, self._free[tray])
            low = max(low, int(np.searchsorted(need[: int(self._wanted[lot]) + 1], begin)))
            high = min(high, int(np.searchsorted(need, most, side="right")) - 1)
        return (low, high) if low <= now <= high else (now, now)

    def _newcomers_to(self, group: int, newcomers: dict[int, list[int]]) -> list[tuple[int, int, int, int]]:
        found: list[tuple[int, int, int, int]] = []
        for option in self._options_in[group]:
            for lot in newcomers.get(self._kind_of[option], ()):
                if self.plants[lot]:
                    continue
                most = int(self._wanted[lot])
                for side, its_group in self._sides(option):
                    room = self._capacity[its_group]
                    if side == POTS:
                        room = max((self._free[tray] for tray in self._trays_of[its_group]), default=0)
                    most = min(most, int(np.searchsorted(self._needs[side][self._stand.row[lot]], room, "right")) - 1)
                if most > 0 and all(lot != one for one, *_ in found):
                    found.append((lot, option, 0, most))
                if len(found) == MOST_NEWCOMERS:
                    return found
        return found

    def make_fairest(self, wanted: Ints, low: float, high: float, clock: Clock) -> None:
        """Make the smallest share as large as can be, halving the shares between two.

        Args:
            wanted: Plants wanted by each grower. Shape (n_growers,). [1]
            low: A share that will do. [fraction]
            high: More is not looked for. [fraction]
            clock: When to stop.
        """
        while high - low > SHARE_NEAR_ENOUGH and clock.left:
            middle = (low + high) / 2
            self.least = np.ceil(middle * wanted - 1e-9).astype(np.int64)
            before = self._copied()
            if self.make_fair(clock):
                low = middle
            else:
                high = middle
                self._restore(before)
        self.least = np.ceil(low * wanted - 1e-9).astype(np.int64)
        self.make_fair(clock)

    def _copied(self) -> dict[str, object]:
        return {name: deepcopy(getattr(self, name)) for name in CHANGING}

    def _restore(self, copied: dict[str, object]) -> None:
        for name, value in copied.items():
            setattr(self, name, value)

    def make_fair(self, clock: Clock) -> bool:
        """Give growers who lack plants more, from others in the same groups who can do with fewer.

        Returns:
            Whether nobody lacks any; it ends with the first who cannot be helped.
        """
        for grower in np.flatnonzero(self.got < self.least).tolist():
            tries = int(self.least[grower] - self.got[grower]) + MOST_BROKEN_OFF
            while self.got[grower] < self.least[grower]:
                if not (tries and clock.left and self._gain(grower)):
                    return False
                tries -= 1
        return bool((self.got >= self.least).all())

    def _gain(self, first: int) -> bool:
        """Give a grower one plant more, along a chain of growers of whom the last can do with fewer."""
        before: dict[int, tuple[int, int, int, int, int] | None] = {first: None}
        waiting = deque([first])
        asked = 0
        while waiting and asked < MOST_ASKED:
            grower = waiting.popleft()
            asked += 1
            short = [lot for lot in self._lots_of[grower] if self.plants[lot] < self._wanted[lot]]
            for lot in sorted(short, key=lambda one: -self._worth[one]):
                for option in self._open_to(lot):
                    plants = int(self.plants[lot]) + 1
                    if self._put(lot, plants, option):
                        return self._follow(before, grower)
                    lacking = self._lacking(lot, plants, option)
                    for other in self._beside(lacking):
                        its_grower = self._grower[other]
                        if its_grower in before:
                            continue
                        fewer = self._to_free(other, lacking)
                        spare = int(self.got[its_grower] - self.least[its_grower])
                        if fewer and spare >= fewer:
                            if self._pass_on(other, fewer, lot, option):
                                return self._follow(before, grower)
                        elif fewer and spare + 1 >= fewer:
                            before[its_grower] = (grower, lot, option, other, fewer)
                            waiting.append(its_grower)
        return False

    def _follow(self, before: dict[int, tuple[int, int, int, int, int] | None], grower: int) -> bool:
        """Pass a plant on along a chain, from its end; it may break off where room was taken meanwhile."""
        link = before[grower]
        while link is not None:
            its_grower, lot, option, other, fewer = link
            can = self.plants[other] >= fewer and self.plants[lot] < self._wanted[lot]
            if not can or self.got[grower] - fewer < self.least[grower]:
                break
            if self.option[lot] != NOTHING and self.option[lot] != option:
                break
            if not self._pass_on(other, fewer, lot, option):
                break
            grower = its_grower
            link = before[grower]
        return True

    def _pass_on(self, other: int, fewer: int, lot: int, option: int) -> bool:
        """Take plants from one lot and give another one more; else all stays as it was."""
        its_option, had = int(self.option[other]), int(self.plants[other])
        if had <= fewer:
            return False
        self._shrink(other, had - fewer)
        if self._put(lot, int(self.plants[lot]) + 1, option):
            return True
        self._put(other, had, its_option)
        return False

    def _lacking(self, lot: int, plants: int, option: int) -> list[tuple[int, int, int]]:
        """Return side, group and cells that a lot lacks for so many plants, where it does not fit.

        Where there are as many free cells, but in trays in which they are no use, it lacks those in the fullest group.
        """
        found = []
        for side, group in self._sides(option):
            need = self._need_of[side][self._stand.row[lot]]
            more = need[plants] - need[int(self.plants[lot])]
            if more:
                found.append((self._slack(group), side, group, more))
        lacking = [(side, group, more - slack) for slack, side, group, more in found if more > slack]
        return lacking or [(side, group, more) for _, side, group, more in sorted(found)[:1]]

    def _beside(self, lacking: list[tuple[int, int, int]]) -> list[int]:
        if not lacking:
            return []
        return [lot for tray in self._trays_of[lacking[0][1]] for lot in self._members[tray]]

    def _to_free(self, lot: int, lacking: list[tuple[int, int, int]]) -> int:
        """Return how many plants fewer of a lot free what is lacking; 0 where none do."""
        now, option, row = int(self.plants[lot]), int(self.option[lot]), int(self._stand.row[lot])
        if any(self._groups[side][option] != group for side, group, _ in lacking):
            return 0
        for fewer in range(1, min(now - 1, MOST_GIVEN_UP) + 1):
            for side, group in self._sides(option):
                if self._need_of[side][row][now - fewer] < self._whole[side][lot] * self._capacity[group]:
                    return 0
            if all(
                self._need_of[side][row][now] - self._need_of[side][row][now - fewer] >= lacks
                for side, _, lacks in lacking
            ):
                return fewer
        return 0


def fill_tightly(
    items: list[tuple[int, int]], capacity: int, n_bins: int, *, strict: bool = False
) -> tuple[list[list[int]], list[int]]:
    """Fill bins to the last unit as long as that is possible, and put the rest into those that are left.

    Args:
        items: Size, `capacity` at most, and name of each. [1]
        capacity: Size of a bin. [1]
        n_bins: Bins at most. [1]
        strict: Whether what does not fit is late; else it is put into the emptiest bin, which is over-full then.

    Returns:
        The names in each bin, and those of what is late. [index]
    """
    counts = Counter(size for size, _ in items)
    names: dict[int, list[int]] = defaultdict(list)
    for size, name in items:
        names[size].append(name)
    bins: list[list[int]] = []
    while len(bins) < n_bins and counts:
        full = _full_bin(counts, capacity)
        if not full:
            break
        for size in full:
            counts[size] -= 1
            if not counts[size]:
                del counts[size]
        bins.append([names[size].pop() for size in full])
    n_open = n_bins - len(bins)
    is_open: list[list[int]] = [[] for _ in range(n_open)]
    room = [capacity] * n_open
    late = []
    for size in sorted(counts, reverse=True):
        for name in names[size]:
            fits = [number for number in range(n_open) if room[number] >= size]
            if not n_open or (strict and not fits):
                late.append(name)
                continue
            number = min(fits, key=lambda one: room[one]) if fits else max(range(n_open), key=lambda one: room[one])
            is_open[number].append(name)
            room[number] -= size
    return bins + [names_in for names_in in is_open if names_in], late


def _full_bin(counts: "Counter[int]", capacity: int) -> list[int]:
    """Return sizes that fill a bin, one of the largest among them; none where there are no such."""
    for largest in sorted(counts, reverse=True)[:LARGEST_TRIED]:
        left = Counter(counts)
        left[largest] -= 1
        sizes = sorted(size for size, n in left.items() if n)
        taken = [largest, *fullest_companions(sizes, left, capacity - largest)]
        if sum(taken) == capacity:
            return taken
    return []
