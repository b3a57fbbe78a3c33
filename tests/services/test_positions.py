"""Where trays stand, by hand."""

from datetime import date

import pytest
from sqlalchemy import select

from app.core.words import Place
from app.services import positions
from app.services.plan import get_plan
from app.services.positions import (
    NoSuchPositionError,
    PositionTakenError,
    Target,
    WaitsError,
    is_position,
    move_tray,
    pin_stay,
)
from app.storage.errors import NotFoundError
from app.storage.models import Shelf, Stay, Tray
from tests.dealing import TODAY, clashes, deal_season, dealt_garden, everything

# As in test_trays.py. Under the lamps stand peppers (trays 1 and 2) from 3 May to 12 June, tomatoes (3 and 4) from 7 to
# 21 May, and pots (6 to 9) from 21 May to 12 June; pots in tray 10 wait. Tray 4 waits in heat.
WISHES = ((0, 0, 20), (1, 0, 30), (2, 0, 25), (0, 1, 30), (1, 1, 40), (0, 2, 10))


@pytest.fixture
def garden(session):
    return dealt_garden(session, WISHES)


def stay(session, number, place=Place.LAMP):
    return session.scalars(select(Stay).join(Tray).where(Tray.number == number, Stay.place == place)).one()


def position(session, number, place=Place.LAMP):
    session.expire_all()
    found = stay(session, number, place)
    return None if found.shelf_id is None else (found.shelf_id, found.level, found.slot)


def target(at):
    return Target(shelf_id=at[0], level=at[1], slot=at[2])


def free_lamp(session, garden):
    """Return a lamp position on which nobody stands in May."""
    rack, shelf = (garden["shelves"][number].id for number in (1, 2))
    there = {position(session, number) for number in (1, 2, 3, 4)}
    return next(
        at
        for at in [(rack, 1, 1), (rack, 1, 2), (rack, 1, 3), (rack, 2, 1), (rack, 2, 2), (shelf, 1, 1)]
        if at not in there
    )


def move(session, number, at, place=Place.LAMP, **changes):
    move_tray(session, stay(session, number, place).id, target(at), **{"today": TODAY} | changes)


def test_a_tray_goes_to_a_free_position_and_keeps_it_when_trays_are_dealt(session, garden):
    at = free_lamp(session, garden)
    move(session, 3, at)
    for _ in range(2):
        assert position(session, 3) == at
        assert stay(session, 3).pinned
        deal_season(session)


def test_a_tray_that_waits_gets_a_position_that_is_free(session, garden):
    garden["shelves"][0].positions = 4
    session.commit()
    assert position(session, 4, Place.HEAT) is None
    move(session, 4, (garden["shelves"][0].id, 2, 2), Place.HEAT)
    assert position(session, 4, Place.HEAT) == (garden["shelves"][0].id, 2, 2)


def test_a_position_that_is_taken_is_refused_and_who_stands_there_is_said(session, garden):
    before, taken = everything(session), position(session, 2)
    with pytest.raises(PositionTakenError) as refused:
        move(session, 3, taken)
    (there,) = refused.value.stays
    assert (there.tray, there.begin_on, there.end_on) == (2, date(2027, 5, 3), date(2027, 6, 12))
    session.rollback()
    assert everything(session) == before


def test_two_trays_exchange_their_positions(session, garden):
    one, other = position(session, 1), position(session, 2)
    move(session, 1, other, exchange=True)
    assert (position(session, 1), position(session, 2)) == (other, one)
    assert stay(session, 2).pinned
    assert clashes(session) == []


def test_an_exchange_that_would_put_one_in_the_way_of_a_third_is_refused_altogether(session, garden):
    # Where tomatoes stand until 21 May, a tray of peppers would stand on into June, when pots stand there.
    tomatoes, peppers = position(session, 3), position(session, 1)
    third = next(number for number in (6, 7, 8, 9) if position(session, number) == tomatoes)
    before = everything(session)
    with pytest.raises(PositionTakenError) as refused:
        move(session, 3, peppers, exchange=True)
    assert [row.tray for row in refused.value.stays] == [third]
    session.rollback()
    assert everything(session) == before


def test_a_tray_that_waits_has_nothing_to_exchange(session, garden):
    with pytest.raises(WaitsError):
        move(session, 10, position(session, 6), exchange=True)
    with pytest.raises(WaitsError):
        pin_stay(session, stay(session, 10).id, pinned=True)


def test_a_position_that_a_changed_shelf_no_longer_has_is_given_to_nobody(session, garden):
    rack = garden["shelves"][1]
    assert position(session, 1) == (rack.id, 1, 1)
    gone = next(n for n in (2, 3, 4) if position(session, n)[0] == rack.id)
    rack.positions = 1
    session.commit()
    assert not is_position(get_plan(session), Place.LAMP, position(session, gone))
    with pytest.raises(WaitsError):
        move(session, gone, position(session, 1), exchange=True)


@pytest.mark.parametrize(
    "wanted",
    [(1, 1, 4), (1, 3, 1), (1, 0, 1), (1, 1, 0), (3, 1, 1), (99, 1, 1)],
    ids=["no such slot", "no such level", "level 0", "slot 0", "another place", "no such shelf"],
)
def test_a_position_that_is_not_there_is_refused(session, garden, wanted):
    shelf, *where = wanted
    shelf_id = garden["shelves"][shelf].id if shelf < len(garden["shelves"]) else 9_999
    with pytest.raises(NoSuchPositionError):
        move(session, 3, (shelf_id, *where))


def test_a_tray_that_stands_already_is_moved_today(session, garden):
    at, today = free_lamp(session, garden), date(2027, 5, 10)
    move(session, 3, at, today=today)
    moved = stay(session, 3)
    assert (moved.begin_on, moved.end_on) == (today, date(2027, 5, 21))


def test_a_position_that_the_database_refuses_is_a_position_that_is_taken(session, garden, monkeypatch):
    looked = []

    def look(*args, **kwargs):
        """See nobody at first, as if the other came only after the look, which the lock forbids."""
        looked.append(args)
        return [] if len(looked) <= 2 else found(*args, **kwargs)

    found = positions.list_stays_in_way
    monkeypatch.setattr(positions, "list_stays_in_way", look)
    before = everything(session)
    with pytest.raises(PositionTakenError) as refused:
        move(session, 3, position(session, 2))
    assert [row.tray for row in refused.value.stays] == [2]
    session.rollback()
    assert everything(session) == before


def test_a_pin_holds_a_position_until_it_is_let_go(session, garden):
    for pinned in (True, False):
        pin_stay(session, stay(session, 3).id, pinned=pinned)
        assert stay(session, 3).pinned is pinned


def test_a_stay_that_is_not_there_is_not_found(session, garden):
    with pytest.raises(NotFoundError):
        pin_stay(session, 9_999, pinned=True)
    with pytest.raises(NotFoundError):
        move_tray(session, 9_999, target((1, 1, 1)), today=TODAY)


@pytest.mark.parametrize("change", ["positions", "place"])
def test_dealing_anew_leaves_nobody_on_a_position_that_is_gone(session, garden, change):
    rack = session.get(Shelf, garden["shelves"][1].id)
    if change == "positions":
        rack.positions = 2
    else:
        rack.place = Place.WINDOW
    session.commit()
    deal_season(session)
    plan = get_plan(session)
    stays = session.scalars(select(Stay).where(Stay.shelf_id.is_not(None))).all()
    assert all(is_position(plan, row.place, (row.shelf_id, row.level, row.slot)) for row in stays)
    assert clashes(session) == []
