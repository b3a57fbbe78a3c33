"""Dealt trays kept as rows in plain dictionaries, and what may never be wrong with them.

It stores a deal as docs/method.md says, sharing no code with the program's own storing, so that a history of
deals and changes can be followed without a database.
"""

from collections import Counter, defaultdict
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from app.core.dealing.cells import Cells, lay_out
from app.core.dealing.deal import deal, filled_on
from app.core.dealing.placing import DealtStays
from app.core.dealing.positions import positions_of_places
from app.core.plan import make_plan
from app.core.space.dealt import Dealt
from app.core.space.grid import grid_of
from app.core.words import PLACES, CellState
from tests.core.dealing_by_hand import clash, is_one_piece, overlap_by_day
from tests.factories import sowings


def ints(values):
    return np.array(list(values), dtype=np.int64)


@dataclass
class Tray:
    number: int
    container: int
    filled: int
    potted: bool
    pinned: bool = False
    cells: dict = field(default_factory=dict)  # (row, column) to (row number of the sowing or None, state)

    def parts(self):
        """Return the cells of each sowing."""
        return Counter(sowing for sowing, _ in self.cells.values() if sowing is not None)

    def is_filled(self):
        return any(state is not CellState.EMPTY for _, state in self.cells.values())


@dataclass
class Stay:
    tray: int
    place: int
    position: tuple | None
    begin: int
    end: int
    pinned: bool

    @property
    def days(self):
        return self.begin, self.end

    def key(self):
        return (self.tray, self.place, self.position, self.begin, self.end, self.pinned)


class Store:
    """A garden and what has been dealt of it."""

    def __init__(self, garden, rows):
        self.garden = garden
        self.rows = dict(enumerate(rows, start=1))
        self.trays = {}
        self.stays = []

    def made(self):
        """Return the garden with its sowings and with what has been dealt."""
        columns = replace(sowings(list(self.rows.values())), ids=ints(self.rows))
        return replace(self.garden, sowings=columns, dealt=self.dealt(list(self.rows)))

    def dealt(self, ids):
        order = sorted(self.trays, key=lambda tray: self.trays[tray].number)
        rows = [self.trays[tray] for tray in order]
        parts = [
            (
                index,
                ids.index(sowing),
                n,
                sum(1 for s, state in tray.cells.values() if s == sowing and state != "empty"),
            )
            for index, tray in enumerate(rows)
            for sowing, n in sorted(tray.parts().items(), key=lambda part: ids.index(part[0]))
        ]
        tray, lot, cells, filled = (ints(part[column] for part in parts) for column in range(4))
        return Dealt(
            ids=ints(order),
            number=ints(row.number for row in rows),
            container=ints(row.container for row in rows),
            filled=ints(row.filled for row in rows),
            is_potted_on=np.array([row.potted for row in rows], dtype=bool),
            is_pinned=np.array([row.pinned for row in rows], dtype=bool),
            part_tray=tray,
            part_lot=lot,
            part_cells=cells,
            part_filled=filled,
        )

    def dealt_stays(self, dealt):
        index = {tray: at for at, tray in enumerate(dealt.ids.tolist())}
        rows = sorted(self.stays, key=lambda stay: (index[stay.tray], stay.begin))
        position = [stay.position or (-1, 0, 0) for stay in rows]
        return DealtStays(
            tray=ints(index[stay.tray] for stay in rows),
            place=ints(stay.place for stay in rows),
            **{name: ints(at[n] for at in position) for n, name in enumerate(("shelf", "level", "slot"))},
            begin=ints(stay.begin for stay in rows),
            end=ints(stay.end for stay in rows),
            is_pinned=np.array([stay.pinned for stay in rows], dtype=bool),
        )

    def dealt_cells(self, dealt, ids):
        rows = [
            (index, *cell, -1 if sowing is None else ids.index(sowing), state)
            for index, tray in enumerate(dealt.ids.tolist())
            for cell, (sowing, state) in sorted(self.trays[tray].cells.items())
        ]
        columns = {name: ints(row[n] for row in rows) for n, name in enumerate(("tray", "row", "column", "lot"))}
        return Cells(**columns, state=tuple(row[4] for row in rows))

    def deal(self, days=None, *, today=0):
        """Deal the trays filled on some days, (first, last), or of the season, and return plan and deal."""
        garden = self.made()
        plan = make_plan(garden)
        first, last = days or self.season(plan)
        found = deal(plan, self.dealt_stays(garden.dealt), first=first, last=last, today=today)
        laid = lay_out(plan, found, self.dealt_cells(garden.dealt, list(self.rows)))
        return plan, found, laid

    @staticmethod
    def season(plan):
        days = [*filled_on(plan).tolist(), *plan.garden.dealt.filled.tolist()]
        return min(days, default=0), max(days, default=0)

    def take(self, plan, found, laid):
        """Store a deal."""
        old, ids = plan.garden.dealt.ids.tolist(), list(self.rows)
        for index in found.emptied.tolist():
            tray = self.trays[old[index]]
            if not tray.is_filled():
                self.stays = [stay for stay in self.stays if stay.tray != old[index]]
            empty = [cell for cell, (_, state) in tray.cells.items() if state is CellState.EMPTY]
            tray.cells |= dict.fromkeys(empty, (None, CellState.EMPTY))
        mine = []
        for row, stored in enumerate(found.stored.tolist()):
            if stored < 0:
                mine.append(max(self.trays, default=0) + 1)
                fields = (found.number, found.container, found.filled, found.is_potted_on)
                self.trays[mine[-1]] = Tray(*(column[row].item() for column in fields))
            else:
                mine.append(old[stored])
                self.trays[mine[-1]].filled = int(found.filled[row])
        for row in np.flatnonzero(found.is_changed).tolist():
            self.trays[mine[row]].cells = {}
        for row, *cell, lot, state in zip(
            *(column.tolist() for column in (laid.tray, laid.row, laid.column, laid.lot)), laid.state, strict=True
        ):
            cells = self.trays[mine[row]].cells
            assert found.is_changed[row]
            assert tuple(cell) not in cells, "a cell is laid out twice"
            cells[tuple(cell)] = (None if lot < 0 else ids[lot], state)
        self.stays = [stay for stay in self.stays if stay.tray not in mine]
        for n, tray in enumerate(found.stay_tray.tolist()):
            fields = (found.stay_begin, found.stay_end, found.stay_is_pinned)
            place, position = int(found.stay_place[n]), found.stay_position[n]
            self.stays.append(Stay(mine[tray], place, position, *(column[n].item() for column in fields)))
        return mine

    def cells_of(self, sowing, *, potted):
        """Return the cells of a sowing over all trays of a kind."""
        return sum(tray.parts()[sowing] for tray in self.trays.values() if tray.potted is potted)

    def picture(self):
        """Return everything that is stored, so that two moments can be compared."""
        trays = {
            tray: (row.number, row.container, row.filled, row.potted, row.pinned, tuple(sorted(row.cells.items())))
            for tray, row in self.trays.items()
        }
        return trays, sorted((stay.key() for stay in self.stays), key=repr)


def check_rows(store):
    """No position holds two trays on a day, no tray is in two, no number is given twice."""
    numbers = [tray.number for tray in store.trays.values()]
    assert len(numbers) == len(set(numbers))
    for owner in ("position", "tray"):
        there = defaultdict(list)
        for stay in store.stays:
            there[getattr(stay, owner)].append(stay)
        there.pop(None, None)
        for stays in there.values():
            stays.sort(key=lambda stay: stay.begin)
            for one, other in pairwise(stays):
                assert not clash(one.days, other.days), (one, other)


def check_dealt(store, plan, mine, found):
    """Hold the trays of a deal to the plan: whole grids, each lot's cells, days and places."""
    index_of = {sowing: index for index, sowing in enumerate(store.rows)}
    positions = positions_of_places(plan.garden.shelves)
    for row, tray_id in enumerate(mine):
        tray, group = store.trays[tray_id], plan.trays.group[found.tray[row]]
        box = plan.garden.containers[tray.container]
        grid = grid_of(box.cells_per_tray, box.rows, box.columns)
        whole = {(r, c) for r in range(1, grid.rows + 1) for c in range(1, grid.columns + 1)}
        assert whole <= set(tray.cells) or not found.is_changed[row]
        mine_of_plan = plan.trays.part_tray == found.tray[row]
        columns = (column[mine_of_plan].tolist() for column in (plan.trays.part_lot, plan.trays.part_cells))
        planned, needs = dict(zip(*columns, strict=True)), plan.pots if tray.potted else plan.cells
        there = {index_of[sowing]: n for sowing, n in tray.parts().items()}
        # What is sown of a crop that takes no trays any more is there beside them.
        assert {lot: n for lot, n in there.items() if lot in planned or needs[lot]} == planned
        stays = [stay for stay in store.stays if stay.tray == tray_id]
        assert all(stay.position is None or stay.position in positions[PLACES[stay.place]] for stay in stays)
        columns = (plan.stays.place, plan.stays.begin, plan.stays.end)
        rows = {*zip(*(column[plan.stays.group == group].tolist() for column in columns), strict=True)}
        assert tray.is_filled() or {(stay.place, *stay.days) for stay in stays} == rows
    for sowing, index in index_of.items():
        for potted, wanted in ((False, plan.cells), (True, plan.pots)):
            its_trays = plan.trays.part_tray[plan.trays.part_lot == index]
            its_trays = its_trays[plan.trays.is_potted_on[its_trays] == potted]
            # Another day's tray may be dealt for what leaves it; what comes into it then waits for its own day's deal.
            is_dealt = len(its_trays) > 0 and np.isin(its_trays, found.tray).all()
            assert not is_dealt or store.cells_of(sowing, potted=potted) == wanted[index]


def check_fresh_in_one_piece(store, mine, found):
    """In a new tray each sowing's cells hang together."""
    for row, tray_id in enumerate(mine):
        tray = store.trays[tray_id]
        if found.stored[row] < 0:
            for sowing in tray.parts():
                assert is_one_piece(cell for cell, (owner, _) in tray.cells.items() if owner == sowing)


def check_whole_season(store, plan):
    """After dealing the season every sowing has exactly its cells, once; what is sown keeps them, planned or not."""
    for index, sowing in enumerate(store.rows):
        for potted, wanted in ((False, plan.cells), (True, plan.pots)):
            there = [tray for tray in store.trays.values() if tray.potted is potted and tray.parts()[sowing]]
            kept = any(tray.is_filled() for tray in there) and wanted[index] == 0
            assert kept or store.cells_of(sowing, potted=potted) == wanted[index]
    assert all(store.trays[stay.tray].parts() for stay in store.stays), "a tray without sowings holds a position"


def check_fewest_positions(store, plan):
    """Without pins as many positions are used as trays overlap; where they overlap more, all are used on that day."""
    for number, place in enumerate(PLACES):
        here = [stay for stay in store.stays if stay.place == number]
        there_are = len(positions_of_places(plan.garden.shelves)[place])
        overlap = overlap_by_day([stay.days for stay in here])
        used = {stay.position for stay in here if stay.position is not None}
        if overlap <= there_are:
            assert all(stay.position is not None for stay in here)
            assert len(used) == overlap
        else:
            assert overlap_by_day([stay.days for stay in here if stay.position is not None]) == there_are


def filled_cells(store):
    """Return all cells of what is sown or potted, with their state and the day of their tray.

    Cells that are kept for it and not sown yet are among them, unless its crop is sown outside by now.
    """
    wanted = {number for number, row in store.rows.items() if store.garden.cards[row["crop"]].is_started_indoors}
    sown = {
        (owner, tray.potted)
        for tray in store.trays.values()
        for owner, state in tray.cells.values()
        if state is not CellState.EMPTY
    }
    return {
        (tray, cell): (*content, tray_row.filled if content[1] is not CellState.EMPTY else None)
        for tray, tray_row in store.trays.items()
        for cell, content in tray_row.cells.items()
        if (content[0], tray_row.potted) in sown and (content[0] in wanted or content[1] is not CellState.EMPTY)
    }
