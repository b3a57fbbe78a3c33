"""What is due, done and overdue of one sowing, against a calendar.

The tomato of tests/factories.py: last frost 13 June at 1 in 10, a Sunday, so it goes out on Saturday 19 June 2027. Six
to eight weeks indoors: sown on Saturday 1 May, up in 6 days on 7 May, thinned on 14 May, out to harden on 12 June.
"""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from app.core.calendar import as_day
from app.core.log.entries import HARDENED, KINDS, LOOKED, UNCOVERED, Log
from app.core.plan import make_plan
from app.core.words import LogKind, Tick
from app.core.work.week import NOT_CONFIRMED_DAYS, Task
from app.core.work.work import work_of
from tests.factories import card, garden, sowing

SOW, UP, THIN, HARDEN, OUT = (date(2027, *day) for day in ((5, 1), (5, 7), (5, 14), (6, 12), (6, 19)))
TICKS = {Tick.HARDEN: HARDENED, Tick.LOOK: LOOKED, Tick.UNCOVER: UNCOVERED}


def log_of(*entries):
    """Return entries given as (kind, day, count), all of the first sowing."""
    kinds = [TICKS[kind] if kind in TICKS else KINDS.index(kind) for kind, _, _ in entries]
    n = len(entries)
    nothing = np.zeros(n, dtype=np.int64)
    return Log(
        ids=np.arange(1, n + 1),
        sowing=nothing,
        kind=np.array(kinds, dtype=np.int64),
        day=np.array([as_day(day) for _, day, _ in entries], dtype=np.int64),
        count=np.array([count for _, _, count in entries], dtype=np.int64),
        seeds=nothing,
        tray=nothing,
        supersedes=nothing,
    )


def plan_on(today, *entries, rows=None, **changes):
    made = garden(rows or [sowing()], cards=(card(**changes),))
    return make_plan(replace(made, log=log_of(*entries), today=as_day(today)))


def tasks(today, *entries, ticked=(), **changes):
    """Return the tasks as (task, day, whether done, days waited)."""
    plan = plan_on(today, *entries, *((tick, day, 1) for tick, day in ticked), **changes)
    return [(w.task, date.fromordinal(w.day), w.is_done, w.waited_days) for w in work_of(plan)]


def open_tasks(*args, **kwargs):
    return {task: (day, waited) for task, day, is_done, waited in tasks(*args, **kwargs) if not is_done}


def done_tasks(*args, **kwargs):
    return [(task, day) for task, day, is_done, _ in tasks(*args, **kwargs) if is_done]


def sown(count=11, day=SOW):
    return (LogKind.SOWN, day, count)


def test_before_it_is_sown_each_task_is_due_on_its_planned_day():
    assert open_tasks(date(2027, 4, 10)) == {
        Task.SOW: (SOW, 0),
        Task.LOOK: (date(2027, 5, 5), 0),
        Task.UNCOVER: (UP, 0),
        Task.THIN: (THIN, 0),
        Task.HARDEN: (HARDEN, 0),
        Task.HAND_OUT: (OUT, 0),
    }


def test_a_sowing_that_was_missed_is_due_on_the_next_sowing_day_and_is_not_overdue():
    # The Saturday after; ripe in 50 days it can be sown until 16 May, 30 August less 64 days and 6 weeks.
    assert open_tasks(date(2027, 5, 3), days_to_maturity=50)[Task.SOW] == (date(2027, 5, 8), 0)
    # In 60 days only until 6 May: it is too late.
    assert open_tasks(date(2027, 5, 3)) == {}


def test_what_is_sown_is_done_on_its_day():
    plan = plan_on(SOW)
    assert done_tasks(SOW, sown(int(plan.cells[0]))) == [(Task.SOW, SOW)]
    assert Task.SOW not in open_tasks(SOW, sown(int(plan.cells[0])))


@pytest.mark.parametrize(("today", "waited"), [(date(2027, 5, 7), 0), (date(2027, 5, 10), 3), (date(2027, 5, 20), 13)])
def test_seedlings_that_are_not_logged_are_overdue_since_the_day_foreseen(today, waited):
    found = open_tasks(today, sown())
    assert found[Task.UNCOVER] == (UP, waited)
    assert found[Task.LOOK] == (date(2027, 5, 5), waited + 2)
    # What comes after it is counted on from today, and not overdue by itself.
    assert found[Task.THIN] == (date.fromordinal(today.toordinal() + 7), 0)


def test_after_seven_days_it_is_not_confirmed():
    for day, expected in ((13, False), (14, True)):
        plan = plan_on(date(2027, 5, day), sown())
        work = next(w for w in work_of(plan) if w.task is Task.UNCOVER)
        assert work.is_not_confirmed is expected
    assert NOT_CONFIRMED_DAYS == 7


def test_a_look_that_found_nothing_is_done_and_the_next_is_two_days_later():
    looked = [(Tick.LOOK, date(2027, 5, 6))]
    assert open_tasks(date(2027, 5, 6), sown(), ticked=looked)[Task.LOOK] == (date(2027, 5, 8), 0)
    assert (Task.LOOK, date(2027, 5, 6)) in done_tasks(date(2027, 5, 6), sown(), ticked=looked)


def test_seedlings_that_are_up_end_the_looking_and_the_cover_is_overdue_from_that_day():
    came = (LogKind.UP, date(2027, 5, 9), 9)
    found = open_tasks(date(2027, 5, 12), sown(), came)
    assert Task.LOOK not in found
    assert found[Task.UNCOVER] == (date(2027, 5, 9), 3)
    assert found[Task.THIN] == (date(2027, 5, 16), 0)
    off = [(Tick.UNCOVER, date(2027, 5, 12))]
    assert Task.UNCOVER not in open_tasks(date(2027, 5, 12), sown(), came, ticked=off)
    assert (Task.UNCOVER, date(2027, 5, 12)) in done_tasks(date(2027, 5, 12), sown(), came, ticked=off)


def test_what_comes_later_settles_what_was_not_logged_before_it():
    found = open_tasks(date(2027, 6, 14), sown(), (Tick.HARDEN, HARDEN, 1))
    assert set(found) == {Task.HAND_OUT}


def test_thinning_is_overdue_since_a_week_after_they_came_up():
    came = (LogKind.UP, UP, 9)
    assert open_tasks(date(2027, 5, 20), sown(), came)[Task.THIN] == (THIN, 6)
    assert Task.THIN not in open_tasks(date(2027, 5, 20), sown(), came, (LogKind.THINNED, date(2027, 5, 18), 9))


def test_what_was_not_collected_stays_to_be_handed_out_and_the_rest_is_done():
    came = (LogKind.UP, UP, 9)
    some = (LogKind.HANDED_OUT, OUT, 4)
    plan = plan_on(date(2027, 6, 21), sown(), came, some)
    work = [w for w in work_of(plan) if w.task is Task.HAND_OUT]
    assert [(w.is_done, w.amount, date.fromordinal(w.day)) for w in work] == [(False, 2, OUT), (True, 4, OUT)]


def test_nothing_is_due_of_a_sowing_whose_plants_are_all_lost():
    came, lost = (LogKind.UP, UP, 9), (LogKind.LOST, date(2027, 5, 20), 9)
    assert open_tasks(date(2027, 5, 25), sown(), came, lost) == {}


def test_of_a_sowing_half_sown_the_other_cells_stay_to_be_sown():
    plan = plan_on(date(2027, 5, 2), sown(5))
    assert int(plan.cells[0]) == 5  # without trays, what is sown is all of it
    assert Task.SOW not in open_tasks(date(2027, 5, 2), sown(5))


def test_sowing_outside_is_due_until_its_last_day():
    outside = {"start_container": None, "plant_out_weeks": None, "direct_sow_weeks": 0.0, "light": None}
    # From 13 June, the day at 1 in 10; the last day by the season: 30 August less 60 days and 14 of picking, and for a
    # card counted from transplanting 6 weeks more, is over before: it is too long here, and still listed on its day.
    assert Task.SOW_OUTSIDE in open_tasks(date(2027, 6, 1), **outside)
    seeded = outside | {"counted_from": "seed", "days_to_maturity": 50, "indoor_weeks_min": None}
    # 30 August less 64 days: 27 June.
    assert open_tasks(date(2027, 6, 20), **seeded)[Task.SOW_OUTSIDE] == (date(2027, 6, 13), 7)
    assert Task.SOW_OUTSIDE not in open_tasks(date(2027, 6, 28), **seeded)
    assert done_tasks(date(2027, 6, 20), (LogKind.SOWN, date(2027, 6, 15), 6), **seeded) == [
        (Task.SOW_OUTSIDE, date(2027, 6, 15))
    ]


def test_of_two_growers_one_can_be_asked_for():
    plan = plan_on(date(2027, 4, 10))
    assert work_of(plan, grower=0) == work_of(plan)
    assert work_of(plan, grower=1) == []
