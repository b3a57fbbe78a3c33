"""The best way to make a small garden fit, found by trying every way there is.

Written from the rules of docs/method.md, sections 7, 8 and 13. It shares no code with the program's levelling, nor with
how a plan groups sowings and counts trays: of a plan, only what it says of one sowing alone is asked for.
"""

from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from math import prod

import numpy as np

from app.core.dealt import Dealt
from app.core.plan import make_plan
from app.core.words import HARDENING, LAMP, PLACES, WINDOW, Light, Place
from tests.core.dealing_by_hand import fewest_new_trays

# Beyond this many ways to make a garden fit, trying them all takes more than a second or so.
MOST_WAYS = 20_000


@dataclass(frozen=True)
class Way:
    """What one sowing may get: a day, a light place and some plants, with what comes of them."""

    lot: int
    sow_on: int
    off: int
    emerges: int
    pot_on: int
    harden: int
    plant_out: int
    first: int
    light: int
    plants: int
    cells: int
    pots: int
    box: int
    pot_box: int

    @property
    def leaves(self):
        return self.pot_on or self.harden

    @property
    def start_key(self):
        """What those that may share a tray of cells have in common."""
        days = self.emerges - self.sow_on
        speed = "fast" if days <= 5 else "middling" if days <= 10 else "slow"
        return (self.box, self.sow_on, self.first, self.light, speed, self.pot_on > 0, week(self.leaves))

    @property
    def pot_key(self):
        """What those that may share a tray of pots have in common; None where it is not potted on."""
        return (self.pot_box, self.light, week(self.pot_on), week(self.harden)) if self.pots else None


@dataclass(frozen=True)
class Best:
    """The best values of the four goals."""

    share: float
    plants: int
    days: int
    trays: int


def week(day):
    return (day - 1) // 7


def apart(garden, lots, **columns):
    """Return the plan of some sowings, each taken by itself, with columns changed and nothing dealt.

    One sowing may be among them many times. Nothing but the dates, places, cells and pots of each is looked at.
    """
    old = garden.sowings
    own = {name: column[lots] for name, column in vars(old).items() if name not in ("names", "varieties")}
    changed = {name: np.array(column) for name, column in columns.items()}
    nameless = {"names": ("",) * len(lots), "varieties": (None,) * len(lots)}
    return make_plan(replace(garden, sowings=replace(old, **nameless, **own | changed), dealt=Dealt()))


def ways_of_plan(plan, lots):
    """Return what each sowing of a plan comes to by itself."""
    times = plan.timeline
    columns = {name: getattr(times, name) for name in ("sow_on", "emerges", "pot_on", "harden", "plant_out")} | {
        "off": abs(times.sow_on - times.sow_best),
        "first": plan.first_place,
        "light": plan.light_place,
        "plants": plan.plants,
        "cells": plan.cells,
        "pots": plan.pots,
        "box": plan.container,
        "pot_box": plan.pot_container,
    }
    rows = zip(*(column.tolist() for column in columns.values()), strict=True)
    return [Way(lot=lot, **dict(zip(columns, row, strict=True))) for lot, row in zip(lots, rows, strict=True)]


def held_fast(dealt):
    """Return the sowings that are sown, with the day, and those in pinned trays, with none."""
    days = {}
    for tray, lot, filled in zip(dealt.part_tray, dealt.part_lot, dealt.part_filled, strict=True):
        if filled:
            days[int(lot)] = min(int(dealt.filled[tray]), days.get(int(lot)) or int(dealt.filled[tray]))
        elif dealt.is_pinned[tray]:
            days.setdefault(int(lot), None)
    return days


def is_indoors(garden, lot):
    return garden.cards[garden.sowings.crop[lot]].start_container is not None


def days_and_places(garden, lot, today):
    """Return the days and light places that are open to a sowing that is free."""
    card, own = garden.cards[garden.sowings.crop[lot]], apart(garden, [lot])
    its_place, its_day = int(own.light_place[0]), int(own.timeline.sow_on[0])
    season_is_over = apart(garden, list(range(len(garden.sowings)))).timeline.plant_out.max() < today
    places = [its_place] if card.light is Light.LAMP else [LAMP, WINDOW]
    times = apart(garden, [lot] * len(places), light=places, sow_on=[0] * len(places)).timeline
    windows = zip(*(column.tolist() for column in (times.sow_from, times.sow_best, times.sow_by)), strict=True)
    found = []
    for place, (begin, best, end) in zip(places, windows, strict=True):
        days = [day for day in range(begin, end + 1) if (day - 1) % 7 == garden.settings.sowing_weekday] or [best]
        found += [(day, place) for day in days if season_is_over or day >= today]
    # A day that is over is not open to others, but who has it may keep it.
    if (its_day < today and not season_is_over) or not found:
        found.append((its_day, its_place))
    return sorted(set(found))


def ways_of(garden, lot, today):
    """Return every way of a free sowing; the first is to leave it out."""
    days = days_and_places(garden, lot, today)
    rows = [(*days[0], 0), *((*day, n + 1) for day in days for n in range(garden.sowings.plants[lot]))]
    sow_on, light, placed = zip(*rows, strict=True)
    lots = [lot] * len(rows)
    return ways_of_plan(apart(garden, lots, sow_on=sow_on, light=light, placed=placed), lots)


@lru_cache(maxsize=100_000)
def trays_needed(capacity, sizes, rooms):
    """Return the fewest new trays: whole ones of large lots first, then every way to put what remains."""
    remainders = [size % capacity for size in sizes if size % capacity]
    return sum(size // capacity for size in sizes) + fewest_new_trays(remainders, capacity, rooms)


class Shelves:
    """The places of a garden, and the trays in them whatever is chosen."""

    def __init__(self, garden, fixed):
        self.garden = garden
        self.positions = Counter()
        for shelf in garden.shelves:
            self.positions[PLACES.index(shelf.place)] += shelf.positions
        self.has_hardening = any(shelf.place is Place.HARDENING for shelf in garden.shelves)
        self.kept = kept_trays(garden.dealt, {way.lot for way in fixed})
        self.by_themselves, _ = self.stand(fixed)

    def stand(self, ways):
        """Return how many trays stand in each place on each day, and how many trays there are."""
        groups = defaultdict(list)
        for its_way in ways:
            if its_way.cells:
                groups[False, its_way.start_key].append(its_way)
            if its_way.pots:
                groups[True, its_way.pot_key].append(its_way)
        standing, trays = Counter(), 0
        for (potted, key), members in groups.items():
            n = self.trays_of(members, key[0], potted=potted)
            trays += n
            for place, begin, end in spans_of(members, potted=potted):
                if place != HARDENING or self.has_hardening:
                    for day in range(begin, end):
                        standing[place, day] += n
        return standing, trays

    def trays_of(self, members, box, *, potted):
        """Return the fewest trays of a group; what is held in a dealt tray stays there."""
        capacity = self.garden.containers[box].cells_per_tray
        mine = {its_way.lot for its_way in members}
        kept = [parts for tray_is_potted, parts in self.kept if tray_is_potted == potted and mine & set(parts)]
        held = Counter()
        for parts in kept:
            held.update(parts)
        sizes = [(its_way.pots if potted else its_way.cells) - held[its_way.lot] for its_way in members]
        rooms = tuple(sorted(capacity - sum(parts.values()) for parts in kept))
        return len(kept) + trays_needed(capacity, tuple(sorted(size for size in sizes if size)), rooms)

    def fit(self, standing):
        """Return whether no place holds more trays on a day than positions, or than are held fast there."""
        return all(
            n <= max(self.positions[place], self.by_themselves[place, day]) for (place, day), n in standing.items()
        )

    def short_of(self, standing):
        """Return how many positions more it would take, over all places, for everything to fit."""
        short = Counter()
        for (place, _), n in standing.items():
            short[place] = max(short[place], n - self.positions[place])
        return short.total()


def kept_trays(dealt, fixed):
    """Return the dealt trays in which something is held: whether of pots, and the cells of each sowing held there."""
    settled = {
        (bool(dealt.is_potted_on[tray]), int(lot))
        for tray, lot, filled in zip(dealt.part_tray, dealt.part_lot, dealt.part_filled, strict=True)
        if filled
    }
    held = defaultdict(Counter)
    for tray, lot, cells in zip(
        dealt.part_tray.tolist(), dealt.part_lot.tolist(), dealt.part_cells.tolist(), strict=True
    ):
        if lot in fixed and (dealt.is_pinned[tray] or (bool(dealt.is_potted_on[tray]), lot) in settled):
            held[tray][lot] += cells
    return [(bool(dealt.is_potted_on[tray]), parts) for tray, parts in held.items()]


def spans_of(members, *, potted):
    """Return (place, first day, day after the last) of the trays of a group, which waits for its slowest."""
    light, out = members[0].light, max(m.plant_out for m in members)
    if potted:
        left = max(m.harden for m in members)
        return [(light, min(m.pot_on for m in members), left), (HARDENING, left, out)]
    up, left = max(m.emerges for m in members), max(m.leaves for m in members)
    spans = [(members[0].first, members[0].sow_on, up), (light, up, left)]
    return spans if members[0].pot_on else [*spans, (HARDENING, left, out)]


def rank(garden, ways):
    """Return what ways come to in the first three goals; the best is the smallest."""
    wanted, placed = Counter(), Counter()
    for its_way in ways:
        grower = int(garden.sowings.grower[its_way.lot])
        wanted[grower] += int(garden.sowings.plants[its_way.lot])
        placed[grower] += its_way.plants
    share = min((placed[grower] / wish for grower, wish in wanted.items()), default=1.0)
    weighted = sum(its_way.plants * (4 - int(garden.sowings.priority[its_way.lot])) for its_way in ways)
    return -share, -weighted, sum(its_way.plants * its_way.off for its_way in ways)


class Trial:
    """Every way to make a garden fit."""

    def __init__(self, garden, today):
        self.garden = garden
        fast = held_fast(garden.dealt)
        lots = [lot for lot in range(len(garden.sowings)) if is_indoors(garden, lot)]
        fixed = [lot for lot in lots if lot in fast]
        days = [fast[lot] or garden.sowings.sow_on[lot] for lot in fixed]
        self.fixed = ways_of_plan(apart(garden, fixed, sow_on=days), fixed) if fixed else []
        self.free = [ways_of(garden, lot, today) for lot in lots if lot not in fast]
        self.shelves = Shelves(garden, self.fixed)

    def __len__(self):
        """Return the number of ways."""
        return prod(map(len, self.free))

    def best(self):
        """Return the best of all ways."""
        ranked = sorted(
            ((rank(self.garden, [*self.fixed, *ways]), [*self.fixed, *ways]) for ways in product(*self.free)),
            key=lambda pair: pair[0],
        )
        best_rank, fewest = None, None
        for its_rank, ways in ranked:
            if best_rank is not None and its_rank > best_rank:
                break
            standing, trays = self.shelves.stand(ways)
            if self.shelves.fit(standing):
                best_rank, fewest = its_rank, min(trays, trays if fewest is None else fewest)
        share, weighted, days = best_rank
        return Best(-share, -weighted, days, fewest)

    def extra(self):
        """Return the fewest extra positions with which every sowing gets all its plants."""
        everything = [
            [its_way for its_way in ways if its_way.plants == self.garden.sowings.plants[its_way.lot]]
            for ways in self.free
        ]
        return min(self.shelves.short_of(self.shelves.stand([*self.fixed, *ways])[0]) for ways in product(*everything))
