"""The plan as a whole: its warnings, its verdicts, and what it does with little."""

from datetime import date, timedelta

import numpy as np
import pytest

from app.core.calendar import as_day
from app.core.cards import GERMINATION
from app.core.dates.emergence import EmergenceRow
from app.core.plan import Warned, make_plan
from app.core.plants.season import Verdict
from app.core.words import LAMP, WINDOW, CountedFrom, Light, Place
from tests.factories import card, container, garden, shelf, sowing

ROW = EmergenceRow(entries=((5, 0), (10, 20), (20, 8), (30, 0)))
UNTRIED = EmergenceRow(entries=((10, 20), (20, 8), (30, None)))


def warned(row=None, *, bench=None, **changes):
    shelves = (shelf(Place.HEAT, bench_temp_c=bench), shelf(Place.LAMP), shelf(Place.WINDOW), shelf(Place.HARDENING))
    plan = make_plan(garden([row or sowing()], cards=(card(plant_out_weeks=0, **changes),), shelves=shelves))
    return Warned(int(plan.warned[0]))


def test_a_sowing_that_fits_is_not_warned_of():
    assert warned() is Warned.NOTHING


@pytest.mark.parametrize(
    ("row", "changes", "flag"),
    [
        ({}, {"days_to_maturity": 120}, Warned.TOO_LONG),
        ({"plant_out": as_day(date(2027, 6, 12))}, {}, Warned.EARLY_PLANT_OUT),
        ({"sow_on": as_day(date(2027, 4, 23))}, {}, Warned.SET_DAY_OUTSIDE_WINDOW),
        ({"sow_on": as_day(date(2027, 5, 7))}, {}, Warned.SET_DAY_OUTSIDE_WINDOW),
        ({"light": WINDOW}, {"light": Light.LAMP}, Warned.LAMP_CROP_AT_WINDOW),
        ({}, {"emergence": ROW, "germ_temp_c": 20, "bench": 5}, Warned.BENCH_TOO_COLD),
        ({}, {"emergence": ROW, "germ_temp_c": 20, "bench": 28}, Warned.BENCH_TOO_HOT),
        ({}, {"emergence": UNTRIED, "germ_temp_c": 20, "bench": 28}, Warned.NO_FIGURE_AT_BENCH),
    ],
)
def test_each_warning_is_given_alone_where_its_reason_stands(row, changes, flag):
    assert warned(sowing(**row), **changes) is flag


def test_several_warnings_stand_together():
    row = sowing(light=WINDOW, plant_out=as_day(date(2027, 6, 12)))
    flags = Warned.LAMP_CROP_AT_WINDOW | Warned.EARLY_PLANT_OUT | Warned.BENCH_TOO_COLD
    assert warned(row, emergence=ROW, germ_temp_c=20, bench=2, light=Light.LAMP) == flags


@pytest.mark.parametrize(
    ("row", "changes"),
    [
        # 13 June is the first day outside; the window runs from 24 April to the last chance, 6 May.
        ({"plant_out": as_day(date(2027, 6, 13))}, {}),
        ({"sow_on": as_day(date(2027, 4, 24))}, {}),
        ({"sow_on": as_day(date(2027, 5, 6))}, {}),
        ({"light": LAMP}, {"light": Light.WINDOW}),
        ({"light": WINDOW}, {"light": Light.WINDOW}),
        ({}, {"emergence": ROW, "germ_temp_c": 20, "bench": 18}),
        # The card's own temperature has no figure either: the bench is not to blame.
        ({}, {"emergence": ROW, "germ_temp_c": 4, "bench": 4}),
        ({}, {"emergence": None, "bench": 2}),
    ],
)
def test_what_is_within_its_bounds_is_not_warned_of(row, changes):
    assert warned(sowing(**row), **changes) is Warned.NOTHING


def test_a_crop_sown_outside_is_warned_of_when_it_is_too_long_and_of_nothing_else():
    none = dict.fromkeys(("indoor_weeks_min", "indoor_weeks_max", "start_container", "light"))
    beans = {"direct_sow_weeks": 0, "counted_from": CountedFrom.SEED, "emergence": ROW, "germ_temp_c": 20} | none
    row = sowing(plant_out=as_day(date(2027, 5, 1)), sow_on=as_day(date(2027, 5, 1)), light=WINDOW)
    assert warned(row, bench=2, **beans) is Warned.NOTHING
    assert warned(row, bench=2, days_to_maturity=70, **beans) is Warned.TOO_LONG


def test_too_long_as_a_warning_and_as_a_verdict_differ_only_by_the_hand_out_day():
    # The verdict counts from 13 June, the sowing from Saturday the 19th and its own window.
    plan = make_plan(garden(cards=(card(plant_out_weeks=0, days_to_maturity=64, indoor_weeks_max=6),)))
    assert plan.fits[0].verdict is Verdict.START_INDOORS
    assert Warned.TOO_LONG in Warned(int(plan.warned[0]))


def test_germination_is_that_of_the_seed_lot_else_the_legal_one_else_the_usual():
    cards = (card(legal_germination=0.80), card(legal_germination=None))
    rows = [sowing(germination=0.5), sowing(), sowing(crop=1), sowing(crop=1, germination=0.5)]
    given = make_plan(garden(rows, cards=cards)).cells.tolist()
    lots = [0.5, 0.80, GERMINATION, 0.5]
    assert GERMINATION == 0.70
    assert given == [make_plan(garden([sowing(germination=g)])).cells[0] for g in lots]
    assert given[0] > given[2] >= given[1]


def test_plants_that_were_granted_go_before_those_that_were_wished_for():
    rows = [sowing(plants=30), sowing(plants=30, placed=12), sowing(plants=12), sowing(plants=30, placed=0)]
    plan = make_plan(garden(rows))
    assert plan.plants.tolist() == [30, 12, 12, 0]
    assert plan.cells[1] == plan.cells[2] < plan.cells[0]
    assert (plan.cells[3], plan.seeds[3], plan.pots[3]) == (0, 0, 0)
    assert 3 not in plan.trays.part_lot


def test_a_garden_without_sowings_needs_no_room():
    plan = make_plan(garden([]))
    assert plan.ledger.needed.shape == (0, 4)
    assert len(plan.trays.container) == len(plan.stays.group) == len(plan.cells) == 0
    assert len(plan.fits) == 1


def test_a_garden_without_crop_cards_or_shelves_has_a_plan():
    plan = make_plan(garden([], cards=(), containers=(), shelves=()))
    assert plan.fits == ()
    assert plan.ledger.positions.tolist() == [0, 0, 0, 0]


def test_positions_add_up_over_the_shelves_of_a_place():
    shelves = (shelf(Place.LAMP, positions=4), shelf(Place.LAMP, positions=3), shelf(Place.HEAT, positions=2))
    assert make_plan(garden(shelves=shelves)).ledger.positions.tolist() == [2, 7, 0, 0]


def test_a_sowing_is_found_by_its_row_in_the_database():
    plan = make_plan(garden([sowing(), sowing(), sowing()]))
    assert plan.index_of == {1: 0, 2: 1, 3: 2}


def test_the_tomato_of_the_method_page_stands_where_the_page_says():
    # docs/method.md, sections 7 and 10: heat 8 to 15 May, lamp 16 May to 11 June, hardening 12 to 18 June.
    tomato = card(
        plant_out_weeks=0,
        indoor_weeks_min=5,
        indoor_weeks_max=7,
        days_to_maturity=55,
        pot_on_container=1,
        pot_on_after_days=14,
        days_to_emerge=8,
    )
    rows = [sowing(sow_on=as_day(date(2027, 5, 8)))]
    plan = make_plan(garden(rows, cards=(tomato,), containers=(container(), container(id=2, cells_per_tray=18))))
    assert (plan.cells[0], plan.seeds[0], plan.pots[0]) == (9, 18, 7)
    first = date.fromisocalendar(2027, 18, 1)
    assert plan.ledger.weeks[0] == (as_day(first) - 1) // 7
    assert plan.ledger.needed.tolist() == [
        [1, 0, 0, 0],
        [1, 1, 0, 0],
        [0, 1, 0, 0],
        [0, 1, 0, 0],
        [0, 1, 0, 0],
        [0, 1, 0, 1],
        [0, 0, 0, 1],
    ]
    # In week 21 the start tray leaves on the day the pots come: one position.
    pots_come = as_day(first + timedelta(days=27))
    assert np.isin([pots_come], plan.stays.begin).all()
    assert np.isin([pots_come], plan.stays.end).all()
