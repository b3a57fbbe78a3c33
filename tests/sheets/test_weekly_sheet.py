"""The weekly shelf sheet against days worked out by hand.

The usual sowing of tests/factories.py, by docs/method.md: safe from Sun 13 Jun, so out on Sat 19 Jun; six to
eight weeks indoors, so from 24 Apr to 8 May, best and sown on Sat 1 May; up after 6 days on Fri 7 May; hardening
from Sat 12 Jun.
"""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from app.core.calendar import as_day, monday_of
from app.core.plan import make_plan
from app.core.words import Light, Place, Units
from app.sheets.weekly import make_weekly_sheet
from tests.factories import card, container, garden, shelf, sowing
from tests.sheets.trays_by_hand import HARDENS, SOWN, UP, dealt, stay, usual_stays

TODAY = date(2027, 4, 10)


def sheet_of(plan, monday, units=Units.METRIC, stays=()):
    return make_weekly_sheet(plan, monday, units=units, today=TODAY, stays=stays)


def week_of(stays, monday):
    """Return the stays that the sheet of a week asks for."""
    return [
        one for one in stays if one.begin_on < monday + timedelta(days=7) and one.end_on > monday - timedelta(days=1)
    ]


def moves(sheet):
    return [
        (place.name, move.day, "in" if move.comes else "out", move.how, move.trays)
        for place in sheet.places
        for move in place.moves
    ]


@pytest.mark.parametrize(
    ("monday", "expected"),
    [
        (date(2027, 4, 19), []),
        (date(2027, 4, 26), [("Heat", "Sat 1 May", "in", "sown", 1)]),
        (date(2027, 5, 3), [("Heat", "Fri 7 May", "out", "to lamp", 1), ("Lamp", "Fri 7 May", "in", "from heat", 1)]),
        (date(2027, 5, 17), []),
        (
            date(2027, 6, 7),
            [("Lamp", "Sat 12 Jun", "out", "to hardening", 1), ("Hardening", "Sat 12 Jun", "in", "from lamp", 1)],
        ),
        (date(2027, 6, 14), [("Hardening", "Sat 19 Jun", "out", "handed out", 1)]),
        (date(2027, 6, 21), []),
    ],
)
def test_a_tray_is_carried_from_place_to_place(monday, expected):
    assert moves(sheet_of(make_plan(garden()), monday)) == expected


def test_a_tray_that_goes_on_monday_stands_on_that_weeks_sheet():
    plan = make_plan(garden(cards=(card(days_to_emerge=9),)))  # up on Mon 10 May
    heat = sheet_of(plan, date(2027, 5, 10)).places[0]
    assert [(line.until, line.goes) for line in heat.lines] == [("Mon 10 May", True)]
    assert (heat.bar.needed, heat.fullest) == (0, "")


def test_pots_come_when_the_start_tray_goes():
    boxes = (container(), container(id=2, name="9 cm pot", cells_per_tray=18, cell_volume_ml=415.0))
    potted = card(pot_on_container=1, pot_on_after_days=14)  # up 7 May, potted on Fri 21 May
    sheet = sheet_of(make_plan(garden(cards=(potted,), containers=boxes)), date(2027, 5, 17))
    assert moves(sheet) == [("Lamp", "Fri 21 May", "in", "potted on", 1), ("Lamp", "Fri 21 May", "out", "potted on", 1)]
    assert [line.container for line in sheet.places[1].lines] == ["72-cell tray", "9 cm pot"]


def test_without_shelves_for_hardening_trays_go_out_to_harden():
    shelves = tuple(shelf(place) for place in Place if place is not Place.HARDENING)
    sheet = sheet_of(make_plan(garden(shelves=shelves)), date(2027, 6, 7))
    assert moves(sheet) == [("Lamp", "Sat 12 Jun", "out", "out to harden", 1)]


def test_without_heat_a_tray_stays_where_it_was_sown():
    plan = make_plan(garden(shelves=(shelf(Place.LAMP),)))
    (line,) = sheet_of(plan, date(2027, 5, 3)).places[1].lines
    assert (line.since, line.until, line.comes, line.goes) == ("Sat 1 May", "Sat 12 Jun", False, False)


def test_trays_of_one_sowing_are_joined_with_nothing_lost():
    plan = make_plan(garden([sowing(plants=130)]))
    (line,) = sheet_of(plan, date(2027, 4, 26)).places[0].lines
    cells = int(plan.cells[0])
    assert 144 < cells < 216
    assert (line.rows, line.trays, line.cells) == ("1 – 3", 3, f"72 + 72 + {cells - 144} of 72")
    assert [share.cells for crop in line.crops for share in crop.shares] == [cells]


def test_places_over_their_positions_say_so():
    shelves = (shelf(Place.HEAT, positions=1, bench_temp_c=20.0), *(shelf(place) for place in list(Place)[1:]))
    place = sheet_of(make_plan(garden([sowing(plants=130)], shelves=shelves)), date(2027, 4, 26)).places[0]
    assert (place.use, place.fullest) == ("3 of 1, 2 over", "Sat 1 May")


def test_quantities_are_said_in_the_gardens_units():
    shelves = (shelf(Place.HEAT, name="Bench", bench_temp_c=20.0),)
    plan = make_plan(garden(shelves=shelves))
    metric, us = (sheet_of(plan, date(2027, 4, 26), units).places[0] for units in (Units.METRIC, Units.US))
    assert (metric.shelves, metric.lines[0].cell) == (("Bench: 8 positions, 20\u00a0°C",), "40\u00a0ml")
    assert (us.shelves, us.lines[0].cell) == (("Bench: 8 positions, 68\u00a0°F",), "1.35\u00a0fl oz")


def test_cautions_stand_where_the_risk_is():
    sown = sheet_of(make_plan(garden(cards=(card(light=Light.WINDOW, heat=False),))), date(2027, 4, 26))
    heads = {place.name: [caution.head.split()[0] for caution in place.cautions] for place in sown.places}
    assert heads == {
        "Heat": ["electricity", "covers"],
        "Lamp": ["electricity", "covers"],
        "Window": ["covers", "dust"],
        "Hardening": [],
    }


def test_every_week_of_the_demo_needs_what_a_count_of_its_lines_says(demo):
    ledger = demo.plan.ledger
    for week, needed in zip(ledger.weeks, ledger.needed.tolist(), strict=True):
        sheet = sheet_of(demo.plan, monday_of(week))
        assert [place.bar.needed for place in sheet.places] == needed
        assert all(place.trays == sum(line.trays for line in place.lines) for place in sheet.places)


def test_every_cell_that_stands_on_a_saturday_of_the_demo_is_on_its_sheet(demo):
    plan, saturday = demo.plan, date(2027, 5, 22)
    times, day, sunday = plan.timeline, as_day(saturday), "Sun 23 May"
    # Not potted on: from sowing to planting out in the same cells. An own count of sowings, not of trays.
    stands = (times.pot_on == 0) & (times.sow_on > 0) & (times.sow_on <= day) & (times.plant_out > day)
    listed = {}
    for place in sheet_of(plan, saturday - timedelta(days=5)).places:
        for line in place.lines:
            if (line.comes and line.since == sunday) or (line.goes and line.until != sunday):
                continue  # not yet, or no longer, in this place on the Saturday
            for crop in line.crops:
                for share in crop.shares:
                    listed[share.sowings] = listed.get(share.sowings, 0) + share.cells
    standing = np.flatnonzero(stands).tolist()
    found = {index: cells for sowings, cells in listed.items() for index in sowings if len(sowings) == 1}
    assert len(standing) > 100
    assert {index: found.get(index) for index in standing} == {index: int(plan.cells[index]) for index in standing}


@pytest.mark.parametrize(
    ("monday", "expected"),
    [
        (date(2027, 4, 26), [("Heat", "Sat 1 May", "in", "sown", 1)]),
        (date(2027, 5, 3), [("Heat", "Fri 7 May", "out", "to lamp", 1), ("Lamp", "Fri 7 May", "in", "from heat", 1)]),
        (
            date(2027, 6, 7),
            [("Lamp", "Sat 12 Jun", "out", "to hardening", 1), ("Hardening", "Sat 12 Jun", "in", "from lamp", 1)],
        ),
        (date(2027, 6, 14), [("Hardening", "Sat 19 Jun", "out", "handed out", 1)]),
    ],
)
def test_a_dealt_tray_is_carried_on_the_days_of_its_stays(monday, expected):
    plan = make_plan(garden(dealt=dealt((0, 0, 9))))
    assert moves(sheet_of(plan, monday, stays=week_of(usual_stays(), monday))) == expected


def test_a_dealt_tray_stands_under_its_number_on_its_shelf():
    plan = make_plan(garden(dealt=dealt((0, 0, 9))))
    monday = date(2027, 5, 31)
    lamp = sheet_of(plan, monday, stays=week_of(usual_stays(), monday)).places[1]
    (line,) = lamp.lines
    assert (line.rows, line.shelf, line.slot, line.cells) == ("1", "Lamp rack, level 2", "3", "9 of 72")
    assert [share.cells for crop in line.crops for share in crop.shares] == [9]
    monday = date(2027, 6, 14)
    (line,) = sheet_of(plan, monday, stays=week_of(usual_stays(), monday)).places[3].lines
    assert (line.shelf, line.slot) == ("Waiting for a position", "")


def test_trays_go_by_shelf_level_and_position_and_those_that_wait_last():
    plan = make_plan(garden([sowing(), *[sowing()] * 4], dealt=dealt(*((tray, tray, 9) for tray in range(5)))))
    at = [("Rack B", 1, 1), ("Rack A", 2, 1), (None, 1, 1), ("Rack A", 1, 2), ("Rack A", 1, 1)]
    stays = [
        stay(Place.LAMP, UP, HARDENS, tray=101 + tray, number=tray + 1, shelf=shelf_name, level=level, slot=slot)
        for tray, (shelf_name, level, slot) in enumerate(at)
    ]
    lines = sheet_of(plan, date(2027, 5, 17), stays=stays).places[1].lines
    assert [(line.rows, line.shelf, line.slot) for line in lines] == [
        ("5", "Rack A, level 1", "1"),
        ("4", "Rack A, level 1", "2"),
        ("2", "Rack A, level 2", "1"),
        ("1", "Rack B, level 1", "1"),
        ("3", "Waiting for a position", ""),
    ]


def test_trays_that_are_not_dealt_are_listed_as_such_beside_those_that_are():
    growers = garden().growers * 2
    plan = make_plan(garden([sowing(), sowing(plants=60)], growers=growers, dealt=dealt((0, 0, 9))))
    monday = date(2027, 4, 26)
    heat = sheet_of(plan, monday, stays=week_of(usual_stays(), monday)).places[0]
    assert [(line.rows, line.shelf) for line in heat.lines] == [
        ("1", "Heat bench, level 1"),
        *[(f"row {row}", "Not dealt yet") for row in range(1, len(heat.lines))],
    ]
    assert len(heat.lines) > 1
    (move,) = heat.moves
    assert move.rows.startswith("1, row")


def test_without_stays_dealt_trays_have_their_numbers_where_the_plan_has_them():
    trays = dealt((0, 0, 9))
    plan = make_plan(garden(dealt=replace(trays, number=np.array([38]))))
    sheet = sheet_of(plan, date(2027, 4, 26))
    assert [(line.rows, line.shelf, line.slot) for line in sheet.places[0].lines] == [("38", "", "")]
    assert sheet.is_dealt
    assert not sheet_of(make_plan(garden()), date(2027, 4, 26)).is_dealt


def test_a_tray_that_was_moved_by_hand_did_not_come_to_be_sown():
    plan = make_plan(garden(dealt=dealt((0, 0, 9))))
    later = [stay(Place.HEAT, date(2027, 5, 4), UP), *usual_stays()[1:]]
    assert moves(sheet_of(plan, date(2027, 5, 3), stays=week_of(later, date(2027, 5, 3))))[0] == (
        *("Heat", "Tue 4 May", "in", "moved by hand", 1),
    )
    split = [stay(Place.HEAT, SOWN, date(2027, 5, 4)), *later]
    said = [move[3] for move in moves(sheet_of(plan, date(2027, 5, 3), stays=week_of(split, date(2027, 5, 3))))]
    assert said[:2] == ["from another position", "to another position"]


def test_dealt_as_planned_the_demo_needs_what_its_ledger_says_in_every_week(dealt_demo):
    ledger = dealt_demo.plan.ledger
    for week, needed in zip(ledger.weeks, ledger.needed.tolist(), strict=True):
        monday = monday_of(week)
        stays = dealt_demo.stays_between(monday - timedelta(days=1), monday + timedelta(days=7))
        sheet = sheet_of(dealt_demo.plan, monday, stays=stays)
        assert [place.bar.needed for place in sheet.places] == needed
        assert sum(place.trays for place in sheet.places) == len(stays)
        without = sheet_of(dealt_demo.plan, monday)
        assert [moves_of(place) for place in sheet.places] == [moves_of(place) for place in without.places]


def moves_of(place):
    return {(move.day, move.comes, move.how, move.trays, move.rows) for move in place.moves}
