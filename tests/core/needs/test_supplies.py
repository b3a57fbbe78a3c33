"""Supplies: against a count day by day in plain Python, and against sums on paper."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.calendar import as_day, monday_of
from app.core.needs.shelf_use import (
    days_to_next_fill,
    hours_on,
    pan_litres,
    power_a_day,
    use_of_shelves,
    weeks_of_crops,
)
from app.core.needs.supplies import supplies_of
from app.core.plan import NO_CONTAINER, make_plan
from app.core.words import LogKind, Place
from tests.core import by_hand, supplies_by_hand
from tests.core.gardens import gardens
from tests.core.work.test_work import log_of
from tests.factories import card, container, garden, shelf, sowing


@st.composite
def equipped(draw):
    """Return a garden whose shelves have lamps, heat and pans, some of them with a figure missing."""
    drawn = draw(gardens())
    shelves = tuple(
        replace(
            one,
            id=number,
            name=f"Shelf {draw(st.integers(0, 99)):02d}-{number}",
            positions=draw(st.integers(0, 3)),
            watts=draw(st.sampled_from((None, 0.0, 90.0, 400.0))),
            hours_per_day=draw(st.sampled_from((None, 14.0, 16.5))),
            pan_depth_mm=draw(st.sampled_from((None, 0.0, 1.0, 6.6, 20.0, 60.0))),
        )
        for number, one in enumerate([*drawn.garden.shelves, *drawn.garden.shelves])
    )
    return replace(drawn, garden=replace(drawn.garden, shelves=shelves))


def groups_by_hand(drawn, plan):
    return supplies_by_hand.groups_of(drawn, plan.cells.tolist(), plan.pots.tolist())


def by_monday(weeks, figures):
    return {monday_of(week): figure for week, figure in zip(weeks, figures.tolist(), strict=True) if figure}


def peak_of(peak):
    return peak.count, None if peak.week is None else monday_of(peak.week)


@given(gardens())
def test_trays_and_cells_at_once_are_those_of_the_fullest_day(drawn):
    plan = make_plan(drawn.garden)
    found = {
        use.container: (peak_of(use.trays), peak_of(use.cells), use.trays_in_all, use.cells_in_all)
        for use in supplies_of(plan).containers
    }
    assert found == supplies_by_hand.containers_of(groups_by_hand(drawn, plan))


@given(gardens())
def test_covers_serve_every_tray_until_the_last_of_it_has_emerged(drawn):
    plan = make_plan(drawn.garden)
    groups, found = groups_by_hand(drawn, plan), supplies_of(plan)
    covered = supplies_by_hand.covers_of(groups)
    assert peak_of(found.covers) == supplies_by_hand.most(covered)
    assert found.covers_in_all == sum(group.trays for group in groups if group.is_sown)
    fullest = {}
    for day, trays in covered.items():
        monday = supplies_by_hand.week_of(day)
        fullest[monday] = max(fullest.get(monday, 0), trays)
    assert by_monday(found.weeks, found.covered) == fullest


@given(gardens())
def test_mix_labels_and_stakes_fall_in_the_week_in_which_trays_are_filled(drawn):
    plan = make_plan(drawn.garden)
    found, groups = supplies_of(plan), groups_by_hand(drawn, plan)
    litres = supplies_by_hand.mix_of(drawn, plan.cells.tolist(), plan.pots.tolist())
    assert by_monday(found.weeks, found.mix_litres) == pytest.approx(dict(litres))
    labels, stakes = {}, {}
    for group in groups:
        monday = supplies_by_hand.week_of(group.begin)
        labels[monday] = labels.get(monday, 0) + group.trays
    for index, pots in enumerate(plan.pots.tolist()):
        if pots:
            monday = supplies_by_hand.week_of(by_hand.dates_of(drawn, index)["pot_on"])
            stakes[monday] = stakes.get(monday, 0) + 1
    assert by_monday(found.weeks, found.trays) == labels
    assert by_monday(found.weeks, found.stakes) == stakes


@given(gardens())
def test_seeds_are_those_of_the_cells_and_outside_those_of_the_plants(drawn):
    plan = make_plan(drawn.garden)
    found, weeks = supplies_of(plan), {}
    for index, seeds in enumerate(found.seeds_of.tolist()):
        dates = by_hand.dates_of(drawn, index)
        if plan.container[index] == NO_CONTAINER:
            assert seeds == supplies_by_hand.seeds_outside(drawn.garden, index)
        else:
            assert seeds == plan.cells[index] * drawn.garden.cards[drawn.garden.sowings.crop[index]].seeds_per_cell
        if seeds:
            monday = supplies_by_hand.week_of(dates["sow_on"] or dates["sow_from"])
            weeks[monday] = weeks.get(monday, 0) + seeds
    assert by_monday(found.weeks, found.seeds) == weeks


@given(equipped())
def test_power_and_pans_are_counted_on_the_days_on_which_trays_stand(drawn):
    plan = make_plan(drawn.garden)
    standing = by_hand.standing_by_day(drawn, plan.cells.tolist(), plan.pots.tolist())
    used = supplies_by_hand.days_in_use(drawn.garden, standing)
    first, uses = use_of_shelves(plan)
    assert len(uses) == len(drawn.garden.shelves)
    for use in uses:
        days, weeks = used[use.shelf.id], range(first, first + len(use.days))
        assert use.days.sum() == len(days)
        kwh = supplies_by_hand.kwh_of(use.shelf, days)
        assert (use.kwh is None) == (kwh is None)
        if kwh is not None:
            assert by_monday(weeks, use.kwh) == pytest.approx({day: n for day, n in kwh.items() if n})
        assert (use.fills is None) == (not use.shelf.pan_depth_mm)
        if use.fills is not None:
            assert by_monday(weeks, use.fills) == supplies_by_hand.fills_of(use.shelf, days)


@given(gardens(), st.sampled_from((Place.LAMP, Place.WINDOW)))
def test_the_weeks_of_a_crop_under_lamps_are_those_of_its_trays(drawn, place):
    plan = make_plan(drawn.garden)
    found = {
        crop: [monday_of(week) for first, last in stretches for week in range(first, last + 1)]
        for crop, stretches in weeks_of_crops(plan, place).items()
    }
    by_hand_found = supplies_by_hand.lit_weeks_of(groups_by_hand(drawn, plan), place)
    assert found == {crop: sorted(mondays) for crop, mondays in by_hand_found.items()}


def test_weeks_without_the_crop_between_are_left_out():
    # Sown on 1 May and on 2 July for 14 August; the first is out to harden on 12 June.
    rows = [
        sowing(sow_on=date(2027, 5, 1).toordinal()),
        sowing(sow_on=date(2027, 7, 2).toordinal(), plant_out=date(2027, 8, 14).toordinal()),
    ]
    plan = make_plan(garden(rows, cards=(card(heat=False),)))
    stretches = [(monday_of(first), monday_of(last)) for first, last in weeks_of_crops(plan, Place.LAMP)[0]]
    assert stretches == [(date(2027, 4, 26), date(2027, 6, 7)), (date(2027, 6, 28), date(2027, 8, 2))]


def six_tomatoes(**changes):
    """Return a plan of six tomatoes with dates counted on a calendar.

    Nine cells (docs/method.md, section 4), sown on Saturday 1 May, up six days later, on 7 May, potted on three
    weeks after that, on 28 May: 6 and 1 spare. Out to harden on 12 June, planted out on 19 June.
    """
    tomato = card(pot_on_container=1, pot_on_after_days=21)
    boxes = container(cell_volume_ml=40.0), container(id=2, name="9 cm pot", cells_per_tray=18, cell_volume_ml=400.0)
    return make_plan(garden([sowing()], cards=(tomato,), containers=boxes, **changes))


def test_what_is_potted_on_and_out_on_one_day_takes_its_pots_though_it_stands_nowhere():
    """Sown and up, and on the day of planting out still not potted on: both are for that day."""
    today = date(2027, 6, 19)
    entries = (LogKind.SOWN, date(2027, 5, 1), 18), (LogKind.UP, date(2027, 5, 7), 12)
    found = supplies_of(six_tomatoes(log=log_of(*entries), today=as_day(today)))
    assert [use.trays_in_all for use in found.containers] == [1, 1]
    assert by_monday(found.weeks, found.trays) == {date(2027, 4, 26): 1, date(2027, 6, 14): 1}


def test_six_tomatoes_take_what_they_take_on_paper():
    found = supplies_of(six_tomatoes())
    assert found.seeds_of.tolist() == [18]
    assert [(use.trays.count, use.cells.count, use.cells_in_all) for use in found.containers] == [(1, 9, 9), (1, 7, 7)]
    # 9 x 40 ml in the week of Saturday 1 May, 7 x 400 ml in that of 28 May, and a tenth more.
    assert by_monday(found.weeks, found.mix_litres) == pytest.approx(
        {date(2027, 4, 26): 0.396, date(2027, 5, 24): 3.08}
    )
    assert by_monday(found.weeks, found.trays) == {date(2027, 4, 26): 1, date(2027, 5, 24): 1}
    assert by_monday(found.weeks, found.stakes) == {date(2027, 5, 24): 1}
    # Covered from 1 to 6 May, in two weeks.
    assert by_monday(found.weeks, found.covered) == {date(2027, 4, 26): 1, date(2027, 5, 3): 1}
    assert monday_of(found.weeks[-1]) == date(2027, 6, 14)


@pytest.mark.parametrize("places", [tuple(Place), (Place.HEAT, Place.LAMP, Place.WINDOW)])
def test_a_tray_is_in_use_until_its_plants_are_handed_out_with_hardening_shelves_or_without(places):
    one = card()
    early = sowing(sow_on=date(2027, 5, 1).toordinal())
    late = sowing(crop=1, sow_on=date(2027, 6, 13).toordinal(), plant_out=date(2027, 7, 31).toordinal())
    # One tray stands outside from 12 to 18 June; the other is filled on the 13th, so one tray does not serve both.
    plan = make_plan(
        garden([early, late], cards=(one, replace(one, id=2, name="Late")), shelves=tuple(map(shelf, places)))
    )
    (use,) = supplies_of(plan).containers
    assert (use.trays.count, use.trays_in_all) == (2, 2)


def test_a_tray_emptied_and_one_filled_on_the_same_day_are_one_tray():
    early = sowing(sow_on=date(2027, 5, 1).toordinal())
    late = sowing(sow_on=date(2027, 6, 19).toordinal(), plant_out=date(2027, 7, 31).toordinal())
    (use,) = supplies_of(make_plan(garden([early, late]))).containers
    assert (use.trays.count, use.trays_in_all) == (1, 2)


@pytest.mark.parametrize(
    ("plants", "germination", "at_spot", "seeds"),
    [
        (300, 0.75, 1, 400),  # 300 / 0.75
        (10, 0.90, 1, 12),  # 11.1
        (10, 0.90, 3, 30),  # three at each spot
        (7, 0.70, 1, 10),  # whole but for floating error
    ],
)
def test_seeds_sown_outside_are_plants_by_germination_and_no_fewer_than_the_spots_take(
    plants, germination, at_spot, seeds
):
    outside = card(start_container=None, direct_sow_weeks=0.0, plant_out_weeks=None, seeds_per_cell=at_spot)
    plan = make_plan(garden([sowing(plants=plants, germination=germination)], cards=(outside,)))
    found = supplies_of(plan)
    assert found.seeds_of.tolist() == [seeds]
    assert found.containers == ()
    assert found.covers.week is None
    assert found.mix_litres.sum() == 0


def test_a_garden_without_sowings_takes_nothing():
    found = supplies_of(make_plan(garden([])))
    assert len(found.weeks) == len(found.mix_litres) == 0
    assert use_of_shelves(make_plan(garden([])))[1][0].days.tolist() == []


def test_the_shelves_of_a_place_fill_by_name():
    # One tray: the shelf that comes first by name, whichever was written down first.
    shelves = tuple(
        shelf(Place.LAMP, id=n, name=name, positions=1, watts=100.0, hours_per_day=16.0)
        for n, name in ((1, "B"), (2, "A"))
    )
    _, uses = use_of_shelves(make_plan(garden([sowing()], shelves=shelves)))
    assert [(use.shelf.name, int(use.days.sum())) for use in uses] == [("A", 42), ("B", 0)]
    # Under lamps from 1 May to 11 June, 42 days of 1.6 kWh.
    assert [float(use.kwh.sum()) for use in uses] == pytest.approx([67.2, 0])


def test_the_week_of_a_lamp_shelf_is_its_watts_and_hours_for_seven_days():
    # By the definition of the unit: 480 W for 16 h are 7.68 kWh a day.
    assert power_a_day(480, 16) == pytest.approx(7.68)
    lamp = shelf(Place.LAMP, watts=480.0, hours_per_day=16.0)
    _, (use,) = use_of_shelves(make_plan(garden([sowing()], shelves=(lamp,))))
    # From Saturday 1 May to Friday 11 June: two days, five weeks, five days.
    assert use.kwh.tolist() == pytest.approx([2 * 7.68, *[7 * 7.68] * 5, 5 * 7.68])


def test_heat_without_hours_is_on_day_and_night_and_a_lamp_without_hours_is_not_known():
    assert hours_on(shelf(Place.HEAT)) == 24
    assert hours_on(shelf(Place.HEAT, hours_per_day=8.0)) == 8
    assert hours_on(shelf(Place.LAMP)) is None


def test_the_pan_of_the_method_page():
    # docs/method.md, section 11, computed apart from the program: 122 x 61 cm, 20 mm deep.
    pan = shelf(width_cm=122.0, depth_cm=61.0, levels=1, pan_depth_mm=20.0)
    assert pan_litres(pan) == pytest.approx(14.9, abs=0.05)
    assert days_to_next_fill(20) == pytest.approx(6.7, abs=0.05)
    assert pan_litres(replace(pan, levels=3)) == pytest.approx(3 * 14.884)
    assert pan_litres(shelf()) == 0


def test_a_pan_is_filled_when_trays_come_and_whenever_it_is_dry():
    # 21 mm last 7 days: over the 42 days of the tomatoes, 6 fills, each on a Saturday.
    lamp = shelf(Place.LAMP, pan_depth_mm=21.0)
    _, (use,) = use_of_shelves(make_plan(garden([sowing()], shelves=(lamp,))))
    assert use.fills.tolist() == [1, 1, 1, 1, 1, 1, 0]
