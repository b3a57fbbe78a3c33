"""The wishes of a levelling, gathered by classes: lots of one kind that also want as many plants in as many cells."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.options import Options
from app.core.plan import Plan
from app.core.plants.stand import cells_needed, spare_of

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Wishes:
    """Classes of free lots, and the numbers of plants that are worth asking about.

    A level is a number of plants with its cells and pots. The levels of a class follow each other, all plants last.

    Attributes:
        kind: The kind of each class. Shape (n_classes,).
        plants: Plants wanted of each of its lots. Shape (n_classes,). [1]
        weight: What each of these plants counts, 4 - priority. Shape (n_classes,). [1]
        count: Lots in it. Shape (n_classes,). [1]
        of_lot: The class of each lot; -1 for one that is not free. Shape (n_lots,).
        level_class: The class of each level. Shape (n_levels,).
        level_plants: Plants of the level. Shape (n_levels,). [1]
        level_cells: Cells that they take. Shape (n_levels,). [1]
        level_pots: Pots that are kept, where the option is one of potting on. Shape (n_levels,). [1]
        stand: Cells and pots for any number of plants.
    """

    kind: Ints
    plants: Ints
    weight: Ints
    count: Ints
    of_lot: Ints
    level_class: Ints
    level_plants: Ints
    level_cells: Ints
    level_pots: Ints
    stand: "Stand"


@dataclass(frozen=True, kw_only=True)
class Stand:
    """The cells and pots that plants of a lot take.

    Attributes:
        row: The row of each lot in the table. Shape (n_lots,).
        cells: Cells for as many plants as the column says. Shape (n_rows, most plants + 1). [1]
        spare: Share of plants kept more when potting on. [fraction]
    """

    row: Ints
    cells: Ints
    spare: float

    def cells_of(self, lot: Ints, plants: Ints) -> Ints:
        """Return the cells of plants of lots. Shape as theirs. [1]"""
        cells: Ints = self.cells[self.row[lot], plants]
        return cells

    def pots_of(self, lot: Ints, plants: Ints) -> Ints:
        """Return the pots that are kept of plants of lots, if they are potted on. Shape as theirs. [1]"""
        pots: Ints = np.minimum(self.cells_of(lot, plants), plants + spare_of(plants, self.spare))
        return pots


def stand_of(plan: Plan, lot: Ints) -> Stand:
    """Return the stand of the lots of a plan, for any number of plants up to those wanted."""
    garden = plan.garden
    sowings = garden.sowings
    key = np.column_stack([sowings.crop[lot], np.round(plan.germination[lot] * 1e9).astype(np.int64)])
    found, example, row = np.unique(key, axis=0, return_index=True, return_inverse=True)
    most = int(sowings.plants[lot].max(initial=0))
    plants = np.tile(np.arange(most + 1), len(found))
    example = np.repeat(lot[example], most + 1)
    crop = sowings.crop[example]
    cells = cells_needed(
        plants=plants,
        germination=plan.germination[example],
        seeds_per_cell=np.array([card.seeds_per_cell for card in garden.cards], dtype=np.int64)[crop],
        plants_per_cell=np.array([card.plants_per_cell for card in garden.cards], dtype=np.int64)[crop],
        survival=garden.settings.survival,
        confidence=garden.settings.confidence,
    )
    return Stand(row=row.ravel(), cells=cells.reshape(len(found), most + 1), spare=garden.settings.spare)


def gather_wishes(options: Options, *, every_level: bool) -> Wishes:
    """Return the wishes of a garden's free lots.

    Args:
        options: What each sowing may get.
        every_level: Whether each lot is a class of its own with every number of plants that is worth a choice,
            rather than with those only that a share of all plants would not stand for.
    """
    sowings = options.plan.garden.sowings
    stand = stand_of(options.plan, options.lot)
    free = np.flatnonzero(options.is_free)
    plants, priority = sowings.plants[options.lot[free]], sowings.priority[options.lot[free]]
    own = free if every_level else np.zeros(len(free), dtype=np.int64)
    key = np.column_stack([options.kind[free], plants, priority, stand.row[free], own])
    found, example, number = np.unique(key, axis=0, return_index=True, return_inverse=True)
    of_lot = np.full(len(options.lot), -1, dtype=np.int64)
    of_lot[free] = number.ravel()
    is_potted = np.logical_or.reduceat(options.pot_group >= 0, options.first[:-1])[found[:, 0]]
    level_class, level_plants = _levels(stand, free[example], found[:, 1], is_potted, every_level=every_level)
    lot = free[example][level_class]
    return Wishes(
        kind=found[:, 0],
        plants=found[:, 1],
        weight=4 - found[:, 2],
        count=np.bincount(number.ravel(), minlength=len(found)),
        of_lot=of_lot,
        level_class=level_class,
        level_plants=level_plants,
        level_cells=stand.cells_of(lot, level_plants),
        level_pots=stand.pots_of(lot, level_plants),
        stand=stand,
    )


def _levels(stand: Stand, example: Ints, plants: Ints, is_potted: Flags, *, every_level: bool) -> tuple[Ints, Ints]:
    """Return the class and the plants of each level.

    Of numbers of plants with the same cells and pots only the largest is worth a choice. Where shares of a lot are
    allowed, a number is worth one only if shares of others do not come to as many plants with as few cells and pots.
    """
    classes, numbers = [np.zeros(0, dtype=np.int64)], [np.zeros(0, dtype=np.int64)]
    keys = (stand.row[example] * (int(plants.max(initial=0)) + 1) + plants) * 2 + is_potted
    for key in np.unique(keys).tolist():
        mine = np.flatnonzero(keys == key)
        row, most = int(stand.row[example[mine[0]]]), int(plants[mine[0]])
        number = np.arange(most + 1)
        cells = stand.cells[row, : most + 1]
        needs = [cells]
        if is_potted[mine[0]]:
            needs.append(np.minimum(cells, number + spare_of(number, stand.spare)))
        more = np.logical_or.reduce([np.diff(need) > 0 for need in needs])
        worth = number[1:][np.append(more[1:], True)]
        if not every_level:
            worth = _not_shared(worth, needs)
        classes.append(np.repeat(mine, len(worth)))
        numbers.append(np.tile(worth, len(mine)))
    level_class, level_plants = np.concatenate(classes), np.concatenate(numbers)
    order = np.lexsort((level_plants, level_class))
    return level_class[order], level_plants[order]


def _not_shared(numbers: Ints, needs: list[Ints]) -> Ints:
    """Return the numbers of plants that shares of two of those returned do not beat or equal."""
    points = np.append(0, numbers)
    kept = sorted(set().union(*(_corners(points, need) for need in needs)))
    for number in numbers.tolist():
        if number not in kept and not _is_beaten(number, np.array(kept), needs):
            kept = sorted([*kept, number])
    return np.array(kept[1:], dtype=np.int64)


def _is_beaten(number: int, kept: Ints, needs: list[Ints]) -> bool:
    low, high = kept[kept < number, np.newaxis], kept[kept > number]
    beats = [(number - low) * need[high] + (high - number) * need[low] <= (high - low) * need[number] for need in needs]
    return bool(np.logical_and.reduce(beats).any())


def _corners(points: Ints, need: Ints) -> set[int]:
    """Return the corners of the lower hull of what numbers of plants need, by going along it."""
    hull: list[int] = []
    for point in points.tolist():
        while len(hull) > 1:
            a, b = hull[-2], hull[-1]
            if (need[b] - need[a]) * (point - a) < (need[point] - need[a]) * (b - a):
                break
            hull.pop()
        hull.append(point)
    return set(hull)
