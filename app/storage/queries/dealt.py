"""Dealt trays as columns, for the plan and for dealing anew."""

from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import CompoundSelect, Integer, case, cast, func, literal_column, select, union_all
from sqlalchemy.orm import Session

from app.core.cards import Garden
from app.core.dealing.cells import NOBODY, Cells
from app.core.dealing.placing import DealtStays
from app.core.space.dealt import Dealt
from app.core.words import PLACES, CellState
from app.storage.models import Cell, Stay, Tray
from app.storage.queries.days import day_number

Ints = NDArray[np.int64]

# Every tray, and then every sowing's part of a tray; what the other kind has is 0.
_NONE = literal_column("0", Integer)
DEALT: CompoundSelect[*tuple[Any, ...]] = union_all(
    select(
        Tray.id,
        Tray.number,
        Tray.container_id,
        day_number(Tray.sow_on),
        cast(Tray.potted_on, Integer),
        cast(Tray.pinned, Integer),
        _NONE,
        _NONE,
        _NONE,
    ),
    select(
        Cell.tray_id,
        *[_NONE] * 5,
        Cell.sowing_id,
        func.count(),
        func.sum(cast(Cell.state != CellState.EMPTY, Integer)),
    )
    .where(Cell.sowing_id.is_not(None))
    .group_by(Cell.sowing_id, Cell.tray_id),  # in the order of the index that covers it
)

_PLACE = case({place.value: index for index, place in enumerate(PLACES)}, value=Stay.place)
STAYS = select(
    Stay.tray_id,
    _PLACE,
    func.coalesce(Stay.shelf_id, 0),
    func.coalesce(Stay.level, 0),
    func.coalesce(Stay.slot, 0),
    day_number(Stay.begin_on),
    day_number(Stay.end_on),
    cast(Stay.pinned, Integer),
).order_by(Stay.tray_id, Stay.begin_on)
CELLS = select(
    Cell.tray_id, Cell.row_number, Cell.column_number, func.coalesce(Cell.sowing_id, 0), Cell.state
).order_by(Cell.tray_id, Cell.row_number, Cell.column_number)


def get_dealt(session: Session, container_ids: Ints, sowing_ids: Ints) -> Dealt:
    """Return what has been dealt, in one query.

    Args:
        session: Where to look.
        container_ids: The garden's containers, in its order.
        sowing_ids: The garden's sowings, in its order.
    """
    # The driver's own rows: every column comes ready for use.
    rows = session.connection().execute(DEALT).cursor.fetchall()
    if not rows:
        return Dealt()
    columns = np.array(rows, dtype=np.int64)
    is_part = columns[:, 6] > 0
    trays, parts = columns[~is_part], columns[is_part]
    ids, number, container, filled, potted_on, pinned = trays[np.argsort(trays[:, 1])].T[:6]
    tray, lot = positions_in(ids, parts[:, 0]), positions_in(sowing_ids, parts[:, 6])
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
        part_cells=parts[order, 7],
        part_filled=parts[order, 8],
    )


def get_dealt_stays(session: Session, garden: Garden) -> DealtStays:
    """Return where the dealt trays of a garden stand, those that wait too."""
    rows = session.execute(STAYS).all()
    columns = np.array([tuple(row) for row in rows], dtype=np.int64).reshape(-1, len(STAYS.selected_columns))
    tray, place, shelf_id, level, slot, begin, end, pinned = columns.T
    shelf = positions_in(np.array([shelf.id for shelf in garden.shelves], dtype=np.int64), shelf_id)
    return DealtStays(
        tray=positions_in(garden.dealt.ids, tray),
        place=place,
        shelf=np.where(shelf_id == 0, -1, shelf),
        level=level,
        slot=slot,
        begin=begin,
        end=end,
        is_pinned=pinned.astype(bool),
    )


def get_dealt_cells(session: Session, garden: Garden, trays: Ints) -> Cells:
    """Return the cells of some dealt trays, free ones too.

    Args:
        session: Where to look.
        garden: The garden.
        trays: Indices of the dealt trays. Shape (n_trays,).
    """
    query = CELLS.where(Cell.tray_id.in_(garden.dealt.ids[trays].tolist()))
    rows = session.execute(query).all() if len(trays) else []
    columns = np.array([tuple(row)[:4] for row in rows], dtype=np.int64).reshape(-1, 4)
    sowing_id = columns[:, 3]
    return Cells(
        tray=positions_in(garden.dealt.ids, columns[:, 0]),
        row=columns[:, 1],
        column=columns[:, 2],
        lot=np.where(sowing_id == 0, NOBODY, positions_in(garden.sowings.ids, sowing_id)),
        state=tuple(row[4] for row in rows),
    )


def positions_in(ids: Ints, wanted: Ints) -> Ints:
    """Return the position of each wanted id in an array of ids in any order; any position for one that is not there."""
    if not len(ids):
        return wanted
    order = np.argsort(ids)
    return order[np.searchsorted(ids, wanted, sorter=order) % len(ids)]
