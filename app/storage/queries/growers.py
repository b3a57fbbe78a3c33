"""Growers."""

from collections.abc import Collection
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from app.storage.models import Grower, Sowing
from app.storage.queries.rows import PAGE_ROWS, Choice, get_row, list_choices, ordered


class GrowerRow(NamedTuple):
    """A grower as the list shows them."""

    id: int
    name: str
    plot: str | None
    days: str | None
    sowings: int
    plants: int


def get_grower(session: Session, grower_id: int) -> Grower:
    """Return a grower, or raise NotFoundError."""
    return get_row(session, Grower, grower_id, "grower")


def count_growers(session: Session) -> int:
    """Return how many growers there are."""
    return session.scalar(select(func.count(Grower.id))) or 0


def list_growers(
    session: Session, *, ids: Collection[int] | None = None, sort: str = "name", down: bool = False, page: int = 1
) -> list[GrowerRow]:
    """Return a page of growers with the number of their sowings and plants.

    Args:
        session: Where to look.
        ids: These alone; all growers if None.
        sort: `name`, `plot`, `sowings` or `plants`.
        down: The last or largest first; those without a plot come last in any case.
        page: Which page, from 1.
    """
    sowings = func.count(Sowing.id)
    plants = func.coalesce(func.sum(Sowing.plants), 0)
    # Plots are mostly numbers with a letter or two: the shorter one comes first, 9 before 10.
    orders: dict[str, tuple[ColumnElement[Any], ...]] = {
        "name": (Grower.name.expression,),
        "plot": (func.length(Grower.plot), Grower.plot.expression),
        "sowings": (sowings,),
        "plants": (plants,),
    }
    query = (
        select(Grower.id, Grower.name, Grower.plot, Grower.days, sowings, plants)
        .outerjoin(Sowing, Sowing.grower_id == Grower.id)
        .group_by(Grower.id)
        .order_by(*(ordered(column, down=down) for column in orders[sort]), Grower.name, Grower.id)
        .limit(PAGE_ROWS)
        .offset((page - 1) * PAGE_ROWS)
    )
    if ids is not None:
        query = query.where(Grower.id.in_(ids))
    return [GrowerRow(*row) for row in session.execute(query)]


def list_grower_choices(session: Session) -> list[Choice]:
    """Return every grower by name, to choose from."""
    return list_choices(session, Grower.name)
