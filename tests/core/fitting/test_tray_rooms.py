"""Trays by the room that is left in them, beside a plain list of trays."""

import random

import pytest

from app.core.fitting.tray_rooms import Packed, TrayRooms
from tests.lengths import TIMES

CAPACITY = 12


class Plain:
    """Every tray as the lots that are in it, with their cells; looked through from end to end."""

    def __init__(self, rooms):
        self.fixed = set(range(len(rooms)))
        self.room = dict(enumerate(rooms))
        self.lots = {tray: {} for tray in self.room}

    def left(self, tray):
        return self.room[tray] - sum(self.lots[tray].values())

    def put(self, lot, cells, tray):
        self.room.setdefault(tray, CAPACITY)
        self.lots.setdefault(tray, {})[lot] = cells

    def take(self, lot):
        tray = next(tray for tray, lots in self.lots.items() if lot in lots)
        del self.lots[tray][lot]
        if not self.lots[tray] and tray not in self.fixed:
            del self.lots[tray], self.room[tray]
        return tray


def check(rooms, plain):
    free = {tray: plain.left(tray) for tray in plain.room}
    assert rooms.free == free
    assert rooms.total == sum(free.values())
    assert rooms.largest == max(free.values(), default=0)
    assert [rooms.free[tray] for tray in rooms.emptiest()] == sorted(free.values(), reverse=True)
    assert rooms.tray_of == {lot: tray for tray, lots in plain.lots.items() for lot in lots}
    for tray in free:
        assert sorted(rooms.inside(tray)) == sorted(plain.lots[tray])
    for cells in range(1, CAPACITY + 1):
        fullest = rooms.fullest_for(cells)
        fitting = [room for room in free.values() if room >= cells]
        assert (None if fullest is None else free[fullest]) == min(fitting, default=None)


@pytest.mark.parametrize("number", range(30 * TIMES))
def test_trays_are_those_of_a_plain_list(number):
    draw = random.Random(number)
    held = tuple(draw.randint(0, CAPACITY) for _ in range(draw.randint(0, 3)))
    rooms, plain, cells_of = TrayRooms(CAPACITY, held), Plain(held), {}
    for lot in range(60):
        if cells_of and draw.random() < 0.4:
            gone = draw.choice(sorted(cells_of))
            assert rooms.take(gone, cells_of.pop(gone)) == plain.take(gone)
        elif draw.random() < 0.1:
            emptied = [tray for tray in plain.room if tray not in plain.fixed][:2]
            moved = {one: cells for tray in emptied for one, cells in plain.lots[tray].items()}
            new = {one: rooms.next_tray + at for at, one in enumerate(moved)}
            free = {tray: CAPACITY - moved[one] for one, tray in new.items()}
            rooms.pack(Packed(tuple(emptied), free, new))
            for one, tray in new.items():
                plain.take(one)
                plain.put(one, moved[one], tray)
        else:
            cells = draw.randint(1, CAPACITY)
            tray = rooms.fullest_for(cells)
            rooms.put(lot, cells, tray)
            plain.put(lot, cells, rooms.tray_of[lot])
            cells_of[lot] = cells
            assert tray is None or rooms.tray_of[lot] == tray
        check(rooms, plain)


def test_a_lot_goes_back_into_a_tray_that_went_with_it():
    rooms = TrayRooms(CAPACITY, ())
    rooms.put(1, 5, None)
    tray = rooms.take(1, 5)
    assert rooms.free == {}
    rooms.put(1, 5, tray)
    assert rooms.free == {tray: CAPACITY - 5}
    assert rooms.next_tray == tray + 1
