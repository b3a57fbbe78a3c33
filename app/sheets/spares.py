"""Spare plants in words: what is offered, who asks in order of need, and what was given."""

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from app.core.calendar import as_day
from app.core.plan import Plan
from app.core.work.spares import Asked, Need, in_order_of_need, need_of
from app.language import _
from app.services.spares import given_of
from app.sheets.names import as_said, name_words
from app.sheets.words import count_words, day_words, number_words
from app.storage.queries.spares import MOST_GIFTS, GiftRow, OfferRow, RequestRow


class OfferLine(NamedTuple):
    """Plants that are still offered; `is_doubtful` where they are of saved or swapped seed of cucurbits."""

    offer_id: int
    grower_id: int
    crop: str
    variety: str
    plants: int
    giver: str
    since: str
    note: str
    is_doubtful: bool


class RequestLine(NamedTuple):
    """Plants that are still asked for.

    Attributes:
        request_id: Its row number.
        grower_id: Row number of who asks.
        crop: Of which crop.
        plants: How many are still asked for. [1]
        taker: Who asks.
        since: From when on.
        note: What they wrote.
        why: What decides their turn.
        there: Plants of others that are offered of the crop. [1]
    """

    request_id: int
    grower_id: int
    crop: str
    plants: int
    taker: str
    since: str
    note: str
    why: str
    there: int


class GiftLine(NamedTuple):
    """Plants that were given."""

    gift_id: int
    day: str
    what: str
    giver: str
    taker: str


@dataclass(frozen=True, kw_only=True)
class SparesPage:
    """Spare plants.

    Attributes:
        offers: What is still offered.
        requests: What is still asked for, by crop and then those first who need it most.
        gifts: What was given, the latest first.
        has_more: Whether more was given than is shown.
    """

    offers: tuple[OfferLine, ...]
    requests: tuple[RequestLine, ...]
    gifts: tuple[GiftLine, ...]
    has_more: bool


def make_spares_page(
    plan: Plan,
    offers: Sequence[OfferRow],
    requests: Sequence[RequestRow],
    gifts: Sequence[GiftRow],
    *,
    saved_cucurbits: Collection[int],
    is_shown: Callable[[int | None], bool],
) -> SparesPage:
    """Return the page of spare plants.

    Args:
        plan: The garden's plan.
        offers: All offers.
        requests: All requests.
        gifts: All gifts.
        saved_cucurbits: Row numbers of the sowings of cucurbits whose seed was saved or swapped.
        is_shown: Whether requests and gifts of a grower, by row number, are shown to whoever looks.
    """
    shown = [gift for gift in gifts if is_shown(gift.giver_id) or is_shown(gift.taker_id)]
    return SparesPage(
        offers=tuple(
            as_said([_offer_line(offer, saved_cucurbits) for offer in offers if offer.left], lambda line: line.crop)
        ),
        requests=tuple(_requests(plan, offers, [one for one in requests if one.left], gifts, is_shown)),
        gifts=tuple(_gift_line(gift) for gift in shown[:MOST_GIFTS]),
        has_more=len(shown) > MOST_GIFTS,
    )


def need_words(need: Need) -> str:
    """Return what decides the turn of somebody who asks."""
    if not need.wanted:
        return _("wished for none of it")
    has, wanted = number_words(need.has), count_words(need.wanted, "plant", "plants")
    if need.has_failed:
        return _("a sowing failed, has %(has)s of %(wanted)s wanted", has=has, wanted=wanted)
    return _("has %(has)s of %(wanted)s wanted", has=has, wanted=wanted)


def _requests(
    plan: Plan,
    offers: Sequence[OfferRow],
    requests: Sequence[RequestRow],
    gifts: Sequence[GiftRow],
    is_shown: Callable[[int | None], bool],
) -> Iterable[RequestLine]:
    given = given_of(plan, gifts)
    grower_of, crop_of = _index_by_id(plan.garden.growers), _index_by_id(plan.garden.cards)
    rows = {row.id: row for row in requests}
    asked = [
        Asked(number=row.id, grower=grower_of[row.grower_id], crop=crop_of[row.crop_id], day=as_day(row.date))
        for row in requests
    ]
    needs = {one.number: need_of(plan, one.grower, one.crop, given) for one in asked}
    by_crop = sorted(in_order_of_need(asked, needs), key=lambda one: one.crop)
    for one in as_said(by_crop, lambda one: name_words(plan.garden.cards[one.crop].name)):
        row = rows[one.number]
        if is_shown(row.grower_id):
            yield RequestLine(
                request_id=row.id,
                grower_id=row.grower_id,
                crop=name_words(row.crop),
                plants=row.left,
                taker=row.grower,
                since=_day(row.date),
                note=row.note or "",
                why=need_words(needs[row.id]),
                there=sum(
                    offer.left for offer in offers if offer.crop_id == row.crop_id and offer.grower_id != row.grower_id
                ),
            )


def _index_by_id(cards: Sequence[object]) -> dict[int, int]:
    return {card.id: index for index, card in enumerate(cards)}  # type: ignore[attr-defined]  # cards have ids


def _offer_line(offer: OfferRow, saved_cucurbits: Collection[int]) -> OfferLine:
    return OfferLine(
        offer_id=offer.id,
        grower_id=offer.grower_id,
        crop=name_words(offer.crop),
        variety=offer.variety or "",
        plants=offer.left,
        giver=offer.grower,
        since=_day(offer.date),
        note=offer.note or "",
        is_doubtful=offer.sowing_id in saved_cucurbits,
    )


def _gift_line(gift: GiftRow) -> GiftLine:
    crop = name_words(gift.crop) + (f", {gift.variety}" if gift.variety else "")
    return GiftLine(
        gift_id=gift.id,
        day=_day(gift.date),
        what=_("%(plants)s of %(crop)s", plants=count_words(gift.plants, "plant", "plants"), crop=crop),
        giver=gift.giver,
        taker=gift.taker or _("somebody who has left"),
    )


def _day(day: date) -> str:
    return day_words(day)
