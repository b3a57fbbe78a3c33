"""The judge of a levelling: it counts as the ledger does, and finds each rule that is broken."""

from collections import Counter
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given

from app.core.fitting.answer import Choices, Goal
from app.core.fitting.fault import Rule
from app.core.fitting.judge import faults_of, values_of
from app.core.fitting.recount import Recount
from app.core.plan import make_plan
from app.core.space.dealt import Dealt
from app.core.words import LAMP, PLACES, WINDOW, Light, Place
from tests.core import by_hand
from tests.core.gardens import gardens
from tests.core.histories import BY_HAND, CHANGES, DEALS, steps, stores
from tests.factories import GrowerCard, card, container, garden, shelf, sowing

# The tomato of the factories is planted out on Sat 19 Jun: its window runs from 24 Apr to 6 May, 1 May is its best day.
SATURDAYS = [date(2027, 4, 24).toordinal(), date(2027, 5, 1).toordinal()]
LETTUCE = {"light": Light.WINDOW, "heat": False, "name": "Lettuce"}
OUTSIDE = dict.fromkeys(("indoor_weeks_min", "indoor_weeks_max", "start_container", "light"))


def choices(made, **columns):
    """Return the choices that a garden has by now, with some columns replaced."""
    now = {name: getattr(made.sowings, name) for name in ("sow_on", "light", "placed")}
    return Choices(**now | {name: np.array(values) for name, values in columns.items()})


def broken(made, *, today=0, **columns):
    return {fault.rule for fault in faults_of(replace(made, today=today), choices(made, **columns))}


def dealt(*, filled, pinned, cells=8):
    """Return one tray of cells of the first sowing."""
    column = {name: np.array([0]) for name in ("container", "part_tray", "part_lot")}
    return Dealt(
        ids=np.array([1]),
        number=np.array([1]),
        filled=np.array(SATURDAYS[1:]),
        is_potted_on=np.array([False]),
        is_pinned=np.array([pinned]),
        part_cells=np.array([cells]),
        part_filled=np.array([cells if filled else 0]),
        **column,
    )


@given(gardens())
def test_trays_are_counted_day_by_day_as_by_hand(drawn):
    plan = make_plan(drawn.garden)
    counted = Recount(plan)
    assert list(counted.faults()) == []
    standing = by_hand.standing_by_day(drawn, plan.cells.tolist(), plan.pots.tolist())
    expected = {(PLACES.index(place), day.toordinal()): n for (place, day), n in standing.items()}
    assert counted.by_day == Counter(expected)


@given(stores(), steps(DEALS, CHANGES, BY_HAND, least=4, most=14))
def test_trays_that_are_sown_pinned_and_dealt_anew_are_counted_as_in_the_ledger(store, history):
    for what, a, b in history:
        if what in DEALS:
            store.take(*store.deal())
        else:
            what(store, a, b)
    plan = make_plan(store.made())
    counted = Recount(plan)
    assert list(counted.faults()) == []
    fullest = np.zeros_like(plan.ledger.needed)
    for (place, day), trays in counted.by_day.items():
        week = (day - 1) // 7 - plan.ledger.first_week
        fullest[week, place] = max(fullest[week, place], trays)
    assert (fullest == plan.ledger.needed).all()


def test_a_plan_that_fits_has_no_fault():
    assert faults_of(garden(), choices(garden())) == []


def test_more_trays_than_positions_on_one_day_are_a_fault_that_names_day_and_place():
    made = garden([sowing(plants=80)], shelves=(shelf(Place.HEAT, positions=1), shelf(Place.LAMP, positions=2)))
    assert int(make_plan(made).ledger.needed[:, 0].max()) == 2
    faults = faults_of(made, choices(made))
    assert {fault.rule for fault in faults} == {Rule.POSITIONS}
    assert len(faults) == 6  # the days to emergence, in heat
    assert faults[0].what == "2 trays stand in heat on 2027-05-01, where there is room for 1"


@pytest.mark.parametrize("placed", [7, -2])
def test_more_plants_than_wanted_or_fewer_than_none_are_a_fault(placed):
    assert Rule.PLACED in broken(garden(), placed=[placed])
    assert broken(garden(), placed=[6]) == broken(garden(), placed=[0]) == set()


def test_only_sowing_days_of_the_window_are_allowed():
    made = garden(cards=(card(days_to_maturity=50),))
    for day in SATURDAYS:
        assert broken(made, sow_on=[day]) == set()
        for other in (-1, 1, 3):
            assert broken(made, sow_on=[day + other]) == {Rule.DAY}
    assert broken(made, sow_on=[SATURDAYS[0] - 7]) == broken(made, sow_on=[SATURDAYS[-1] + 14]) == {Rule.DAY}


def test_a_window_without_a_sowing_day_leaves_its_best_day():
    rows = [sowing(plant_out=date(2027, 6, 10).toordinal())]
    made = garden(rows, cards=(card(indoor_weeks_min=6.2, indoor_weeks_max=6.4),))
    times = make_plan(made).timeline
    assert not any((day - 1) % 7 == 5 for day in range(times.sow_from[0], times.sow_by[0] + 1))
    best = int(times.sow_best[0])
    assert broken(made, sow_on=[best]) == set()
    assert broken(made, sow_on=[best + 1]) == {Rule.DAY}


def test_a_day_that_was_set_by_hand_may_stay_wherever_it_is():
    made = garden([sowing(sow_on=SATURDAYS[0] - 3)])
    assert broken(made) == set()
    assert broken(made, sow_on=[SATURDAYS[0] - 4]) == {Rule.DAY}


def test_nothing_is_moved_to_a_day_that_is_over_unless_the_season_is():
    made = garden()
    first, usual = SATURDAYS
    assert make_plan(made).timeline.sow_on[0] == usual
    assert broken(made, sow_on=[first], today=first) == set()
    assert broken(made, sow_on=[first], today=first + 1) == {Rule.DAY}
    assert broken(made, sow_on=[first], today=date(2027, 6, 20).toordinal()) == set()


def test_who_is_late_waits_for_the_next_sowing_day_and_no_other():
    made = garden(cards=(card(days_to_maturity=30),))
    today = SATURDAYS[-1] + 9  # two days after the last Saturday of the window
    times = make_plan(replace(made, today=today)).timeline
    following = SATURDAYS[-1] + 14
    assert times.sow_by[0] < times.sow_on[0] == following < times.last_chance[0]
    assert broken(made, today=today) == broken(made, placed=[3], today=today) == set()
    # With a day set for it, it would not be planted out later.
    assert broken(made, sow_on=[following], today=today) == {Rule.DAY}
    assert broken(made, sow_on=[following + 7], today=today) == {Rule.DAY}
    set_by_hand = replace(made, sowings=garden([sowing(sow_on=following)]).sowings)
    assert broken(set_by_hand, today=today) == broken(set_by_hand, sow_on=[0], today=today) == set()


def test_what_is_too_late_may_not_be_changed_and_counts_for_no_goal():
    made = garden([sowing(), sowing(crop=1)], cards=(card(), card(days_to_maturity=30)))
    today = SATURDAYS[-1] + 9
    plan = make_plan(replace(made, today=today))
    assert plan.is_too_late.tolist() == [True, False]
    assert broken(made, today=today) == set()
    assert broken(made, placed=[3, -1], today=today) == {Rule.FIXED}
    assert broken(made, placed=[-1, 3], today=today) == set()
    late = values_of(make_plan(choices(made, placed=[-1, 3]).made_in(replace(made, today=today))))
    assert (late[Goal.SHARE], late[Goal.PLANTS]) == (3 / 6, 6)


def test_a_lamp_crop_stays_under_its_lamp_and_a_window_crop_may_take_one():
    made = garden([sowing(), sowing(crop=1)], cards=(card(), card(**LETTUCE)))
    assert broken(made, light=[-1, LAMP]) == broken(made, light=[LAMP, WINDOW]) == set()
    assert broken(made, light=[WINDOW, -1]) == {Rule.LIGHT}
    assert Rule.LIGHT in broken(made, light=[0, -1])
    at_window = garden([sowing(light=WINDOW)])
    assert broken(at_window) == set()
    assert broken(at_window, light=[LAMP]) == {Rule.LIGHT}


@pytest.mark.parametrize(("filled", "pinned"), [(True, False), (False, True)])
def test_what_is_sown_or_pinned_may_not_be_changed(filled, pinned):
    made = replace(garden(), dealt=dealt(filled=filled, pinned=pinned))
    assert broken(made) == set()
    for change in ({"sow_on": SATURDAYS[:1]}, {"light": [LAMP]}, {"placed": [5]}):
        assert Rule.FIXED in broken(made, **change)
    loose = replace(made, dealt=dealt(filled=False, pinned=False))
    assert broken(loose, sow_on=SATURDAYS[:1]) == set()


def test_a_crop_sown_outside_may_not_be_changed():
    made = garden(cards=(card(direct_sow_weeks=0.0, **OUTSIDE),))
    assert broken(made) == set()
    assert broken(made, placed=[3]) == {Rule.FIXED}


def test_what_is_sown_may_be_over_full_alone_but_nothing_is_added_to_it():
    boxes, shelves = (container(cells_per_tray=8),), tuple(shelf(place, positions=0) for place in Place)
    made = garden([sowing(), sowing()], containers=boxes, shelves=shelves)
    sown = replace(made, dealt=dealt(filled=True, pinned=False))
    assert broken(sown, placed=[-1, 0]) == set()
    assert broken(sown) == {Rule.POSITIONS}
    assert broken(made, placed=[-1, 0]) == {Rule.POSITIONS}


def wrong_trays(rows, changes, **garden_changes):
    """Return the rules that a plan breaks whose trays are tampered with."""
    plan = make_plan(garden(rows, **garden_changes))
    tampered = {name: change(getattr(plan.trays, name).copy()) for name, change in changes.items()}
    return {fault.rule for fault in Recount(replace(plan, trays=replace(plan.trays, **tampered))).faults()}


def test_a_cell_too_few_or_too_many_is_a_fault():
    assert wrong_trays([sowing()], {}) == set()
    assert wrong_trays([sowing()], {"part_cells": lambda cells: cells - 1}) == {Rule.CELLS}
    assert wrong_trays([sowing()], {"part_cells": lambda cells: cells + 1}) == {Rule.CELLS}


def test_a_remainder_split_over_trays_is_a_fault():
    assert len(make_plan(garden([sowing(plants=80)])).trays.group) == 2
    assert wrong_trays([sowing(plants=80)], {"part_cells": lambda cells: cells + np.array([-12, 12])}) == {Rule.CELLS}


def test_a_tray_over_its_cells_is_a_fault():
    one_tray = {"part_tray": np.zeros_like}
    assert wrong_trays([sowing(plants=40), sowing(plants=40)], one_tray) == {Rule.TRAY}


@pytest.mark.parametrize(
    ("row", "changes"),
    [
        ({"sow_on": SATURDAYS[0]}, {}),
        ({"light": WINDOW}, {}),
        ({}, {"start_container": 1}),
        ({}, {"heat": False}),
        ({}, {"days_to_emerge": 5}),
        ({}, {"days_to_emerge": 11}),
        ({}, {"pot_on_container": 1, "pot_on_after_days": 10}),
        ({}, {"hardening_days": 14}),
    ],
)
def test_what_differs_in_any_respect_may_not_share_a_tray(row, changes):
    rows = [sowing(plants=2, crop=0), sowing(plants=2, crop=1, **row)]
    boxes = (container(), container(id=2))
    for change, expected in ((changes, {Rule.SHARING}), ({}, {Rule.SHARING} if row else set())):
        kinds = {"cards": (card(), card(**change)), "containers": boxes}
        n_pots = 1 if change.get("pot_on_container") else 0
        in_one = {"part_tray": lambda tray, n_pots=n_pots: np.where(tray < len(tray) - n_pots, 0, tray)}
        assert wrong_trays(rows, in_one, **kinds) == expected


def test_potted_on_lots_share_by_container_place_and_weeks():
    potted = {"pot_on_container": 1, "pot_on_after_days": 14}
    boxes = (container(), container(id=2), container(id=3))
    for change, expected in (
        ({}, set()),
        ({"pot_on_container": 2}, {Rule.SHARING}),
        ({"pot_on_after_days": 21}, {Rule.SHARING}),
        ({"hardening_days": 14}, {Rule.SHARING}),
    ):
        rows = [sowing(plants=2), sowing(plants=2, crop=1)]
        kinds = {"cards": (card(**potted), card(**potted | change)), "containers": boxes}
        plan = make_plan(garden(rows, **kinds))
        pots = plan.trays.is_potted_on
        first = np.flatnonzero(pots)[0]
        in_one = {"part_tray": lambda tray, pots=pots, first=first: np.where(pots[tray], first, tray)}
        assert wrong_trays(rows, in_one, **kinds) == expected


def test_the_four_goals_of_a_plan_counted_by_hand():
    rows = [
        sowing(plants=10, placed=4, priority=1, grower=0),  # on its best day
        sowing(plants=10, priority=3, grower=1, sow_on=SATURDAYS[0]),  # a week before it
        sowing(plants=5, placed=0, priority=1, grower=1),
        sowing(plants=9, grower=2, crop=1),  # sown outside
    ]
    cards = (card(), card(direct_sow_weeks=0.0, **OUTSIDE))
    growers = tuple(GrowerCard(id=n, name=f"Grower {n}", plot=None) for n in (1, 2, 3))
    plan = make_plan(garden(rows, cards=cards, growers=growers))
    assert values_of(plan) == {
        Goal.SHARE: 4 / 10,
        Goal.PLANTS: 4 * 3 + 10 * 1,
        Goal.DAYS: 10 * 7,
        Goal.TRAYS: 2,
    }


def test_a_garden_without_sowings_has_its_goals_reached():
    assert list(values_of(make_plan(garden([]))).values()) == [1.0, 0, 0, 0]
    assert broken(garden([])) == set()
