from dataclasses import replace

import pytest
from sqlalchemy import func, select

from app.core.errors import FrostTableError
from app.core.words import FrostSource, Side, Units, Weekday
from app.services.garden import (
    CrossedFrostError,
    FrostValues,
    GardenThereError,
    GardenValues,
    StartValues,
    change_frost,
    change_garden,
    get_facts,
    get_garden,
    start_garden,
)
from app.services.plan import get_plan
from app.storage.models import Container, Crop
from app.storage.queries.garden import list_frost_points
from app.storage.queries.plan import NoGardenError
from app.storage.queries.version import get_mark
from tests import rows

START = StartValues(name="Alder", season=2027, units=Units.US, latitude=-40.0, last="10-05", first="04-20")
POINTS = {Side.SPRING: rows.SPRING, Side.AUTUMN: rows.AUTUMN}


def settings_of(garden, kind, **changes):
    return kind(**{name: getattr(garden, name) for name in kind.__dataclass_fields__} | changes)


def test_there_is_nothing_to_say_before_a_garden_is_set_up(session):
    assert get_facts(session) is None
    with pytest.raises(NoGardenError):
        get_garden(session)


def test_six_answers_set_up_a_garden_that_can_be_planned(session):
    start_garden(session, START)
    session.commit()
    assert get_facts(session) == ("Alder", 2027, True, Units.US, "en")
    frost = get_plan(session).garden.frost
    # A southern growing year begins in July of the calendar year before it.
    assert (frost.spring_on(0.5).isoformat(), frost.autumn_on(0.5).isoformat()) == ("2026-10-05", "2027-04-20")


def test_a_new_garden_has_the_cards_that_come_with_the_program(session):
    start_garden(session, START)
    cards = session.scalars(select(Crop.name)).all()
    assert len(cards) >= 45
    assert session.scalar(select(func.count()).select_from(Container)) >= 8
    assert {card.name for card in get_plan(session).garden.cards} == set(cards)


def test_cards_that_are_there_already_stay_alone(session):
    session.add(Container(name="Own box", cells_per_tray=4, cell_volume_ml=900))
    start_garden(session, START)
    assert session.scalars(select(Container.name)).all() == ["Own box"]
    assert session.scalars(select(Crop)).all() == []


def test_a_database_holds_one_garden(session):
    start_garden(session, START)
    with pytest.raises(GardenThereError):
        start_garden(session, START)


@pytest.mark.parametrize(
    "changes",
    [
        {"last": "04-20", "first": "10-05"},
        {"latitude": 40.0},
        {"latitude": 40.0, "last": "09-26", "first": "05-10"},
        {"last": "05-10", "first": "09-26"},
    ],
    ids=["swapped", "a sign forgotten", "swapped in the north", "dates of the north"],
)
def test_frost_dates_that_cannot_be_right_set_up_no_garden(session, changes):
    with pytest.raises(CrossedFrostError):
        start_garden(session, replace(START, **changes))
    assert get_facts(session) is None


def test_the_settings_are_changed(session):
    garden = rows.garden(session)
    change_garden(session, settings_of(garden, GardenValues, sowing_day=Weekday.SUNDAY, spare=0.2))
    session.commit()
    settings = get_plan(session).garden.settings
    assert (settings.sowing_weekday, settings.spare) == (6, 0.2)


def test_what_is_saved_as_it_was_leaves_the_mark(session):
    garden = rows.garden(session)
    session.commit()
    mark = get_mark(session)
    change_garden(session, settings_of(garden, GardenValues))
    change_frost(session, settings_of(garden, FrostValues), POINTS)
    session.commit()
    assert get_mark(session) == mark


def test_other_frost_dates_give_another_plan_at_once(session):
    garden = rows.garden(session)
    session.commit()
    before = get_plan(session).garden.frost.spring_on(0.1)
    points = {**POINTS, Side.SPRING: {80: "05-10", 50: "05-20", 20: "05-30"}}
    change_frost(session, settings_of(garden, FrostValues), points)
    session.commit()
    assert list_frost_points(session) == points
    assert get_plan(session).garden.frost.spring_on(0.1) < before


def test_a_pair_of_dates_takes_the_place_of_a_table(session):
    garden = rows.garden(session)
    points = {Side.SPRING: {50: "05-10"}, Side.AUTUMN: {50: "09-26"}}
    change_frost(session, settings_of(garden, FrostValues, frost_source=FrostSource.DATES), points)
    session.commit()
    assert list_frost_points(session) == points
    assert get_plan(session).garden.frost.frost_free_days() == 139  # 10 May to 26 September, on a calendar


@pytest.mark.parametrize(
    "spring",
    [{50: "06-01"}, {90: "05-20", 60: "06-01"}, {90: "06-13", 50: "06-01", 10: "05-20"}],
    ids=["one date", "none at 50 or below", "rising"],
)
def test_a_table_that_is_none_is_refused_and_nothing_is_changed(session, spring):
    garden = rows.garden(session)
    with pytest.raises(FrostTableError, match="spring"):
        change_frost(session, settings_of(garden, FrostValues, risk=0.2), {**POINTS, Side.SPRING: spring})
    assert garden.risk == 0.10
    assert list_frost_points(session) == POINTS


def test_a_pair_lacks_nothing(session):
    garden = rows.garden(session)
    values = settings_of(garden, FrostValues, frost_source=FrostSource.DATES)
    with pytest.raises(FrostTableError, match="autumn"):
        change_frost(session, values, {Side.SPRING: {50: "05-10"}, Side.AUTUMN: {}})
