"""One sowing moved by hand: its days, what is written, and what becomes of over-full weeks."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from app.core.calendar import as_day, monday_of
from app.core.dealing.one_move import Becomes, Columns, Wish, columns_of, find_days, over_full_changes, with_columns
from app.core.plan import make_plan
from app.core.space.ledger import Ledger, over_same_weeks
from app.core.words import LAMP, WINDOW, Light, Place
from tests.core import by_hand
from tests.core.gardens import gardens
from tests.factories import card, garden, shelf, sowing

# As in test_explain.py: 6 to 8 weeks before Saturday 19 June, so from 24 April to 8 May, best on 1 May.
APR_24, MAY_1, MAY_8 = (as_day(date(2027, *day)) for day in ((4, 24), (5, 1), (5, 8)))


def made(row=None, **changes):
    return garden([row or sowing()], cards=(card(**{"days_to_maturity": 40} | changes),))


def test_every_sowing_day_of_the_window_can_be_chosen():
    days = find_days(made(), 0)
    assert (days.first, days.last, days.best, days.usual) == (APR_24, MAY_8, MAY_1, MAY_1)
    assert (days.days, days.light) == ((APR_24, MAY_1, MAY_8), LAMP)


def test_a_window_without_a_sowing_day_offers_its_best_day():
    # Seven weeks before Saturday 19 June is Saturday 1 May; sowing day is Monday.
    alone = made(indoor_weeks_min=7.0, indoor_weeks_max=7.0)
    days = find_days(replace(alone, settings=replace(alone.settings, sowing_weekday=0)), 0)
    assert (days.days, days.usual) == ((MAY_1,), MAY_1)


def test_days_do_not_hang_on_the_day_that_is_set():
    assert find_days(made(sowing(sow_on=MAY_8, placed=3)), 0) == find_days(made(), 0)


@pytest.mark.parametrize(
    ("row", "wish", "columns"),
    [
        # Nothing else is wished for: what is written stays, however it is written.
        ({}, (MAY_1, LAMP, 6), (0, -1, -1)),
        ({"sow_on": MAY_1, "light": LAMP, "placed": 6}, (MAY_1, LAMP, 6), (MAY_1, LAMP, 6)),
        # Another day is set; the day that it would get anyway is not.
        ({}, (MAY_8, LAMP, 6), (MAY_8, -1, -1)),
        ({"sow_on": MAY_8}, (MAY_1, LAMP, 6), (0, -1, -1)),
        # Fewer plants are granted; all of them is nothing to write.
        ({}, (MAY_1, LAMP, 0), (0, -1, 0)),
        ({"placed": 2}, (MAY_1, LAMP, 6), (0, -1, -1)),
        # A lamp crop that was put at a window goes back to the place of its card.
        ({"light": WINDOW, "sow_on": APR_24}, (APR_24, LAMP, 6), (APR_24, -1, -1)),
        ({}, (MAY_1, WINDOW, 6), (0, WINDOW, -1)),
    ],
)
def test_only_what_is_wished_otherwise_is_written(row, wish, columns):
    plan = make_plan(made(sowing(**row)))
    names = ("sow_on", "light", "placed")
    asked = Wish(day=wish[0], light=wish[1], plants=wish[2])
    assert columns_of(plan, 0, asked) == Columns(**dict(zip(names, columns, strict=True)))


@given(gardens(), st.data())
def test_a_wish_that_is_written_is_what_the_plan_then_has(drawn, data):
    plan = make_plan(drawn.garden)
    indoors = np.flatnonzero(plan.light_place >= 0).tolist()
    assume(indoors)
    index = data.draw(st.sampled_from(indoors))
    light = data.draw(st.sampled_from((LAMP, WINDOW)))
    days = find_days(drawn.garden, index, light)
    row = by_hand.dates_of(drawn_with(drawn, index, light), index)
    by_count = [day for day in days_between(row["sow_from"], row["sow_by"]) if is_sowing_day(drawn, day)]
    assert list(days.days) == ([day.toordinal() for day in by_count] or [row["sow_best"].toordinal()])
    wish = Wish(
        day=data.draw(st.sampled_from(days.days)),
        light=light,
        plants=data.draw(st.integers(0, int(drawn.garden.sowings.plants[index]))),
    )
    after = make_plan(with_columns(drawn.garden, index, columns_of(plan, index, wish)))
    assert (after.timeline.sow_on[index], after.light_place[index], after.plants[index]) == (
        wish.day,
        wish.light,
        wish.plants,
    )
    others = np.arange(len(after.plants)) != index
    assert (after.timeline.sow_on == plan.timeline.sow_on)[others].all()


def drawn_with(drawn, index, light):
    columns = Columns(sow_on=0, light=light, placed=-1)
    return replace(drawn, garden=with_columns(drawn.garden, index, columns))


def days_between(first, last):
    return [date.fromordinal(day) for day in range(first.toordinal(), last.toordinal() + 1)]


def is_sowing_day(drawn, day):
    return day.weekday() == drawn.garden.settings.sowing_weekday


def ledger(*lamp, first_week=105_000):
    needed = np.zeros((len(lamp), 4), dtype=np.int64)
    needed[:, LAMP] = lamp
    return Ledger(first_week=first_week, needed=needed, positions=np.array([9, 2, 9, 9]))


def test_over_full_weeks_go_arise_grow_and_shrink():
    # Two positions: over-full by 1, 2, 2, 0, 0, 3, 1 before and 0, 1, 1, 1, 0, 4, 1 after.
    found = over_full_changes(ledger(3, 4, 4, 2, 1, 5, 3), ledger(2, 3, 3, 3, 2, 6, 3))
    assert [(one.place, one.becomes, [week - 105_000 for week in one.weeks], one.over) for one in found] == [
        (LAMP, Becomes.GONE, [0], (1, 0)),
        (LAMP, Becomes.LESS, [1, 2], (2, 1)),
        (LAMP, Becomes.NEW, [3], (0, 1)),
        (LAMP, Becomes.MORE, [5], (3, 4)),
    ]


def test_equal_weeks_part_what_becomes_of_those_around_them():
    found = over_full_changes(ledger(3, 3, 3), ledger(2, 3, 2))
    assert [[week - 105_000 for week in one.weeks] for one in found] == [[0], [2]]


def test_moving_a_sowing_within_its_window_moves_its_over_full_weeks():
    # No lamps at all: a tray under them is over-full in every week that it stands there, W17 to W23, and moved a week
    # later W18 to W23.
    shelves = tuple(shelf(place, positions=0 if place is Place.LAMP else 8) for place in Place)
    plan = make_plan(replace(made(heat=False, light=Light.LAMP), shelves=shelves))
    columns = columns_of(plan, 0, Wish(day=MAY_8, light=LAMP, plants=6))
    after = make_plan(with_columns(plan.garden, 0, columns))
    (gone,) = over_full_changes(*over_same_weeks(plan.ledger, after.ledger))
    assert (gone.becomes, [monday_of(week) for week in gone.weeks]) == (Becomes.GONE, [date(2027, 4, 26)])
