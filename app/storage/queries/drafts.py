"""Sowings of the season before that wait to be kept or left out."""

from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from app.storage.models import Crop, Draft, Grower, SeedLot
from app.storage.queries.crops import crop_order
from app.storage.queries.rows import PAGE_ROWS, get_row


class DraftRow(NamedTuple):
    """A draft as the list shows it."""

    id: int
    grower_id: int
    grower: str
    crop: str
    variety: str | None
    seed_lot: str | None
    plants: int
    got: int | None
    brings_seed: bool


def get_draft(session: Session, draft_id: int) -> Draft:
    """Return a draft, or raise NotFoundError."""
    return get_row(session, Draft, draft_id, "sowing of last season")


def count_drafts(session: Session, *, grower_id: int | None = None) -> int:
    """Return how many drafts there are, of a grower or of all."""
    return session.scalar(select(func.count(Draft.id)).where(*_of(grower_id))) or 0


def list_drafts(session: Session, *, grower_id: int | None = None, page: int = 1) -> list[DraftRow]:
    """Return a page of the drafts of a grower, or of all, by grower and crop."""
    query = (
        select(
            Draft.id,
            Grower.id,
            Grower.name,
            Crop.name,
            Draft.variety,
            SeedLot.name,
            Draft.plants,
            Draft.got,
            Draft.brings_seed,
        )
        .join(Grower, Grower.id == Draft.grower_id)
        .join(Crop, Crop.id == Draft.crop_id)
        .outerjoin(SeedLot, SeedLot.id == Draft.seed_lot_id)
        .where(*_of(grower_id))
        .order_by(Grower.name, crop_order(session), Draft.id)
        .limit(PAGE_ROWS)
        .offset((page - 1) * PAGE_ROWS)
    )
    return [DraftRow._make(row) for row in session.execute(query)]


def list_draft_ids(session: Session, grower_id: int) -> list[int]:
    """Return the ids of all drafts of a grower."""
    return list(session.scalars(select(Draft.id).where(Draft.grower_id == grower_id).order_by(Draft.id)))


def list_all_drafts_of(session: Session, grower_id: int) -> list[dict[str, Any]]:
    """Return the drafts of a grower, as they are handed out to them."""
    query = (
        select(Crop.name, Draft.variety, Draft.plants, Draft.got, Draft.brings_seed)
        .join(Crop, Crop.id == Draft.crop_id)
        .where(Draft.grower_id == grower_id)
        .order_by(Draft.id)
    )
    names = ("crop", "variety", "plants", "got", "brings_seed")
    return [dict(zip(names, row, strict=True)) for row in session.execute(query)]


def _of(grower_id: int | None) -> tuple[ColumnElement[bool], ...]:
    return () if grower_id is None else (Draft.grower_id == grower_id,)
