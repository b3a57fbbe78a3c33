"""The best way to make a middling garden fit, by SciPy's integer programmes: one column for each way of each sowing.

A model of our own: nothing is gathered by kinds, every group of lots that share trays has a column for each set of
dates on which its trays may move, and trays are whole. That lots may not fit the trays counted for their cells is
found by search over all packings, and said to the model until it needs to hear nothing more.
"""

from collections import Counter, defaultdict
from itertools import product
from math import ceil

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from app.core.words import HARDENING
from tests.core.fitting_by_hand import Best, Trial, spans_of

# Bounds of a bin packing are taken in 2, 3, ... steps; trays of these gardens have few cells.
MOST_STEPS = 12
# SciPy's word for it.
INFEASIBLE = 2


class Programme:
    """Columns of whole numbers by name, rows over them, and the answers of the solver."""

    def __init__(self):
        self.upper, self.rows = {}, []

    def column(self, name, *, upper):
        self.upper[name] = upper
        return name

    def row(self, terms, *, low=-np.inf, high=np.inf):
        """Add a row: the sum of columns, each times its figure, lies between two figures."""
        self.rows.append((Counter(), low, high))
        for name, value in terms:
            self.rows[-1][0][name] += value

    def least(self, terms):
        """Return the values of all columns where a sum is least, and the sum; None where the rows cannot all hold."""
        number = {name: n for n, name in enumerate(self.upper)}
        cost = np.zeros(len(number))
        for name, value in terms:
            cost[number[name]] += value
        entries = [(row, number[name], value) for row, (of, _, _) in enumerate(self.rows) for name, value in of.items()]
        at_row, at_column, values = np.array(entries).reshape(-1, 3).T
        matrix = csr_array((values, (at_row, at_column)), shape=(len(self.rows), len(number)))
        found = milp(
            cost,
            integrality=np.ones(len(number)),
            bounds=Bounds(0, np.array(list(self.upper.values()))),
            constraints=LinearConstraint(matrix, [row[1] for row in self.rows], [row[2] for row in self.rows]),
            options={"mip_rel_gap": 0},
        )
        if found.status == INFEASIBLE:
            return None
        assert found.status == 0, found.message
        return {name: found.x[n] for name, n in number.items()}, found.fun


class Group:
    """Those that may share trays of one kind, what is held in these trays already, and the columns of its moves."""

    def __init__(self, key, capacity, kept):
        self.key, self.potted, self.capacity, self.kept = key, key[0], capacity, kept
        self.ways, self.fixed = [], []

    def size(self, way):
        return way.pots if self.potted else way.cells

    def turns(self, way):
        """Return the dates of a way on which the moves of its group hang."""
        return (way.pot_on, way.harden, way.plant_out) if self.potted else (way.emerges, way.leaves, way.plant_out)

    def of_group(self, ways):
        """Return the dates on which the group moves with these in it: the last of each, but the first potting on."""
        dates = list(zip(*map(self.turns, ways), strict=True))
        return (min(dates[0]) if self.potted else max(dates[0]), max(dates[1]), max(dates[2]))

    def moves(self):
        """Return the dates on which it may move, whoever is in it."""
        everyone = [*self.fixed, *self.ways]
        every = [sorted(set(dates)) for dates in zip(*map(self.turns, everyone), strict=True)]
        return [dates for dates in product(*every) if not self.fixed or self.allows(dates, self.of_group(self.fixed))]

    def allows(self, dates, other):
        """Return whether what moves on some other dates may wait for these."""
        first = dates[0] <= other[0] if self.potted else dates[0] >= other[0]
        return first and dates[1] >= other[1] and dates[2] >= other[2]

    def items(self):
        """Return the pieces of what is fixed: the parts in trays already, and what is left of each sowing."""
        held = sum((Counter(parts) for parts in self.kept), Counter())
        return [n for parts in self.kept for n in parts.values()] + [self.size(w) - held[w.lot] for w in self.fixed]


def in_steps(size, capacity, steps):
    """Return what part of a tray some cells count for at least: whole trays, and the rest in steps.

    Source:
        The functions u(k) of S. Fekete, J. Schepers, Mathematical Programming 91, 2001, section 3.
    """
    whole, rest = divmod(size, capacity)
    number, part = divmod((steps + 1) * rest, capacity)
    return whole + (number / steps if part else rest / capacity)


class Middling:
    """A garden's programme: to place what can be, or all plants on as few extra positions as can be."""

    def __init__(self, garden, *, all_plants=False):
        self.all_plants = all_plants
        self.trial = Trial(garden)
        self.shelves, self.garden = self.trial.shelves, garden
        self.free = [worthwhile(ways[1:]) for ways in self.trial.free]
        if all_plants:
            wish = garden.sowings.plants
            self.free = [[way for way in ways if way.plants == wish[way.lot]] for ways in self.free]
        self.programme = Programme()
        self.groups = self._groups()
        most = np.inf if all_plants else 0
        self.extra = [self.programme.column(("extra", place), upper=most) for place in range(4)]
        self.wanted = Counter()
        self._add_lots()
        for group in self.groups:
            self._add_group(group)
        self._add_places()

    def _groups(self):
        found = {}

        def join(way, listed):
            for key in [(False, way.start_key)] * (way.cells > 0) + [(True, way.pot_key)] * (way.pots > 0):
                if key not in found:
                    box = self.garden.containers[key[1][0]]
                    found[key] = Group(key, box.cells_per_tray, [])
                getattr(found[key], listed).append(way)

        for way in self.trial.fixed:
            join(way, "fixed")
        for way in (way for ways in self.free for way in ways):
            join(way, "ways")
        for group in found.values():
            group.kept = self.shelves.kept[group.key]
        return list(found.values())

    def _add_lots(self):
        """A sowing goes one way, or none where it may be left out."""
        programme, sowings = self.programme, self.garden.sowings
        for ways in self.free:
            programme.row([(programme.column(way, upper=1), 1) for way in ways], low=int(self.all_plants), high=1)
        self.placed = defaultdict(list)
        for way in (way for ways in self.free for way in ways):
            self.placed[int(sowings.grower[way.lot])].append((way, way.plants))
        self.already = Counter()
        for way in self.trial.fixed:
            self.already[int(sowings.grower[way.lot])] += way.plants
        for lot in {ways[0].lot for ways in self.trial.free} | {way.lot for way in self.trial.fixed}:
            self.wanted[int(sowings.grower[lot])] += int(sowings.plants[lot])

    def _add_group(self, group):
        """The trays of a group move on one set of dates, which those in it bring about, and hold their cells."""
        programme = self.programme
        most = {dates: self._most_trays(group, dates) for dates in group.moves()}
        moves = {dates: programme.column(("moves", group.key, dates), upper=1) for dates, n in most.items() if n}
        group.trays = {dates: programme.column(("trays", group.key, dates), upper=most[dates]) for dates in moves}
        used = [(name, 1) for name in moves.values()]
        programme.row(used, low=1 if group.fixed else 0, high=1)
        for dates, trays in group.trays.items():
            programme.row([(trays, 1), (moves[dates], -most[dates])], high=0)
        for way in group.ways:
            lets_in = [(name, -1) for dates, name in moves.items() if group.allows(dates, group.turns(way))]
            programme.row([(way, 1), *lets_in], high=0)
        for n in range(3):
            for date in {dates[n] for dates in moves} - {group.turns(way)[n] for way in group.fixed}:
                who = [(way, -1) for way in group.ways if group.turns(way)[n] == date]
                programme.row([(name, 1) for dates, name in moves.items() if dates[n] == date] + who, high=0)
        total = [(trays, 1) for trays in group.trays.values()]
        programme.row(total, low=len(group.kept))
        for counts in [lambda size: size / group.capacity] + [
            lambda size, steps=steps: in_steps(size, group.capacity, steps) for steps in range(1, MOST_STEPS)
        ]:
            inside = [(way, -counts(group.size(way))) for way in group.ways]
            programme.row(total + inside, low=sum(map(counts, group.items())))

    def _most_trays(self, group, dates):
        """Return trays enough for all in a group, or as many as there is room for on these dates."""
        largest = Counter()
        for way in [*group.fixed, *group.ways]:
            largest[way.lot] = max(largest[way.lot], ceil(group.size(way) / group.capacity))
        enough = largest.total() + len(group.kept)
        if self.all_plants:
            return enough
        days = [(place, day) for place, begin, end in self._spans(group, dates) for day in range(begin, end)]
        return min([enough, *map(self._room, days)])

    def _room(self, spot):
        """Return the positions of a place; where what is held fast takes more on a day, it may."""
        held = 0 if self.all_plants else self.shelves.by_themselves[spot]
        return max(self.shelves.positions[spot[0]], held)

    def _spans(self, group, dates):
        spans = spans_on(group, dates)
        return [span for span in spans if span[0] != HARDENING or self.shelves.has_hardening]

    def _add_places(self):
        """No place holds more trays on a day than positions, or than are held fast there."""
        standing = defaultdict(list)
        for group in self.groups:
            for dates, trays in group.trays.items():
                for place, begin, end in self._spans(group, dates):
                    for day in range(begin, end):
                        standing[place, day].append(trays)
        rows = {(spot[0], self._room(spot), frozenset(trays)) for spot, trays in standing.items()}
        for place, room, trays in rows:
            self.programme.row([*((name, 1) for name in trays), (self.extra[place], -1)], high=room)

    def least(self, terms):
        """Return the ways chosen where a sum is least, and the sum; None if there are none. Packings are proven."""
        while True:
            found = self.programme.least(terms)
            if found is None:
                return None
            values, least = found
            chosen = [way for ways in self.free for way in ways if values[way] > 0.5]
            short = [group for group in self.groups if self._is_short(group, chosen, values)]
            if not short:
                return chosen, least

    def _is_short(self, group, chosen, values):
        """Say how many trays those in a group need, if more than were counted; fewer if one of them is smaller."""
        inside = [way for way in chosen if way in set(group.ways)]
        needed = self.shelves.trays_of([*group.fixed, *inside], group.key[1], potted=group.potted)
        if round(sum(values[trays] for trays in group.trays.values())) >= needed:
            return False
        terms = [(trays, 1) for trays in group.trays.values()]
        low = needed
        for way in inside:
            size = group.size(way)
            saved = ceil(size / group.capacity)
            low -= saved
            terms += [(each, -saved) for each in group.ways if each.lot == way.lot and group.size(each) >= size]
        self.programme.row(terms, low=low)
        return True

    def best(self):
        """Return the best there is: each goal with those before it held."""
        programme, sowings, fixed = self.programme, self.garden.sowings, self.trial.fixed
        every = [way for ways in self.free for way in ways]
        share = self._largest_share()
        weight = {way: way.plants * (4 - int(sowings.priority[way.lot])) for way in [*every, *fixed]}
        found = []
        for terms, sign in (
            ([(way, -weight[way]) for way in every], -1),
            ([(way, way.plants * way.off) for way in every], 1),
            ([(trays, 1) for group in self.groups for trays in group.trays.values()], 1),
        ):
            found.append(sign * round(self.least(terms)[1]))
            programme.row(terms, high=sign * found[-1])
        plants = found[0] + sum(weight[way] for way in fixed)
        return Best(share, plants, found[1] + sum(way.plants * way.off for way in fixed), found[2])

    def _largest_share(self):
        """Return the largest smallest share, and hold it: of all fractions that it may be, by halves."""
        low = min((self.already[grower] / wish for grower, wish in self.wanted.items()), default=1.0)
        shares = sorted({n / wish for wish in self.wanted.values() for n in range(wish + 1) if n / wish > low})
        shares, n_kept = [low, *shares], len(self.programme.rows)
        best, beyond = 0, len(shares)
        while beyond - best > 1:
            middle = (best + beyond) // 2
            self._hold_share(shares[middle])
            if self.least([]) is None:
                beyond = middle
            else:
                best = middle
            del self.programme.rows[n_kept : n_kept + len(self.wanted)]
            n_kept = len(self.programme.rows)
        self._hold_share(shares[best])
        return shares[best]

    def _hold_share(self, share):
        for grower, wish in self.wanted.items():
            self.programme.row(self.placed[grower], low=ceil(share * wish - 1e-9) - self.already[grower])

    def fewest_extra(self):
        """Return the fewest extra positions."""
        return round(self.least([(name, 1) for name in self.extra])[1])


def worthwhile(ways):
    """Leave out numbers of plants that take as many cells and pots as one more: that is better in every goal."""
    more = {(way.sow_on, way.light, way.plants - 1): way for way in ways}
    found = []
    for way in ways:
        next_way = more.get((way.sow_on, way.light, way.plants))
        if next_way is None or (next_way.cells, next_way.pots) != (way.cells, way.pots):
            found.append(way)
    return found


def spans_on(group, dates):
    """Return (place, first day, day after the last) of trays of a group that moves on some dates."""
    everyone = [*group.fixed, *group.ways]
    way = max(everyone, key=lambda way: way.pot_on > 0)
    names = ("pot_on", "harden") if group.potted else ("emerges", "pot_on" if way.pot_on else "harden")
    changed = dict(zip((*names, "plant_out"), dates, strict=True)) | {"sow_on": min(way.sow_on for way in everyone)}
    return spans_of([type(way)(**vars(way) | changed)], potted=group.potted)
