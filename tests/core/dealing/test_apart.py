"""Why two sowings cannot share a tray: the rules of docs/method.md, section 8, one by one."""

from datetime import date, timedelta
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given

from app.core.calendar import as_day
from app.core.dealing.apart import Differs, why_apart
from app.core.plan import make_plan
from app.core.words import WINDOW, Light
from tests.core.gardens import gardens
from tests.factories import card, container, garden, sowing

SOWN, OUT = date(2027, 4, 24), date(2027, 6, 12)
POTTED = {"pot_on_container": 0, "pot_on_after_days": 20}


def apart(changes, *, potted_on=False, base=(), **row):
    """Return in what a crop that is changed, or a sowing whose row is, differs from another."""
    usual = dict(base) | {"seeds_per_cell": 1, "days_to_emerge": 7, "hardening_days": 7, "heat": True}
    days = {"sow_on": as_day(SOWN), "plant_out": as_day(OUT)}
    rows = [sowing(**days), sowing(**days | {"crop": 1} | row)]
    boxes = (container(), container(id=2))
    plan = make_plan(garden(rows, cards=(card(**usual), card(**usual | changes)), containers=boxes))
    assert why_apart(plan, 1, 0, potted_on=potted_on) == why_apart(plan, 0, 1, potted_on=potted_on)
    return why_apart(plan, 0, 1, potted_on=potted_on)


@pytest.mark.parametrize(
    ("changes", "differs"),
    [
        ({}, ()),
        ({"days_to_emerge": 10}, ()),
        ({"start_container": 1}, (Differs.CONTAINER,)),
        ({"heat": False}, (Differs.PLACE,)),
        ({"light": Light.WINDOW}, (Differs.LIGHT,)),
        ({"light": Light.WINDOW, "heat": False}, (Differs.PLACE, Differs.LIGHT)),
        ({"days_to_emerge": 5}, (Differs.SPEED,)),
        ({"days_to_emerge": 11}, (Differs.SPEED,)),
        ({"hardening_days": 13}, (Differs.LEAVING,)),
        (POTTED, (Differs.POTTING_ON, Differs.LEAVING)),
    ],
)
def test_sown_lots_share_unless_they_differ_in_what_must_be_alike(changes, differs):
    assert apart(changes) == differs


def test_another_day_is_another_tray():
    assert apart({}, sow_on=as_day(SOWN + timedelta(days=1))) == (Differs.DAY,)


def test_a_light_place_of_its_own_counts():
    assert apart({}, light=WINDOW) == (Differs.LIGHT,)


@pytest.mark.parametrize(
    ("changes", "differs"),
    [
        ({}, ()),
        ({"heat": False}, ()),
        ({"days_to_emerge": 6}, ()),
        ({"pot_on_container": 1}, (Differs.CONTAINER,)),
        ({"light": Light.WINDOW}, (Differs.LIGHT,)),
        ({"pot_on_after_days": 9}, (Differs.DAY,)),
        ({"hardening_days": 13}, (Differs.LEAVING,)),
    ],
)
def test_pots_share_unless_they_differ_in_what_must_be_alike(changes, differs):
    assert apart(changes, potted_on=True, base=POTTED.items()) == differs


@given(gardens())
def test_it_says_nothing_of_those_who_share_a_group_and_something_of_all_others(drawn):
    plan = make_plan(drawn.garden)
    for potted_on, cells in ((False, plan.cells), (True, plan.pots)):
        mine = plan.trays.is_potted_on[plan.trays.part_tray] == potted_on
        lots, trays = plan.trays.part_lot[mine], plan.trays.part_tray[mine]
        group = dict(zip(lots.tolist(), plan.trays.group[trays].tolist(), strict=True))
        for one, other in combinations(np.flatnonzero(cells > 0).tolist(), 2):
            assert (group[one] == group[other]) is not bool(why_apart(plan, one, other, potted_on=potted_on))
