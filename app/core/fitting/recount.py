"""The trays of a plan counted anew in plain Python: who is in them, and how many stand in a place on a day.

Dates, cells and the contents of each tray are the plan's; who may share, and from when to when a tray stands, is
worked out here a second time.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from app.core.calendar import DAYS_IN_WEEK
from app.core.fitting.fault import Fault, Rule
from app.core.plan import Plan
from app.core.space.dealt import Dealt
from app.core.words import HARDENING, Place

# Index of a place, and a day number.
Spot = tuple[int, int]

# Lots of one key go together. The first number tells cells, 0, from pots, 1.
_Key = tuple[int, ...]
# Place, first day, and the day after the last.
_Span = tuple[int, int, int]

_CELLS, _POTS = 0, 1
_FAST_DAYS, _MIDDLING_DAYS = 5, 10


@dataclass(frozen=True, kw_only=True)
class _Lot:
    """One sowing: its dates as day numbers, 0 for none, its places, cells and pots with their containers."""

    sow_on: int
    emerges: int
    pot_on: int
    harden: int
    plant_out: int
    first: int
    light: int
    cells: int
    box: int
    pots: int
    pot_box: int

    @property
    def leaves(self) -> int:
        """The day it is potted on, or goes outside in its tray of cells."""
        return self.pot_on or self.harden

    def sharing_keys(self) -> Iterator[_Key]:
        """What it has in common with those that may share its tray of cells, and its tray of pots."""
        if self.cells:
            emerge_days = self.emerges - self.sow_on
            speed = (emerge_days > _FAST_DAYS) + (emerge_days > _MIDDLING_DAYS)
            way_on = (bool(self.pot_on), _week(self.leaves))
            yield (_CELLS, self.box, self.sow_on, self.first, self.light, speed, *way_on)
        if self.pots:
            yield (_POTS, self.pot_box, self.light, _week(self.pot_on), _week(self.harden))


@dataclass(frozen=True)
class _Tray:
    """A tray: its kind, cells or pots, its container, and the cells of each lot in it."""

    kind: int
    box: int
    parts: list[tuple[int, int]]


class Recount:
    """A plan's trays counted anew.

    Attributes:
        by_day: Trays by place and day.
    """

    def __init__(self, plan: Plan) -> None:
        self._garden = plan.garden
        self._lots = _lots(plan)
        self._trays = _trays(plan)
        self._groups = _groups(self._lots, plan.garden.dealt)
        self.by_day = self._by_day()

    def faults(self) -> Iterator[Fault]:
        """Find trays with too much in them, or with what does not go together, and sowings short of cells."""
        capacity = [box.cells_per_tray for box in self._garden.containers]
        dealt = _cells_of_settled(self._garden.dealt)
        there: Counter[tuple[int, int]] = Counter()
        partial: Counter[tuple[int, int]] = Counter()
        for tray in self._trays:
            names = ", ".join(self._garden.sowings.names[lot] for lot, _ in tray.parts)
            held = [(tray.kind, lot) in dealt for lot, _ in tray.parts]
            for lot, cells in tray.parts:
                there[tray.kind, lot] += cells
                partial[tray.kind, lot] += cells < capacity[tray.box]
            if sum(cells for _, cells in tray.parts) > capacity[tray.box] and not all(held):
                yield Fault(rule=Rule.TRAY, what=f"a tray of {capacity[tray.box]} cells holds more: sowings {names}")
            if len({self._groups.get((tray.kind, lot)) for lot, _ in tray.parts}) > 1:
                yield Fault(rule=Rule.SHARING, what=f"sowings do not go together in a tray: {names}")
        for index, wish in enumerate(self._lots):
            name = self._garden.sowings.names[index]
            for kind, needed in ((_CELLS, wish.cells), (_POTS, wish.pots)):
                found = there[kind, index]
                if found != needed:
                    yield Fault(rule=Rule.CELLS, what=f"sowing {name} has {found} of {needed} cells or pots in trays")
                if partial[kind, index] > 1 and (kind, index) not in dealt:
                    yield Fault(rule=Rule.CELLS, what=f"what remains of sowing {name} is split over trays")

    def _by_day(self) -> Counter[Spot]:
        """Count trays day by day; each stands where its whole group does."""
        members: dict[_Key, list[_Lot]] = defaultdict(list)
        for (_, lot), group in self._groups.items():
            members[group].append(self._lots[lot])
        n_trays = Counter(self._groups[tray.kind, tray.parts[0][0]] for tray in self._trays)
        is_hardened = any(shelf.place is Place.HARDENING for shelf in self._garden.shelves)
        standing: Counter[Spot] = Counter()
        for group, n in n_trays.items():
            for place, begin, end in _spans(group[0], members[group]):
                if place != HARDENING or is_hardened:
                    for day in range(begin, end):
                        standing[place, day] += n
        return standing


def _spans(kind: int, lots: list[_Lot]) -> list[_Span]:
    """Return where a group of lots stands; it moves when the slowest is ready."""
    light = max(lot.light for lot in lots)
    out = max(lot.plant_out for lot in lots)
    if kind == _POTS:
        left = max(lot.harden for lot in lots)
        return [(light, min(lot.pot_on for lot in lots), left), (HARDENING, left, out)]
    first = max(lot.first for lot in lots)
    came, up = min(lot.sow_on for lot in lots), max(lot.emerges for lot in lots)
    left = max(lot.leaves for lot in lots)
    lit = [(light, came, left)] if first == light else [(first, came, up), (light, up, left)]
    return lit if any(lot.pot_on for lot in lots) else [*lit, (HARDENING, left, out)]


def _week(day: int) -> int:
    """Return a number that the days of one week from Monday on have in common."""
    return (day - 1) // DAYS_IN_WEEK


def _lots(plan: Plan) -> list[_Lot]:
    times = plan.timeline
    columns = {
        "sow_on": times.sow_on,
        "emerges": times.emerges,
        "pot_on": times.pot_on,
        "harden": times.harden,
        "plant_out": times.plant_out,
        "first": plan.first_place,
        "light": plan.light_place,
        "cells": plan.cells,
        "box": plan.container,
        "pots": plan.pots,
        "pot_box": plan.pot_container,
    }
    rows = zip(*(column.tolist() for column in columns.values()), strict=True)
    return [_Lot(**dict(zip(columns, row, strict=True))) for row in rows]


def _trays(plan: Plan) -> list[_Tray]:
    trays = plan.trays
    kinds, boxes = trays.is_potted_on.tolist(), trays.container.tolist()
    found = [_Tray(_POTS if potted else _CELLS, box, []) for potted, box in zip(kinds, boxes, strict=True)]
    parts = (column.tolist() for column in (trays.part_tray, trays.part_lot, trays.part_cells))
    for tray, lot, cells in zip(*parts, strict=True):
        found[tray].parts.append((lot, cells))
    return [tray for tray in found if tray.parts]


def _groups(lots: list[_Lot], dealt: Dealt) -> dict[tuple[int, int], _Key]:
    """Return the key of what each lot moves with, for its cells and for its pots.

    What is sown in one tray moves as one from then on, whatever its dates are: under the lowest key among it.
    """
    group = {(key[0], index): key for index, lot in enumerate(lots) for key in lot.sharing_keys()}
    settled = _cells_of_settled(dealt)
    together: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for tray, lot in zip(dealt.part_tray.tolist(), dealt.part_lot.tolist(), strict=True):
        member = (int(dealt.is_potted_on[tray]), lot)
        if member in settled and member in group:
            together[tray].append(member)
    is_changed = True
    while is_changed:
        is_changed = False
        for members in together.values():
            lowest = min(group[member] for member in members)
            is_changed |= any(group[member] != lowest for member in members)
            group |= dict.fromkeys(members, lowest)
    return group


def _cells_of_settled(dealt: Dealt) -> set[tuple[int, int]]:
    """Return what is not dealt any more, since it is sown or potted: the kind, cells or pots, and the lot."""
    parts = zip(dealt.part_tray.tolist(), dealt.part_lot.tolist(), dealt.part_filled.tolist(), strict=True)
    return {(int(dealt.is_potted_on[tray]), lot) for tray, lot, filled in parts if filled}
