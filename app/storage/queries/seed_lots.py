"""Seed lots."""

from datetime import date
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from app.core.words import Origin
from app.storage.models import Crop, SeedLot, SeedTest, Sowing
from app.storage.queries.crops import crop_order
from app.storage.queries.rows import PAGE_ROWS, get_row, ordered


class SeedLotRow(NamedTuple):
    """A seed lot as the list shows it."""

    id: int
    name: str
    crop_id: int
    crop: str
    botanical: str | None
    variety: str | None
    germination: float | None
    origin: Origin | None
    year: int | None
    sowings: int
    storage_years: float | None


class SeedTestRow(NamedTuple):
    """A test of seed, or cells of a season before, as the lot's page shows it."""

    id: int
    date: date
    tried: int
    seeds_per_cell: float
    up: int
    days: int | None


class SeedLotChoice(NamedTuple):
    """A seed lot as a sowing chooses it."""

    id: int
    name: str
    crop_id: int
    crop: str
    variety: str | None


def get_seed_lot(session: Session, seed_lot_id: int) -> SeedLot:
    """Return a seed lot, or raise NotFoundError."""
    return get_row(session, SeedLot, seed_lot_id, "seed lot")


def count_seed_lots(session: Session, *, crop_id: int | None = None) -> int:
    """Return how many seed lots there are, of a crop if one is given."""
    query = select(func.count(SeedLot.id))
    return session.scalar(query if crop_id is None else query.where(SeedLot.crop_id == crop_id)) or 0


def list_seed_lots(
    session: Session, *, crop_id: int | None = None, sort: str = "crop", down: bool = False, page: int = 1
) -> list[SeedLotRow]:
    """Return a page of seed lots with the number of sowings that take them.

    Args:
        session: Where to look.
        crop_id: Of this crop alone.
        sort: `crop`, `name`, `stated`, `year` or `sowings`; those that are the same in it come by crop and name.
        down: The last, largest or latest first; those without a value come last in any case.
        page: Which page, from 1.
    """
    sowings, by_crop = func.count(Sowing.id), crop_order(session)
    orders: dict[str, ColumnElement[Any]] = {
        "crop": by_crop,
        "name": SeedLot.name.expression,
        "stated": SeedLot.germination.expression,
        "year": SeedLot.year.expression,
        "sowings": sowings,
    }
    query = (
        select(
            SeedLot.id,
            SeedLot.name,
            Crop.id,
            Crop.name,
            Crop.botanical,
            SeedLot.variety,
            SeedLot.germination,
            SeedLot.origin,
            SeedLot.year,
            sowings,
            Crop.seed_storage_years,
        )
        .join(SeedLot.crop)
        .outerjoin(Sowing, Sowing.seed_lot_id == SeedLot.id)
        .group_by(SeedLot.id, Crop.id)
        .order_by(ordered(orders[sort], down=down), by_crop, SeedLot.name, SeedLot.id)
        .limit(PAGE_ROWS)
        .offset((page - 1) * PAGE_ROWS)
    )
    if crop_id is not None:
        query = query.where(SeedLot.crop_id == crop_id)
    return [SeedLotRow._make(row) for row in session.execute(query)]


def list_seed_lot_choices(session: Session) -> list[SeedLotChoice]:
    """Return every seed lot by crop and name, to choose from."""
    query = (
        select(SeedLot.id, SeedLot.name, SeedLot.crop_id, Crop.name, SeedLot.variety)
        .join(SeedLot.crop)
        .order_by(crop_order(session), SeedLot.name, SeedLot.id)
    )
    return [SeedLotChoice(*row) for row in session.execute(query)]


def get_seed_test(session: Session, seed_test_id: int) -> SeedTest:
    """Return a test of seed, or raise NotFoundError."""
    return get_row(session, SeedTest, seed_test_id, "test of seed")


def list_seed_tests(session: Session, seed_lot_id: int) -> list[SeedTestRow]:
    """Return the tests of a seed lot, those begun last first."""
    query = select(
        SeedTest.id, SeedTest.date, SeedTest.tried, SeedTest.seeds_per_cell, SeedTest.up, SeedTest.days
    ).where(SeedTest.seed_lot_id == seed_lot_id)
    rows = session.execute(query.order_by(SeedTest.date.desc(), SeedTest.id.desc()))
    return [SeedTestRow._make(row) for row in rows]
