"""What is said of a levelling's answer: by hand on small gardens, and every claim of drawn ones counted anew.

The worked garden: planted out on Saturday 19 June (the first hand-out day from 13 June on, when 1 spring in 10 still
freezes), hardened from 12 June, 6 to 8 weeks indoors, so sown from 24 April to 8 May, best on Saturday 1 May. Trays
of 9 cells, which 6 plants need (method, section 4: 9 cells, 18 seeds). No heat is wanted, so a tray stands under
lamps from sowing to 11 June: W17 (26 April - 2 May) to W23 (7 - 13 June).
"""

from collections import Counter
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from app.core.calendar import as_day, monday_of
from app.core.cards import GrowerCard
from app.core.fitting.answer import Answer, Choices
from app.core.fitting.explain import Why, explain
from app.core.plan import make_plan
from app.core.space.dealt import Dealt
from app.core.space.ledger import over_same_weeks
from app.core.words import HEAT, LAMP, PLACES, WINDOW, Light, Place
from tests.core import by_hand
from tests.core.gardens import gardens
from tests.factories import card, container, garden, shelf, sowing

MAY_1, APR_24, MAY_8 = (as_day(date(2027, *day)) for day in ((5, 1), (4, 24), (5, 8)))
W17_TO_W23 = [(2027, week) for week in range(17, 24)]
LATE_CROP = {"indoor_weeks_min": 2.0, "indoor_weeks_max": 4.0}  # sown from 22 May on, best on 29 May


def worked(rows, lamps=1, cells=9, **changes):
    fields = {"heat": False, "days_to_maturity": 30} | changes
    shelves = [shelf(place, positions=lamps if place is Place.LAMP else 8) for place in Place]
    growers = tuple(GrowerCard(id=n + 1, name=f"Grower {n}", plot=None) for n in range(3))
    boxes = (container(cells_per_tray=cells),)
    return garden(rows, cards=(card(**fields),), containers=boxes, shelves=tuple(shelves), growers=growers)


def answered(made, **chosen):
    """Return an answer in which columns of some sowings are others: column={index: value}."""
    columns = {name: getattr(made.sowings, name).copy() for name in ("sow_on", "light", "placed")}
    for name, values in chosen.items():
        for index, value in values.items():
            columns[name][index] = value
    return Answer(garden=made, choices=Choices(**columns), reached=(), extra=None, stuck=(), is_stopped=False)


def explained(made, today=0, **chosen):
    return explain(answered(replace(made, today=today), **chosen))


def iso(weeks):
    return [tuple(monday_of(week).isocalendar()[:2]) for week in weeks]


def said(full):
    return [(one.place, iso(one.weeks), one.over) for one in full]


def test_an_answer_that_changes_nothing_has_nothing_to_explain():
    found = explained(worked([sowing()]))
    assert (found.changes, found.left_out) == ((), ())
    assert [(share.grower, share.wanted, share.placed) for share in found.shares] == [(0, 6, (6, 6))]


def test_a_garden_without_sowings_has_nothing_to_explain():
    found = explained(worked([]))
    assert (found.changes, found.left_out, found.shares) == ((), (), ())


def test_what_is_left_out_stood_in_the_over_full_weeks():
    # Two trays, one position: one tray too many from the first week to the last.
    found = explained(worked([sowing(), sowing(grower=1)]), placed={1: 0})
    (change,) = found.changes
    assert (change.sowing, change.placed, change.day, change.wanted) == (1, (6, 0), (MAY_1, MAY_1), 6)
    assert change.why is Why.FULL
    assert said(change.full) == [(LAMP, W17_TO_W23, 1)]


def test_only_the_over_full_weeks_that_a_sowing_leaves_are_named():
    # Set for 24 April, two trays stand from W16 on; on 8 May, one of them no longer stands in W16 to W18. In W18 (3 to
    # 9 May) it comes on the Saturday, so the week is left in part and named.
    found = explained(worked([sowing(sow_on=APR_24), sowing(sow_on=APR_24)]), sow_on={1: MAY_8})
    (change,) = found.changes
    assert (change.day, change.off) == ((APR_24, MAY_8), (-7, 7))
    assert (change.why, said(change.full)) == (Why.FULL, [(LAMP, [(2027, 16), (2027, 17), (2027, 18)], 1)])


def test_a_sowing_moved_earlier_leaves_the_end_of_its_stay():
    # Ten days on the one heat position, from 8 May to 17 May; a week earlier it leaves 11 to 17 May, in W19 and W20.
    heat = [shelf(place, positions=1 if place is Place.HEAT else 8) for place in Place]
    both = [sowing(sow_on=MAY_8), sowing(sow_on=MAY_8)]
    made = replace(worked(both, heat=True, days_to_emerge=10), shelves=tuple(heat))
    (change,) = explained(made, sow_on={0: MAY_1}).changes
    assert (change.why, said(change.full)) == (Why.FULL, [(HEAT, [(2027, 19), (2027, 20)], 1)])


def test_what_makes_room_leaves_a_place_that_is_full_then():
    # A window crop stands under the one lamp, a lamp crop was granted nothing: they change places.
    cards = (card(heat=False, days_to_maturity=30), card(id=2, heat=False, days_to_maturity=30, light=Light.WINDOW))
    made = replace(worked([sowing(crop=1, light=LAMP), sowing(placed=0)]), cards=cards)
    window, lamp = explained(made, light={0: -1}, placed={1: -1}).changes
    assert (window.light, window.why, said(window.full)) == ((LAMP, WINDOW), Why.ROOM, [(LAMP, W17_TO_W23, 0)])
    assert (lamp.placed, lamp.why, lamp.full) == ((0, 6), Why.MORE, ())


def test_what_comes_nearer_to_its_best_day_says_so():
    (change,) = explained(worked([sowing(sow_on=APR_24)], lamps=8), sow_on={0: 0}).changes
    assert (change.why, change.off, change.full) == (Why.NEARER, (-7, 0), ())


def test_what_moves_to_share_a_tray_says_so():
    made = worked([sowing(), sowing(sow_on=MAY_8)], lamps=8, cells=72)
    (change,) = explained(made, sow_on={0: MAY_8}).changes
    assert (change.why, change.off, change.full) == (Why.TRAYS, (0, 7), ())


def test_a_day_that_is_only_written_down_changes_nothing():
    (change,) = explained(worked([sowing()], lamps=8), sow_on={0: MAY_1}).changes
    assert (change.why, change.day) == (Why.SAME, (MAY_1, MAY_1))


def test_a_sowing_left_out_in_part_stood_in_the_over_full_weeks_too():
    # 12 plants take more than 9 and at most 18 cells: two trays. Six take one.
    found = explained(worked([sowing(plants=12)]), placed={0: 6})
    (change,), (left,) = found.changes, found.left_out
    assert (change.why, said(change.full)) == (Why.FULL, [(LAMP, W17_TO_W23, 1)])
    assert (left.wanted, left.placed, said(left.full)) == (12, 6, [(LAMP, W17_TO_W23, 0)])


def test_a_place_with_some_room_but_too_little_says_how_much_is_free():
    # Two positions, one taken: the two trays of 12 plants find one free.
    (left,) = explained(worked([sowing(), sowing(plants=12)], lamps=2), placed={1: 0}).left_out
    assert said(left.full) == [(LAMP, W17_TO_W23, -1)]


def test_a_place_without_positions_is_named_though_nothing_stands_there():
    (left,) = explained(worked([sowing()], lamps=0), placed={0: 0}).left_out
    assert said(left.full) == [(LAMP, W17_TO_W23, 0)]
    assert left.alternative is None


@pytest.mark.parametrize(("maturity", "weeks"), [(16, 6), (17, None)])
def test_the_alternative_is_later_while_it_ripens(maturity, weeks):
    # The lamp is taken until 11 June. From 12 June it is free: six weeks later. Harvest is over on 30 August, after
    # maturity and 14 days of picking; 42 days indoors before: with 16 days the last chance is 19 June, six weeks
    # after 8 May. Earlier, six weeks would be needed too, more than are offered.
    (left,) = explained(worked([sowing(), sowing()], days_to_maturity=maturity), placed={1: 0}).left_out
    alternative = left.alternative
    assert (alternative and alternative.weeks) == weeks
    if alternative:
        assert (alternative.sow_on, alternative.plant_out) == (MAY_1 + 42, as_day(date(2027, 7, 31)))
        assert not alternative.is_early


@pytest.mark.parametrize(("today", "weeks"), [(date(2027, 5, 15), -2), (date(2027, 5, 16), None)])
def test_the_alternative_is_earlier_where_nothing_later_ripens(today, weeks):
    # Two weeks under lamps, from 29 May: two weeks earlier the lamp is free, and not one week earlier.
    made = worked([sowing(), sowing()], days_to_maturity=60, **LATE_CROP)
    (left,) = explained(made, today=as_day(today), placed={1: 0}).left_out
    alternative = left.alternative
    assert (alternative and alternative.weeks) == weeks
    if alternative:
        assert (alternative.sow_on, alternative.plant_out) == (as_day(today), as_day(date(2027, 6, 5)))
        assert alternative.is_early


def test_days_gone_by_are_offered_once_the_season_is_over():
    # All is planted out by 19 June; till then what is not sown is too late, and left out by that alone.
    made = worked([sowing(), sowing()], days_to_maturity=60, **LATE_CROP)
    late, over = (explained(made, today=as_day(date(2027, 6, day)), placed={1: 0}) for day in (19, 20))
    assert (late.left_out, late.shares) == ((), ())
    assert [one.alternative.weeks for one in over.left_out] == [-2]
    assert [one.share for one in over.shares] == [(1.0, 0.5)]


def test_an_own_date_after_the_frost_dates_can_be_earlier_without_frost():
    own = as_day(date(2027, 7, 3))
    made = worked([sowing(plant_out=own), sowing(plant_out=own)], days_to_maturity=44, **LATE_CROP)
    (left,) = explained(made, placed={1: 0}).left_out
    assert (left.alternative.weeks, left.alternative.is_early) == (-2, False)


def test_room_at_its_own_dates_is_said_to_be_there():
    (left,) = explained(worked([sowing()]), placed={0: 0}).left_out
    assert (left.full, left.alternative.weeks, left.alternative.sow_on) == ((), 0, MAY_1)


def test_what_is_sown_is_not_left_out_by_levelling():
    sown = Dealt(
        ids=np.array([1]),
        number=np.array([1]),
        container=np.array([0]),
        filled=np.array([MAY_1]),
        is_potted_on=np.array([False]),
        is_pinned=np.array([False]),
        part_tray=np.array([0]),
        part_lot=np.array([0]),
        part_cells=np.array([3]),
        part_filled=np.array([3]),
    )
    made = replace(worked([sowing(placed=2)]), dealt=sown)
    assert explained(made).left_out == ()


def test_shares_count_what_needs_room_on_the_shelves():
    cards = (card(heat=False), card(id=2, start_container=None, direct_sow_weeks=0.0))
    rows = [sowing(), sowing(plants=4), sowing(crop=1), sowing(crop=1, grower=1), sowing(grower=2, plants=5)]
    found = explained(replace(worked(rows), cards=cards), placed={0: 1, 4: 0})
    assert [(one.grower, one.wanted, one.placed) for one in found.shares] == [(0, 10, (10, 5)), (2, 5, (5, 0))]
    assert [one.share for one in found.shares] == [(1.0, 0.5), (1.0, 0.0)]


def test_ledgers_stand_side_by_side_over_the_same_weeks():
    found = explained(worked([sowing()]), sow_on={0: MAY_8})
    # 1 May lies in W17, 8 May in W18; hardening ends on 18 June, in W24.
    assert iso(found.before.weeks) == iso(found.after.weeks) == [(2027, week) for week in range(17, 25)]
    assert found.before.needed[:, LAMP].tolist() == [1] * 7 + [0]
    assert found.after.needed[:, LAMP].tolist() == [0] + [1] * 6 + [0]


def test_an_empty_ledger_beside_another_has_its_weeks():
    full, empty = (make_plan(worked([sowing(placed=placed)])).ledger for placed in (-1, 0))
    one, other = over_same_weeks(empty, full)
    assert one.weeks == other.weeks == full.weeks
    assert not one.needed.any()
    assert over_same_weeks(empty, empty) == (empty, empty)


# ------------------------------------------------------------------------------- drawn gardens, counted day by day


def on_few_positions(drawn, positions):
    shelves = tuple(replace(one, positions=positions) for one in drawn.garden.shelves)
    return replace(drawn, garden=replace(drawn.garden, shelves=shelves))


def standing_of(drawn, made):
    plan = make_plan(made)
    return by_hand.standing_by_day(replace(drawn, garden=made), plan.cells.tolist(), plan.pots.tolist())


def positions_of(made):
    found = Counter()
    for one in made.shelves:
        found[one.place] += one.positions
    return found


def rest_by_hand(drawn, made, index):
    """Return (place, first day, day after the last, trays) of what is left out, in trays of its own."""
    alone = make_plan(replace(made, sowings=_row(made.sowings, index)))
    crop, dates = made.cards[made.sowings.crop[index]], by_hand.dates_of(replace(drawn, garden=made), index)
    first, light = by_hand.places_of(made, by_hand.row_of(made, index))
    trays = -(-int(alone.cells[0]) // made.containers[crop.start_container].cells_per_tray)
    leaves, out = dates["pot_on"] or dates["harden"], trays
    stretches = [(first, dates["sow_on"], dates["emerges"], trays), (light, dates["emerges"], leaves, trays)]
    if dates["pot_on"]:
        out = -(-int(alone.pots[0]) // made.containers[crop.pot_on_container].cells_per_tray)
        stretches.append((light, dates["pot_on"], dates["harden"], out))
    if any(one.place is Place.HARDENING for one in made.shelves):
        stretches.append((Place.HARDENING, dates["harden"], dates["plant_out"], out))
    return dates, stretches


def _row(sowings, index):
    """Return the columns of one sowing that wants what is left out."""
    columns = {
        name: value[[index]] if isinstance(value, np.ndarray) else value[index : index + 1]
        for name, value in vars(sowings).items()
    }
    columns["plants"] = columns["plants"] - columns["placed"]
    columns["placed"] = np.array([-1])
    return type(sowings)(**columns)


def crowded_days(stretches, standing, positions, weeks=0):
    """Return place and day of every day without room, moved by some weeks."""
    return {
        (place, first + timedelta(days=n + 7 * weeks))
        for place, first, end, trays in stretches
        for n in range((end - first).days)
        if standing[place, first + timedelta(days=n + 7 * weeks)] + trays > positions[place]
    }


@given(gardens(most_sowings=5), st.integers(0, 3), st.data())
def test_every_alternative_is_the_nearest_that_fits(drawn, positions, data):
    drawn = on_few_positions(drawn, positions)
    made = drawn.garden
    # Every sowing is granted a whole number, so that those left out are left out by that.
    placed = [data.draw(st.integers(0, min(3, int(plants)))) for plants in made.sowings.plants]
    made = replace(made, sowings=replace(made.sowings, placed=np.array(placed)))
    assume(any(made.cards[crop].is_started_indoors for crop in made.sowings.crop))
    days = make_plan(made).timeline.sow_on
    # Nothing waits by then, or all is planted out.
    today = int(days[days > 0].min()) - data.draw(st.integers(0, 30)) if data.draw(st.booleans()) else 800_000
    found = explained(made, today=today)
    standing, room = standing_of(drawn, made), positions_of(made)
    outs = [
        by_hand.dates_of(replace(drawn, garden=made), index)["plant_out"]
        for index, crop in enumerate(made.sowings.crop)
        if made.cards[crop].is_started_indoors
    ]
    is_over = max(outs).toordinal() < today
    expected = [
        index
        for index, crop in enumerate(made.sowings.crop)
        if made.cards[crop].is_started_indoors and placed[index] < made.sowings.plants[index]
    ]
    assert [left.sowing for left in found.left_out] == expected
    for left in found.left_out:
        dates, stretches = rest_by_hand(drawn, made, left.sowing)
        crowded = crowded_days(stretches, standing, room)
        weeks = {(PLACES.index(place), day.isocalendar()[:2]) for place, day in crowded}
        assert {(one.place, tuple(week)) for one in left.full for week in iso(one.weeks)} == weeks
        latest = (dates["last_chance"] - max(dates["sow_by"], dates["sow_on"])).days // 7
        tries = [*range(latest + 1), *(range(-1, -5, -1) if latest >= -4 else range(latest, -5, -1))]
        fitting = (
            weeks
            for weeks in tries
            if weeks <= latest
            and (is_over or dates["sow_on"].toordinal() + 7 * weeks >= today)
            and not crowded_days(stretches, standing, room, weeks)
        )
        assert (left.alternative.weeks if left.alternative else None) == next(fitting, None)


@given(gardens(), st.integers(0, 3), st.data())
def test_every_week_named_is_over_full_or_full_while_a_sowing_leaves_it(drawn, positions, data):
    drawn = on_few_positions(drawn, positions)
    made = drawn.garden
    n = len(made.sowings)
    shifts = {index: data.draw(st.sampled_from((0, -7, 7, 14))) for index in range(n)}
    plan = make_plan(made)
    moved = {
        index: int(plan.timeline.sow_on[index]) + days
        for index, days in shifts.items()
        if days and plan.timeline.sow_on[index]
    }
    answer = answered(made, sow_on=moved)
    found = explain(answer)
    assert [change.sowing for change in found.changes] == sorted(moved)
    room = positions_of(made)
    before, after = standing_of(drawn, made), standing_of(drawn, answer.choices.made_in(made))
    over = weeks_in(before, lambda place, trays: trays > room[place])
    full = weeks_in(after, lambda place, trays: trays >= room[place])
    for change in found.changes:
        named = {(one.place, week) for one in change.full for week in iso(one.weeks)}
        assert named <= (full if change.why is Why.ROOM else over)
        assert bool(named) or change.why not in (Why.FULL, Why.ROOM)
        # A tray that it has to itself stands, or no longer stands, just where its own dates say.
        if alone(answer.before, change.sowing) and alone(answer.after, change.sowing):
            pair = [days_of(replace(drawn, garden=one.garden), change.sowing) for one in (answer.before, answer.after)]
            left = pair[0] - pair[1]
            over_left = {(p, d) for p, d in left if before[p, d] > room[p]}
            assert (change.why is Why.FULL) == bool(over_left)
            if over_left:
                assert named == {(PLACES.index(p), d.isocalendar()[:2]) for p, d in over_left}


def weeks_in(standing, holds):
    return {(PLACES.index(p), day.isocalendar()[:2]) for (p, day), trays in standing.items() if holds(p, trays)}


def alone(plan, index):
    """Tell whether a sowing's groups are its own, whatever stands in them."""
    mine = set(plan.trays.group[plan.trays.part_tray[plan.trays.part_lot == index]].tolist())
    lots = plan.trays.part_lot[np.isin(plan.trays.group[plan.trays.part_tray], list(mine))]
    return bool(mine) and set(lots.tolist()) == {index}


def days_of(drawn, index):
    """Return each place and day on which the trays of a sowing stand that shares with none."""
    made = drawn.garden
    dates = by_hand.dates_of(drawn, index)
    first, light = by_hand.places_of(made, by_hand.row_of(made, index))
    stretches = [(first, "sow_on", "emerges"), (light, "emerges", "harden")]
    if any(one.place is Place.HARDENING for one in made.shelves):
        stretches.append((Place.HARDENING, "harden", "plant_out"))
    return {
        (place, dates[begin] + timedelta(days=n))
        for place, begin, end in stretches
        for n in range((dates[end] - dates[begin]).days)
    }
