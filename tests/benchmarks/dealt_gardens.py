"""Large gardens whose trays are dealt, written in bulk: a tray of 72 cells with six sowings and a position for each."""

from datetime import date, timedelta

from sqlalchemy import delete, select, update

from app.core.words import CellState, Place
from app.storage import Session
from app.storage.base import table_of
from app.storage.models import Cell, Container, Shelf, Sowing, Stay, Tray
from app.storage.tables import insert_columns
from tests.benchmarks.gardens import fill

ROWS, COLUMNS = 6, 12
CELLS = ROWS * COLUMNS
SOWINGS_PER_TRAY = 6
WEEKS = 8
FIRST_SOWN = date(2027, 4, 3)
LEVELS = 10


def fill_with_trays(engine, n_trays, n_sowings):
    """Load the demo garden, add sowings like its own, and deal trays to them; every other tray is sown.

    They are numbered from 1 on.
    """
    fill(engine, n_sowings)
    with Session(engine) as session:
        session.execute(delete(Tray))
        session.execute(update(Shelf).where(Shelf.place == Place.LAMP).values(positions=n_trays, levels=LEVELS))
        shelf = session.scalars(select(Shelf.id).where(Shelf.place == Place.LAMP)).first()
        box = session.scalars(select(Container.id).where(Container.cells_per_tray == CELLS)).first()
        sowings = session.scalars(select(Sowing.id).order_by(Sowing.id)).all()
        trays = range(1, n_trays + 1)
        days = [FIRST_SOWN + timedelta(weeks=tray % WEEKS) for tray in trays]
        columns = {"id": trays, "number": trays, "container_id": [box] * n_trays, "sow_on": days}
        insert_columns(session, table_of(Tray), columns | {name: [False] * n_trays for name in ("potted_on", "pinned")})
        insert_columns(session, table_of(Cell), _cells(trays, sowings))
        insert_columns(session, table_of(Stay), _stays(trays, shelf, days))
        session.commit()


def _cells(trays, sowings):
    """Return the columns of all cells: a sowing has two columns of a tray, less its last cell."""
    each = CELLS // SOWINGS_PER_TRAY
    owners = [
        None if cell % each == each - 1 else sowings[(SOWINGS_PER_TRAY * tray + cell // each) % len(sowings)]
        for tray in trays
        for cell in range(CELLS)
    ]
    sown = [tray % 2 for tray in trays for _ in range(CELLS)]
    return {
        "tray_id": [tray for tray in trays for _ in range(CELLS)],
        "row_number": [1 + cell % ROWS for _ in trays for cell in range(CELLS)],
        "column_number": [1 + cell // ROWS for _ in trays for cell in range(CELLS)],
        "sowing_id": owners,
        "state": [
            CellState.SOWN if owner is not None and is_sown else CellState.EMPTY
            for owner, is_sown in zip(owners, sown, strict=True)
        ],
    }


def _stays(trays, shelf, days):
    n = len(trays)
    return {
        "tray_id": trays,
        "place": [Place.LAMP] * n,
        "shelf_id": [shelf] * n,
        "level": [1 + tray % LEVELS for tray in trays],
        "slot": [1 + tray // LEVELS for tray in trays],
        "begin_on": days,
        "end_on": [day + timedelta(weeks=6) for day in days],
        "pinned": [False] * n,
    }
