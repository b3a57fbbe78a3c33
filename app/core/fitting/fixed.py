"""What levelling does not touch, by itself: the room that it takes whatever else is chosen."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.answer import Stuck
from app.core.fitting.options import Options
from app.core.plan import Plan, make_plan
from app.core.space.dealt import settle
from app.core.space.keeping import DealtTray, dealt_by_group
from app.core.space.ledger import count_by_day
from app.core.words import PLACES

Ints = NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class Fixed:
    """What is not free, by itself.

    Attributes:
        placed: Plants of each grower in it. Shape (n_growers,). [1]
        weighted: All its plants, each counting 4 - priority. [1]
        days: Its plant-days away from the best days. [d]
        cells: Its cells and pots in each group. Shape (n_groups,). [1]
        rooms: For each group the free cells of each of the fewest trays that hold it. [1]
        sizes: For each group the cells or pots of its lots. [1]
        dealt: For each group the dealt trays in which they are, lots counted as in `sizes`.
        first_day: The day of the first column of `use`. [day number]
        use: Its trays standing in each place on each day. Shape (4, n_days). [1]
        positions: Positions of each place. Shape (4,). [1]
    """

    placed: Ints
    weighted: int
    days: int
    cells: Ints
    rooms: tuple[tuple[int, ...], ...]
    sizes: tuple[tuple[int, ...], ...]
    dealt: tuple[tuple[DealtTray, ...], ...]
    first_day: int
    use: Ints
    positions: Ints

    @property
    def trays(self) -> Ints:
        """The fewest trays of each group that hold it. Shape (n_groups,). [1]"""
        return np.array([len(rooms) for rooms in self.rooms], dtype=np.int64)

    def fewest_positions(self, place: int, begin: int, end: int) -> int:
        """Return on how many positions of a place trays may stand on every day of a half-open interval.

        Where what is fixed alone takes more than there are, it is allowed that much.
        """
        days = self.use[place, max(0, begin - self.first_day) : max(0, end - self.first_day)]
        least = days.min(initial=np.iinfo(np.int64).max) if len(days) == end - begin else 0
        return int(max(self.positions[place], least))

    @property
    def varies(self) -> bool:
        """Whether any place is over-full by what is fixed alone."""
        return bool((self.use > self.positions[:, np.newaxis]).any())

    @property
    def stuck(self) -> tuple[Stuck, ...]:
        """Where what is fixed does not fit by itself, in runs of days."""
        found = []
        for place, use in enumerate(self.use - self.positions[:, np.newaxis]):
            is_over = np.concatenate([[False], use > 0, [False]])
            begins, ends = (np.flatnonzero(np.diff(is_over.astype(int)) == step) for step in (1, -1))
            found += [
                Stuck(
                    place=place,
                    first=self.first_day + int(begin),
                    last=self.first_day + int(end) - 1,
                    over=int(use[begin:end].max()),
                )
                for begin, end in zip(begins, ends, strict=True)
            ]
        return tuple(found)


def find_fixed(options: Options) -> Fixed:
    """Return what is not free, by itself."""
    plan = options.plan
    garden, sowings = plan.garden, plan.garden.sowings
    fast = ~options.is_free
    lot = options.lot[fast]
    alone = np.zeros(len(sowings), dtype=np.int64)
    alone[lot] = sowings.placed[lot]
    only = make_plan(replace(garden, sowings=replace(sowings, placed=alone)))
    placed = plan.plants[lot]
    option = options.first[options.kind[fast]]
    weighted, days = int((placed * (4 - sowings.priority[lot])).sum()), int((placed * options.off[option]).sum())
    cells, rooms = _by_group(options, only, lot, option)
    sizes, dealt = _dealt_by_group(options, only, lot, option)
    first_week, use = count_by_day(
        only.stays.place,
        only.stays.begin,
        only.stays.end,
        np.bincount(only.trays.group, minlength=int(only.stays.group.max(initial=-1)) + 1)[only.stays.group],
        n_kinds=len(PLACES),
    )
    return Fixed(
        placed=np.bincount(sowings.grower[lot], placed, minlength=len(garden.growers)).astype(np.int64),
        weighted=weighted,
        days=days,
        cells=cells,
        rooms=rooms,
        sizes=sizes,
        dealt=dealt,
        first_day=first_week * 7 + 1,
        use=use.astype(np.int64),
        positions=plan.ledger.positions,
    )


def _by_group(options: Options, only: Plan, lot: Ints, option: Ints) -> tuple[Ints, tuple[tuple[int, ...], ...]]:
    """Return the cells of what is fixed in each group of the options, and the free cells of each of its trays."""
    cells = np.zeros(options.n_groups, dtype=np.int64)
    has_trays = options.start_group[option] >= 0
    np.add.at(cells, options.start_group[option[has_trays]], only.cells[lot[has_trays]])
    is_potted = options.pot_group[option] >= 0
    np.add.at(cells, options.pot_group[option[is_potted]], only.pots[lot[is_potted]])
    option_of = np.full(len(only.garden.sowings), -1, dtype=np.int64)
    option_of[lot] = option
    found = only.trays
    _, first_part = np.unique(found.part_tray, return_index=True)
    its_option = option_of[found.part_lot[first_part]]
    group = np.where(found.is_potted_on, options.pot_group[its_option], options.start_group[its_option])
    used = np.bincount(found.part_tray, found.part_cells, minlength=len(group)).astype(np.int64)
    rooms: list[list[int]] = [[] for _ in range(options.n_groups)]
    for number, room in zip(group.tolist(), (options.capacity[group] - used).tolist(), strict=True):
        # A tray may hold more than its container now says, if the container was changed after it was sown.
        rooms[number].append(max(0, room))
    return cells, tuple(map(tuple, rooms))


def _dealt_by_group(
    options: Options, only: Plan, lot: Ints, option: Ints
) -> tuple[tuple[tuple[int, ...], ...], tuple[tuple[DealtTray, ...], ...]]:
    """Return the cells of the fixed lots of each group, and the dealt trays in which they are."""
    sizes: list[tuple[int, ...]] = [()] * options.n_groups
    dealt: list[tuple[DealtTray, ...]] = [()] * options.n_groups
    for potted_on, group_of, cells, container in (
        (False, options.start_group[option], only.cells[lot], only.container[lot]),
        (True, options.pot_group[option], only.pots[lot], only.pot_container[lot]),
    ):
        there = np.flatnonzero(group_of >= 0)
        there = there[np.argsort(group_of[there], kind="stable")]
        group = group_of[there]
        _, kept = settle(only.garden.dealt, len(only.garden.sowings), potted_on=potted_on)
        found = dealt_by_group(kept, lot[there], group, container[there])
        for number in np.unique(group).tolist():
            begin, end = np.searchsorted(group, [number, number + 1]).tolist()
            sizes[number] = tuple(cells[there[begin:end]].tolist())
            dealt[number] = tuple(tray.counted_from(begin) for tray in found.get(number, []))
    return tuple(sizes), tuple(dealt)
