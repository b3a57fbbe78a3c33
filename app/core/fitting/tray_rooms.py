"""The trays of a group that are not taken up by one lot, with the room that is left in each and who is in which."""

from collections.abc import Iterator
from dataclasses import dataclass


@dataclass(frozen=True)
class Packed:
    """Some trays packed anew: which these were, the free cells of those that there are now, who is where."""

    emptied: tuple[int, ...]
    free: dict[int, int]
    tray_of: dict[int, int]


class TrayRooms:
    """Trays by the room that is left in them, so that one with room for a lot is soon found.

    Attributes:
        fixed: Trays that hold what is not free, and stay when they hold nothing else.
        free: The free cells of each tray. [1]
        tray_of: The tray of each lot in them.
        total: All free cells. [1]
        next_tray: The number that a new tray gets.
    """

    def __init__(self, capacity: int, rooms: tuple[int, ...]) -> None:
        """Begin with trays of what is not free.

        Args:
            capacity: Cells of a tray. [1]
            rooms: Free cells of each of those trays. [1]
        """
        self._capacity = capacity
        self.fixed = frozenset(range(len(rooms)))
        self.free: dict[int, int] = {}
        self.tray_of: dict[int, int] = {}
        self.total = 0
        self.next_tray = len(rooms)
        self._with_room: list[dict[int, None]] = [{} for _ in range(capacity + 1)]
        self._lots_in: dict[int, dict[int, None]] = {}
        for tray, room in enumerate(rooms):
            self._set(tray, room)

    @property
    def largest(self) -> int:
        """The most free cells of any tray. [1]"""
        return next((room for room in range(self._capacity, 0, -1) if self._with_room[room]), 0)

    def fullest_for(self, cells: int) -> int | None:
        """Return the fullest tray with room for so many cells; None for a new one."""
        for room in range(cells, self._capacity + 1):
            if self._with_room[room]:
                return next(iter(self._with_room[room]))
        return None

    def emptiest(self) -> Iterator[int]:
        """Yield all trays, those with the most room first."""
        for trays in reversed(self._with_room):
            yield from trays

    def inside(self, tray: int) -> list[int]:
        """Return the lots in a tray."""
        return list(self._lots_in.get(tray, ()))

    def put(self, lot: int, cells: int, tray: int | None) -> None:
        """Put a lot of so many cells into a tray; into a new one if there is none of that number."""
        if tray is None or tray not in self.free:
            tray = self.next_tray if tray is None else tray
            self.next_tray = max(self.next_tray, tray + 1)
            self._set(tray, self._capacity)
        self._set(tray, self.free[tray] - cells)
        self._enter(lot, tray)

    def take(self, lot: int, cells: int) -> int | None:
        """Take a lot of so many cells out; return its tray, if it was in one."""
        tray = self.tray_of.pop(lot, None)
        if tray is not None:
            del self._lots_in[tray][lot]
            self._set(tray, self.free[tray] + cells)
            if not self._lots_in[tray] and tray not in self.fixed:
                self._drop(tray)
        return tray

    def pack(self, packed: Packed) -> None:
        """Have some trays packed anew."""
        for tray in packed.emptied:
            self._drop(tray)
        for tray, room in packed.free.items():
            self._set(tray, room)
        for lot, tray in packed.tray_of.items():
            self._enter(lot, tray)
        self.next_tray = max([self.next_tray, *(tray + 1 for tray in packed.free)])

    def _set(self, tray: int, room: int) -> None:
        before = self.free.get(tray)
        if before is not None:
            del self._with_room[before][tray]
        self.free[tray] = room
        self._with_room[room][tray] = None
        self.total += room - (before or 0)

    def _drop(self, tray: int) -> None:
        room = self.free.pop(tray)
        del self._with_room[room][tray]
        self._lots_in.pop(tray, None)
        self.total -= room

    def _enter(self, lot: int, tray: int) -> None:
        self.tray_of[lot] = tray
        self._lots_in.setdefault(tray, {})[lot] = None
