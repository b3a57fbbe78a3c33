"""Storing a deal: only what differs from what is stored is written."""

from datetime import date

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import delete, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from app.core.cards import Garden
from app.core.dealing.cells import NOBODY, Cells
from app.core.dealing.deal import Deal
from app.core.dealing.placing import DealtStays
from app.core.dealing.redeal import stays_of_deal, stays_of_dealt
from app.core.space.dealt import NOT_DEALT
from app.core.words import PLACES, CellState
from app.storage.base import table_of
from app.storage.errors import ClashError
from app.storage.models import Cell, Stay, Tray
from app.storage.queries.version import renew_mark
from app.storage.tables import insert_columns

Ints = NDArray[np.int64]


class DealStore:
    """Where a deal goes: a session, the garden as it was read in it, and where its dealt trays stand."""

    def __init__(self, session: Session, garden: Garden, stays: DealtStays) -> None:
        """Take what the deal was made from."""
        self.session = session
        self.garden = garden
        self.stays = stays

    def store(self, deal: Deal, cells: Cells) -> None:
        """Store trays, cells and stays of a deal, and take everything out of the trays that it empties.

        Raises:
            ClashError: The database refuses it: somebody else has a number, a cell or a position of it.
        """
        try:
            self._empty(deal.emptied)
            ids = self._store_trays(deal)
            self._store_cells(deal, cells, ids)
            self._store_stays(deal, ids)
        except IntegrityError as error:
            raise ClashError from error
        renew_mark(self.session)
        self.session.expire_all()

    def _empty(self, emptied: Ints) -> None:
        dealt = self.garden.dealt
        ids, is_filled = dealt.ids[emptied].tolist(), dealt.is_filled[emptied]
        if not ids:
            return
        self.session.execute(delete(Stay).where(Stay.tray_id.in_(dealt.ids[emptied[~is_filled]].tolist())))
        self.session.execute(
            update(Cell).where(Cell.tray_id.in_(ids), Cell.state == CellState.EMPTY).values(sowing_id=None),
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
        after, before = stays_of_deal(deal), stays_of_dealt(self.stays)
        stored = zip(ids.tolist(), deal.stored.tolist(), strict=True)
        differs = [(tray, row) for row, (tray, old) in enumerate(stored) if after.get(row, ()) != before.get(old, ())]
        if not differs:
            return
        self.session.execute(delete(Stay).where(Stay.tray_id.in_([tray for tray, _ in differs])))
        rows = [(tray, *stay) for tray, row in differs for stay in after.get(row, ())]
        tray, place, position, begin, end, pinned = zip(*rows, strict=True) if rows else ((),) * 6
        insert_columns(
            self.session,
            table_of(Stay),
            {
                "tray_id": tray,
                "place": [PLACES[number] for number in place],
                "shelf_id": [None if at is None else self.garden.shelves[at.shelf].id for at in position],
                "level": [None if at is None else at.level for at in position],
                "slot": [None if at is None else at.slot for at in position],
                "begin_on": [date.fromordinal(day) for day in begin],
                "end_on": [date.fromordinal(day) for day in end],
                "pinned": pinned,
            },
        )
