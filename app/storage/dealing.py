"""Storing a deal: only what differs from what is stored is written."""

from collections.abc import Iterable
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import delete, select, update
from sqlalchemy.orm import Session

from app.core.cards import Garden
from app.core.cells import NOBODY, Cells
from app.core.deal import Deal
from app.core.dealt import NOT_DEALT
from app.core.placing import DealtStays
from app.core.words import PLACES, CellState
from app.storage.base import table_of
from app.storage.models import Cell, Stay, Tray
from app.storage.queries.version import renew_mark
from app.storage.tables import insert_columns

Ints = NDArray[np.int64]

# A stay as it is compared: place, shelf (0 for none), level, slot, first day, day after the last, pinned.
_Row = tuple[int, int, int, int, int, int, bool]


class DealStore:
    """Where a deal goes: a session, the garden as it was read in it, and where its dealt trays stand."""

    def __init__(self, session: Session, garden: Garden, stays: DealtStays) -> None:
        """Take what the deal was made from."""
        self.session = session
        self.garden = garden
        self.stays = stays

    def store(self, deal: Deal, cells: Cells) -> None:
        """Store trays, cells and stays of a deal, and take everything out of the trays that it empties."""
        self._empty(deal.emptied)
        ids = self._store_trays(deal)
        self._store_cells(deal, cells, ids)
        self._store_stays(deal, ids)
        renew_mark(self.session)
        self.session.expire_all()

    def _empty(self, emptied: Ints) -> None:
        ids = self.garden.dealt.ids[emptied].tolist()
        if not ids:
            return
        self.session.execute(delete(Stay).where(Stay.tray_id.in_(ids)))
        self.session.execute(
            update(Cell).where(Cell.tray_id.in_(ids)).values(sowing_id=None, state=CellState.EMPTY),
            execution_options={"synchronize_session": False},
        )

    def _store_trays(self, deal: Deal) -> Ints:
        """Return the row number of each tray of the deal."""
        dealt, connection = self.garden.dealt, self.session.connection()
        is_new = deal.stored == NOT_DEALT
        # The box is the one that the plan takes; a tray that follows its sowings to another day gets that day.
        later = np.flatnonzero(~is_new)
        later = later[dealt.filled[deal.stored[later]] != deal.filled[later]]
        for tray in later.tolist():
            connection.execute(
                update(table_of(Tray)).where(table_of(Tray).c.id == int(dealt.ids[deal.stored[tray]])),
                {"sow_on": date.fromordinal(int(deal.filled[tray]))},
            )
        new = np.flatnonzero(is_new)
        boxes = [self.garden.containers[box].id for box in deal.container[new].tolist()]
        insert_columns(
            self.session,
            table_of(Tray),
            {
                "number": deal.number[new].tolist(),
                "container_id": boxes,
                "sow_on": [date.fromordinal(day) for day in deal.filled[new].tolist()],
                "potted_on": deal.is_potted_on[new].tolist(),
                "pinned": [False] * len(new),
            },
        )
        id_of = dict(connection.execute(select(Tray.number, Tray.id)).all())
        return np.array([id_of[number] for number in deal.number.tolist()], dtype=np.int64)

    def _store_cells(self, deal: Deal, cells: Cells, ids: Ints) -> None:
        changed = ids[deal.is_changed & (deal.stored != NOT_DEALT)].tolist()
        if changed:
            self.session.execute(delete(Cell).where(Cell.tray_id.in_(changed)))
        sowing = np.append(self.garden.sowings.ids, 0)[cells.lot]
        insert_columns(
            self.session,
            table_of(Cell),
            {
                "tray_id": ids[cells.tray].tolist(),
                "row_number": cells.row.tolist(),
                "column_number": cells.column.tolist(),
                "sowing_id": [
                    None if lot == NOBODY else n for lot, n in zip(cells.lot.tolist(), sowing.tolist(), strict=True)
                ],
                "state": cells.state,
            },
        )

    def _store_stays(self, deal: Deal, ids: Ints) -> None:
        """Take out the stays of trays whose stays differ, all of them first, so that trays can change places."""
        new = _by_tray(ids[deal.stay_tray].tolist(), self._rows_of_deal(deal))
        old = _by_tray(self.garden.dealt.ids[self.stays.tray].tolist(), _rows_of_stays(self.stays))
        differs = [tray for tray in ids.tolist() if new.get(tray, []) != old.get(tray, [])]
        if not differs:
            return
        self.session.execute(delete(Stay).where(Stay.tray_id.in_(differs)))
        rows = [(tray, *row) for tray in differs for row in new.get(tray, [])]
        tray, place, shelf, level, slot, begin, end, pinned = zip(*rows, strict=True) if rows else ((),) * 8
        insert_columns(
            self.session,
            table_of(Stay),
            {
                "tray_id": tray,
                "place": [PLACES[number] for number in place],
                "shelf_id": [None if at < 0 else self.garden.shelves[at].id for at in shelf],
                "level": [number or None for number in level],
                "slot": [number or None for number in slot],
                "begin_on": [date.fromordinal(day) for day in begin],
                "end_on": [date.fromordinal(day) for day in end],
                "pinned": pinned,
            },
        )

    @staticmethod
    def _rows_of_deal(deal: Deal) -> Iterable[_Row]:
        columns = (deal.stay_place, deal.stay_begin, deal.stay_end, deal.stay_is_pinned)
        for position, place, begin, end, pinned in zip(
            deal.stay_position, *(column.tolist() for column in columns), strict=True
        ):
            yield (place, *(position or (-1, 0, 0)), begin, end, pinned)


def _rows_of_stays(stays: DealtStays) -> Iterable[_Row]:
    columns = (stays.place, stays.shelf, stays.level, stays.slot, stays.begin, stays.end, stays.is_pinned)
    rows: Any = zip(*(column.tolist() for column in columns), strict=True)
    return rows  # type: ignore[no-any-return]


def _by_tray(trays: list[int], rows: Iterable[_Row]) -> dict[int, list[_Row]]:
    found: dict[int, list[_Row]] = {}
    for tray, row in zip(trays, rows, strict=True):
        found.setdefault(tray, []).append(row)
    return {tray: sorted(rows, key=lambda row: row[4]) for tray, rows in found.items()}
