"""Positions on shelves: what there are, and which tray takes which for how long."""

from collections.abc import Sequence
from itertools import groupby
from typing import NamedTuple

from app.core.cards import ShelfCard
from app.core.words import PLACES, Place


class Position(NamedTuple):
    """Where one tray stands: index of the shelf, its level and the slot on it, both counted from 1."""

    shelf: int
    level: int
    slot: int


def slots_of_levels(positions: int, levels: int) -> tuple[int, ...]:
    """Return the positions of each level of a shelf, as even as can be; the first levels take what is over. [1]"""
    even, over = divmod(positions, levels)
    return tuple(even + (level < over) for level in range(levels))


def positions_of_places(shelves: Sequence[ShelfCard]) -> dict[Place, tuple[Position, ...]]:
    """Return the positions of each place in the order of a walk: by name of the shelf, level and slot."""
    in_order = sorted(range(len(shelves)), key=lambda index: (PLACES.index(shelves[index].place), shelves[index].name))
    found: dict[Place, tuple[Position, ...]] = dict.fromkeys(PLACES, ())
    for place, indices in groupby(in_order, key=lambda index: shelves[index].place):
        found[place] = tuple(
            Position(index, level, slot)
            for index in indices
            for level, slots in enumerate(slots_of_levels(shelves[index].positions, shelves[index].levels), start=1)
            for slot in range(1, slots + 1)
        )
    return found
