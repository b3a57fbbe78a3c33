"""Dealt trays as columns, for the plan and for dealing anew."""

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Integer, cast, func, select
from sqlalchemy.orm import Session

from app.core.dealt import Dealt
from app.core.words import CellState
from app.storage.models import Cell, Tray
from app.storage.queries.days import day_number

Ints = NDArray[np.int64]

TRAYS = select(
    Tray.id, Tray.number, Tray.container_id, day_number(Tray.sow_on), Tray.potted_on, Tray.pinned
).order_by(Tray.number)
PARTS = (
    select(Cell.tray_id, Cell.sowing_id, func.count(), func.sum(cast(Cell.state != CellState.EMPTY, Integer)))
    .where(Cell.sowing_id.is_not(None))
    .group_by(Cell.tray_id, Cell.sowing_id)
)


def get_dealt(session: Session, container_ids: Ints, sowing_ids: Ints) -> Dealt:
    """Return what has been dealt, in one query where nothing is and in two otherwise.

    Args:
        session: Where to look.
        container_ids: The garden's containers, in its order.
        sowing_ids: The garden's sowings, in its order.
    """
    trays = session.execute(TRAYS).all()
    if not trays:
        return Dealt()
    ids, number, container, filled, potted_on, pinned = (np.array(column) for column in zip(*trays, strict=True))
    parts = session.execute(PARTS).all()
    columns = np.array([tuple(part) for part in parts], dtype=np.int64).reshape(-1, 4)
    tray, lot = positions_in(ids, columns[:, 0]), positions_in(sowing_ids, columns[:, 1])
    order = np.lexsort((lot, tray))
    return Dealt(
        ids=ids,
        number=number,
        container=positions_in(container_ids, container),
        filled=filled,
        is_potted_on=potted_on.astype(bool),
        is_pinned=pinned.astype(bool),
        part_tray=tray[order],
        part_lot=lot[order],
        part_cells=columns[order, 2],
        part_filled=columns[order, 3],
    )


def positions_in(ids: Ints, wanted: Ints) -> Ints:
    """Return the position of each wanted id in an array of ids in any order."""
    if not len(ids):
        return wanted
    order = np.argsort(ids)
    return order[np.searchsorted(ids, wanted, sorter=order)]
