"""Packing the lots of a group around what is in its dealt trays."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import groupby
from operator import itemgetter
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from app.core.space.dealt import NOT_DEALT, Kept
from app.core.space.packing import pack_into

Ints = NDArray[np.int64]

# A dealt tray, or none yet, and the lots and cells in it.
Bin = tuple[int, list[tuple[int, int]]]


class DealtPart(NamedTuple):
    """What a lot has of a dealt tray."""

    lot: int
    cells: int
    is_settled: bool
    is_firm: bool


@dataclass(frozen=True)
class DealtTray:
    """A dealt tray, what its group has in it, and the cells in which something is sown that is in no group any more."""

    stored: int
    parts: tuple[DealtPart, ...]
    lost_cells: int = 0

    def counted_from(self, begin: int) -> "DealtTray":
        """Return the same with lots counted from the first of their group."""
        return replace(self, parts=tuple(part._replace(lot=part.lot - begin) for part in self.parts))


def dealt_by_group(kept: Kept, lots: Ints, group: Ints, container: Ints) -> dict[int, list[DealtTray]]:
    """Return the dealt trays of each group that has any.

    A tray belongs to the group of what is settled in it, or else of most of its cells; what now belongs to
    another group leaves it.

    Args:
        kept: What is in dealt trays.
        lots: Index of each lot that takes room. Shape (n_lots,).
        group: Its group. Shape (n_lots,).
        container: Its container. Shape (n_lots,).

    Returns:
        For the number of each group its trays by number, their lots as positions in `lots`. [index]
    """
    if not len(kept.tray) or not len(lots):
        return {}
    place_of = np.full(int(max(lots.max(initial=-1), kept.lot.max())) + 1, -1)
    place_of[lots] = np.arange(len(lots))
    place = place_of[kept.lot]
    in_no_group = kept.is_filled & (place < 0)
    lost = np.bincount(kept.tray[in_no_group], kept.cells[in_no_group], int(kept.tray.max()) + 1).astype(np.int64)
    # A tray of another container than the lot now takes is not a tray for it.
    fits = (place >= 0) & (kept.is_settled | (container[place] == kept.container))
    place, tray, cells, settled, firm = (
        column[fits] for column in (place, kept.tray, kept.cells, kept.is_settled, kept.is_firm)
    )
    own = group[place]
    order = np.lexsort((place, -cells, ~firm, ~settled, tray))
    columns = (column[order].tolist() for column in (tray, own, place, cells, settled, firm))
    found: dict[int, list[DealtTray]] = {}
    for stored, rows in groupby(zip(*columns, strict=True), key=itemgetter(0)):
        (_, tray_group, *first), *others = rows
        parts = [first, *(part for _, its_group, *part in others if its_group == tray_group)]
        found.setdefault(tray_group, []).append(
            DealtTray(stored, tuple(DealtPart(*part) for part in parts), int(lost[stored]))
        )
    return found


def keep_and_pack(sizes: list[int], capacity: int, dealt: list[DealtTray]) -> list[Bin]:
    """Return the fewest trays for the lots of a group, with what is firm in dealt trays left there.

    Args:
        sizes: Cells of each lot; of a settled one all that it has in dealt trays. Shape (n_lots,). [1]
        capacity: Cells of a tray. [1]
        dealt: The dealt trays of the group, with lots as indices into `sizes`.

    Returns:
        The trays. If leaving all as it is takes no more trays than what is firm demands, all is left as it is.
    """
    everything = _pack_beside(_keep(sizes, capacity, dealt, firm_only=False), capacity)
    if all(part.is_firm for tray in dealt for part in tray.parts):
        return everything
    fewest = _pack_beside(_keep(sizes, capacity, dealt, firm_only=True), capacity)
    if len(everything) <= len(fewest):
        return everything
    return _with_known_numbers(fewest, dealt)


class _Keeping(NamedTuple):
    """Trays with what stays in them and the room beside it, and the rest of each lot in pieces of at most a tray."""

    bins: list[Bin]
    rooms: list[int]
    left: list[tuple[int, int]]


def _keep(sizes: list[int], capacity: int, dealt: list[DealtTray], *, firm_only: bool) -> _Keeping:
    """Leave in each tray what has still room there: what is firm in any tray first, then the larger part."""
    settled = {part.lot for tray in dealt for part in tray.parts if part.is_settled}
    whole = {lot: 0 if lot in settled else size // capacity for lot, size in enumerate(sizes)}
    rest = {lot: 0 if lot in settled else size % capacity for lot, size in enumerate(sizes)}
    rooms = [capacity - tray.lost_cells for tray in dealt]
    taken: list[list[tuple[int, int]]] = [[] for _ in dealt]
    parts = [(number, part) for number, tray in enumerate(dealt) for part in tray.parts]
    for number, part in sorted(parts, key=lambda pair: not pair[1].is_firm):
        cells = 0
        is_alone = rooms[number] == capacity and whole[part.lot] > 0
        if part.is_settled:
            cells = part.cells
        elif firm_only and not part.is_firm:
            continue
        elif 0 < rest[part.lot] <= rooms[number] and not (is_alone and part.cells >= capacity):
            cells, rest[part.lot] = rest[part.lot], 0
        elif is_alone:
            cells = capacity
            whole[part.lot] -= 1
        if cells:
            taken[number].append((part.lot, cells))
            rooms[number] -= cells
    left = [(lot, capacity) for lot, n in whole.items() for _ in range(n)]
    return _Keeping(
        [(tray.stored, kept) for tray, kept in zip(dealt, taken, strict=True) if kept],
        # A tray may hold more than its container now says, if the container was changed after it was sown.
        [max(0, room) for room, kept in zip(rooms, taken, strict=True) if kept],
        left + [(lot, cells) for lot, cells in rest.items() if cells],
    )


def _pack_beside(keeping: _Keeping, capacity: int) -> list[Bin]:
    bins, rooms, left = keeping
    in_rooms, new = pack_into([cells for _, cells in left], capacity, rooms)
    beside = [
        (stored, parts + [left[index] for index in taken])
        for (stored, parts), taken in zip(bins, in_rooms, strict=True)
    ]
    return beside + [(NOT_DEALT, [left[index] for index in taken]) for taken in new]


def _with_known_numbers(bins: list[Bin], dealt: Iterable[DealtTray]) -> list[Bin]:
    """Give new trays the dealt ones with which they have most cells in common, so that few labels change."""
    used = {stored for stored, _ in bins}
    free = {tray.stored: Counter({part.lot: part.cells for part in tray.parts}) for tray in dealt}
    common = sorted(
        (-(Counter(dict(parts)) & has).total(), stored, number)
        for number, (is_stored, parts) in enumerate(bins)
        if is_stored == NOT_DEALT
        for stored, has in free.items()
        if stored not in used
    )
    named = dict(enumerate(bins))
    for _, stored, number in common:
        if stored not in used and named[number][0] == NOT_DEALT:
            used.add(stored)
            named[number] = (stored, named[number][1])
    return list(named.values())
