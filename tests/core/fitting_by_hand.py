"""The best way to make a small garden fit, found by trying every way there is.

Written from the rules of docs/method.md, sections 7, 8, 10, 13 and 14. It shares no code with the program's levelling,
nor with how a plan groups sowings and counts trays: of a plan, only what it says of one sowing alone is asked for.
"""

from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from math import prod

import numpy as np

from app.core.log.entries import Log
from app.core.plan import make_plan
from app.core.space.dealt import Dealt
from app.core.words import HARDENING, LAMP, PLACES, WINDOW, Light, Place
from tests.core.dealing_by_hand import fewest_new_trays

# Beyond this many ways to make a garden fit, trying them all takes more than a second or so.
MOST_WAYS = 20_000


@dataclass(frozen=True)
class Way:
    """What one sowing may get: a day, a light place and some plants, with what comes of them.

    Of what is sown in trays, `joined` is what its group of trays of cells has in common, whatever has become of it.
    """

    lot: int
    written: int
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
    joined: tuple = ()

    @property
    def leaves(self):
        return self.pot_on or self.harden

    @property
    def start_key(self):
        """What those that may share a tray of cells have in common."""
        if self.joined:
            return self.joined
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
    """Return the plan of some sowings, each taken by itself, with columns changed and nothing dealt or written down.

    One sowing may be among them many times. Nothing but the dates, places, cells and pots of each is looked at. Behind
    them come all sowings of the garden without plants, so that the season ends on the same day.
    """
    old = garden.sowings
    everyone = np.array([*lots, *range(len(old))], dtype=np.int64)
    own = {name: column[everyone] for name, column in vars(old).items() if name not in ("names", "varieties")}
    own["placed"][len(lots) :] = 0
    for name, values in columns.items():
        own[name][: len(lots)] = values
    nameless = {"names": ("",) * len(everyone), "varieties": (None,) * len(everyone)}
    return make_plan(replace(garden, sowings=replace(old, **nameless, **own), dealt=Dealt(), log=Log()))


def ways_of_plan(plan, lots):
    """Return what the first sowings of a plan come to by themselves, under the numbers given."""
    times = plan.timeline
    columns = {name: getattr(times, name) for name in ("sow_on", "emerges", "pot_on", "harden", "plant_out")} | {
        "written": plan.garden.sowings.sow_on,
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
    return [Way(lot=lot, **dict(zip(columns, row, strict=True))) for lot, row in zip(lots, rows, strict=False)]


def held_fast(garden):
    """Return the sowings that are sown, of which anything is written down, or in pinned trays."""
    dealt, log = garden.dealt, garden.log
    parts = zip(dealt.part_tray, dealt.part_lot, dealt.part_filled, strict=True)
    return {int(lot) for tray, lot, filled in parts if filled or dealt.is_pinned[tray]} | set(log.sowing.tolist())


def is_sown(garden, lot):
    dealt, log = garden.dealt, garden.log
    return bool(dealt.part_filled[dealt.part_lot == lot].any() or (log.sowing == lot).any())


def is_indoors(garden, lot):
    return garden.cards[garden.sowings.crop[lot]].start_container is not None


def earliest_day(garden):
    """Return the day before which nothing is sown: today, unless all is planted out by then."""
    undisturbed = apart(replace(garden, today=0), [])
    return 0 if undisturbed.timeline.plant_out.max(initial=0) < garden.today else garden.today


def next_sowing_day(garden):
    return next(day for day in range(garden.today, garden.today + 7) if (day - 1) % 7 == garden.settings.sowing_weekday)


def is_too_late(garden, lot):
    """Return whether a sowing is not sown, its day is over, and the next sowing day is past its last chance."""
    times = apart(replace(garden, today=0), [lot]).timeline
    is_over = times.sow_on[0] < earliest_day(garden)
    return bool(not is_sown(garden, lot) and is_over and next_sowing_day(garden) > times.last_chance[0])


def days_and_places(garden, lot):
    """Return the days and light places that are open to a sowing that is free; no day where it waits for the next."""
    card, own = garden.cards[garden.sowings.crop[lot]], apart(garden, [lot])
    its_place, today = int(own.light_place[0]), earliest_day(garden)
    places = [its_place] if card.light is Light.LAMP else [LAMP, WINDOW]
    times = apart(garden, [lot] * len(places), light=places, sow_on=[0] * len(places)).timeline
    windows = (times.sow_from, times.sow_best, times.sow_by, times.last_chance)
    found = []
    for place, begin, best, end, last in zip(places, *(column.tolist() for column in windows), strict=False):
        days = [day for day in range(begin, end + 1) if (day - 1) % 7 == garden.settings.sowing_weekday] or [best]
        left = [day for day in days if day >= today]
        found += [(day, place) for day in left]
        if not left and next_sowing_day(garden) <= last:
            found.append((0, place))
    return found or [(int(garden.sowings.sow_on[lot]), its_place)]


def ways_of(garden, lot):
    """Return every way of a free sowing; the first is to leave it out."""
    days = days_and_places(garden, lot)
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
        self.kept = kept_trays(garden, fixed)
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
            n = self.trays_of(members, key, potted=potted)
            trays += n
            for place, begin, end in spans_of(members, potted=potted):
                if place != HARDENING or self.has_hardening:
                    for day in range(begin, end):
                        standing[place, day] += n
        return standing, trays

    def trays_of(self, members, key, *, potted):
        """Return the fewest trays of a group; what is held in a dealt tray stays there."""
        capacity = self.garden.containers[key[0]].cells_per_tray
        kept = self.kept[potted, key]
        held = sum(map(Counter, kept), Counter())
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


def settled_of(dealt):
    """Return what is sown in its trays of cells, or in its trays of pots: whether of pots, and the sowing."""
    parts = zip(dealt.part_tray, dealt.part_lot, dealt.part_filled, strict=True)
    return {(bool(dealt.is_potted_on[tray]), int(lot)) for tray, lot, filled in parts if filled}


def joined(dealt, fixed):
    """Return what is fixed, in which sowings that are sown in one tray move as one: by what is first in any of them."""
    settled, key_of = settled_of(dealt), {its_way.lot: its_way.start_key for its_way in fixed if its_way.cells}
    together = defaultdict(set)
    for tray, lot in zip(dealt.part_tray.tolist(), dealt.part_lot.tolist(), strict=True):
        if not dealt.is_potted_on[tray] and (False, lot) in settled and lot in key_of:
            together[tray].add(lot)
    for _ in key_of:  # so often that the farthest has heard of it
        for lots in together.values():
            key_of |= dict.fromkeys(lots, min(key_of[lot] for lot in lots))
    return [replace(its_way, joined=key_of.get(its_way.lot, ())) for its_way in fixed]


def kept_trays(garden, fixed):
    """Return for each group the dealt trays in which something of it is held, with the cells of each sowing there.

    A tray is that of what is sown in it, or else of most of its cells; whoever is of another group leaves it. What is
    only pinned, and of which there is more or less by now, fills as many whole trays and has its remainder there.
    """
    dealt, settled, way_of = garden.dealt, settled_of(garden.dealt), {its_way.lot: its_way for its_way in fixed}
    held, left = defaultdict(list), {}
    for tray, lot, cells in zip(
        dealt.part_tray.tolist(), dealt.part_lot.tolist(), dealt.part_cells.tolist(), strict=True
    ):
        potted, its_way = bool(dealt.is_potted_on[tray]), way_of.get(lot)
        is_settled = (potted, lot) in settled
        size = its_way and (its_way.pots if potted else its_way.cells)
        if size and (dealt.is_pinned[tray] or is_settled):
            key = its_way.pot_key if potted else its_way.start_key
            held[tray, potted].append((not is_settled, -cells, key, lot))
            left[lot, potted] = divmod(size, garden.containers[key[0]].cells_per_tray)
    found = defaultdict(list)
    for (_, potted), parts in sorted(held.items()):
        key, there = min(parts)[2], {}
        capacity = garden.containers[key[0]].cells_per_tray
        for is_loose, cells, its_key, lot in sorted(parts):
            whole, rest = left[lot, potted]
            room = capacity - sum(there.values())
            is_whole = whole > 0 and not there and (-cells >= capacity or not 0 < rest <= room)
            if its_key == key and not is_loose:
                there[lot] = -cells
            elif its_key == key and is_whole:
                there[lot], left[lot, potted] = capacity, (whole - 1, rest)
            elif its_key == key and 0 < rest <= room:
                there[lot], left[lot, potted] = rest, (whole, 0)
        if there:
            found[potted, key].append(there)
    return found


def spans_of(members, *, potted):
    """Return (place, first day, day after the last) of the trays of a group, which waits for its slowest."""
    light, out = members[0].light, max(m.plant_out for m in members)
    if potted:
        left = max(m.harden for m in members)
        return [(light, min(m.pot_on for m in members), left), (HARDENING, left, out)]
    came, up, left = min(m.sow_on for m in members), max(m.emerges for m in members), max(m.leaves for m in members)
    if members[0].first == light:
        up = came
    spans = [(members[0].first, came, up), (light, up, left)]
    return spans if any(m.pot_on for m in members) else [*spans, (HARDENING, left, out)]


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

    def __init__(self, garden):
        self.garden = garden
        fast = held_fast(garden)
        lots = [lot for lot in range(len(garden.sowings)) if is_indoors(garden, lot) and not is_too_late(garden, lot)]
        as_they_are = ways_of_plan(make_plan(garden), range(len(garden.sowings)))
        self.fixed = joined(garden.dealt, [as_they_are[lot] for lot in lots if lot in fast])
        self.free = [ways_of(garden, lot) for lot in lots if lot not in fast]
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
