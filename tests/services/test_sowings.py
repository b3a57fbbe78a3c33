from datetime import date, timedelta

import pytest

from app.core.words import Light
from app.services.plan import get_plan
from app.services.sowings import (
    FarFromSeasonError,
    OutsideWindowError,
    PlacedAbovePlantsError,
    SeedLotOfOtherCropError,
    SowingValues,
    SownOutsideError,
    add_sowing,
    change_sowing,
    find_window,
    remove_sowing,
)
from app.storage.errors import NotFoundError
from app.storage.queries.sowings import count_sowings, list_sowing_ids, list_sowings
from tests import rows


@pytest.fixture
def garden(session):
    """Return a grower, a crop started in trays and one sown outside, of a garden with one shelf."""
    rows.garden(session)
    rows.shelf(session)
    box = rows.container(session)
    return rows.grower(session), rows.crop(session, box=box, days_to_maturity=40), rows.crop(session, "Carrot")


def values(grower, crop, **changes):
    given = dict.fromkeys(
        ("seed_lot_id", "variety", "days_to_maturity", "priority", "plant_out", "risk", "sow_on", "light", "placed")
    )
    return SowingValues(grower_id=grower.id, crop_id=crop.id, **{"plants": 6} | given | changes)


def test_keys_count_on_from_the_highest_and_are_kept(session, garden):
    grower, tomato, _ = garden
    rows.sowing(session, grower, tomato, "S-0041")
    rows.sowing(session, grower, tomato, "S-x")
    rows.sowing(session, grower, tomato, "plot 3, first")
    added = add_sowing(session, values(grower, tomato))
    assert added.name == "S-0042"
    assert change_sowing(session, added.id, values(grower, tomato, plants=7)).name == "S-0042"
    assert add_sowing(session, values(grower, tomato)).name == "S-0043"


# 1 spring in 10 freezes after 13 June by the entered table; a tender crop waits for it; the next Saturday is
# 19 June 2027, and 6 to 8 weeks before it are 24 April to 8 May: counted on a calendar.
def test_a_day_set_for_sowing_lies_in_the_window(session, garden):
    grower, tomato, _ = garden
    first, last = date(2027, 4, 24), date(2027, 5, 8)
    for day in (first, last):
        assert add_sowing(session, values(grower, tomato, sow_on=day)).sow_on == day
    for day in (first - timedelta(days=1), last + timedelta(days=1)):
        with pytest.raises(OutsideWindowError) as refused:
            add_sowing(session, values(grower, tomato, sow_on=day))
        assert (refused.value.first, refused.value.last) == (first, last)


def test_the_window_moves_with_the_growers_own_date_and_risk(session, garden):
    grower, tomato, _ = garden
    core_garden = get_plan(session).garden
    usual = find_window(core_garden, values(grower, tomato))
    own = find_window(core_garden, values(grower, tomato, plant_out=date(2027, 6, 5)))
    bold = find_window(core_garden, values(grower, tomato, risk=0.5))
    assert own == tuple(day - timedelta(weeks=2) for day in usual)
    assert bold < usual


def test_the_window_is_the_plans_own(session, garden):
    grower, tomato, _ = garden
    sowing = add_sowing(session, values(grower, tomato, days_to_maturity=50, light=Light.WINDOW))
    session.commit()
    plan = get_plan(session)
    index = plan.index_of[sowing.id]
    found = find_window(plan.garden, values(grower, tomato, days_to_maturity=50, light=Light.WINDOW))
    planned = (int(plan.timeline.sow_from[index]), int(plan.timeline.sow_by[index]))
    assert tuple(day.toordinal() for day in found) == planned


def test_seed_is_of_the_crop_that_is_sown(session, garden):
    grower, tomato, carrot = garden
    lot = rows.seed_lot(session, carrot)
    assert add_sowing(session, values(grower, carrot, seed_lot_id=lot.id)).seed_lot_id == lot.id
    with pytest.raises(SeedLotOfOtherCropError) as refused:
        add_sowing(session, values(grower, tomato, seed_lot_id=lot.id))
    assert refused.value.crop == "Carrot"


def test_no_more_is_granted_than_wanted(session, garden):
    grower, tomato, _ = garden
    assert add_sowing(session, values(grower, tomato, placed=6)).placed == 6
    with pytest.raises(PlacedAbovePlantsError):
        add_sowing(session, values(grower, tomato, placed=7))


@pytest.mark.parametrize("column", ["plant_out", "sow_on"])
def test_a_date_of_another_season_is_refused(session, garden, column):
    grower, tomato, _ = garden
    with pytest.raises(FarFromSeasonError) as refused:
        add_sowing(session, values(grower, tomato, **{column: date(2030, 5, 1)}))
    assert (refused.value.column, refused.value.season) == (column, 2027)


@pytest.mark.parametrize(("column", "value"), [("sow_on", date(2027, 6, 12)), ("light", Light.WINDOW)])
def test_nothing_of_the_shelves_is_set_for_a_crop_sown_outside(session, garden, column, value):
    grower, _, carrot = garden
    with pytest.raises(SownOutsideError) as refused:
        add_sowing(session, values(grower, carrot, **{column: value}))
    assert refused.value.column == column


def test_there_must_be_such_a_grower_and_crop(session, garden):
    grower, tomato, _ = garden
    for column in ("grower_id", "crop_id"):
        with pytest.raises(NotFoundError):
            add_sowing(session, SowingValues(**{**vars(values(grower, tomato)), column: 9999}))


def test_sowings_are_counted_and_listed_by_grower_and_crop(session, garden):
    grower, tomato, carrot = garden
    other = rows.grower(session, "Ada")
    for number, (who, what) in enumerate([(grower, tomato), (grower, carrot), (other, carrot)]):
        rows.sowing(session, who, what, f"S-{number}", plants=10 * (number + 1))
    assert count_sowings(session) == (3, 60)
    assert count_sowings(session, grower_id=grower.id, crop_id=carrot.id) == (1, 20)
    assert [row.name for row in list_sowings(session, list_sowing_ids(session))] == ["S-2", "S-1", "S-0"]
    assert [row.name for row in list_sowings(session, list_sowing_ids(session, crop_id=carrot.id))] == ["S-2", "S-1"]


def test_a_sowing_is_removed(session, garden):
    grower, tomato, _ = garden
    sowing = add_sowing(session, values(grower, tomato))
    assert remove_sowing(session, sowing.id) == "S-0001"
    assert count_sowings(session) == (0, 0)
