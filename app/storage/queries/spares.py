"""Spare plants: offered, asked for, and given."""

from datetime import date
from typing import NamedTuple

from sqlalchemy import ScalarSelect, func, select
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


def _given(*, offer: bool) -> ScalarSelect[int]:
    column, of = (SpareGift.offer_id, SpareOffer.id) if offer else (SpareGift.request_id, SpareRequest.id)
    return select(func.coalesce(func.sum(SpareGift.plants), 0)).where(column == of).scalar_subquery()
