"""The garden's settings and its frost dates."""

from sqlalchemy import select
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
