"""Growers."""

from typing import NamedTuple

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from app.storage.models import Grower, Sowing
from app.storage.queries.rows import PAGE_ROWS, Choice, get_row, list_choices


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


def count_growers(session: Session, search: str = "") -> int:
    """Return how many growers a search finds."""
    return session.scalar(select(func.count(Grower.id)).where(*_found(search))) or 0


def list_growers(session: Session, *, search: str = "", sort: str = "name", page: int = 1) -> list[GrowerRow]:
    """Return a page of growers with the number of their sowings and plants.

    Args:
        session: Where to look.
        search: Letters in the name or the plot; all growers if empty.
        sort: `name`, `plot`, `sowings` or `plants`; the last two have the largest first.
        page: Which page, from 1.
    """
    sowings = func.count(Sowing.id)
    plants = func.coalesce(func.sum(Sowing.plants), 0)
    # Plots are mostly numbers with a letter or two: the shorter one comes first, 9 before 10.
    orders = {
        "plot": (Grower.plot.is_(None), func.length(Grower.plot), Grower.plot),
        "sowings": (sowings.desc(), Grower.name),
        "plants": (plants.desc(), Grower.name),
    }
    query = (
        select(Grower.id, Grower.name, Grower.plot, Grower.days, sowings, plants)
        .outerjoin(Sowing, Sowing.grower_id == Grower.id)
        .where(*_found(search))
        .group_by(Grower.id)
        .order_by(*orders.get(sort, (Grower.name,)), Grower.id)
        .limit(PAGE_ROWS)
        .offset((page - 1) * PAGE_ROWS)
    )
    return [GrowerRow(*row) for row in session.execute(query)]


def _found(search: str) -> tuple[ColumnElement[bool], ...]:
    if not search:
        return ()
    return (Grower.name.icontains(search, autoescape=True) | Grower.plot.icontains(search, autoescape=True),)


def list_grower_choices(session: Session) -> list[Choice]:
    """Return every grower by name, to choose from."""
    return list_choices(session, Grower.name)
