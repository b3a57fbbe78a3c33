"""Dealing, and dealing anew after the garden has changed."""

from datetime import date, timedelta

import pytest
from sqlalchemy import func, select, update

from app.core.words import CellState, Place
from app.services.deal import StaleDealError, accept_deal, propose_deal, season_days
from app.services.filled import mark_filled
from app.services.plan import get_plan
from app.services.positions import pin_stay
from app.storage.models import Cell, Crop, Sowing, Stay, Tray
from app.storage.queries.days import set_today
from tests import rows
from tests.conftest import TODAY

# Of tests/web/seasons.py: tomatoes of this garden are sown best on Saturday 1 May and are up on 7 May.
SOWN, UP, HARDENS = date(2027, 5, 1), date(2027, 5, 7), date(2027, 6, 12)


@pytest.fixture
def garden(session):
    """Add tomatoes that are sown on a heat bench and go under lamps, and a place to harden them."""
    rows.garden(session)
    box, who = rows.container(session), rows.grower(session)
    rows.shelf(session, "Heat bench", place=Place.HEAT, positions=4)
    rows.shelf(session, "Lamp rack", positions=4)
    rows.shelf(session, "Cold frame", place=Place.HARDENING, positions=4)
    crop = rows.crop(session, box=box, heat=True)
    for number in range(1, 4):
        rows.sowing(session, who, crop, f"S-{number}", plants=60)
    session.commit()
    return crop.id


def season(session, today=TODAY, **changes):
    first, last = season_days(get_plan(session))
    return accept_deal(session, first=first, last=last, today=today, **changes)


def spans(session):
    """Return the stays of each tray by its number: place, first day, the day after the last."""
    found = {}
    query = select(Tray.number, Stay.place, Stay.begin_on, Stay.end_on).join(Tray, Stay.tray_id == Tray.id)
    for number, *stay in session.execute(query.order_by(Tray.number, Stay.begin_on)):
        found.setdefault(number, []).append(tuple(stay))
    return found


def numbers(session):
    return list(session.scalars(select(Tray.number)))


def test_a_season_is_dealt_with_the_days_of_the_plan(session, garden):
    season(session)
    stays = [(Place.HEAT, SOWN, UP), (Place.LAMP, UP, HARDENS), (Place.HARDENING, HARDENS, date(2027, 6, 19))]
    assert list(spans(session).values()) == [stays] * len(numbers(session))
    assert len(numbers(session)) > 1


@pytest.mark.parametrize("later", [1, 3, 9])
def test_trays_of_which_nothing_is_written_down_stay_in_heat_when_the_card_says_that_they_come_up_later(
    session, garden, later
):
    season(session)
    mark_filled(session, numbers(session), SOWN, today=SOWN)
    session.execute(update(Crop).values(days_to_emerge=6 + later))
    today = UP + timedelta(1)
    set_today(session, today)
    season(session, today)
    up = UP if UP + timedelta(later) <= today else UP + timedelta(later)
    for heat, lamps, hardening in spans(session).values():
        assert heat == (Place.HEAT, SOWN, up)
        assert lamps[:2] == (Place.LAMP, up)
        assert lamps[2] == hardening[1]


def test_trays_that_should_be_under_the_lamps_already_are_carried_there_today(session, garden):
    season(session)
    mark_filled(session, numbers(session), SOWN, today=SOWN)
    session.execute(update(Crop).values(days_to_emerge=2))
    today = SOWN + timedelta(4)
    season(session, today)
    for heat, lamps, _ in spans(session).values():
        assert heat == (Place.HEAT, SOWN, today)
        assert lamps[1] == today


def test_what_is_sown_is_never_taken_out_even_where_its_card_is_no_longer_one_for_trays(session, garden):
    season(session)
    mark_filled(session, numbers(session)[:1], SOWN, today=SOWN)
    sown = select(func.count()).where(Cell.state == CellState.SOWN)
    before = session.scalar(sown)
    outside = {"start_container_id": None, "light": None, "direct_sow_weeks": 0.0, "plant_out_weeks": None}
    session.execute(update(Crop).values(**outside, indoor_weeks_min=None, indoor_weeks_max=None, heat=False))
    season(session, SOWN)
    assert session.scalar(sown) == before > 0
    assert session.scalar(select(func.count()).where(Cell.sowing_id.is_not(None))) >= before


def test_a_second_deal_without_changes_changes_nothing_today_or_later(session, garden):
    season(session)
    mark_filled(session, numbers(session)[:1], SOWN, today=SOWN)
    season(session, SOWN)
    before = spans(session)
    for days in (0, 3, 6, 30, 60):
        proposal = season(session, SOWN + timedelta(days))
        assert not proposal.deal.is_changed.any()
        assert spans(session) == before


def test_a_deal_of_data_that_has_changed_is_refused(session, garden):
    first, last = season_days(get_plan(session))
    shown = propose_deal(session, first=first, last=last, today=TODAY)
    session.execute(update(Sowing).where(Sowing.name == "S-1").values(plants=61))
    session.commit()
    with pytest.raises(StaleDealError):
        season(session, mark=shown.mark)
    assert numbers(session) == []


def test_what_the_database_refuses_is_a_stale_deal_and_leaves_nothing_half_done(session, garden, monkeypatch):
    season(session)
    session.commit()
    before = spans(session)
    session.execute(update(Sowing).values(plants=80))
    session.commit()
    # As if another had taken the position in between, which the lock forbids.
    monkeypatch.setattr("app.storage.dealing.DealStore._store_stays", add_stays_twice)
    with pytest.raises(StaleDealError):
        season(session)
    session.rollback()
    assert spans(session) == before


def add_stays_twice(store, _deal, ids):
    """Give two trays one position."""
    position = {"place": Place.LAMP, "shelf_id": store.garden.shelves[0].id, "level": 50, "slot": 1}
    days = {"begin_on": date(2028, 1, 1), "end_on": date(2028, 1, 2)}
    store.session.add_all(Stay(tray_id=tray, **position, **days, pinned=False) for tray in ids[:2].tolist())
    store.session.flush()


def test_pins_of_positions_last(session, garden):
    season(session)
    stay = session.scalar(select(Stay.id).where(Stay.place == Place.LAMP))
    pin_stay(session, stay, pinned=True)
    where = select(Stay.shelf_id, Stay.level, Stay.slot).join(Tray).where(Stay.pinned)
    before = session.execute(where).one()
    session.execute(update(Sowing).where(Sowing.name == "S-2").values(plants=20))
    season(session)
    assert session.execute(where).one() == before
