"""What has been dealt: the trays that stand or will, and the sowings in them."""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY, Days

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

NOT_DEALT = -1


def _no_ints() -> Ints:
    return np.zeros(0, dtype=np.int64)


def _no_flags() -> Flags:
    return np.zeros(0, dtype=bool)


@dataclass(frozen=True, kw_only=True)
class Dealt:
    """Dealt trays by number; a part is what one sowing has of one tray. Without arguments nothing is dealt.

    Attributes:
        ids: Row numbers in the database. Shape (n_trays,).
        number: Numbers on the labels, rising. Shape (n_trays,).
        container: Index of each tray's container. Shape (n_trays,).
        filled: The day it is sown, or filled with pots. Shape (n_trays,). [day number]
        is_potted_on: Whether it holds what was potted on, rather than sown in it. Shape (n_trays,).
        is_pinned: Whether whoever is in it stays. Shape (n_trays,).
        part_tray: Index of the tray of each part. Shape (n_parts,).
        part_lot: Index of the sowing of each part. Shape (n_parts,).
        part_cells: Its cells. Shape (n_parts,). [1]
        part_filled: Those of its cells that are not empty. Shape (n_parts,). [1]
    """

    ids: Ints = field(default_factory=_no_ints)
    number: Ints = field(default_factory=_no_ints)
    container: Ints = field(default_factory=_no_ints)
    filled: Days = field(default_factory=_no_ints)
    is_potted_on: Flags = field(default_factory=_no_flags)
    is_pinned: Flags = field(default_factory=_no_flags)
    part_tray: Ints = field(default_factory=_no_ints)
    part_lot: Ints = field(default_factory=_no_ints)
    part_cells: Ints = field(default_factory=_no_ints)
    part_filled: Ints = field(default_factory=_no_ints)

    def __len__(self) -> int:
        """Return the number of trays."""
        return len(self.ids)

    @cached_property
    def is_filled(self) -> Flags:
        """Whether anything is in each tray: it is sown, or its pots are potted into. Shape (n_trays,)."""
        filled = np.zeros(len(self), dtype=bool)
        filled[self.part_tray[self.part_filled > 0]] = True
        return filled


@dataclass(frozen=True, kw_only=True)
class Settled:
    """Which sowings are in their cells, or in their pots, and are not dealt anew; all of shape (n_sowings,).

    Attributes:
        is_settled: Whether any of its cells is filled.
        day: The first day on which a tray of it was filled; 0 where it is not settled. [day number]
        cells: All cells that it has, filled or kept for it. [1]
        container: Index of the container that it is in; -1 where it is not settled.
    """

    is_settled: Flags
    day: Days
    cells: Ints
    container: Ints


@dataclass(frozen=True, kw_only=True)
class Kept:
    """Parts of dealt trays of one kind, sown or of pots, that a packing keeps if it can.

    Attributes:
        tray: Index of the dealt tray of each part, rising. Shape (n_parts,).
        lot: Index of the sowing. Shape (n_parts,).
        cells: Its cells. Shape (n_parts,). [1]
        is_filled: Whether any of these cells is filled. Shape (n_parts,).
        is_settled: Whether the sowing is settled: it stays whatever it costs. Shape (n_parts,).
        is_firm: Whether it is settled, or its tray is pinned. Shape (n_parts,).
        container: Index of the tray's container. Shape (n_parts,).
    """

    tray: Ints
    lot: Ints
    cells: Ints
    is_filled: Flags
    is_settled: Flags
    is_firm: Flags
    container: Ints


def settle(dealt: Dealt, n_sowings: int, *, potted_on: bool) -> tuple[Settled, Kept]:
    """Return what is settled, and what a packing is to keep.

    Args:
        dealt: What has been dealt.
        n_sowings: Sowings of the garden. [1]
        potted_on: Whether pots are asked for, rather than what is sown.

    Source:
        That what is sown is not dealt anew is chosen here (docs/method.md).
    """
    chosen = np.flatnonzero(dealt.is_potted_on[dealt.part_tray] == potted_on)
    tray, lot, cells = dealt.part_tray[chosen], dealt.part_lot[chosen], dealt.part_cells[chosen]
    is_filled = dealt.part_filled[chosen] > 0
    settled = np.zeros(n_sowings, dtype=bool)
    settled[lot[is_filled]] = True
    day = np.full(n_sowings, np.iinfo(np.int64).max)
    np.minimum.at(day, lot[is_filled], dealt.filled[tray[is_filled]])
    container = np.full(n_sowings, -1, dtype=np.int64)
    container[lot[is_filled][::-1]] = dealt.container[tray[is_filled][::-1]]  # of the first tray, which is written last
    owned = np.bincount(lot, weights=cells, minlength=n_sowings).astype(np.int64)
    return (
        Settled(
            is_settled=settled,
            day=np.where(settled, day, NO_DAY),
            cells=np.where(settled, owned, 0),
            container=container,
        ),
        Kept(
            tray=tray,
            lot=lot,
            cells=cells,
            is_filled=is_filled,
            is_settled=settled[lot],
            is_firm=settled[lot] | dealt.is_pinned[tray],
            container=dealt.container[tray],
        ),
    )


def join_groups(kept: Kept, group_of: Ints) -> Ints:
    """Return groups in which settled sowings of one tray are in one group, since a tray moves as one.

    Args:
        kept: Parts of dealt trays.
        group_of: Group of each sowing; -1 for those in none. Shape (n_sowings,).

    Returns:
        The same with some sowings moved to the group of a neighbour of a lower number. Shape (n_sowings,).
    """
    chosen = kept.is_settled & (group_of[kept.lot] >= 0)
    tray, lot = kept.tray[chosen], kept.lot[chosen]
    joined = group_of.copy()
    while True:
        lowest = np.full(int(tray.max(initial=-1)) + 1, np.iinfo(np.int64).max)
        np.minimum.at(lowest, tray, joined[lot])
        before = joined.copy()
        np.minimum.at(joined, lot, lowest[tray])
        if (joined == before).all():
            return joined
