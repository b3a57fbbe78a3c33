"""Who shares a tray, and when it moves; by hand."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.calendar import as_day
from app.core.plan import make_plan
from app.core.space.dealt import Dealt, settle
from app.core.space.sharing import fill_trays, first_of, group_lots, last_of
from app.core.words import HARDENING, HEAT, LAMP, WINDOW, Light, Place
from tests.factories import card, container, garden, shelf, sowing

KEYS = st.lists(st.tuples(st.integers(-5, 5), st.integers(0, 3), st.integers(700_000, 700_003)), max_size=20)
# A Saturday, so that a set day is a sowing day too.
SOWN = date(2027, 4, 24)
OUT = date(2027, 6, 12)


@given(KEYS)
def test_lots_are_of_one_group_where_all_their_keys_are_equal(keys):
    columns = [np.array(column, dtype=np.int64) for column in zip(*keys, strict=True)] or [np.zeros(0, np.int64)] * 3
    group, n = group_lots(columns)
    assert n == len(set(keys))
    assert [group[a] == group[b] for a in range(len(keys)) for b in range(len(keys))] == [
        keys[a] == keys[b] for a in range(len(keys)) for b in range(len(keys))
    ]
    # Groups are numbered in the order of their keys, so that equal input gives equal output.
    assert [sorted(set(keys)).index(key) for key in keys] == group.tolist()


def test_a_group_has_its_first_and_its_last_day():
    group, days = np.array([0, 1, 0, 1, 1]), np.array([12, 9, 10, 30, 4])
    assert first_of(group, 2, days).tolist() == [10, 4]
    assert last_of(group, 2, days).tolist() == [12, 30]


def test_parts_name_lots_and_cells_of_each_tray():
    # Lots 7 and 9 are of group 0, lot 8 of group 1; trays of 10 and of 6 cells.
    columns = [7, 8, 9], [0, 1, 0], [23, 6, 5], [0, 1, 0], [10, 6]
    nothing = settle(Dealt(), 10, potted_on=True)[1]
    trays = fill_trays(*map(np.array, columns), kept=nothing, potted_on=True)
    parts = sorted(zip(trays.part_tray.tolist(), trays.part_lot.tolist(), trays.part_cells.tolist(), strict=True))
    assert parts == [(0, 7, 10), (1, 7, 10), (2, 7, 3), (2, 9, 5), (3, 8, 6)]
    assert trays.group.tolist() == [0, 0, 0, 1]
    assert trays.container.tolist() == [0, 0, 0, 1]
    assert trays.is_potted_on.tolist() == [True] * 4


def crop(**changes):
    """Return a crop that is one plant a seed, so that plants and cells are alike where all seed comes up."""
    fields = {"seeds_per_cell": 1, "days_to_emerge": 7, "hardening_days": 7, "heat": True}
    return card(**fields | changes)


def plan_of(*cards, own=(), **changes):
    """Return the plan of one sowing of each card, all sown and set out on the same days unless `own` says else."""
    rows = [
        sowing(crop=n, plants=10, germination=1.0, sow_on=as_day(SOWN), plant_out=as_day(OUT))
        for n in range(len(cards))
    ]
    for row, days in zip(rows, own, strict=False):
        row.update({name: as_day(day) for name, day in days.items()})
    return make_plan(garden(rows, cards=cards, settings={"survival": 1.0}, **changes))


def n_trays(plan):
    return len(plan.trays.container)


def stays_of(plan):
    """Return (place, first day, day after the last) of every group's stays, in the order of time."""
    stays = plan.stays
    days = (
        (date.fromordinal(b), date.fromordinal(e))
        for b, e in zip(stays.begin.tolist(), stays.end.tolist(), strict=True)
    )
    return sorted(((place, *pair) for place, pair in zip(stays.place.tolist(), days, strict=True)), key=lambda s: s[1:])


def test_like_lots_of_two_crops_share_a_tray():
    assert n_trays(plan_of(crop(), crop(name="Pepper"))) == 1


@pytest.mark.parametrize(
    "changes",
    [
        pytest.param({"start_container": 1}, id="another container"),
        pytest.param({"heat": False}, id="another first place"),
        pytest.param({"light": Light.WINDOW}, id="another light place"),
        pytest.param({"days_to_emerge": 5}, id="faster"),
        pytest.param({"days_to_emerge": 11}, id="slower"),
        pytest.param({"pot_on_container": 0, "pot_on_after_days": 21}, id="potted on"),
        pytest.param({"hardening_days": 13}, id="leaving in another week"),
    ],
)
def test_lots_that_differ_have_trays_of_their_own(changes):
    # 12 June 2027 is a Saturday: 7 days before it are in the week of 31 May, 13 days in the one before.
    plan = plan_of(crop(), crop(**changes), containers=(container(), container(id=2)))
    starts = plan.trays.part_lot[plan.trays.part_cells > 0]
    assert n_trays(plan) == 2 + (changes.get("pot_on_container") is not None)
    assert set(starts.tolist()) == {0, 1}


@pytest.mark.parametrize("days", [6, 8, 10])
def test_six_to_ten_days_to_emergence_share_a_cover(days):
    # docs/method.md, section 8.
    assert n_trays(plan_of(crop(), crop(days_to_emerge=days))) == 1


def test_another_sowing_day_has_a_tray_of_its_own():
    assert n_trays(plan_of(crop(), crop(), own=[{}, {"sow_on": SOWN + timedelta(days=7)}])) == 2


def test_a_tray_moves_when_its_slowest_lot_is_ready():
    # Emergence after 6 and 10 days, hardening from 5 and 3 June, planted out on 12 and 13 June.
    plan = plan_of(
        crop(days_to_emerge=6),
        crop(days_to_emerge=10, hardening_days=10),
        own=[{}, {"plant_out": OUT + timedelta(days=1)}],
    )
    assert n_trays(plan) == 1
    assert stays_of(plan) == [
        (HEAT, SOWN, SOWN + timedelta(days=10)),
        (LAMP, SOWN + timedelta(days=10), date(2027, 6, 5)),
        (HARDENING, date(2027, 6, 5), date(2027, 6, 13)),
    ]


def test_pots_move_when_the_slowest_of_them_is_ready():
    # Potted on 21 and 23 days after emergence on 1 May: Saturday 22 and Monday 24 May are two weeks for the start
    # trays; 20 and 22 days, Friday and Sunday, are one.
    potted = {"pot_on_container": 0, "heat": False}
    plan = plan_of(
        crop(pot_on_after_days=20, **potted),
        crop(pot_on_after_days=22, hardening_days=8, **potted),
        own=[{}, {"plant_out": OUT + timedelta(days=1)}],
    )
    assert n_trays(plan) == 2
    assert stays_of(plan) == [
        (LAMP, SOWN, date(2027, 5, 23)),
        (LAMP, date(2027, 5, 21), date(2027, 6, 5)),
        (HARDENING, date(2027, 6, 5), date(2027, 6, 13)),
    ]
    two_weeks = plan_of(crop(pot_on_after_days=22, **potted), crop(pot_on_after_days=23, **potted))
    assert n_trays(two_weeks) == 4


def test_pots_of_different_sowing_days_share_where_they_are_potted_on_in_one_week():
    # Sown a week apart, potted on in the same week.
    potted = {"pot_on_container": 0}
    plan = plan_of(
        crop(pot_on_after_days=21, **potted),
        crop(pot_on_after_days=15, **potted),
        own=[{}, {"sow_on": SOWN + timedelta(days=7)}],
    )
    assert n_trays(plan) == 3


def test_pots_that_harden_in_different_weeks_have_trays_of_their_own():
    # Potted on the same day; hardening from Saturday 5 June and Saturday 29 May.
    potted = {"pot_on_container": 0, "pot_on_after_days": 20}
    plan = plan_of(crop(**potted), crop(hardening_days=14, **potted))
    assert n_trays(plan) == 3


def test_spare_pots_are_a_tenth_rounded_up_and_no_more_than_there_are_cells():
    potted = crop(pot_on_container=0, pot_on_after_days=20)
    rows = [sowing(plants=n, germination=0.5) for n in (1, 10, 11, 25, 30)]
    plan = make_plan(garden(rows, cards=(potted,)))
    assert plan.pots.tolist() == [2, 11, 13, 28, 33]
    # 7 % of 100 plants are 7, not the 7.000000000000001 of floating arithmetic.
    few = make_plan(garden([sowing(plants=100)], cards=(potted,), settings={"spare": 0.07}))
    assert few.pots.tolist() == [107]
    sure = make_plan(garden([sowing(plants=10, germination=1.0)], cards=(potted,), settings={"survival": 1.0}))
    assert (sure.cells.tolist(), sure.pots.tolist()) == ([10], [10])


def test_heat_crops_start_in_their_light_place_where_there_is_no_heat():
    shelves = tuple(shelf(place) for place in (Place.LAMP, Place.WINDOW, Place.HARDENING))
    plan = plan_of(crop(), crop(light=Light.WINDOW), shelves=shelves)
    assert plan.first_place.tolist() == plan.light_place.tolist() == [LAMP, WINDOW]
    assert HEAT not in plan.stays.place


def test_without_hardening_shelves_hardening_takes_no_room():
    plan = plan_of(crop(), shelves=(shelf(Place.HEAT), shelf(Place.LAMP)))
    assert plan.timeline.harden[0] == as_day(date(2027, 6, 5))
    assert [place for place, _, _ in stays_of(plan)] == [HEAT, LAMP]
    assert plan.ledger.needed[:, HARDENING].sum() == 0


def test_a_window_crop_may_stand_under_lamps():
    rows = [sowing(light=LAMP), sowing()]
    plan = make_plan(garden(rows, cards=(crop(light=Light.WINDOW),)))
    assert plan.light_place.tolist() == [LAMP, WINDOW]
    assert plan.first_place.tolist() == [HEAT, HEAT]
