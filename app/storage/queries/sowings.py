"""Sowings."""

from collections.abc import Collection, Iterable
from datetime import date
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from app.core.words import NumberKind
from app.storage.models import Crop, Grower, Sowing
from app.storage.numbers import KEY_LETTER, last_number
from app.storage.queries.crops import crop_order
from app.storage.queries.rows import get_row, ordered


class SowingRow(NamedTuple):
    """A sowing as the list shows it."""

    id: int
    name: str
    grower_id: int
    grower: str
    crop_id: int
    crop: str
    variety: str | None
    plants: int
    placed: int | None
    plant_out: date | None
    sow_on: date | None
    brings_seed: bool


def get_sowing(session: Session, sowing_id: int) -> Sowing:
    """Return a sowing, or raise NotFoundError."""
    return get_row(session, Sowing, sowing_id, "sowing")


def count_sowings(session: Session, *, grower_id: int | None = None, crop_id: int | None = None) -> tuple[int, int]:
    """Return how many sowings, and plants, there are of a grower and a crop, or of all."""
    query = select(func.count(Sowing.id), func.coalesce(func.sum(Sowing.plants), 0))
    sowings, plants = session.execute(query.where(*_chosen(grower_id, crop_id))).one()
    return sowings, plants


def list_sowing_ids(
    session: Session,
    *,
    grower_id: int | None = None,
    crop_id: int | None = None,
    sort: str = "grower",
    down: bool = False,
    crops: Iterable[str] | None = None,
) -> list[int]:
    """Return the ids of the sowings of a grower and a crop, or of all.

    Args:
        session: Where to look.
        grower_id: Of this grower alone.
        crop_id: Of this crop alone.
        sort: `grower`, `crop`, `key` or `plants`; those that are the same in it come by grower and crop.
        down: The last or largest first.
        crops: The names of all crops, where they are known already.
    """
    by_crop = crop_order(session, crops)
    orders: dict[str, tuple[ColumnElement[Any], ...]] = {
        "grower": (Grower.name.expression,),
        "crop": (by_crop, Sowing.variety.expression),
        "key": (Sowing.name.expression,),
        "plants": (Sowing.plants.expression,),
    }
    query = (
        select(Sowing.id)
        .join(Sowing.grower)
        .join(Sowing.crop)
        .where(*_chosen(grower_id, crop_id))
        .order_by(*(ordered(column, down=down) for column in orders[sort]), Grower.name, by_crop, Sowing.id)
    )
    return list(session.scalars(query))


def list_sowings(session: Session, ids: Collection[int]) -> list[SowingRow]:
    """Return these sowings, in the order of their ids as given."""
    query = (
        select(
            Sowing.id,
            Sowing.name,
            Grower.id,
            Grower.name,
            Crop.id,
            Crop.name,
            Sowing.variety,
            Sowing.plants,
            Sowing.placed,
            Sowing.plant_out,
            Sowing.sow_on,
            Sowing.brings_seed,
        )
        .join(Sowing.grower)
        .join(Sowing.crop)
        .where(Sowing.id.in_(ids))
    )
    found = {row[0]: SowingRow._make(row) for row in session.execute(query)}
    return [found[one] for one in ids if one in found]


def list_all_sowings_of(session: Session, grower_id: int) -> list[dict[str, Any]]:
    """Return every column of each sowing of a grower, with the crop's name, as it is handed out to them."""
    query = select(Sowing, Crop.name).join(Sowing.crop).where(Sowing.grower_id == grower_id).order_by(Sowing.id)
    names = (
        "variety",
        "plants",
        "placed",
        "plant_out",
        "sow_on",
        "risk",
        "priority",
        "days_to_maturity",
        "light",
        "brings_seed",
    )
    return [
        {"key": sowing.name, "crop": crop, **{name: getattr(sowing, name) for name in names}}
        for sowing, crop in session.execute(query)
    ]


def next_key(session: Session) -> str:
    """Return the key of the next sowing, one above the highest number that was ever given: S-0042."""
    return f"{KEY_LETTER}-{last_number(session, NumberKind.SOWING) + 1:04d}"


def _chosen(grower_id: int | None, crop_id: int | None) -> tuple[ColumnElement[bool], ...]:
    pairs = ((Sowing.grower_id, grower_id), (Sowing.crop_id, crop_id))
    return tuple(column == wanted for column, wanted in pairs if wanted is not None)
