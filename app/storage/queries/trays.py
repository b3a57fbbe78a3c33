"""Dealt trays as pages and sheets show them: what is in their cells, and where they stand."""

from collections.abc import Collection, Iterable
from datetime import date, timedelta
from itertools import chain, groupby, repeat
from typing import Any, NamedTuple

from sqlalchemy import Select, and_, case, delete, func, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from app.core.space.grid import Grid, grid_of
from app.core.words import CellState, Place
from app.storage.errors import ClashError, NotFoundError
from app.storage.models import Cell, Container, Crop, Grower, Shelf, Sowing, Stay, Tray
from app.storage.queries.crops import crop_order
from app.storage.queries.rows import LARGEST_ID, get_row


class TrayRow(NamedTuple):
    """A tray without its cells. `sow_on` is the day it is filled: sown, or for pots potted into."""

    id: int
    number: int
    container_id: int
    container: str
    cells: int
    rows: int | None
    columns: int | None
    sow_on: date
    potted_on: bool
    pinned: bool

    @property
    def grid(self) -> Grid:
        """Its rows and columns of cells."""
        return grid_of(self.cells, self.rows, self.columns)


class CellRow(NamedTuple):
    """A cell that belongs to a sowing."""

    tray_id: int
    row: int
    column: int
    state: CellState
    sowing_id: int
    sowing: str
    grower_id: int
    grower: str
    crop_id: int
    crop: str
    variety: str | None


class StayRow(NamedTuple):
    """A tray's stretch in a place, up to the day it leaves; without a shelf it waits for a position."""

    id: int
    tray_id: int
    tray: int
    place: Place
    shelf_id: int | None
    shelf: str | None
    level: int | None
    slot: int | None
    begin_on: date
    end_on: date
    pinned: bool


TRAYS: Select[*tuple[Any, ...]] = select(
    Tray.id,
    Tray.number,
    Tray.container_id,
    Container.name,
    Container.cells_per_tray,
    Container.rows,
    Container.columns,
    Tray.sow_on,
    Tray.potted_on,
    Tray.pinned,
).join(Container, Tray.container_id == Container.id)
CELLS: Select[*tuple[Any, ...]] = (
    select(
        Cell.tray_id,
        Cell.row_number,
        Cell.column_number,
        Cell.state,
        Sowing.id,
        Sowing.name,
        Grower.id,
        Grower.name,
        Crop.id,
        Crop.name,
        Sowing.variety,
    )
    .join(Sowing, Cell.sowing_id == Sowing.id)
    .join(Grower, Sowing.grower_id == Grower.id)
    .join(Crop, Sowing.crop_id == Crop.id)
    .order_by(Cell.tray_id, Cell.row_number, Cell.column_number)
)
STAYS: Select[*tuple[Any, ...]] = (
    select(
        Stay.id,
        Stay.tray_id,
        Tray.number,
        Stay.place,
        Stay.shelf_id,
        Shelf.name,
        Stay.level,
        Stay.slot,
        Stay.begin_on,
        Stay.end_on,
        Stay.pinned,
    )
    .join(Tray, Stay.tray_id == Tray.id)
    .outerjoin(Shelf, Stay.shelf_id == Shelf.id)
    .order_by(Stay.begin_on, Tray.number, Stay.id)
)


def find_tray(session: Session, number: int) -> TrayRow | None:
    """Return the tray of this number, or None."""
    if not 0 < number <= LARGEST_ID:
        return None
    row = session.execute(TRAYS.where(Tray.number == number)).one_or_none()
    return None if row is None else TrayRow(*row)


def get_tray(session: Session, number: int) -> TrayRow:
    """Return the tray of this number, or raise NotFoundError."""
    row = find_tray(session, number)
    if row is None:
        raise NotFoundError("tray", number)
    return row


def list_trays(session: Session, numbers: Iterable[int] | None = None) -> list[TrayRow]:
    """Return the trays of these numbers, or all, by number."""
    query = TRAYS.order_by(Tray.number)
    if numbers is not None:
        query = query.where(Tray.number.in_(list(numbers)))
    return [TrayRow(*row) for row in session.execute(query)]


class TrayToLog(NamedTuple):
    """A tray as the bench tablet shows it.

    Attributes:
        number: Its number.
        sow_on: The day it is filled.
        potted_on: It holds pots that are potted on.
        is_filled: Nothing in it waits to be filled any more.
        crops: What is in it, by name.
    """

    number: int
    sow_on: date
    potted_on: bool
    is_filled: bool
    crops: tuple[str, ...]


def list_trays_to_log(session: Session, grower_id: int | None, today: date, *, days_around: int) -> list[TrayToLog]:
    """Return the trays that are filled around a day, those that wait first.

    Args:
        session: Where to look.
        grower_id: Who has cells in them; None for anybody.
        today: The day.
        days_around: So many days before and after it.
    """
    around = timedelta(days=days_around)
    query = (
        select(Tray.number, Tray.sow_on, Tray.potted_on, Crop.name, func.max(case((Cell.state == "empty", 1), else_=0)))
        .join(Cell, Cell.tray_id == Tray.id)
        .join(Sowing, Sowing.id == Cell.sowing_id)
        .join(Crop, Crop.id == Sowing.crop_id)
        .where(Tray.sow_on.between(today - around, today + around))
        .group_by(Tray.number, Tray.sow_on, Tray.potted_on, Crop.name)
        .order_by(Tray.number, crop_order(session))
    )
    if grower_id is not None:
        query = query.where(Sowing.grower_id == grower_id)
    found = []
    for (number, sow_on, potted_on), rows in groupby(session.execute(query), key=lambda row: tuple(row[:3])):
        crops, waits = zip(*((crop, is_empty) for *_, crop, is_empty in rows), strict=True)
        found.append(TrayToLog(number, sow_on, potted_on, not any(waits), crops))
    return sorted(found, key=lambda tray: (tray.is_filled, tray.sow_on, tray.number))


def list_trays_filled(session: Session, first: date, last: date) -> list[TrayRow]:
    """Return the trays that are sown or filled with pots on the days from `first` to `last`, by number."""
    query = TRAYS.where(Tray.sow_on.between(first, last)).order_by(Tray.number)
    return [TrayRow(*row) for row in session.execute(query)]


def list_cells(session: Session, tray_ids: Iterable[int]) -> list[CellRow]:
    """Return the cells of these trays that belong to a sowing, by tray, row and column."""
    return [CellRow(*row) for row in session.execute(CELLS.where(Cell.tray_id.in_(list(tray_ids))))]


def list_cells_of_grower(session: Session, grower_id: int) -> list[CellRow]:
    """Return the cells of all sowings of a grower, by tray, row and column."""
    return [CellRow(*row) for row in session.execute(CELLS.where(Sowing.grower_id == grower_id))]


def list_stays(session: Session, tray_ids: Iterable[int]) -> list[StayRow]:
    """Return where these trays stand, by day and tray."""
    return [StayRow(*row) for row in session.execute(STAYS.where(Stay.tray_id.in_(list(tray_ids))))]


def list_stays_between(
    session: Session, first: date, end: date, *, place: Place | None = None, shelf_id: int | None = None
) -> list[StayRow]:
    """Return the stays that share a day with [first, end), of all trays or in one place or on one shelf."""
    query = STAYS.where(and_(Stay.begin_on < end, Stay.end_on > first))
    if place is not None:
        query = query.where(Stay.place == place)
    if shelf_id is not None:
        query = query.where(Stay.shelf_id == shelf_id)
    return [StayRow(*row) for row in session.execute(query)]


def get_tray_model(session: Session, number: int) -> Tray:
    """Return the tray of this number to be changed, or raise NotFoundError."""
    tray = session.scalar(select(Tray).where(Tray.number == number)) if 0 < number <= LARGEST_ID else None
    if tray is None:
        raise NotFoundError("tray", number)
    return tray


def get_stay(session: Session, stay_id: int) -> Stay:
    """Return a stay, or raise NotFoundError."""
    return get_row(session, Stay, stay_id, "stay")


def get_cells(session: Session, tray_id: int) -> list[Cell]:
    """Return all cells of a tray to be changed, free ones too, by row and column."""
    query = select(Cell).where(Cell.tray_id == tray_id).order_by(Cell.row_number, Cell.column_number)
    return list(session.scalars(query))


def list_cells_of_sowing(session: Session, sowing_id: int) -> list[tuple[Cell, Tray]]:
    """Return the cells of a sowing to be changed, with their trays, by tray, row and column."""
    query = (
        select(Cell, Tray)
        .join(Tray, Tray.id == Cell.tray_id)
        .where(Cell.sowing_id == sowing_id)
        .order_by(Tray.number, Cell.row_number, Cell.column_number)
    )
    return [(cell, tray) for cell, tray in session.execute(query)]


def add_free_cells(session: Session, tray_id: int, cells: Iterable[tuple[int, int]]) -> None:
    """Add free cells to a tray that has none, given by row and column."""
    session.add_all(
        Cell(tray_id=tray_id, row_number=row, column_number=column, sowing_id=None, state=CellState.EMPTY)
        for row, column in cells
    )
    session.flush()


def refit_trays(session: Session, container_id: int, cells: list[tuple[int, int]]) -> None:
    """Give the trays of a container, none of them sown, other cells; what no longer fits is left to the next deal.

    Args:
        session: Where the trays are.
        container_id: The container.
        cells: Rows and columns of all cells, in the order in which they are taken.
    """
    of_container = select(Tray.id).where(Tray.container_id == container_id)
    kept = (
        select(Cell.tray_id, Cell.sowing_id)
        .where(Cell.tray_id.in_(of_container), Cell.sowing_id.is_not(None))
        .order_by(Cell.tray_id, Cell.sowing_id)
    )
    owners: dict[int, list[int | None]] = {tray_id: [] for tray_id in session.scalars(of_container)}
    for tray_id, sowing_id in session.execute(kept):
        owners[tray_id].append(sowing_id)
    session.execute(
        delete(Cell).where(Cell.tray_id.in_(of_container)), execution_options={"synchronize_session": False}
    )
    session.expire_all()
    session.add_all(
        Cell(tray_id=tray_id, row_number=row, column_number=column, sowing_id=owner, state=CellState.EMPTY)
        for tray_id, sowings in owners.items()
        for (row, column), owner in zip(cells, chain(sowings, repeat(None)), strict=False)
    )
    session.flush()


def list_stays_in_way(
    session: Session, position: tuple[int, int, int], begin: date, end: date, *, but: int
) -> list[Stay]:
    """Return the stays that share a day of [begin, end) on a position, by day, all but one.

    Args:
        session: Where to look.
        position: Id of the shelf, level and slot.
        begin: First day.
        end: The day after the last.
        but: Id of the stay that does not count.
    """
    at = zip((Stay.shelf_id, Stay.level, Stay.slot), position, strict=True)
    days = (Stay.begin_on < end, Stay.end_on > begin, Stay.id != but)
    return list(
        session.scalars(select(Stay).where(*(column == value for column, value in at), *days).order_by(Stay.begin_on))
    )


def list_stay_rows(session: Session, stay_ids: Iterable[int]) -> list[StayRow]:
    """Return these stays as pages show them, by day and tray."""
    return [StayRow(*row) for row in session.execute(STAYS.where(Stay.id.in_(list(stay_ids))))]


def list_tray_ids_standing(
    session: Session, first: date, end: date | None, *, place: Place | None = None, is_waiting: bool = False
) -> list[int]:
    """Return the ids of the trays that stand somewhere on a day of [first, end), or wait there for a position.

    Args:
        session: Where to look.
        first: First day.
        end: The day after the last; None for all days to come.
        place: Only trays that stand in this place.
        is_waiting: Only trays without a position.
    """
    query = select(Stay.tray_id).where(Stay.end_on > first).distinct().order_by(Stay.tray_id)
    if end is not None:
        query = query.where(Stay.begin_on < end)
    if place is not None:
        query = query.where(Stay.place == place)
    if is_waiting:
        query = query.where(Stay.shelf_id.is_(None))
    return list(session.scalars(query))


def add_tray(session: Session, tray: Tray) -> None:
    """Add a tray.

    Raises:
        ClashError: A tray has its number.
    """
    try:
        with session.begin_nested():
            session.add(tray)
            session.flush()
    except IntegrityError as error:
        raise ClashError from error


def set_number(session: Session, tray: Tray, number: int) -> None:
    """Give a tray another number.

    Raises:
        ClashError: Another tray has it.
    """
    try:
        with session.begin_nested():
            tray.number = number
            session.flush()
    except IntegrityError as error:
        raise ClashError from error


def replace_stays(session: Session, tray_ids: Collection[int], stays: Iterable[Stay]) -> None:
    """Let trays stand where the given stays say, and nowhere else."""
    session.execute(delete(Stay).where(Stay.tray_id.in_(tray_ids)))
    session.add_all(stays)
    session.flush()


def set_position(session: Session, stay: Stay, position: tuple[int, int, int], begin: date) -> None:
    """Put a tray on a position from a day on, and pin it there.

    Args:
        session: Its transaction takes it; what was changed in it before holds, whatever becomes of this.
        stay: The stay that gets the position.
        position: Id of the shelf, level and slot.
        begin: First day of the stay.

    Raises:
        ClashError: Another tray stands there on some of the days.
    """
    try:
        with session.begin_nested():
            stay.shelf_id, stay.level, stay.slot = position
            stay.begin_on, stay.pinned = begin, True
            session.flush()
    except IntegrityError as error:
        raise ClashError from error


def leave_where_empty(session: Session, tray_ids: Iterable[int]) -> None:
    """Let those of some trays that hold no sowing any more stand nowhere."""
    has_sowing = select(Cell.tray_id).where(Cell.tray_id == Stay.tray_id, Cell.sowing_id.is_not(None)).exists()
    session.execute(delete(Stay).where(Stay.tray_id.in_(list(tray_ids)), ~has_sowing))


def free_cells_of_sowing(session: Session, sowing_id: int) -> None:
    """Free the cells that are kept for a sowing; trays that are then empty stand nowhere."""
    trays = list(session.scalars(select(Cell.tray_id).where(Cell.sowing_id == sowing_id).distinct()))
    session.execute(update(Cell).where(Cell.sowing_id == sowing_id).values(sowing_id=None, state=CellState.EMPTY))
    leave_where_empty(session, trays)


def take_off_shelf(session: Session, shelf_id: int) -> None:
    """Leave all stays on a shelf without a position."""
    nowhere = {"shelf_id": None, "level": None, "slot": None, "pinned": False}
    session.execute(update(Stay).where(Stay.shelf_id == shelf_id).values(**nowhere))
