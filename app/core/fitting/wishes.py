"""The wishes of a levelling: free lots, with the numbers of plants that are worth asking about."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.options import Options
from app.core.plan import Plan
from app.core.plants.stand import cells_needed, spare_of

Ints = NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class Wishes:
    """Free lots, those of a kind together, and the numbers of plants of each that are worth a choice.

    A level is a number of plants with its cells and pots. The levels of a lot follow each other, all plants last.

    Attributes:
        lot: Each free lot. Shape (n_free,).
        plants: Plants wanted of it. Shape (n_free,). [1]
        weight: What each of these plants counts, 4 - priority. Shape (n_free,). [1]
        level_wish: Index into `lot` of each level. Shape (n_levels,).
        level_plants: Plants of the level. Shape (n_levels,). [1]
        level_cells: Cells that they take. Shape (n_levels,). [1]
        level_pots: Pots that are kept, where the option is one of potting on. Shape (n_levels,). [1]
    """

    lot: Ints
    plants: Ints
    weight: Ints
    level_wish: Ints
    level_plants: Ints
    level_cells: Ints
    level_pots: Ints


@dataclass(frozen=True, kw_only=True)
class Stand:
    """The cells and pots that plants of a lot take.

    Attributes:
        row: The row of each lot in the table. Shape (n_lots,).
        cells: Cells for as many plants as the column says. Shape (n_rows, most plants + 1). [1]
        pots: Pots that are kept of them, if they are potted on. Shape (n_rows, most plants + 1). [1]
    """

    row: Ints
    cells: Ints
    pots: Ints

    def cells_of(self, lot: Ints, plants: Ints) -> Ints:
        """Return the cells of plants of lots. Shape as theirs. [1]"""
        cells: Ints = self.cells[self.row[lot], plants]
        return cells

    def pots_of(self, lot: Ints, plants: Ints) -> Ints:
        """Return the pots that are kept of plants of lots, if they are potted on. Shape as theirs. [1]"""
        pots: Ints = self.pots[self.row[lot], plants]
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
    pots = np.minimum(cells, plants + spare_of(plants, garden.settings.spare))
    shape = len(found), most + 1
    return Stand(row=row.ravel(), cells=cells.reshape(shape), pots=pots.reshape(shape))


def gather_wishes(options: Options, stand: Stand, *, parts: bool) -> Wishes:
    """Return the wishes of a garden's free lots.

    Args:
        options: What each sowing may get.
        stand: The cells and pots of any number of their plants.
        parts: Whether a lot may get a part of its plants.
    """
    sowings = options.plan.garden.sowings
    free = np.flatnonzero(options.is_free)
    free = free[np.argsort(options.kind[free], kind="stable")]
    wanted = sowings.plants[options.lot[free]]
    lot, plants = np.repeat(free, wanted), np.concatenate([np.zeros(0, dtype=np.int64), *map(_up_to, wanted)])
    is_potted = is_ever_potted(options)[lot]
    is_all = plants == sowings.plants[options.lot[lot]]
    worth = is_all.copy()
    if parts:
        # Of numbers of plants with the same cells and pots only the largest is worth a choice.
        more = plants[~is_all] + 1
        some = lot[~is_all]
        worth[~is_all] = (stand.cells_of(some, more) > stand.cells_of(some, more - 1)) | (
            is_potted[~is_all] & (stand.pots_of(some, more) > stand.pots_of(some, more - 1))
        )
    lot, plants = lot[worth], plants[worth]
    wish = np.zeros(len(options.lot), dtype=np.int64)
    wish[free] = np.arange(len(free))
    return Wishes(
        lot=free,
        plants=wanted,
        weight=4 - sowings.priority[options.lot[free]],
        level_wish=wish[lot],
        level_plants=plants,
        level_cells=stand.cells_of(lot, plants),
        level_pots=stand.pots_of(lot, plants),
    )


def _up_to(number: int) -> Ints:
    return np.arange(1, number + 1)


def is_ever_potted(options: Options) -> NDArray[np.bool_]:
    """Return whether any option of each lot is one of potting on. Shape (n_lots,)."""
    by_kind: NDArray[np.bool_] = np.logical_or.reduceat(options.pot_group >= 0, options.first[:-1])
    return by_kind[options.kind]
