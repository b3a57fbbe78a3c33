"""Whatever is changed on the pages after a log was written: what goes out into a folder comes in again.

A season is dealt and played for some weeks by chance; then cards, containers, shelves, sowings, seed lots and settings
are changed as far as the services let them. All is invented.
"""

from dataclasses import fields, replace
from datetime import date, timedelta
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from app.core.words import CountedFrom, FrostSource, Light, LogKind, Place, Side, Tick, Units, Weekday
from app.services.containers import ContainerValues, change_container
from app.services.crops import CropValues, change_crop
from app.services.folder import load_folder
from app.services.garden import (
    FrostValues,
    GardenValues,
    SeasonHoldsError,
    change_frost,
    change_garden,
)
from app.services.log import NewEntry, add_entries, tick
from app.services.seed_lots import SeedLotValues, change_seed_lot
from app.services.shelves import ShelfValues, change_shelf
from app.services.sowings import SowingValues, change_sowing
from app.storage.folder.writing import folder_files
from app.storage.models import Container, Crop, SeedLot, Shelf, Sowing, SpareOffer
from app.storage.queries.days import set_today
from app.storage.queries.garden import list_frost_points
from tests import rows
from tests.dealing import deal_season, garden_to_deal
from tests.kept_gardens import kept
from tests.lengths import TIMES

TODAY = date(2027, 6, 1)
SOWN = date(2027, 3, 1)
NUMBERS = st.integers(0, 7)


def values_of(kind, row, **changes):
    return kind(**{field.name: getattr(row, field.name) for field in fields(kind)} | changes)


def change_a_crop(session, a, b):
    crop = of(session, Crop, a)
    changes = (
        {"seeds_per_cell": 1 + b % 3},
        {"plants_per_cell": (None, 1, 2, 3)[b % 4]},
        {"days_to_maturity": 30 + 10 * b, "counted_from": list(CountedFrom)[b % 2]},
        {"start_container_id": of(session, Container, b).id},
        {"pot_on_container_id": None, "pot_on_after_days": None},
        {
            "start_container_id": None, "pot_on_container_id": None, "pot_on_after_days": None,
            "direct_sow_weeks": 1.0, "light": None, "heat": False, "indoor_weeks_min": None, "indoor_weeks_max": None,
            "plant_out_weeks": None,
        },
        {"indoor_weeks_min": 1.0 + b, "indoor_weeks_max": 3.0 + b, "light": list(Light)[b % 2], "heat": b % 2 == 0},
        {"name": f"Crop {b}, renamed"},
    )  # fmt: skip
    change_crop(session, crop.id, values_of(CropValues, crop, **changes[b]))


def change_a_container(session, a, b):
    box = of(session, Container, a)
    grids = ({"rows": 6, "columns": 12, "cells_per_tray": 72}, {"rows": 3, "columns": 5, "cells_per_tray": 15})
    others = ({"cells_per_tray": 10 + b, "rows": None, "columns": None}, {"cell_volume_ml": 10.0 + b})
    change_container(session, box.id, values_of(ContainerValues, box, **(*grids, *others)[b % 4]))


def change_a_shelf(session, a, b):
    shelf = of(session, Shelf, a)
    changes = ({"positions": b}, {"levels": 1 + b % 3, "positions": None}, {"place": list(Place)[b % 4]})
    change_shelf(session, shelf.id, values_of(ShelfValues, shelf, **changes[b % 3]))


def change_a_sowing(session, a, b):
    sowing = of(session, Sowing, a)
    changes = (
        {"plants": 1 + b, "placed": None},
        {"crop_id": of(session, Crop, b).id},
        {"plant_out": date(2026 + b % 3, 6, 1 + b)},
        {"placed": 0},
        {"seed_lot_id": of(session, SeedLot, b).id},
    )
    change_sowing(session, sowing.id, values_of(SowingValues, sowing, **changes[b % 5]))


def change_a_lot(session, a, b):
    lot = of(session, SeedLot, a)
    changes = ({"crop_id": of(session, Crop, b).id}, {"germination": None})[b % 2]
    change_seed_lot(session, lot.id, values_of(SeedLotValues, lot, **changes))


def change_settings(session, a, b):
    garden = rows.get_garden(session)
    changes = (
        {"season": 2027 + a - b},
        {"tray_length_cm": 20.0 + b},
        {"sowing_day": list(Weekday)[b % 7], "hand_out_day": list(Weekday)[a % 7]},
        {"units": list(Units)[b % 2], "confidence": 0.5 + b / 20, "survival": 0.3 + b / 20, "spare": b / 10},
    )
    change_garden(session, values_of(GardenValues, garden, **changes[a % 4]))


def change_the_frost(session, a, b):
    garden = rows.get_garden(session)
    points = list_frost_points(session)
    dates = {Side.SPRING: {50: f"0{4 + b % 2}-29"}, Side.AUTUMN: {50: "10-30"}}
    changes = (
        ({"latitude": -40.0}, {Side.SPRING: {50: "10-20"}, Side.AUTUMN: {50: "04-20"}}, FrostSource.DATES),
        ({"latitude": 65.0}, dates, FrostSource.DATES),
        ({"risk": 0.05 + b / 10}, points, FrostSource.TABLE),
        ({}, {Side.SPRING: {50: "02-28"}, Side.AUTUMN: {50: "11-30"}}, FrostSource.DATES),
    )
    values, points, source = changes[a % 4]
    change_frost(session, values_of(FrostValues, garden, **values | {"frost_source": source}), points)


def log_more(session, a, b):
    """Write down more of what was begun, by the cards as they are now."""
    kind = list(LogKind)[b % 7]
    entry = NewEntry(sowing_id=of(session, Sowing, a).id, kind=kind, date=SOWN + timedelta(50 + b), count=1 + a)
    add_entries(session, [entry], today=TODAY, account_id=None)


CHANGES = (
    change_a_crop, change_a_container, change_a_shelf, change_a_sowing, change_a_lot, change_settings,
    change_the_frost, log_more,
)  # fmt: skip


def of(session, model, number):
    found = list(session.scalars(select(model).order_by(model.id)))
    return found[number % len(found)]


@pytest.fixture
def played(session):
    """Add a season that was played for some weeks."""
    kept(session, play)
    set_today(session, TODAY)
    session.commit()


def play(session):
    """Deal a season, and write down what becomes of it for some weeks."""
    made = garden_to_deal(session)
    made["crops"][0].seeds_per_cell, made["crops"][0].plants_per_cell = 3, 3
    lot = rows.seed_lot(session, made["crops"][0], germination=0.8)
    deal_season(session)
    chance = Random(7)
    for number, sowing in enumerate(made["sowings"]):
        say = [(LogKind.SOWN, 0, 10), (LogKind.UP, 8, 8), (LogKind.THINNED, 15, 8)]
        say += [(LogKind.POTTED_ON, 22, 18), (LogKind.HANDED_OUT, 40, 17)] if number < 2 else [(LogKind.LOST, 20, 16)]
        for kind, days, count in say:
            entry = NewEntry(
                sowing_id=sowing.id, kind=kind, date=SOWN + timedelta(days + chance.randint(0, 3)), count=count,
                seed_lot_id=lot.id if (kind, number) == (LogKind.SOWN, 1) else None,
            )  # fmt: skip
            add_entries(session, [entry], today=TODAY, account_id=None)
        tick(session, sowing.id, Tick.HARDEN, SOWN + timedelta(50), None)
        session.add(SpareOffer(sowing_id=sowing.id, plants=1, date=TODAY))


def go_out_and_in(session, folder):
    """Load what goes out into an emptied database, and return what went out, and what goes out then."""
    files, _ = folder_files(session)
    for old in folder.iterdir():
        old.unlink()
    for name, content in files.items():
        (folder / name).write_bytes(content)
    load_folder(session, folder, replace=True)
    return files, folder_files(session)[0]


@given(changes=st.lists(st.tuples(st.sampled_from(CHANGES), NUMBERS, NUMBERS), min_size=1, max_size=4))
@settings(max_examples=60 * TIMES, deadline=None, suppress_health_check=list(HealthCheck))
def test_whatever_was_changed_since_the_log_a_folder_comes_in_again(session, tmp_path, played, changes):
    for change, a, b in changes:
        point = session.begin_nested()
        try:
            change(session, a, b)
        except Exception as error:
            # Whatever is refused is refused by an error of the program's own.
            if not type(error).__module__.startswith("app."):
                raise
            point.rollback()
        else:
            point.commit()
    before, after = go_out_and_in(session, tmp_path)
    assert after == before
    session.rollback()
    session.expire_all()


@pytest.mark.parametrize("b", range(8))
def test_each_change_of_a_card_lets_the_log_of_its_sowings_in_again(session, tmp_path, played, b):
    change_a_crop(session, 2, b)
    before, after = go_out_and_in(session, tmp_path)
    assert after == before


@pytest.mark.parametrize(("season", "is_refused"), [(2023, True), (2026, False), (2028, False), (2029, True)])
def test_another_season_is_refused_where_days_of_this_one_would_be_far_off(
    session, tmp_path, played, season, is_refused
):
    changed = values_of(GardenValues, rows.get_garden(session), season=season)
    if is_refused:
        with pytest.raises(SeasonHoldsError):
            change_garden(session, changed)
        return
    change_garden(session, changed)
    before, after = go_out_and_in(session, tmp_path)
    assert after == before


def test_a_garden_of_which_nothing_has_a_day_may_be_of_any_season(session):
    rows.garden(session)
    assert (
        change_garden(session, replace(values_of(GardenValues, rows.get_garden(session)), season=2040)).season == 2040
    )
