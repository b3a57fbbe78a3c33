"""Spare plants: offered, asked for, and given."""

from datetime import date
from typing import Any, NamedTuple

from sqlalchemy import ScalarSelect, func, select, update
from sqlalchemy.orm import Session, aliased

from app.storage.models import Crop, Grower, Sowing, SpareGift, SpareOffer, SpareRequest
from app.storage.queries.rows import get_row

MOST_GIFTS = 200  # that are shown; the history has them all


class OfferRow(NamedTuple):
    """Plants that are offered, with how many of them were given."""

    id: int
    sowing_id: int
    sowing: str
    grower_id: int
    grower: str
    crop_id: int
    crop: str
    variety: str | None
    plants: int
    given: int
    date: date
    note: str | None

    @property
    def left(self) -> int:
        """Plants that are still offered. [1]"""
        return max(0, self.plants - self.given)


class RequestRow(NamedTuple):
    """Plants that are asked for, with how many of them were given."""

    id: int
    grower_id: int
    grower: str
    crop_id: int
    crop: str
    plants: int
    given: int
    date: date
    note: str | None

    @property
    def left(self) -> int:
        """Plants that are still asked for. [1]"""
        return max(0, self.plants - self.given)


class GiftRow(NamedTuple):
    """Plants that went from one grower to another."""

    id: int
    date: date
    plants: int
    crop: str
    variety: str | None
    sowing_id: int
    giver_id: int
    giver: str
    taker_id: int | None
    taker: str | None


def get_offer(session: Session, offer_id: int) -> SpareOffer:
    """Return an offer, or raise NotFoundError."""
    return get_row(session, SpareOffer, offer_id, "offer of spare plants")


def get_request(session: Session, request_id: int) -> SpareRequest:
    """Return a request, or raise NotFoundError."""
    return get_row(session, SpareRequest, request_id, "request for spare plants")


def get_gift(session: Session, gift_id: int) -> SpareGift:
    """Return a gift, or raise NotFoundError."""
    return get_row(session, SpareGift, gift_id, "gift of spare plants")


def list_offers(session: Session) -> list[OfferRow]:
    """Return all offers, those that were given out too, by crop and day."""
    query = (
        select(
            SpareOffer.id,
            Sowing.id,
            Sowing.name,
            Grower.id,
            Grower.name,
            Crop.id,
            Crop.name,
            Sowing.variety,
            SpareOffer.plants,
            _given(offer=True),
            SpareOffer.date,
            SpareOffer.note,
        )
        .join(Sowing, Sowing.id == SpareOffer.sowing_id)
        .join(Grower, Grower.id == Sowing.grower_id)
        .join(Crop, Crop.id == Sowing.crop_id)
        .order_by(Crop.name, SpareOffer.date, SpareOffer.id)
    )
    return [OfferRow._make(row) for row in session.execute(query)]


def list_requests(session: Session) -> list[RequestRow]:
    """Return all requests, those that were met too, by crop and day."""
    query = (
        select(
            SpareRequest.id,
            Grower.id,
            Grower.name,
            Crop.id,
            Crop.name,
            SpareRequest.plants,
            _given(offer=False),
            SpareRequest.date,
            SpareRequest.note,
        )
        .join(Grower, Grower.id == SpareRequest.grower_id)
        .join(Crop, Crop.id == SpareRequest.crop_id)
        .order_by(Crop.name, SpareRequest.date, SpareRequest.id)
    )
    return [RequestRow._make(row) for row in session.execute(query)]


def list_gifts(session: Session) -> list[GiftRow]:
    """Return all gifts, the latest first."""
    giver, taker = aliased(Grower), aliased(Grower)
    query = (
        select(
            SpareGift.id,
            SpareGift.date,
            SpareGift.plants,
            Crop.name,
            Sowing.variety,
            Sowing.id,
            giver.id,
            giver.name,
            taker.id,
            taker.name,
        )
        .join(SpareOffer, SpareOffer.id == SpareGift.offer_id)
        .join(Sowing, Sowing.id == SpareOffer.sowing_id)
        .join(giver, giver.id == Sowing.grower_id)
        .join(Crop, Crop.id == Sowing.crop_id)
        .outerjoin(taker, taker.id == SpareGift.grower_id)
        .order_by(SpareGift.date.desc(), SpareGift.id.desc())
    )
    return [GiftRow._make(row) for row in session.execute(query)]


def sum_of_gifts(session: Session, *, offer_id: int) -> int:
    """Return how many plants of an offer were given."""
    query = select(func.coalesce(func.sum(SpareGift.plants), 0)).where(SpareGift.offer_id == offer_id)
    return session.scalar(query) or 0


def sum_of_offers(session: Session, sowing_id: int) -> int:
    """Return how many plants of a sowing are offered and were not given yet."""
    offered = select(func.coalesce(func.sum(SpareOffer.plants), 0)).where(SpareOffer.sowing_id == sowing_id)
    given = (
        select(func.coalesce(func.sum(SpareGift.plants), 0))
        .join(SpareOffer, SpareOffer.id == SpareGift.offer_id)
        .where(SpareOffer.sowing_id == sowing_id)
    )
    return max(0, (session.scalar(offered) or 0) - (session.scalar(given) or 0))


def list_spares_of(session: Session, grower_id: int) -> dict[str, list[dict[str, Any]]]:
    """Return what a grower offered, asked for, gave and got, as it is handed out to them: without other names."""
    gifts = list_gifts(session)
    columns = ("crop", "plants", "given", "date", "note")
    return {
        "offered": [_columns(row, columns) for row in list_offers(session) if row.grower_id == grower_id],
        "asked_for": [_columns(row, columns) for row in list_requests(session) if row.grower_id == grower_id],
        "gave": [_columns(row, ("crop", "plants", "date")) for row in gifts if row.giver_id == grower_id],
        "got": [_columns(row, ("crop", "plants", "date")) for row in gifts if row.taker_id == grower_id],
    }


def forget_notes(session: Session, grower_id: int) -> list[tuple[type[SpareOffer | SpareRequest], int]]:
    """Take away what a grower wrote beside offers and requests, and return which rows these were."""
    offers = select(SpareOffer.id).join(Sowing, Sowing.id == SpareOffer.sowing_id).where(Sowing.grower_id == grower_id)
    requests = select(SpareRequest.id).where(SpareRequest.grower_id == grower_id)
    found: list[tuple[type[SpareOffer | SpareRequest], int]] = []
    for model, query in ((SpareOffer, offers), (SpareRequest, requests)):
        ids = list(session.scalars(query.order_by(model.id)))
        session.execute(update(model).where(model.id.in_(ids)).values(note=None))
        found += [(model, row_id) for row_id in ids]
    return found


def _columns(row: object, names: tuple[str, ...]) -> dict[str, Any]:
    return {name: getattr(row, name) for name in names}


def _given(*, offer: bool) -> ScalarSelect[int]:
    column, of = (SpareGift.offer_id, SpareOffer.id) if offer else (SpareGift.request_id, SpareRequest.id)
    return select(func.coalesce(func.sum(SpareGift.plants), 0)).where(column == of).scalar_subquery()
