"""Giving spare plants away, asking for some, and handing them out."""

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, TypeVar

from app.core.words import LogKind
from app.core.work.spares import NOBODY, Given, spare_of_sowing
from app.services.log import NewEntry, add_entries, take_back
from app.services.plan import get_plan
from app.storage.models import LogEntry, SpareGift, SpareOffer, SpareRequest
from app.storage.queries.crops import get_crop
from app.storage.queries.growers import get_grower
from app.storage.queries.log import get_entries
from app.storage.queries.sowings import get_sowing
from app.storage.queries.spares import get_gift, get_offer, get_request, sum_of_gifts, sum_of_offers
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from app.core.plan import Plan
    from app.storage import Session
    from app.storage.queries.spares import GiftRow

GIFT_NOTE = "Spare plants"  # what the log says of an entry that a gift has made

Row = TypeVar("Row", SpareOffer, SpareRequest, SpareGift)


class MoreThanThereError(Exception):
    """More plants are offered or given than there are.

    Attributes:
        most: The most that would be right. [1]
    """

    def __init__(self, most: int) -> None:
        """Keep the most that would be right."""
        super().__init__(f"At most {most}")
        self.most = most


class OtherCropError(Exception):
    """The plants that are offered are of another crop than those that are asked for."""


class OwnPlantsError(Exception):
    """The plants are of the grower who asks for them."""


@dataclass(frozen=True, kw_only=True)
class Gift:
    """What is handed out: so many plants of an offer for a request."""

    offer_id: int
    request_id: int
    plants: int


def offer_plants(session: "Session", sowing_id: int, plants: int, note: str | None, *, today: date) -> SpareOffer:
    """Offer plants of a sowing.

    Raises:
        NotFoundError: There is no such sowing.
        MoreThanThereError: Fewer live by the log, less those that are offered already.
    """
    hold_writes(session)
    get_sowing(session, sowing_id)
    plan = get_plan(session)
    most = spare_of_sowing(plan, plan.index_of[sowing_id], sum_of_offers(session, sowing_id))
    if plants > most:
        raise MoreThanThereError(most)
    return _add(session, SpareOffer(sowing_id=sowing_id, plants=plants, date=today, note=note))


def given_of(plan: "Plan", gifts: "Iterable[GiftRow]") -> list[Given]:
    """Return gifts by their indices in a plan."""
    grower_of = {grower.id: index for index, grower in enumerate(plan.garden.growers)}
    return [
        Given(
            sowing=plan.index_of[gift.sowing_id],
            grower=NOBODY if gift.taker_id is None else grower_of[gift.taker_id],
            plants=gift.plants,
        )
        for gift in gifts
    ]


def ask_for_plants(
    session: "Session", grower_id: int, crop_id: int, plants: int, note: str | None, *, today: date
) -> SpareRequest:
    """Ask for plants of a crop. Raises NotFoundError where there is no such grower or crop card."""
    hold_writes(session)
    get_grower(session, grower_id)
    get_crop(session, crop_id)
    return _add(session, SpareRequest(grower_id=grower_id, crop_id=crop_id, plants=plants, date=today, note=note))


def withdraw_offer(session: "Session", offer_id: int) -> SpareOffer:
    """Offer no more plants; what was given of the offer stays written down. Raises NotFoundError."""
    hold_writes(session)
    offer = get_offer(session, offer_id)
    given = sum_of_gifts(session, offer_id=offer_id)
    if given:
        offer.plants = given
    else:
        session.delete(offer)
    session.flush()
    return offer


def withdraw_request(session: "Session", request_id: int) -> SpareRequest:
    """Ask no longer; what was given stays written down. Raises NotFoundError."""
    hold_writes(session)
    asked = get_request(session, request_id)
    session.delete(asked)
    session.flush()
    return asked


def give_plants(session: "Session", gift: Gift, *, today: date, account_id: int | None) -> SpareGift:
    """Hand out plants of an offer to who asks for some; in the giver's log they are handed out.

    Raises:
        NotFoundError: There is no such offer or request.
        OtherCropError: The offer is of another crop.
        OwnPlantsError: The plants are of who asks.
        MoreThanThereError: The offer has fewer left, or fewer live by the log.
        LogRuleError: The log has fewer plants of the sowing.
    """
    hold_writes(session)
    offer, asked = get_offer(session, gift.offer_id), get_request(session, gift.request_id)
    sowing = get_sowing(session, offer.sowing_id)
    if sowing.crop_id != asked.crop_id:
        raise OtherCropError
    if sowing.grower_id == asked.grower_id:
        raise OwnPlantsError
    plan = get_plan(session)
    left = offer.plants - sum_of_gifts(session, offer_id=offer.id)
    most = max(0, min(left, int(plan.living[plan.index_of[sowing.id]])))
    if gift.plants > most:
        raise MoreThanThereError(most)
    entry = NewEntry(
        sowing_id=sowing.id,
        kind=LogKind.HANDED_OUT,
        date=today,
        count=gift.plants,
        note=GIFT_NOTE,
        grower_id=sowing.grower_id,
    )
    add_entries(session, [entry], today=today, account_id=account_id)
    made = SpareGift(offer_id=offer.id, request_id=asked.id, grower_id=asked.grower_id, plants=gift.plants, date=today)
    return _add(session, made)


def take_gift_back(session: "Session", gift_id: int, *, today: date, account_id: int | None) -> bool:
    """Take a gift back, and in the giver's log that its plants were handed out.

    Return whether the log had such an entry still. Entries of one day and count come to the same, so that the last of
    them is taken. Raises NotFoundError, and LogRuleError where later entries would say what cannot be.
    """
    hold_writes(session)
    gift = get_gift(session, gift_id)
    offer = get_offer(session, gift.offer_id)
    entry = _entry_of(get_entries(session, offer.sowing_id), gift)
    if entry is not None:
        take_back(session, entry.id, today=today, account_id=account_id)
    session.delete(gift)
    session.flush()
    return entry is not None


def _entry_of(entries: "Sequence[LogEntry]", gift: SpareGift) -> LogEntry | None:
    corrected = {entry.supersedes_id for entry in entries}
    alike = [
        entry
        for entry in entries
        if entry.kind is LogKind.HANDED_OUT
        and (entry.date, entry.count) == (gift.date, gift.plants)
        and entry.id not in corrected
    ]
    return alike[-1] if alike else None


def _add(session: "Session", row: Row) -> Row:
    session.add(row)
    session.flush()
    return row
