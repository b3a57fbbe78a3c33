"""Lots put on the shelves one after the other, never more trays than there are positions."""

from collections import Counter
from dataclasses import dataclass, field
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.fixed import Fixed
from app.core.fitting.options import Options
from app.core.fitting.patterns import member_dates, stays_of
from app.core.fitting.tray_rooms import Packed, TrayRooms
from app.core.fitting.wishes import Stand
from app.core.space.packing import pack_into
from app.core.words import HARDENING, PLACES, Place

Ints = NDArray[np.int64]

_Dates = tuple[int, int, int, int]
_Stay = tuple[int, int, int]
NOTHING = -1
# So many trays more than have the room are packed anew for a lot: the more, the likelier it finds room, and the longer.
OTHERS = 8
# Of so many lots in a group the fewest trays are proven; with more, what quick packings leave empty is next to nothing.
MOST_PROVEN = 200


@dataclass
class _Group:
    """The trays of one group, what is in them, and where they stand.

    Whole trays of large lots are counted; of the others the free cells are known, and who is in which.
    """

    capacity: int
    shared: TrayRooms
    n_whole: int = 0
    cells: dict[int, int] = field(default_factory=dict)
    dates: Counter[_Dates] = field(default_factory=Counter)
    stays: list[_Stay] = field(default_factory=list)

    @property
    def n_trays(self) -> int:
        """All its trays. [1]"""
        return self.n_whole + len(self.shared.free)


@dataclass(frozen=True)
class _Change:
    """What a lot makes of a group: the tray for what is less than a whole one, or some trays packed anew."""

    group: int
    cells: int
    dates: _Dates
    tray: int | None
    packed: Packed | None
    n_trays: int
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
            _Group(capacity, TrayRooms(capacity, rooms))
            for capacity, rooms in zip(options.capacity.tolist(), fixed.rooms, strict=True)
        ]
        self._place_of = np.zeros((options.n_groups, 2), dtype=np.int64)
        for groups in (options.start_group, options.pot_group):
            there = groups >= 0
            self._place_of[groups[there], 0] = options.first_place[there]
            self._place_of[groups[there], 1] = options.light[there]
        self._put_fixed()

    def _put_fixed(self) -> None:
        options = self.options
        for lot in np.flatnonzero(~options.is_free).tolist():
            option = int(options.first[options.kind[lot]])
            self.option[lot] = option
            self.plants[lot] = options.plan.plants[options.lot[lot]]
            for group, dates in self._memberships(option):
                self._groups[group].dates[dates] += 1
        for number, its_group in enumerate(self._groups):
            if its_group.dates:
                its_group.stays = self._stays(number, its_group.dates)
                self._book(its_group.stays, -its_group.n_trays)

    def _memberships(self, option: int) -> list[tuple[int, _Dates]]:
        groups = (int(self.options.start_group[option]), int(self.options.pot_group[option]))
        return [(group, self._dates[kind][option]) for kind, group in enumerate(groups) if group >= 0]

    def _stays(self, group: int, dates: "Counter[_Dates] | list[_Dates]") -> list[_Stay]:
        begin = min(one[0] for one in dates)
        ends = [max(one[which] for one in dates) for which in (1, 2, 3)]
        first_place, light_place = self._place_of[group].tolist()
        return [
            (place, first - self._first_day, end - self._first_day)
            for place, first, end in stays_of(first_place, light_place, (begin, ends[0], ends[1], ends[2]))
            if end > first and (place != HARDENING or self._has_hardening)
        ]

    def _book(self, stays: list[_Stay], trays: int) -> None:
        """Add to the free positions; a negative number takes them."""
        for place, begin, end in stays:
            self._free[place, begin:end] += trays

    def put(
        self, lot: int, option: int, plants: int, *, close_up: bool = True, left: frozenset[int] = frozenset()
    ) -> bool:
        """Put a lot on the shelves, if it fits; say whether it does.

        Args:
            lot: Index of a lot that has no option yet.
            option: Index of one of its kind's options.
            plants: Plants that are to be placed, 1 or more. [1]
            close_up: Whether the trays of its groups may be packed anew for it.
            left: Groups that it was taken from: what it leaves behind may move earlier, and has to fit too. [index]
        """
        needs = self._needs(lot, plants)
        members = self._memberships(option)
        for exactly in (False, True):
            if exactly and not (
                close_up
                and any(self._may_close_up(group, need) for (group, _), need in zip(members, needs, strict=False))
            ):
                return False
            changes = [
                self._with(group, lot, need, dates, exactly=exactly)
                for (group, dates), need in zip(members, needs, strict=False)
            ]
            if self._fits(changes, left):
                for change in changes:
                    self._make(change, lot)
                self.option[lot], self.plants[lot] = option, plants
                return True
        return False

    def load(self, option: Ints, plants: Ints) -> bool:
        """Put free lots on empty shelves as an answer that fits has them; say whether they fit.

        They do not where what is fixed would have to be packed otherwise.

        Args:
            option: The option of each lot; -1 for none. Shape (n_lots,).
            plants: Its plants. Shape (n_lots,). [1]
        """
        there = np.flatnonzero(self.options.is_free & (plants > 0))
        touched = set()
        for lot in there.tolist():
            self.option[lot], self.plants[lot] = option[lot], plants[lot]
            members = self._memberships(int(option[lot]))
            for (number, dates), need in zip(members, self._needs(lot, int(plants[lot])), strict=False):
                group = self._groups[number]
                if number not in touched:
                    touched.add(number)
                    self._book(group.stays, group.n_trays)
                group.cells[lot] = need
                group.n_whole += need // group.capacity
                group.dates[dates] += 1
        for number in touched:
            group = self._groups[number]
            group.shared.pack(self._packed(number, proven=len(group.cells) <= MOST_PROVEN))
            group.stays = self._stays(number, group.dates)
            self._book(group.stays, -group.n_trays)
        return bool(self._free.min(initial=0) >= 0)

    def move(self, lot: int, choices: list[int], plants: int, *, close_up: bool = False) -> bool:
        """Put a lot that is on the shelves into another option or give it more plants; else it stays as it is.

        Args:
            lot: Index of a lot that has an option.
            choices: Indices of options, the best first.
            plants: Plants that it is to have. [1]
            close_up: Whether trays may be packed anew for it.
        """
        had = int(self.option[lot]), int(self.plants[lot])
        trays = [self._take_from(number, lot, dates) for number, dates in self._memberships(had[0])]
        left = frozenset(number for number, _ in self._memberships(had[0]))
        self.option[lot], self.plants[lot] = NOTHING, 0
        if any(self.put(lot, choice, plants, close_up=close_up, left=left) for choice in choices):
            return True
        for (number, dates), (cells, tray) in zip(self._memberships(had[0]), trays, strict=True):
            group = self._groups[number]
            stays = group.stays if dates in group.dates else self._stays(number, [*group.dates, dates])
            is_new = tray is not None and tray not in group.shared.free
            n_trays = group.n_trays + cells // group.capacity + is_new
            change = _Change(number, cells, dates, None if is_new else tray, None, n_trays, stays)
            self._book(group.stays, group.n_trays)
            self._make(change, lot)
            self._book(group.stays, -group.n_trays)
        self.option[lot], self.plants[lot] = had
        return False

    def _take_from(self, number: int, lot: int, dates: _Dates) -> tuple[int, int | None]:
        """Take a lot out of a group; return its cells and the tray of what is less than a whole one."""
        group = self._groups[number]
        self._book(group.stays, group.n_trays)
        cells = group.cells.pop(lot)
        group.n_whole -= cells // group.capacity
        tray = group.shared.take(lot, cells % group.capacity)
        group.dates[dates] -= 1
        if not group.dates[dates]:
            del group.dates[dates]
            group.stays = self._stays(number, group.dates) if group.dates else []
        self._book(group.stays, -group.n_trays)
        return cells, tray

    def room_for(self, lot: int, option: int) -> int:
        """Return how many plants of a lot fit into what is free in the trays that its groups have. [1]"""
        rooms = [self._groups[group].shared.largest for group, _ in self._memberships(option)]
        row = int(self.stand.row[lot])
        return min(
            int(np.searchsorted(need, room, side="right")) - 1
            for need, room in zip((self.stand.cells[row], self.stand.pots[row]), rooms, strict=False)
        )

    def beside(self, option: int, lot: int) -> list[int]:
        """Return the lots in the trays of cells that an option's would share, those in a lot's own tray first."""
        number = int(self.options.start_group[option])
        group = self._groups[number]
        tray = group.shared.tray_of.get(lot)
        own = [] if tray is None else group.shared.inside(tray)
        return list(dict.fromkeys([*own, *group.cells]))

    def _needs(self, lot: int, plants: int) -> tuple[int, int]:
        row = int(self.stand.row[lot])
        return int(self.stand.cells[row, plants]), int(self.stand.pots[row, plants])

    def _may_close_up(self, number: int, cells: int) -> bool:
        """Return whether another packing could take cells that no single tray has room for."""
        group = self._groups[number]
        rest = cells % group.capacity
        return 0 < rest <= group.shared.total and rest > group.shared.largest

    def close_up(self, number: int) -> None:
        """Pack the lots of a group anew, if they then need no more trays than now."""
        group, packed = self._groups[number], self._packed(number, proven=False)
        if len(packed.free) <= len(group.shared.free):
            self._book(group.stays, group.n_trays)
            group.shared.pack(packed)
            self._book(group.stays, -group.n_trays)

    def _packed(self, number: int, *, proven: bool) -> Packed:
        """Return few trays of a group that hold its lots, beside what is fixed; the fewest, if that is to be proven."""
        group, rooms = self._groups[number], list(self._fixed.rooms[number])
        rest = [(lot, size % group.capacity) for lot, size in group.cells.items() if size % group.capacity]
        in_rooms, new = pack_into([size for _, size in rest], group.capacity, rooms, proven=proven)
        rooms += [group.capacity] * len(new)
        return _filled(tuple(group.shared.free), dict(enumerate(rooms)), in_rooms + new, rest)

    def _closed_up(self, number: int, lot: int, rest: int) -> Packed:
        """Return some trays of a group packed anew with one lot more: the emptiest, and some of the others.

        Args:
            number: Index of the group.
            lot: Index of the lot.
            rest: Its cells beside whole trays. [1]
        """
        group, shared, pool, room = self._groups[number], self._groups[number].shared, [], 0
        emptiest = shared.emptiest()
        for tray in emptiest:
            pool.append(tray)
            room += shared.free[tray]
            if room >= rest:
                break
        pool += islice(emptiest, OTHERS)
        kept, others = ([tray for tray in pool if (tray in shared.fixed) == is_kept] for is_kept in (True, False))
        inside = [(one, group.cells[one] % group.capacity) for tray in pool for one in shared.inside(tray)]
        inside.append((lot, rest))
        rooms_kept = [self._fixed.rooms[number][tray] for tray in kept]
        in_rooms, new = pack_into([size for _, size in inside], group.capacity, rooms_kept, proven=False)
        others += range(shared.next_tray, shared.next_tray + len(new) - len(others))
        room_of = dict(zip(kept, rooms_kept, strict=True)) | dict.fromkeys(others[: len(new)], group.capacity)
        return _filled(tuple(pool), room_of, in_rooms + new, inside)

    def _with(self, number: int, lot: int, cells: int, dates: _Dates, *, exactly: bool) -> _Change:
        group = self._groups[number]
        whole, rest = divmod(cells, group.capacity)
        packed, tray = None, None
        if exactly and self._may_close_up(number, cells):
            packed = self._closed_up(number, lot, rest)
            n_trays = group.n_trays + whole + len(packed.free) - len(packed.emptied)
        else:
            tray = group.shared.fullest_for(rest) if rest else None
            n_trays = group.n_trays + whole + (rest > 0 and tray is None)
        stays = group.stays if dates in group.dates else self._stays(number, [*group.dates, dates])
        return _Change(number, cells, dates, tray, packed, n_trays, stays)

    def _make(self, change: _Change, lot: int) -> None:
        group = self._groups[change.group]
        whole, rest = divmod(change.cells, group.capacity)
        group.n_whole += whole
        group.cells[lot] = change.cells
        group.dates[change.dates] += 1
        group.stays = change.stays
        if change.packed is not None:
            group.shared.pack(change.packed)
        elif rest:
            group.shared.put(lot, rest, change.tray)

    def _fits(self, changes: list[_Change], left: frozenset[int]) -> bool:
        """Book the changes, and take them back if a place is then over-full."""
        moved = []
        changed = {change.group: change.stays for change in changes}
        asked = [changed.get(number, self._groups[number].stays) for number in left]
        for change in changes:
            group = self._groups[change.group]
            if change.n_trays != group.n_trays or change.stays != group.stays:
                self._book(group.stays, group.n_trays)
                self._book(change.stays, -change.n_trays)
                moved.append((group, change))
                asked.append(change.stays)
        if all(self._free[place, begin:end].min() >= 0 for stays in asked for place, begin, end in stays):
            return True
        for group, change in moved:
            self._book(change.stays, change.n_trays)
            self._book(group.stays, -group.n_trays)
        return False

    @property
    def trays(self) -> int:
        """All trays on the shelves. [1]"""
        return sum(group.n_trays for group in self._groups)


def _filled(
    emptied: tuple[int, ...], room_of: dict[int, int], bins: list[list[int]], lots: list[tuple[int, int]]
) -> Packed:
    """Return trays with lots in them.

    Args:
        emptied: The trays in which they were.
        room_of: The room of each tray, in the order of `bins`.
        bins: Indices into `lots` of each tray.
        lots: Lots and their cells.
    """
    free: dict[int, int] = {}
    tray_of: dict[int, int] = {}
    for (tray, room), taken in zip(room_of.items(), bins, strict=True):
        free[tray] = room - sum(lots[at][1] for at in taken)
        tray_of |= {lots[at][0]: tray for at in taken}
    return Packed(emptied, free, tray_of)
