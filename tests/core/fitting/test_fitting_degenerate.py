"""Levelling gardens with little or nothing to choose, and levellings that are stopped: a clear answer, at once."""

from dataclasses import replace
from datetime import date
from time import monotonic

import numpy as np
import pytest

from app.core.fitting.answer import Goal
from app.core.plan import make_plan
from app.core.words import HEAT, LAMP, CellState, Light, Place
from tests.core.deals import Store
from tests.core.fitting_checks import check_extra, check_proven, levelled
from tests.core.fitting_gardens import MIDDLE, OUTSIDE, numbered
from tests.factories import GrowerCard, card, container, garden, shelf, sowing
from tests.lengths import TIMES

LETTUCE = card(light=Light.WINDOW, heat=False)
BOX = (container(cells_per_tray=9),)  # six tomatoes take nine cells (docs/method.md, section 4)
NO_ROOM = tuple(shelf(place, positions=0) for place in Place)
ONE_EACH = tuple(shelf(place, positions=1) for place in Place)
# A window of two weeks around 1 May with one sowing day in it.
ONE_DAY = card(indoor_weeks_min=6.5, indoor_weeks_max=7.25)


def values(answer):
    return [reached.value for reached in answer.reached]


def is_as_it_was(answer):
    return not answer.choices.is_changed(answer.garden).any()


def held(garden, *, sown):
    """Return a garden whose trays are all dealt, and sown or pinned."""
    store = Store(garden, [sowing() for _ in garden.sowings.ids])
    store.take(*store.deal())
    for tray in store.trays.values():
        tray.pinned = not sown
        if sown:
            tray.cells = {cell: (owner, CellState.SOWN) for cell, (owner, _) in tray.cells.items()}
    return store.made()


@pytest.mark.parametrize(
    "made",
    [
        garden([]),
        garden([], cards=(), containers=(), shelves=()),
        garden([], growers=()),
        garden(cards=(card(**OUTSIDE, direct_sow_weeks=0.0),)),
    ],
    ids=["no sowings", "no cards or shelves", "no growers", "sown outside only"],
)
def test_where_nothing_is_started_indoors_there_is_nothing_to_do(made):
    answer = levelled(made)
    check_proven(answer)
    assert values(answer) == [1, 0, 0, 0]
    assert is_as_it_was(answer)
    assert answer.extra.positions == (0, 0, 0, 0)
    assert answer.stuck == ()
    assert answer.gap == 0


@pytest.mark.parametrize("shelves", [(), NO_ROOM], ids=["no shelves", "no positions"])
def test_without_any_room_nothing_is_placed_and_it_says_what_it_takes(shelves):
    made = garden([sowing(), sowing(plants=2)], shelves=shelves)
    answer = levelled(made)
    check_proven(answer)
    assert values(answer) == [0, 0, 0, 0]
    assert answer.choices.placed.tolist() == [0, 0]
    # Both in one tray: under a lamp, and where there are shelves of these in heat and in hardening.
    check_extra(made, answer, 3 if shelves else 1)


def test_one_sowing_that_fits_stays_as_it_is():
    answer = levelled(garden())
    check_proven(answer)
    assert is_as_it_was(answer)
    assert values(answer) == [1, 12, 0, 1]


def test_of_one_sowing_too_large_as_many_plants_as_fit_are_placed():
    made = garden([sowing(plants=40)], containers=BOX, shelves=ONE_EACH)
    answer = levelled(made)
    check_proven(answer)
    assert answer.choices.placed.tolist() == [6]
    assert values(answer) == [6 / 40, 12, 0, 1]


def test_with_one_day_for_all_each_grower_gets_as_much():
    rows = [sowing(plants=4, grower=n) for n in (0, 1, 2)]
    growers = tuple(GrowerCard(id=n, name=f"Grower {n}", plot=None) for n in (1, 2, 3))
    made = garden(rows, cards=(ONE_DAY,), containers=BOX, shelves=ONE_EACH, growers=growers)
    window = make_plan(made).timeline
    days = [day for day in range(window.sow_from[0], window.sow_by[0] + 1) if (day - 1) % 7 == 5]
    assert len(days) == 1
    answer = levelled(made)
    check_proven(answer)
    # Two tomatoes take three cells.
    assert answer.choices.placed.tolist() == [2, 2, 2]
    assert values(answer) == [2 / 4, 12, 0, 1]


@pytest.mark.parametrize("sown", [True, False], ids=["all sown", "all pinned"])
def test_what_is_held_stays_though_it_is_over_full_and_it_says_where(sown):
    made = held(garden([sowing() for _ in range(3)], containers=BOX, shelves=ONE_EACH), sown=sown)
    answer = levelled(made)
    check_proven(answer)
    assert is_as_it_was(answer)
    assert values(answer) == [1, 36, 0, 3]
    assert {(Place.HEAT, Place.LAMP, Place.WINDOW, Place.HARDENING)[stuck.place] for stuck in answer.stuck} == {
        Place.HEAT,
        Place.LAMP,
        Place.HARDENING,
    }
    assert {stuck.over for stuck in answer.stuck} == {2}
    heat = next(stuck for stuck in answer.stuck if stuck.place == 0)
    assert (date.fromordinal(heat.first), date.fromordinal(heat.last)) == (date(2027, 5, 1), date(2027, 5, 6))


def test_beside_what_is_sown_nothing_is_added_to_a_full_place():
    rows = [sowing() for _ in range(2)]
    sown = held(garden(rows[:1], containers=BOX, shelves=ONE_EACH), sown=True)
    made = replace(sown, sowings=garden(rows).sowings)
    answer = levelled(made)
    check_proven(answer)
    assert answer.choices.placed.tolist() == [-1, 0]
    assert answer.stuck == ()


def test_nothing_is_moved_to_a_day_that_is_over():
    rows = [sowing(crop=0, plants=6) for _ in range(3)]
    made = garden(rows, cards=(LETTUCE,), containers=BOX, shelves=ONE_EACH)
    for day in (date(2027, 4, 25), date(2027, 5, 2), date(2027, 5, 20), date(2027, 9, 1)):
        answer = levelled(replace(made, today=day.toordinal()))
        check_proven(answer)


def test_a_lamp_crop_set_to_a_window_by_hand_stays_there():
    made = garden([sowing(light=2)], shelves=(shelf(Place.LAMP),))
    answer = levelled(made)
    check_proven(answer)
    assert values(answer) == [0, 0, 0, 0]
    assert answer.extra.positions == (0, 0, 1, 0)


def test_a_window_crop_takes_a_lamp_where_the_window_is_full():
    made = garden([sowing()], cards=(LETTUCE,), shelves=(shelf(Place.LAMP),))
    answer = levelled(made)
    check_proven(answer)
    assert answer.choices.light.tolist() == [LAMP]
    assert values(answer) == [1, 12, 0, 1]


def test_where_all_is_too_late_there_is_nothing_to_do():
    made = replace(garden([sowing(), sowing()], shelves=NO_ROOM), today=date(2027, 6, 1).toordinal())
    assert make_plan(made).is_too_late.all()
    answer = levelled(made)
    check_proven(answer)
    assert values(answer) == [1, 0, 0, 0]
    assert is_as_it_was(answer)
    assert answer.extra.positions == (0, 0, 0, 0)


def test_where_all_is_sown_and_waits_it_stays_and_is_reckoned_with_today():
    rows, today = [sowing() for _ in range(3)], date(2027, 6, 1).toordinal()
    made = replace(held(garden(rows, containers=BOX, shelves=ONE_EACH), sown=True), today=today)
    answer = levelled(made)
    check_proven(answer)
    assert is_as_it_was(answer)
    assert values(answer) == [1, 36, 0, 3]
    # Sown on 1 May and due on 7 May, by what is written down they have not come up yet.
    heat = next(stuck for stuck in answer.stuck if stuck.place == HEAT)
    assert (date.fromordinal(heat.first), date.fromordinal(heat.last)) == (date(2027, 5, 1), date(2027, 5, 31))


def test_what_is_too_late_keeps_the_season_going_for_what_waits():
    # The first was to be planted out on 5 June, but ripens when it is sown on 12 June too; the other on 19 June.
    rows = [sowing(plant_out=date(2027, 6, 5).toordinal()), sowing(crop=1)]
    cards = (card(days_to_maturity=10, harvest_days=7), card())
    made = replace(garden(rows, cards=cards), today=date(2027, 6, 12).toordinal())
    plan = make_plan(made)
    assert plan.is_too_late.tolist() == [False, True]
    assert plan.timeline.sow_on[0] == made.today
    answer = levelled(made)
    check_proven(answer)
    assert is_as_it_was(answer)
    assert values(answer)[:2] == [1, 12]


def test_once_the_season_is_over_it_is_made_to_fit_as_if_no_day_had_passed():
    made = garden([sowing(crop=0, plants=6) for _ in range(3)], cards=(LETTUCE,), containers=BOX, shelves=ONE_EACH)
    before, over = levelled(made), levelled(replace(made, today=date(2027, 6, 20).toordinal()))
    check_proven(over)
    assert values(over) == values(before)
    assert over.choices.is_changed(made).any()


def test_who_is_late_waits_beside_others_and_is_planted_out_later():
    quick = card(days_to_maturity=30)
    rows = [sowing(sow_on=date(2027, 5, 1).toordinal()), sowing(plant_out=date(2027, 7, 3).toordinal())]
    made = garden(rows, cards=(quick,), containers=BOX)
    today = date(2027, 5, 11).toordinal()  # the window of the first ended on 8 May
    answer = levelled(replace(made, today=today))
    check_proven(answer)
    assert date.fromordinal(int(answer.after.timeline.sow_on[0])) == date(2027, 5, 15)
    assert answer.after.timeline.plant_out[0] > make_plan(made).timeline.plant_out[0]
    # The day that was set stays as it is: it waits.
    assert answer.choices.sow_on[0] == made.sowings.sow_on[0]
    assert (answer.after.plants == 6).all()


def test_what_is_pinned_and_granted_nothing_stays_without_room():
    pinned = held(garden([sowing(), sowing()]), sown=False)
    made = replace(pinned, sowings=replace(pinned.sowings, placed=np.array([0, -1])))
    answer = levelled(made)
    check_proven(answer)
    assert is_as_it_was(answer)
    assert values(answer)[:2] == [6 / 12, 12]


def large(number):
    """Return a garden of some hundred sowings."""
    return numbered(number, replace(MIDDLE, sowings=(200, 400), growers=40))


def test_a_levelling_that_is_stopped_at_once_has_an_answer_that_breaks_no_rule():
    answer = levelled(large(1), is_stopped=lambda: True)
    assert answer.is_stopped


@pytest.mark.parametrize("seconds", [0, 0.5, 2])
def test_a_levelling_keeps_its_time_and_every_rule(seconds):
    begin = monotonic()
    levelled(large(2), seconds=seconds)
    assert monotonic() - begin < seconds + 5


@pytest.mark.soak
@pytest.mark.parametrize("number", range(3, 3 + 3 * TIMES))
def test_no_rule_is_broken_in_a_larger_garden(number):
    levelled(large(number), seconds=2)


def test_the_same_garden_gets_the_same_answer():
    made = numbered(4, MIDDLE)
    one, other = levelled(made), levelled(made)
    for name in ("sow_on", "light", "placed"):
        assert np.array_equal(getattr(one.choices, name), getattr(other.choices, name))
    assert one.reached == other.reached
    assert [reached.goal for reached in one.reached] == list(Goal)


def test_progress_is_told_goal_by_goal():
    heard = []
    levelled(numbered(5, MIDDLE), report=heard.append)
    assert heard
    for progress in heard:
        goals = [reached.goal for reached in progress.reached]
        assert goals == list(Goal)[: len(goals)]
