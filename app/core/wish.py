"""A garden with one wish more, or with some wishes less: what is planned if."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from app.core.cards import Garden, Sowings
from app.core.space.ledger import Ledger
from app.core.words import PLACES

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

NEW = 0  # the row number of a sowing that is not in the database yet


def with_sowing(garden: Garden, row: dict[str, Any], at: int | None = None) -> tuple[Garden, int]:
    """Return a garden with one sowing more, or with one as it would be, and that sowing's index.

    Args:
        garden: The garden as it is.
        row: A value for each column of `Sowings` but `ids`, with `name` and `variety` for those of words.
        at: Index of the sowing that is changed; None to add one, which comes last.
    """
    sowings = garden.sowings
    number = len(sowings) if at is None else at
    columns: dict[str, Any] = {}
    for name, column in vars(sowings).items():
        if isinstance(column, tuple):
            value = row[{"names": "name", "varieties": "variety"}[name]]
            columns[name] = (*column[:number], value, *column[number + 1 :])
        else:
            value = row.get(name, NEW)
            columns[name] = np.concatenate([column[:number], np.array([value], column.dtype), column[number + 1 :]])
    if at is not None:
        columns |= {"ids": sowings.ids, "names": sowings.names}
    return replace(garden, sowings=Sowings(**columns)), number


def without_room(garden: Garden, which: Flags) -> Garden:
    """Return a garden in which some sowings get no plants; what is sown of them already stays where it is.

    Args:
        garden: The garden as it is.
        which: Whether each sowing gets none. Shape (n_sowings,).
    """
    sowings = garden.sowings
    return replace(garden, sowings=replace(sowings, placed=np.where(which, 0, sowings.placed)))


@dataclass(frozen=True, kw_only=True)
class PlacePeak:
    """The fullest week of a place.

    Attributes:
        place: Index of the place.
        week: Running number of the first such week; None where nothing stands there. Index of a running week.
        needed: Trays that stand there then. [1]
        positions: Positions that there are. [1]
    """

    place: int
    week: int | None
    needed: int
    positions: int


def peaks_of(ledger: Ledger) -> tuple[PlacePeak, ...]:
    """Return the fullest week of each place that has positions or needs any, in the order of places."""
    found = []
    for place in range(len(PLACES)):
        needed, positions = ledger.needed[:, place], int(ledger.positions[place])
        most = int(needed.max(initial=0))
        if most or positions:
            week = ledger.weeks[int(needed.argmax())] if most else None
            found.append(PlacePeak(place=place, week=week, needed=most, positions=positions))
    return tuple(found)
