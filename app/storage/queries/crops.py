"""Crop cards."""

from collections.abc import Iterable
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, case, func, select
from sqlalchemy.orm import Session, joinedload

from app.core.folded import fold
from app.core.words import Hardiness, Light
from app.language import ENGLISH, language
from app.storage.models import Container, Crop, Sowing
from app.storage.published import names_in
from app.storage.queries.rows import Choice, get_row, list_choices


class CropRow(NamedTuple):
    """A crop card as the list shows it."""

    id: int
    name: str
    botanical: str | None
    hardiness: Hardiness
    indoor_weeks_min: float | None
    indoor_weeks_max: float | None
    container: str | None
    light: Light | None
    heat: bool
    sowings: int


CARD_COLUMNS = frozenset(column.name.removesuffix("_id") for column in Crop.__table__.columns) - {"", "source"}


def get_crop(session: Session, crop_id: int) -> Crop:
    """Return a crop card with its containers, or raise NotFoundError."""
    get_row(session, Crop, crop_id, "crop card")
    query = select(Crop).where(Crop.id == crop_id)
    return session.scalars(query.options(joinedload(Crop.start_container), joinedload(Crop.pot_on_container))).one()


def list_crops(session: Session) -> list[CropRow]:
    """Return every crop card by name, with the number of its sowings."""
    query = (
        select(
            Crop.id,
            Crop.name,
            Crop.botanical,
            Crop.hardiness,
            Crop.indoor_weeks_min,
            Crop.indoor_weeks_max,
            Container.name,
            Crop.light,
            Crop.heat,
            func.count(Sowing.id),
        )
        .outerjoin(Container, Container.id == Crop.start_container_id)
        .outerjoin(Sowing, Sowing.crop_id == Crop.id)
        .group_by(Crop.id, Container.id)
        .order_by(crop_order(session), Crop.id)
    )
    return [CropRow._make(row) for row in session.execute(query)]


def crop_order(session: Session, names: Iterable[str] | None = None) -> ColumnElement[Any]:
    """Return by what rows are ordered that come by the name of their crop: by the name as it is said to the reader.

    A database knows the names that are kept, which are English where they came with the program. In another language
    each gets its place here, accents and capitals aside.

    Args:
        session: Where to ask for the names.
        names: The names of all crops, where they are known already.
    """
    if language() == ENGLISH:
        return Crop.name.expression
    said = names_in(language())
    kept = session.scalars(select(Crop.name)) if names is None else names
    found = sorted(kept, key=lambda name: fold(said.get(name, name)))
    return case({name: place for place, name in enumerate(found)}, value=Crop.name) if found else Crop.name.expression


def list_crop_choices(session: Session) -> list[Choice]:
    """Return every crop card by name, to choose from."""
    return list_choices(session, Crop.name)
