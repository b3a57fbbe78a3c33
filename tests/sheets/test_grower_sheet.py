"""The grower's sheet against the days worked out in test_weekly_sheet.py."""

from dataclasses import replace
from datetime import date

import numpy as np

from app.core.calendar import as_day
from app.core.plan import make_plan
from app.core.words import CountedFrom, LogKind, Units
from app.core.work.work import work_of
from app.sheets.feed import more_words
from app.sheets.grower_sheet import SheetFacts, make_grower_sheet
from tests.core.work.test_work import plan_on, sown
from tests.factories import card, container, garden, sowing

POTTED = card(pot_on_container=1, pot_on_after_days=14, germ_temp_c=25.0)
BOXES = (container(), container(id=2, name="9 cm pot", cells_per_tray=18, cell_volume_ml=415.0))
OUTSIDE = card(id=2, name="Carrot", start_container=None, direct_sow_weeks=-2.0, counted_from=CountedFrom.SEED)


def facts(today=date(2027, 4, 10), units=Units.METRIC, **changes):
    fields = {"units": units, "today": today, "saved_cucurbits": frozenset()}
    return SheetFacts(**fields | changes)


def sheet_of(rows=None, *, told=None, **changes):
    return make_grower_sheet(
        make_plan(garden(rows, cards=(POTTED, OUTSIDE), containers=BOXES, **changes)), 0, told or facts()
    )


def test_tasks_stand_by_day_from_sowing_to_planting_out():
    sheet = sheet_of()
    assert [(task.day, task.task) for task in sheet.tasks] == [
        ("Sat 1 May", "Sow"),
        ("Wed 5 May", "Look for seedlings"),
        ("Fri 7 May", "Take the cover off"),
        ("Fri 14 May", "Thin"),
        ("Fri 21 May", "Pot on"),
        ("Sat 12 Jun", "Put out to harden"),
        ("Sat 19 Jun", "Collect and plant out"),
    ]
    assert sheet.tasks[-1].jobs[0].how == "6 plants"


def test_what_is_past_is_no_longer_listed():
    sheet = sheet_of(told=facts(date(2027, 5, 21)))
    assert [task.task for task in sheet.tasks] == ["Pot on", "Put out to harden", "Collect and plant out"]


def test_sowing_is_told_as_it_is_done_in_the_gardens_units():
    plan_cells = int(make_plan(garden()).cells[0])
    metric, us = sheet_of(), sheet_of(told=facts(units=Units.US))
    start = f"{plan_cells} cells of 72-cell tray, 2 seeds each"
    assert metric.tasks[0].jobs[0].how == f"{start}, 6\u00a0mm deep, mix at 25\u00a0°C"
    assert us.tasks[0].jobs[0].how == f"{start}, 1/4\u00a0in deep, mix at 77\u00a0°F"
    assert [row.cell for row in metric.containers] == ["40\u00a0ml", "415\u00a0ml"]
    assert [row.cell for row in us.containers] == ["1.35\u00a0fl oz", "14.03\u00a0fl oz"]


def test_a_deadline_holds_every_date():
    (row,) = sheet_of().deadlines
    assert (row.window, row.best, row.sow_on) == ("24 Apr – 6 May", "1 May", "Sat 1 May")
    assert (row.emerges, row.pot_on, row.harden) == ("7 May", "21 May into 9 cm pot", "12 Jun")
    # Autumn 30 Aug, 60 days to maturity and 14 of picking: out by 17 Jun, sown six weeks before at the latest.
    assert (row.plant_out, row.last_chance) == ("Sat 19 Jun", "6 May")
    assert (row.plants, row.seeds) == ("6", str(2 * int(row.cells)))


def test_a_sowing_outside_has_a_window_and_no_cells():
    (row,) = sheet_of([sowing(crop=1, plants=100)]).deadlines
    assert (row.container, row.cells, row.sow_on, row.plant_out) == ("sown outside", "–", "–", "–")
    # Tender: safe from 13 Jun; 74 days from seed to the end of picking before 30 Aug.
    assert row.window == "13 Jun – 17 Jun"


def test_a_window_that_ends_before_it_begins_is_none():
    (row,) = sheet_of([sowing(crop=1, days_to_maturity=90)]).deadlines
    assert (row.window, row.last_chance) == ("none", "18 May")
    assert row.warnings[0].startswith("too long here")


def test_warnings_stand_with_their_sowing():
    (row,) = sheet_of([sowing(plant_out=as_day(date(2027, 6, 5)))]).deadlines
    assert [warning.split(":")[0] for warning in row.warnings] == ["plants out early"]


def test_cautions_follow_what_the_grower_does():
    def heads(sheet):
        return [caution.head.split()[0] for caution in sheet.cautions]

    assert heads(sheet_of()) == ["dust", "covers"]
    assert heads(sheet_of([sowing(crop=1)])) == []
    assert heads(sheet_of(told=facts(saved_cucurbits={1}))) == ["dust", "covers", "plants"]


def test_a_grower_without_sowings_has_an_empty_sheet():
    sheet = sheet_of([])
    assert (sheet.sums, sheet.tasks, sheet.deadlines, sheet.containers) == ("0 sowings, 0 plants", (), (), ())


def test_the_demos_growers_have_all_their_plants_and_seeds(demo):
    plan, sowings = demo.plan, demo.plan.garden.sowings
    for grower in range(len(plan.garden.growers)):
        sheet = make_grower_sheet(plan, grower, demo.facts)
        own = sowings.grower == grower
        assert sum(int(row.plants) for row in sheet.deadlines) == plan.plants[own].sum()
        assert sum(int(row.seeds) for row in sheet.deadlines if row.seeds != "–") == plan.seeds[own].sum()
        assert sum(row.cells for row in sheet.containers) == plan.cells[own].sum() + plan.pots[own].sum()


def test_what_was_due_before_comes_first_and_dates_that_are_logged_are_marked():
    plan = plan_on(date(2027, 5, 20), sown(), (LogKind.UP, date(2027, 5, 8), 9))
    sheet = make_grower_sheet(plan, 0, SheetFacts(units=Units.METRIC, today=date(2027, 5, 20), saved_cucurbits=()))
    assert [(task.day, task.task) for task in sheet.tasks][:2] == [
        ("since Sat 8 May", "Take the cover off, not confirmed"),
        ("since Sat 15 May", "Thin"),
    ]
    (row,) = sheet.deadlines
    assert (row.sow_on, row.emerges, row.harden) == ("Sat 1 May, sown", "8 May, up", "12 Jun")
    assert sheet.basis == "As logged until Sat 8 May 2027, the rest as planned on Thu 20 May 2027."


def test_a_sowing_that_is_too_late_says_so_in_place_of_its_day():
    plan = plan_on(date(2027, 5, 17))
    sheet = make_grower_sheet(plan, 0, SheetFacts(units=Units.METRIC, today=date(2027, 5, 17), saved_cucurbits=()))
    assert sheet.deadlines[0].sow_on == "too late"


def test_who_brings_the_seed_is_told_where_it_is_sown():
    plan = make_plan(garden())
    own = make_plan(replace(plan.garden, sowings=replace(plan.garden.sowings, brings_seed=np.array([True]))))
    told = [[job.how for task in make_grower_sheet(one, 0, facts()).tasks for job in task.jobs] for one in (plan, own)]
    assert [how for how in told[0] if "seed" in how and "own" in how] == []
    assert [how.endswith("bring your own seed") for how in told[1]].count(True) == 1
    sow, *others = (more_words(own, due) for due in work_of(own, grower=0))
    assert sow.endswith("the grower’s own seed")
    assert [words for words in others if "own seed" in words] == []
