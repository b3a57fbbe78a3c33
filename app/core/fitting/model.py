"""What every programme of a levelling has: trays and their days on the shelves, fair shares, and the goals."""

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise, product
from math import ceil

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.fixed import Fixed
from app.core.fitting.options import Options
from app.core.fitting.patterns import Patterns
from app.core.fitting.programme import INFINITE, Open, Programme
from app.core.words import PLACES

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Model:
    """The programme of a levelling.

    Attributes:
        programme: Its columns and rows.
        trays: The column of each pattern's trays. Shape (n_patterns,).
        is_used: The column that says whether a pattern is; -1 where its group has but one. Shape (n_patterns,).
        tray_rows: The row of each pattern in which its trays hold its cells. Shape (n_patterns,).
        capacity: Cells of a tray of each pattern. Shape (n_patterns,). [1]
        held: Cells of what is not free in each pattern, if it is used. Shape (n_patterns,). [1]
        share: The column of the smallest share.
        share_rows: The rows of growers: their plants are no fewer than that share of those wanted. Shape (n_asking,).
        wanted: Plants wanted by each of these growers. Shape (n_asking,). [1]
        placed: Plants of theirs that are not free. Shape (n_asking,). [1]
        extra: The columns of extra positions of each place. Shape (4,).
        position_rows: The rows in which trays stand on no more positions than there are.
        plants_row: The row of placed plants, by weight.
        days_row: The row of plant-days away from the best day.
        weights: Cost of each column in placed plants, by weight. Shape (n_columns,).
        days: Cost of each column in plant-days.
        tray_costs: Cost of each column in trays.
    """

    programme: Programme
    trays: Ints
    is_used: Ints
    tray_rows: Ints
    capacity: Ints
    held: Ints
    share: int
    share_rows: Ints
    wanted: Ints
    placed: Ints
    extra: Ints
    position_rows: Ints
    plants_row: int
    days_row: int
    weights: Floats
    days: Floats
    tray_costs: Floats


@dataclass(frozen=True, kw_only=True)
class Ways:
    """Each option in each pattern that lets it in: which pattern's trays a lot is in is a choice of its own.

    Attributes:
        kind: The kind of each way, rising. Shape (n_ways,).
        option: Its option. Shape (n_ways,).
        start: The pattern of its trays of cells. Shape (n_ways,).
        pot: The pattern of its trays of pots; -1 where it is not potted on. Shape (n_ways,).
    """

    kind: Ints
    option: Ints
    start: Ints
    pot: Ints


def find_ways(options: Options, patterns: Patterns) -> Ways:
    """Return the ways of all kinds."""
    of_group: list[list[int]] = [[] for _ in range(options.n_groups)]
    for pattern, group in enumerate(patterns.group.tolist()):
        of_group[group].append(pattern)
    found: list[tuple[int, int, int]] = []
    for option, (start, pot) in enumerate(zip(options.start_group.tolist(), options.pot_group.tolist(), strict=True)):
        starts = [] if start < 0 else [pattern for pattern in of_group[start] if option in patterns.lets_in[pattern]]
        pots = [-1] if pot < 0 else [pattern for pattern in of_group[pot] if option in patterns.lets_in[pattern]]
        found += [(option, one, other) for one, other in product(starts, pots)]
    table = np.array(found, dtype=np.int64).reshape(-1, 3)
    return Ways(
        kind=np.searchsorted(options.first, table[:, 0], side="right") - 1,
        option=table[:, 0],
        start=table[:, 1],
        pot=table[:, 2],
    )


@dataclass(frozen=True)
class Frame:
    """The part of a programme that does not depend on how what is in the trays is counted.

    Attributes:
        programme: The columns and rows so far.
        options: What each sowing may get.
        patterns: When the trays of each group may stand.
        fixed: What is not free.
        trays: The column of each pattern's trays. Shape (n_patterns,).
        share: The column of the smallest share.
        extra: The columns of extra positions of each place. Shape (4,).
        is_used: The column that says whether a pattern is; -1 where its group has but one. Shape (n_patterns,).
        position_rows: The rows in which trays stand on no more positions than there are.
    """

    programme: Programme
    options: Options
    patterns: Patterns
    fixed: Fixed
    trays: Ints
    share: int
    extra: Ints
    is_used: Ints
    position_rows: Ints

    def hold_cells(self, pattern: Ints, columns: Ints, need: "Ints | float") -> Ints:
        """Have each pattern's trays hold its cells; return the rows.

        Args:
            pattern: The pattern of each entry. Shape (n,).
            columns: Its column. Shape (n,).
            need: Cells or pots of one unit of it. Shape (n,). [1]
        """
        fixed, group = self.fixed, self.patterns.group
        entries: list[tuple[Ints, Ints, Ints | float]] = [(pattern, columns, -need)]
        every = np.arange(len(group))
        rows = self._at_least([*entries, (every, self.trays, self.options.capacity[group])], fixed.cells)
        self._at_least([(every, self.trays, 1.0)], fixed.trays)
        return rows

    def _at_least(self, entries: list[tuple[Ints, Ints, Ints | float]], least: Ints) -> Ints:
        """Add a row for each pattern that is no less than that of its group, if it is used."""
        group, chosen = self.patterns.group, np.flatnonzero(self.is_used >= 0)
        return self.programme.add_rows(
            [*entries, (chosen, self.is_used[chosen], -least[group[chosen]])],
            n=len(group),
            lower=np.where(self.is_used >= 0, 0, least[group]),
        )

    def only_in_used(self, pattern: Ints, owner: Ints, columns: Ints, most: "Ints | Floats") -> Ints:
        """Have nobody in a pattern that is not used, nor more of an owner than there are; return the rows.

        Args:
            pattern: The pattern of each entry. Shape (n,).
            owner: Whose it is. Shape (n,).
            columns: Its column. Shape (n,).
            most: Units of each owner. Shape (n_owners,).
        """
        inside = self.is_used[pattern] >= 0
        n = max(1, len(most))
        pair, row = np.unique(pattern[inside] * n + owner[inside], return_inverse=True)
        its_pattern, its_owner = np.divmod(pair, n)
        used = (np.arange(len(pair)), self.is_used[its_pattern], -most[its_owner])
        return self.programme.add_rows([(row.ravel(), columns[inside], 1.0), used], n=len(pair), upper=0.0)

    def wait_for_nobody(self, pattern: Ints, option: Ints, columns: Ints, plants: "Ints | float") -> Ints:
        """Have a plant there of those who make a pattern what it is, even where it would suit without.

        Returns the rows.

        Args:
            pattern: The pattern of each entry. Shape (n,).
            option: Its option. Shape (n,).
            columns: Its column. Shape (n,).
            plants: Plants of one unit of it. Shape (n,). [1]
        """
        plants = np.broadcast_to(plants, columns.shape)
        chosen = np.flatnonzero(self.is_used >= 0).tolist()
        sets = [(one, makes) for one in chosen for makes in self.patterns.makes[one]]
        there = [np.flatnonzero((pattern == one) & np.isin(option, list(makes))) for one, makes in sets]
        row = np.repeat(np.arange(len(sets)), [len(some) for some in there])
        at = np.concatenate([np.zeros(0, dtype=np.int64), *there])
        used = self.is_used[np.array([one for one, _ in sets], dtype=np.int64)]
        return self.programme.add_rows(
            [(row, columns[at], plants[at]), (np.arange(len(sets)), used, -1.0)], n=len(sets), lower=0.0
        )

    def with_goals(
        self,
        tray_rows: Ints,
        placed: tuple[Ints, Ints, "Ints | float"],
        weights: tuple[Ints, "Ints | Floats"],
        days: tuple[Ints, Ints],
    ) -> Model:
        """Add the goals, and return all of it.

        Args:
            tray_rows: The row of each pattern in which its trays hold its cells. Shape (n_patterns,).
            placed: Lots, columns, and plants of one unit of each column. [1]
            weights: Columns, and what one unit of each comes to in placed plants, by weight.
            days: Columns, and what one unit of each comes to in plant-days.
        """
        programme = self.programme
        share_rows, wanted, held = self._share_fairly(*placed)
        costs = np.zeros((3, programme.n_columns))
        costs[0, weights[0]], costs[1, days[0]], costs[2, self.trays] = weights[1], days[1], 1
        used = [np.flatnonzero(cost) for cost in costs[:2]]
        rows = [
            int(programme.add_rows([(np.zeros(len(at), dtype=np.int64), at, cost[at])], n=1)[0])
            for at, cost in zip(used, costs, strict=False)
        ]
        return Model(
            programme=programme,
            trays=self.trays,
            is_used=self.is_used,
            tray_rows=tray_rows,
            capacity=self.options.capacity[self.patterns.group],
            held=self.fixed.cells[self.patterns.group],
            share=self.share,
            share_rows=share_rows,
            wanted=wanted,
            placed=held,
            extra=self.extra,
            position_rows=self.position_rows,
            plants_row=rows[0],
            days_row=rows[1],
            weights=costs[0],
            days=costs[1],
            tray_costs=costs[2],
        )

    def _share_fairly(self, lot: Ints, columns: Ints, plants: "Ints | float") -> tuple[Ints, Ints, Ints]:
        """Have each grower's placed plants be at least the smallest share of those wanted.

        Returns:
            The rows of growers who ask for any, what they want, and what of theirs is not free.
        """
        options, fixed = self.options, self.fixed
        sowings = options.plan.garden.sowings
        grower = sowings.grower[options.lot]
        wanted = np.bincount(grower, sowings.plants[options.lot], minlength=len(fixed.placed)).astype(np.int64)
        asking = np.flatnonzero(wanted > 0)
        row_of = np.full(len(wanted), -1)
        row_of[asking] = np.arange(len(asking))
        share = np.full(len(asking), self.share)
        rows = self.programme.add_rows(
            [(row_of[grower[lot]], columns, plants), (np.arange(len(asking)), share, -wanted[asking])],
            n=len(asking),
            lower=-fixed.placed[asking],
        )
        return rows, wanted[asking], fixed.placed[asking]


def begin(options: Options, patterns: Patterns, fixed: Fixed, *, whole_trays: bool) -> Frame:
    """Return a programme of trays alone: on no day more in a place than it has positions, one pattern of each group."""
    programme, group = Programme(), patterns.group
    trays = programme.add_columns(len(group), whole=whole_trays)
    share = int(programme.add_columns(1, upper=1.0)[0])
    extra = programme.add_columns(len(PLACES), upper=0.0, whole=whole_trays)
    has_choice = np.bincount(group, minlength=options.n_groups)[group] > 1
    is_used = np.full(len(group), -1, dtype=np.int64)
    is_used[has_choice] = programme.add_columns(int(has_choice.sum()), upper=1.0, whole=True)
    there, row = np.unique(group[has_choice], return_inverse=True)
    programme.add_rows(
        [(row, is_used[has_choice], 1.0)], n=len(there), lower=np.minimum(fixed.trays[there], 1), upper=1.0
    )
    first = programme.n_rows
    _add_positions(programme, patterns, fixed, trays, extra)
    rows = np.arange(first, programme.n_rows)
    return Frame(programme, options, patterns, fixed, trays, share, extra, is_used, rows)


def _add_positions(programme: Programme, patterns: Patterns, fixed: Fixed, trays: Ints, extra: Ints) -> None:
    """On no day do more trays stand in a place than it has positions."""
    for place in range(len(PLACES)):
        mine = patterns.stay_place == place
        pattern, begin, end = patterns.stay_pattern[mine], patterns.stay_begin[mine], patterns.stay_end[mine]
        standing: dict[bytes, tuple[Ints, int]] = {}
        days = np.unique(np.concatenate([begin, end]) if fixed.varies else begin)
        for day, following in pairwise([*days.tolist(), int(end.max(initial=0))]):
            there = np.unique(pattern[(begin <= day) & (day < end)])
            fewest = fixed.fewest_positions(place, day, max(day + 1, following))
            # Where the same patterns stand on several days, the day with the fewest positions decides.
            if len(there) and standing.get(there.tobytes(), (there, fewest + 1))[1] > fewest:
                standing[there.tobytes()] = (there, fewest)
        if not standing:
            continue
        sets = list(standing.values())
        row = np.repeat(np.arange(len(sets)), [len(there) for there, _ in sets])
        programme.add_rows(
            [
                (row, trays[np.concatenate([there for there, _ in sets])], 1.0),
                (np.arange(len(sets)), np.full(len(sets), extra[place]), -1.0),
            ],
            n=len(sets),
            upper=np.array([fewest for _, fewest in sets]),
        )


def hold_share(programme: Open, model: Model, share: Fraction) -> None:
    """Have every grower get no smaller share: of each grower's plants a whole number, which says more."""
    programme.bound_columns(np.array([model.share]), np.zeros(1), np.zeros(1))
    for row, wanted, placed in zip(
        model.share_rows.tolist(), model.wanted.tolist(), model.placed.tolist(), strict=True
    ):
        programme.bound_row(row, ceil(share * wanted) - placed, INFINITE)


def ask_for_share(programme: Open, model: Model, least: float) -> None:
    """Have the column of the smallest share say what it is, and be no smaller than `least`."""
    programme.bound_columns(np.array([model.share]), np.array([max(0.0, least)]), np.ones(1))
    for row, placed in zip(model.share_rows.tolist(), model.placed.tolist(), strict=True):
        programme.bound_row(row, -placed, INFINITE)


def fill_trays(programme: Open, model: Model, part: float) -> None:
    """Have trays hold only a part of their cells, for what is not free as well. [fraction]"""
    programme.set_values(model.tray_rows, model.trays, part * model.capacity)
    is_alone = model.is_used < 0
    for row, cells in zip(model.tray_rows[is_alone].tolist(), model.held[is_alone].tolist(), strict=True):
        programme.bound_row(row, part * cells, INFINITE)
    programme.set_values(model.tray_rows[~is_alone], model.is_used[~is_alone], -part * model.held[~is_alone])
