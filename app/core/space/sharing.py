"""Which lots stand in which trays, and where each tray stands from when to when.

Nothing here knows horticulture: a lot is a number of cells of a container with dates and places.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain, pairwise

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import Days
from app.core.space.dealt import NOT_DEALT, Kept
from app.core.space.keeping import DealtTray, dealt_by_group, keep_and_pack
from app.core.space.packing import pack

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Stays:
    """Where groups of trays stand: one row for each group and place, intervals half-open.

    Attributes:
        group: The group's number. Shape (n_stays,).
        place: Index of the place. Shape (n_stays,).
        begin: First day. Shape (n_stays,). [day number]
        end: The day after the last. Shape (n_stays,). [day number]
    """

    group: Ints
    place: Ints
    begin: Days
    end: Days


@dataclass(frozen=True, kw_only=True)
class Trays:
    """Trays by their groups, and the lots in them.

    Attributes:
        group: The group of each tray. Shape (n_trays,).
        container: Index of each tray's container. Shape (n_trays,).
        is_potted_on: Whether a tray holds what was potted on, rather than sown in it. Shape (n_trays,).
        stored: Index of the dealt tray that it is; -1 for one that is not dealt yet. Shape (n_trays,).
        part_tray: Index of the tray of each part. Shape (n_parts,).
        part_lot: Index of the lot of each part. Shape (n_parts,).
        part_cells: Cells of the lot in that tray. Shape (n_parts,). [1]
    """

    group: Ints
    container: Ints
    is_potted_on: Flags
    stored: Ints
    part_tray: Ints
    part_lot: Ints
    part_cells: Ints


def group_lots(keys: Sequence[Ints]) -> tuple[Ints, int]:
    """Return the number of the group of each lot: lots with equal keys share a group.

    Args:
        keys: Columns of the key, most significant first. Each of shape (n_lots,).

    Returns:
        Group of each lot, in the order of the keys, shape (n_lots,), and the number of groups. [1]
    """
    combined = np.zeros_like(keys[0])
    for key in keys:
        low = key.min(initial=0)
        combined = combined * (key.max(initial=0) - low + 1) + (key - low)
    found, group = np.unique(combined, return_inverse=True)
    return group.astype(np.int64), len(found)


def first_of(group: Ints, n_groups: int, days: Days) -> Days:
    """Return the earliest day of each group. Shape (n_groups,). [day number]"""
    first = np.full(n_groups, np.iinfo(np.int64).max)
    np.minimum.at(first, group, days)
    return first


def last_of(group: Ints, n_groups: int, days: Days) -> Days:
    """Return the latest day of each group. Shape (n_groups,). [day number]"""
    last = np.zeros(n_groups, dtype=np.int64)
    np.maximum.at(last, group, days)
    return last


def fill_trays(
    lots: Ints, group: Ints, cells: Ints, container: Ints, capacity: Ints, *, kept: Kept, potted_on: bool
) -> Trays:
    """Return the fewest trays for each group of lots.

    What is settled or pinned in dealt trays stays there. Of all packings that are then the fewest, the one that
    leaves every dealt tray as it is goes first.

    Args:
        lots: Index of each lot. Shape (n_lots,).
        group: Group of each lot. Shape (n_lots,).
        cells: Cells of each lot, 1 or more. Shape (n_lots,). [1]
        container: Container of each lot, equal within a group. Shape (n_lots,).
        capacity: Cells of a tray of each container. Shape (n_containers,). [1]
        kept: What is in dealt trays.
        potted_on: Whether the lots are potted on into these trays.
    """
    order = np.argsort(group, kind="stable")
    starts = np.flatnonzero(np.diff(group[order], prepend=-1)).tolist()
    cell_list = cells[order].tolist()
    dealt = dealt_by_group(kept, lots[order], group[order], container[order])
    filled = [
        _fill(tuple(cell_list[begin:end]), int(capacity[container[order[begin]]]))
        if (there := dealt.get(int(group[order[begin]]))) is None
        else _fill_around(cell_list[begin:end], int(capacity[container[order[begin]]]), begin, there)
        for begin, end in pairwise([*starts, len(order)])
    ]
    n_trays = np.array([f.n_trays for f in filled], dtype=np.int64)
    first_tray = np.cumsum(n_trays) - n_trays
    return Trays(
        group=np.repeat(group[order[starts]], n_trays),
        container=np.repeat(container[order[starts]], n_trays),
        is_potted_on=np.full(int(n_trays.sum()), potted_on),
        stored=_joined([f.stored for f in filled]),
        part_tray=_joined([f.tray + first for f, first in zip(filled, first_tray, strict=True)]),
        part_lot=lots[order[_joined([f.lot + begin for f, begin in zip(filled, starts, strict=True)])]],
        part_cells=_joined([f.cells for f in filled]),
    )


@dataclass(frozen=True)
class _Filled:
    """The parts of one group's lots: tray, lot and cells of each, counted from 0 within the group."""

    n_trays: int
    stored: Ints
    tray: Ints
    lot: Ints
    cells: Ints


@lru_cache(maxsize=4096)
def _fill(sizes: tuple[int, ...], capacity: int) -> _Filled:
    """Pack the lots of one group; kept, since most changes leave most groups as they are."""
    trays = pack(sizes, capacity)
    lot = np.fromiter(chain.from_iterable(trays), dtype=np.int64)
    tray = np.repeat(np.arange(len(trays)), np.fromiter(map(len, trays), dtype=np.int64))
    # The whole trays of large lots come first, then what remains of every lot.
    is_whole = np.arange(len(lot)) < sum(size // capacity for size in sizes)
    cells = np.where(is_whole, capacity, np.array(sizes)[lot] % capacity)
    return _Filled(len(trays), np.full(len(trays), NOT_DEALT), tray, lot, cells)


def _fill_around(sizes: list[int], capacity: int, begin: int, dealt: list[DealtTray]) -> _Filled:
    """Pack the lots of a group of which trays are dealt; `begin` is the number of its first lot among all lots."""
    bins = keep_and_pack(sizes, capacity, [tray.counted_from(begin) for tray in dealt])
    counts = np.fromiter((len(parts) for _, parts in bins), dtype=np.int64, count=len(bins))
    parts = [part for _, parts in bins for part in parts]
    return _Filled(
        len(bins),
        np.fromiter((stored for stored, _ in bins), dtype=np.int64, count=len(bins)),
        np.repeat(np.arange(len(bins)), counts),
        np.fromiter((lot for lot, _ in parts), dtype=np.int64, count=len(parts)),
        np.fromiter((cells for _, cells in parts), dtype=np.int64, count=len(parts)),
    )


def _joined(parts: Sequence[Ints]) -> Ints:
    return np.concatenate(parts) if parts else np.zeros(0, dtype=np.int64)
