"""What a garden has of what it needs before it can go by its plan."""

from typing import NamedTuple

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.core.words import FrostSource
from app.storage.models import Container, Crop, Draft, Garden, Grower, House, SeedLot, Shelf, Sowing


class Begun(NamedTuple):
    """How far a garden has been set up.

    Attributes:
        name: Name of the garden; None where there is none.
        season: Its growing year.
        frost_source: What its frost dates come from.
        shelves: Shelves. [1]
        growers: Growers. [1]
        sowings: Sowings. [1]
        drafts: Sowings of the season before that wait. [1]
        seed_lots: Seed lots. [1]
        crops: Crop cards. [1]
        containers: Containers. [1]
        is_hidden: Whether the first steps are not to be shown by themselves.
        holds_demo: Whether the garden is the invented one.
    """

    name: str | None
    season: int | None
    frost_source: FrostSource | None
    shelves: int
    growers: int
    sowings: int
    drafts: int
    seed_lots: int
    crops: int
    containers: int
    is_hidden: bool
    holds_demo: bool


def find_begun(session: Session) -> Begun:
    """Return how far the garden has been set up, in one query."""
    counts = [
        select(func.count(model.id)).scalar_subquery()
        for model in (Shelf, Grower, Sowing, Draft, SeedLot, Crop, Container)
    ]
    of_house = [
        select(column).where(House.id == 1).scalar_subquery() for column in (House.steps_hidden, House.holds_demo)
    ]
    of_garden = [
        select(column).where(Garden.id == 1).scalar_subquery()
        for column in (Garden.name, Garden.season, Garden.frost_source)
    ]
    row = session.execute(select(*of_garden, *counts, *of_house)).one()
    return Begun(*row)._replace(is_hidden=bool(row[-2]), holds_demo=bool(row[-1]))
