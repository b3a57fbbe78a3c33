"""The end of a season in the database: which tables belong to one season, and emptying them."""

from typing import Any

from sqlalchemy import Table, delete, func, select
from sqlalchemy.orm import Session

from app.storage.base import Base, table_of
from app.storage.models import (
    CareRound,
    Cell,
    Draft,
    Levelling,
    LevellingChange,
    LogEntry,
    Sowing,
    SpareGift,
    SpareOffer,
    SpareRequest,
    Stay,
    Ticked,
    Tray,
)
from app.storage.numbers import note_numbers

# What belongs to one season. All other tables hold what a garden has from year to year.
OF_THE_SEASON = frozenset(
    table_of(model)
    for model in (
        *(LogEntry, Ticked, CareRound, SpareOffer, SpareRequest, SpareGift),
        *(Cell, Stay, Tray, Levelling, LevellingChange, Sowing, Draft),
    )
)


def _in_order() -> list[Table]:
    return [table for table in reversed(Base.metadata.sorted_tables) if table in OF_THE_SEASON]


def count_of_season(session: Session) -> dict[str, int]:
    """Return the number of rows of each table that belongs to one season, by its name."""
    counts = [select(func.count()).select_from(table).scalar_subquery().label(table.name) for table in _in_order()]
    row = session.connection().execute(select(*counts)).mappings().one()
    return {str(name): int(count) for name, count in row.items()}


def list_wishes(session: Session) -> list[dict[str, Any]]:
    """Return of every sowing its id and what its grower wished for, by id."""
    query = select(
        Sowing.id,
        Sowing.grower_id,
        Sowing.crop_id,
        Sowing.seed_lot_id,
        Sowing.plants,
        Sowing.variety,
        Sowing.days_to_maturity,
        Sowing.priority,
        Sowing.brings_seed,
    ).order_by(Sowing.id)
    return [dict(row) for row in session.execute(query).mappings()]


def clear_season(session: Session) -> None:
    """Delete everything that belongs to one season; numbers on paper count on, and the session forgets its rows."""
    session.flush()
    session.expire_all()
    note_numbers(session)
    for table in _in_order():
        session.execute(delete(table))
