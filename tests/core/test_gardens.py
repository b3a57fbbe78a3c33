"""What holds for every garden: the plan against the same plan worked out by hand, and the order of its dates."""

from collections import Counter
from datetime import date

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from app.core.calendar import NO_DAY, as_date, monday_of
from app.core.plan import NO_CONTAINER, NO_PLACE, Warned, make_plan
from app.core.words import PLACES
from tests.core import by_hand
from tests.core.gardens import gardens


def dates(plan, index):
    return {name: as_date(getattr(plan.timeline, name)[index]) for name in by_hand.COLUMNS}


def sowings_of(plan):
    """Return (index, dates, crop card) of every sowing started indoors."""
    cards = plan.garden.cards
    crops = plan.garden.sowings.crop.tolist()
    return [(n, dates(plan, n), cards[crop]) for n, crop in enumerate(crops) if cards[crop].is_started_indoors]


@given(gardens())
def test_the_dates_are_those_worked_out_by_hand(drawn):
    plan = make_plan(drawn.garden)
    for index in range(len(drawn.garden.sowings)):
        assert dates(plan, index) == by_hand.dates_of(drawn, index)


@given(gardens())
def test_the_ledger_is_the_count_of_trays_day_by_day(drawn):
    plan = make_plan(drawn.garden)
    standing = by_hand.standing_by_day(drawn, plan.cells.tolist(), plan.pots.tolist())
    weeks = [
        (monday_of(week), needed) for week, needed in zip(plan.ledger.weeks, plan.ledger.needed.tolist(), strict=True)
    ]
    assert weeks == by_hand.ledger_of(standing)


@given(gardens())
def test_the_dates_of_a_sowing_come_in_order(drawn):
    plan = make_plan(drawn.garden)
    for index, day, card in sowings_of(plan):
        row = by_hand.row_of(drawn.garden, index)
        emerge, delay = by_hand.emergence_of(drawn.garden, row)
        if row["sow_on"] or emerge - delay > by_hand.in_days(card.indoor_weeks_min).days:
            continue
        assert day["sow_from"] <= day["sow_best"] <= day["sow_by"]
        assert day["sow_on"] <= day["emerges"] <= day["harden"] <= day["plant_out"]
        assert day["pot_on"] is None or day["emerges"] < day["pot_on"] < day["harden"]


@given(gardens())
def test_nothing_is_sown_outside_its_window_unless_a_day_was_set(drawn):
    plan = make_plan(drawn.garden)
    for index, day, _ in sowings_of(plan):
        if not drawn.garden.sowings.sow_on[index]:
            assert day["sow_from"] <= day["sow_on"] <= day["sow_by"]
            is_sowing_day = day["sow_on"].weekday() == drawn.garden.settings.sowing_weekday
            assert is_sowing_day or day["sow_on"] == day["sow_best"]
        else:
            assert day["sow_on"].toordinal() == drawn.garden.sowings.sow_on[index]


@given(gardens())
def test_plants_go_out_on_the_first_hand_out_day_unless_the_grower_has_a_date(drawn):
    plan = make_plan(drawn.garden)
    for index, day, _ in sowings_of(plan):
        own = drawn.garden.sowings.plant_out[index]
        if own:
            assert day["plant_out"] == date.fromordinal(int(own))
        else:
            assert day["plant_out"].weekday() == drawn.garden.settings.hand_out_weekday
            assert 0 <= day["plant_out"].toordinal() - plan.start[index] < 7


@given(gardens())
def test_too_long_here_is_said_where_the_last_chance_is_before_the_window(drawn):
    plan = make_plan(drawn.garden)
    too_long = plan.timeline.last_chance < plan.timeline.sow_from
    assert ((plan.warned & Warned.TOO_LONG) > 0).tolist() == too_long.tolist()


@given(gardens())
def test_every_cell_and_pot_stands_in_one_tray_of_its_container(drawn):
    plan = make_plan(drawn.garden)
    trays = plan.trays
    standing = np.bincount(trays.part_lot, weights=trays.part_cells, minlength=len(plan.cells))
    assert standing.tolist() == (plan.cells + plan.pots).tolist()
    in_tray = Counter()
    for tray, lot, cells in zip(trays.part_tray.tolist(), trays.part_lot, trays.part_cells.tolist(), strict=True):
        assert trays.container[tray] in {plan.container[lot], plan.pot_container[lot]}
        in_tray[tray] += cells
    assert sorted(in_tray) == list(range(len(trays.container)))
    for tray, cells in in_tray.items():
        assert 0 < cells <= drawn.garden.containers[trays.container[tray]].cells_per_tray


@given(gardens())
def test_what_is_sown_outside_takes_neither_cells_nor_room(drawn):
    plan = make_plan(drawn.garden)
    outside = np.array(
        [not drawn.garden.cards[crop].is_started_indoors for crop in drawn.garden.sowings.crop], dtype=bool
    )
    assert (plan.cells[outside] == 0).all()
    assert (plan.container[outside] == NO_CONTAINER).all()
    assert (plan.light_place[outside] == NO_PLACE).all()
    assert (plan.timeline.sow_on[outside] == NO_DAY).all()
    assert not set(np.flatnonzero(outside)) & set(plan.trays.part_lot.tolist())


@given(gardens())
def test_equal_gardens_have_equal_plans(drawn):
    one, other = make_plan(drawn.garden), make_plan(drawn.garden)
    assert one.ledger.needed.tolist() == other.ledger.needed.tolist()
    assert one.trays.part_tray.tolist() == other.trays.part_tray.tolist()
    assert one.trays.part_lot.tolist() == other.trays.part_lot.tolist()


@given(gardens(), st.integers(1, 3))
def test_who_is_first_in_line_changes_no_date_and_no_tray(drawn, priority):
    # Priority speaks only when a plan is fitted.
    plan = make_plan(drawn.garden)
    drawn.garden.sowings.priority[:] = priority
    other = make_plan(drawn.garden)
    assert plan.ledger.needed.tolist() == other.ledger.needed.tolist()
    assert plan.timeline.sow_on.tolist() == other.timeline.sow_on.tolist()


@given(gardens())
def test_free_is_what_the_shelves_have_less_what_is_needed(drawn):
    ledger = make_plan(drawn.garden).ledger
    there = [sum(shelf.positions for shelf in drawn.garden.shelves if shelf.place is place) for place in PLACES]
    assert (ledger.free + ledger.needed).tolist() == [there] * len(ledger.needed)
