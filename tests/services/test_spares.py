"""Spare plants from one grower to another, and what the log says of it."""

from datetime import date, timedelta

import pytest

from app.core.words import LogKind, Role
from app.services.leaving import WithGrower, erase
from app.services.log import NewEntry, add_entries
from app.services.plan import get_plan
from app.services.spares import (
    Gift,
    MoreThanThereError,
    OtherCropError,
    OwnPlantsError,
    ask_for_plants,
    give_plants,
    offer_plants,
    take_gift_back,
    withdraw_offer,
    withdraw_request,
)
from app.storage.models import History, SpareGift, SpareOffer, SpareRequest
from app.storage.queries.log import get_entries
from app.storage.queries.spares import list_gifts, list_offers, list_requests, list_spares_of
from tests import rows
from tests.people import add_account

TODAY = date(2027, 5, 20)


@pytest.fixture
def made(session):
    rows.garden(session)
    rows.shelf(session)
    tomato = rows.crop(session, box=rows.container(session))
    ada, ines = rows.grower(session, "Ada Brook"), rows.grower(session)
    sowing = rows.sowing(session, ada, tomato, variety="Round")
    entries = [
        NewEntry(sowing_id=sowing.id, kind=kind, date=TODAY - timedelta(days=ago), count=9)
        for kind, ago in ((LogKind.SOWN, 20), (LogKind.UP, 12))
    ]
    add_entries(session, entries, today=TODAY, account_id=None)
    return {"tomato": tomato, "ada": ada, "ines": ines, "sowing": sowing}


def offer(session, made, plants=4):
    return offer_plants(session, made["sowing"].id, plants, None, today=TODAY)


def ask(session, made, who="ines", plants=3):
    return ask_for_plants(session, made[who].id, made["tomato"].id, plants, None, today=TODAY)


def give(session, offered, asked, plants=3):
    return give_plants(
        session, Gift(offer_id=offered.id, request_id=asked.id, plants=plants), today=TODAY, account_id=None
    )


def living(session):
    return get_plan(session).living.tolist()


def test_no_more_are_offered_than_live_and_are_not_offered_yet(session, made):
    offer(session, made, 4)
    with pytest.raises(MoreThanThereError) as refused:
        offer(session, made, 6)
    assert refused.value.most == 5
    offer(session, made, 5)


def test_a_gift_is_handed_out_in_the_giver_s_log(session, made):
    give(session, offer(session, made), ask(session, made))
    assert living(session) == [6]
    entry = get_entries(session, made["sowing"].id)[-1]
    assert (entry.kind, entry.count, entry.date, entry.grower_id) == (
        LogKind.HANDED_OUT,
        3,
        TODAY,
        made["ada"].id,
    )
    (gift,) = list_gifts(session)
    assert (gift.giver, gift.taker, gift.plants, gift.crop) == ("Ada Brook", "Ines Moreau", 3, "Tomato")
    assert [row.left for row in list_offers(session)] == [1]
    assert [row.left for row in list_requests(session)] == [0]


def test_a_gift_taken_back_is_taken_back_in_the_log_too(session, made):
    gift = give(session, offer(session, made), ask(session, made))
    assert take_gift_back(session, gift.id, today=TODAY, account_id=None)
    assert living(session) == [9]
    assert list_gifts(session) == []
    # Both stay readable: that they were handed out, and that this was taken back.
    assert [entry.count for entry in get_entries(session, made["sowing"].id)] == [9, 9, 3, 0]


def test_a_gift_whose_entry_was_corrected_is_taken_back_alone(session, made):
    gift = give(session, offer(session, made), ask(session, made))
    entry = get_entries(session, made["sowing"].id)[-1]
    fewer = NewEntry(sowing_id=made["sowing"].id, kind=LogKind.HANDED_OUT, date=TODAY, count=2, supersedes_id=entry.id)
    add_entries(session, [fewer], today=TODAY, account_id=None)
    assert not take_gift_back(session, gift.id, today=TODAY, account_id=None)
    assert living(session) == [7]


@pytest.mark.parametrize(("lost", "most"), [(0, 4), (7, 2)])
def test_no_more_are_given_than_are_offered_and_live(session, made, lost, most):
    offered, asked = offer(session, made, 4), ask(session, made, plants=9)
    if lost:
        entry = NewEntry(sowing_id=made["sowing"].id, kind=LogKind.LOST, date=TODAY, count=lost)
        add_entries(session, [entry], today=TODAY, account_id=None)
    with pytest.raises(MoreThanThereError) as refused:
        give(session, offered, asked, 5)
    assert refused.value.most == most
    assert session.query(SpareGift).count() == 0
    give(session, offered, asked, most)


def test_plants_of_another_crop_or_of_oneself_are_not_given(session, made):
    offered = offer(session, made)
    pepper = rows.crop(session, "Pepper")
    other = ask_for_plants(session, made["ines"].id, pepper.id, 2, None, today=TODAY)
    with pytest.raises(OtherCropError):
        give(session, offered, other)
    with pytest.raises(OwnPlantsError):
        give(session, offered, ask(session, made, "ada"))


def test_what_is_withdrawn_keeps_what_was_given(session, made):
    offered, asked = offer(session, made), ask(session, made)
    give(session, offered, asked, 1)
    withdraw_offer(session, offered.id)
    withdraw_request(session, asked.id)
    assert [(row.plants, row.left) for row in list_offers(session)] == [(1, 0)]
    assert list_requests(session) == []
    assert [gift.taker for gift in list_gifts(session)] == ["Ines Moreau"]
    untouched = offer(session, made, 2)
    withdraw_offer(session, untouched.id)
    assert len(list_offers(session)) == 1


def test_what_a_grower_offered_asked_for_gave_and_got_is_handed_out_to_them_without_names(session, made):
    give(session, offer(session, made), ask(session, made), 2)
    ada, ines = (list_spares_of(session, made[who].id) for who in ("ada", "ines"))
    assert [(row["crop"], row["plants"], row["given"]) for row in ada["offered"]] == [("Tomato", 4, 2)]
    assert [(row["plants"], row["date"]) for row in ada["gave"]] == [(2, TODAY)]
    assert (ada["asked_for"], ada["got"], ines["offered"], ines["gave"]) == ([], [], [], [])
    assert [row["plants"] for row in ines["asked_for"]] == [3]
    assert [row["plants"] for row in ines["got"]] == [2]
    assert "Ada" not in repr(ines)
    assert "Ines" not in repr(ada)


def test_notes_of_somebody_who_leaves_are_gone_from_every_table(session, made):
    add_account(session, "Ruth Tan")
    account = add_account(session, "Ada Brook", Role.MEMBER, made["ada"].id)
    offer_plants(session, made["sowing"].id, 2, "Ring Ada at the mill", today=TODAY)
    ask_for_plants(session, made["ada"].id, made["tomato"].id, 1, "Ada comes on Monday", today=TODAY)
    ask_for_plants(session, made["ines"].id, made["tomato"].id, 1, "Ines has room", today=TODAY)
    session.commit()
    assert {"Ring Ada at the mill", "Ada comes on Monday"} <= notes_in(session)
    erase(session, account.id, WithGrower.HIDE)
    session.commit()
    assert notes_in(session) == {"Ines has room"}
    assert [offered.plants for offered in list_offers(session)] == [2]


def notes_in(session):
    """Return every note beside offers and requests, whether it stands in its row or in the history."""
    stored = {row.note for model in (SpareOffer, SpareRequest) for row in session.query(model)}
    told = {
        value
        for row in session.query(History)
        for column, *values in row.changes
        if column == "note"
        for value in values
    }
    return (stored | told) - {None}
