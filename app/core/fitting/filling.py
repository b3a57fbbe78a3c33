"""Lots put on the shelves one after the other, never more trays than there are positions."""

from bisect import bisect_left, insort
from collections import Counter
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.fixed import Fixed
from app.core.fitting.options import Options
from app.core.fitting.patterns import member_dates, stays_of
from app.core.fitting.wishes import Stand
from app.core.packing import pack_into
from app.core.words import HARDENING, PLACES, Place

Ints = NDArray[np.int64]

_Dates = tuple[int, int, int, int]
_Stay = tuple[int, int, int]
NOTHING = -1


@dataclass
class _Group:
    """The trays of one group: the free cells of each, rising, what is in them, and where they stand."""

    capacity: int
    rooms: list[int]
    cells: dict[int, int] = field(default_factory=dict)
    dates: Counter[_Dates] = field(default_factory=Counter)
    stays: list[_Stay] = field(default_factory=list)


@dataclass(frozen=True)
class _Change:
    """What a lot makes of a group."""

    group: int
    lot: int
    cells: int
    dates: _Dates
    rooms: list[int]
    stays: list[_Stay]


class Filling:
    """The shelves of a levelling, with what is put on them so far.

    Attributes:
        option: The option that each lot has; -1 for none. Shape (n_lots,).
        plants: Its plants. Shape (n_lots,). [1]
    """

    def __init__(self, options: Options, stand: Stand, fixed: Fixed) -> None:
        """Begin with what is not free."""
        self.options, self.stand, self._fixed = options, stand, fixed
        self.option = np.full(len(options.lot), NOTHING, dtype=np.int64)
        self.plants = np.zeros(len(options.lot), dtype=np.int64)
        dates = member_dates(options)
        self._dates = tuple([tuple(row) for row in table.tolist()] for table in dates)
        # Before NO_DAY stands nothing, so the days run from the first coming to the last planting out.
        days = np.concatenate([dates[0][:, 0], [fixed.first_day]])
        ends = np.concatenate([*(table.max(axis=1) for table in dates), [fixed.first_day + fixed.use.shape[1]]])
        self._first_day = int(days[days > 0].min(initial=1))
        n_days = max(1, int(ends.max()) - self._first_day + 1)
        self._has_hardening = any(shelf.place is Place.HARDENING for shelf in options.plan.garden.shelves)
        self._free = np.zeros((len(PLACES), n_days), dtype=np.int64) + fixed.positions[:, np.newaxis]
        begin = fixed.first_day - self._first_day
        if fixed.use.shape[1]:
            window = self._free[:, begin : begin + fixed.use.shape[1]]
            np.maximum(window, fixed.use, out=window)
        self._groups = [
            _Group(capacity, sorted(rooms)) for capacity, rooms in zip(options.capacity.tolist(), fixed.rooms, strict=True)
        ]
        self._put_fixed()

    def _put_fixed(self) -> None:
        options = self.options
        for lot in np.flatnonzero(~options.is_free).tolist():
            option = int(options.first[options.kind[lot]])
            self.option[lot] = option
            self.plants[lot] = options.plan.plants[options.lot[lot]]
            for group, dates in self._memberships(option):
                self._groups[group].dates[dates] += 1
        for number, group in enumerate(self._groups):
            if group.dates:
                group.stays = self._stays(number, group.dates)
                self._book(group.stays, -len(group.rooms))

    def _memberships(self, option: int) -> list[tuple[int, _Dates]]:
        groups = (int(self.options.start_group[option]), int(self.options.pot_group[option]))
        return [(group, self._dates[kind][option]) for kind, group in enumerate(groups) if group >= 0]

    def _stays(self, group: int, dates: "Counter[_Dates] | list[_Dates]") -> list[_Stay]:
        begin = min(one[0] for one in dates)
        ends = [max(one[which] for one in dates) for which in (1, 2, 3)]
        first_place, light_place = self._places(group)
        return [
            (place, first - self._first_day, end - self._first_day)
            for place, first, end in stays_of(first_place, light_place, (begin, ends[0], ends[1], ends[2]))
            if end > first and (place != HARDENING or self._has_hardening)
        ]

    def _places(self, group: int) -> tuple[int, int]:
        if not hasattr(self, "_place_of"):
            options = self.options
            self._place_of = np.zeros((options.n_groups, 2), dtype=np.int64)
            for groups in (options.start_group, options.pot_group):
                there = groups >= 0
                self._place_of[groups[there], 0] = options.first_place[there]
                self._place_of[groups[there], 1] = options.light[there]
        first, light = self._place_of[group]
        return int(first), int(light)

    def _book(self, stays: list[_Stay], trays: int) -> None:
        """Add to the free positions; a negative number takes them."""
        for place, begin, end in stays:
            self._free[place, begin:end] += trays

    def put(self, lot: int, option: int, plants: int) -> bool:
        """Put a lot on the shelves, if it fits; say whether it does.

        Args:
            lot: Index of a lot that has no option yet.
            option: One of its kind's options.
            plants: Plants that are to be placed, 1 or more.
        """
        cells = int(self.stand.cells_of(np.int64(lot), np.int64(plants)))  # type: ignore[arg-type]  # arrays of none
        needs = [cells]
        if self.options.pot_group[option] >= 0:
            needs.append(int(self.stand.pots_of(np.int64(lot), np.int64(plants))))  # type: ignore[arg-type]
        members = self._memberships(option)
        for exactly in (False, True):
            if exactly and not any(
                self._may_close_up(group, need) for (group, _), need in zip(members, needs, strict=True)
            ):
                return False
            changes = [
                self._with(group, lot, need, dates, exactly=exactly)
                for (group, dates), need in zip(members, needs, strict=True)
            ]
            if self._fits(changes):
                for change in changes:
                    group = self._groups[change.group]
                    group.rooms, group.stays = change.rooms, change.stays
                    group.cells[lot] = change.cells
                    group.dates[change.dates] += 1
                self.option[lot], self.plants[lot] = option, plants
                return True
        return False

    def _may_close_up(self, number: int, cells: int) -> bool:
        """Return whether another packing could take cells that no single tray has room for."""
        group = self._groups[number]
        rest = cells % group.capacity
        return 0 < rest <= sum(group.rooms) and rest > max(group.rooms, default=0)

    def take(self, lot: int) -> tuple[int, int]:
        """Take a lot off the shelves; return the option and the plants that it had."""
        had = int(self.option[lot]), int(self.plants[lot])
        for number, dates in self._memberships(had[0]):
            group = self._groups[number]
            self._book(group.stays, len(group.rooms))
            del group.cells[lot]
            group.dates[dates] -= 1
            if not group.dates[dates]:
                del group.dates[dates]
            group.rooms = self._packed(number, list(group.cells.values()))
            group.stays = self._stays(number, group.dates) if group.dates else []
            self._book(group.stays, -len(group.rooms))
        self.option[lot], self.plants[lot] = NOTHING, 0
        return had

    def _packed(self, number: int, sizes: list[int]) -> list[int]:
        """Return the free cells of the fewest trays of a group, beside what is fixed in it."""
        capacity = self._groups[number].capacity
        rooms = list(self._fixed.rooms[number])
        rest = [size % capacity for size in sizes if size % capacity]
        in_rooms, new = pack_into(rest, capacity, rooms, proven=False)
        left = [room - sum(rest[at] for at in taken) for room, taken in zip(rooms, in_rooms, strict=True)]
        left += [capacity - sum(rest[at] for at in taken) for taken in new]
        return sorted([*left, *([0] * sum(size // capacity for size in sizes))])

    def _with(self, number: int, lot: int, cells: int, dates: _Dates, *, exactly: bool) -> _Change:
        group = self._groups[number]
        if exactly:
            rooms = self._packed(number, [*group.cells.values(), cells])
        else:
            whole, rest = divmod(cells, group.capacity)
            rooms = [0] * whole + group.rooms
            if rest:
                at = bisect_left(rooms, rest)
                room = rooms.pop(at) if at < len(rooms) else group.capacity
                insort(rooms, room - rest)
        stays = group.stays if dates in group.dates else self._stays(number, [*group.dates, dates])
        return _Change(number, lot, cells, dates, rooms, stays)

    def _fits(self, changes: list[_Change]) -> bool:
        """Book the changes, and take them back if a place is then over-full."""
        moved = []
        for change in changes:
            group = self._groups[change.group]
            if len(change.rooms) != len(group.rooms) or change.stays != group.stays:
                self._book(group.stays, len(group.rooms))
                self._book(change.stays, -len(change.rooms))
                moved.append((group, change))
        if all(
            self._free[place, begin:end].min() >= 0 for _, change in moved for place, begin, end in change.stays
        ):
            return True
        for group, change in moved:
            self._book(change.stays, len(change.rooms))
            self._book(group.stays, -len(group.rooms))
        return False

    @property
    def trays(self) -> int:
        """All trays on the shelves. [1]"""
        return sum(len(group.rooms) for group in self._groups)
