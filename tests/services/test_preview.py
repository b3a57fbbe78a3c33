"""What a wish would do, held against the plan once it is stored."""

from datetime import date

import numpy as np
import pytest

from app.core.words import Light
from app.services.plan import get_plan
from app.services.sowings import (
    FarFromSeasonError,
    SeedLotOfOtherCropError,
    SowingValues,
    add_sowing,
    change_sowing,
    preview_sowing,
)
from app.storage.queries.version import get_mark
from tests import rows


@pytest.fixture
def garden(session):
    rows.garden(session)
    rows.shelf(session, positions=1, levels=1)
    tomato = rows.crop(session, box=rows.container(session))
    carrot = rows.crop(session, "Carrot")
    lot = rows.seed_lot(session, tomato, germination=0.6)
    grower = rows.grower(session)
    rows.sowing(session, grower, carrot)
    first = rows.sowing(session, grower, tomato, "S-0002", plants=30)
    session.commit()
    return {"tomato": tomato, "carrot": carrot, "lot": lot, "grower": grower, "first": first}


def values(garden, crop="tomato", **changes):
    fields = dict.fromkeys(
        ("seed_lot_id", "variety", "days_to_maturity", "priority", "plant_out", "risk", "sow_on", "light", "placed")
    )
    fields |= {"grower_id": garden["grower"].id, "crop_id": garden[crop].id, "plants": 40}
    return SowingValues(**fields | changes)


CASES = [
    {},
    {"crop": "carrot"},
    {"variety": "Round", "days_to_maturity": 50, "priority": 1, "risk": 0.3},
    {"plant_out": date(2027, 6, 26), "light": Light.WINDOW},
    {"placed": 10, "sow_on": date(2027, 5, 1)},
    {"lot": True},
]


def assert_alike(one, other):
    for columns in ("timeline", "ledger"):
        for name, column in vars(getattr(one, columns)).items():
            assert np.array_equal(column, getattr(getattr(other, columns), name)), (columns, name)
    for name in ("plants", "cells", "seeds", "pots", "germination", "container", "light_place", "warned"):
        assert np.array_equal(getattr(one, name), getattr(other, name)), name


@pytest.mark.parametrize("case", CASES, ids=range(len(CASES)))
def test_a_wish_is_shown_as_the_plan_has_it_once_it_is_added(session, garden, case):
    case = {**case}
    if case.pop("lot", False):
        case["seed_lot_id"] = garden["lot"].id
    wished, mark = values(garden, **case), get_mark(session)
    preview = preview_sowing(session, wished)
    assert get_mark(session) == mark
    assert_alike(preview.before, get_plan(session))
    sowing = add_sowing(session, wished)
    plan = get_plan(session)
    assert plan.index_of[sowing.id] == preview.sowing
    assert_alike(preview.after, plan)


@pytest.mark.parametrize("case", CASES, ids=range(len(CASES)))
def test_a_change_is_shown_as_the_plan_has_it_once_it_is_saved(session, garden, case):
    case = {**case}
    if case.pop("lot", False):
        case["seed_lot_id"] = garden["lot"].id
    changed, first = values(garden, **case), garden["first"].id
    preview = preview_sowing(session, changed, first)
    change_sowing(session, first, changed)
    assert_alike(preview.after, get_plan(session))


def test_what_could_not_be_saved_is_not_shown(session, garden):
    with pytest.raises(FarFromSeasonError):
        preview_sowing(session, values(garden, plant_out=date(2030, 6, 1)))
    with pytest.raises(SeedLotOfOtherCropError):
        preview_sowing(session, values(garden, "carrot", seed_lot_id=garden["lot"].id))
