"""The garden's settings and its frost dates."""

from collections.abc import Mapping

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from app.core.words import Side
from app.storage.models import FrostPoint, Garden


def find_garden(session: Session) -> Garden | None:
    """Return the garden, or None in a database that holds none yet."""
    return session.get(Garden, 1)


def list_frost_points(session: Session) -> dict[Side, dict[int, str]]:
    """Return the entered frost dates of each side, as chance in percent to MM-DD, the highest chance first."""
    points: dict[Side, dict[int, str]] = {side: {} for side in Side}
    query = select(FrostPoint.side, FrostPoint.chance_percent, FrostPoint.month_day)
    for side, percent, month_day in session.execute(query.order_by(FrostPoint.chance_percent.desc(), FrostPoint.id)):
        points[side][percent] = month_day
    return points


def replace_frost_points(session: Session, points: Mapping[Side, Mapping[int, str]]) -> None:
    """Put these frost dates in place of all there are; the caller has checked them."""
    session.execute(delete(FrostPoint))
    session.add_all(
        FrostPoint(side=side, chance_percent=percent, month_day=month_day)
        for side, dates in points.items()
        for percent, month_day in dates.items()
    )
    session.flush()
