"""Where a grower's cells are, by hand: tests/sheets/trays_by_hand.py has the days."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from app.core.calendar import as_day
from app.core.plan import make_plan
from app.core.words import CellState, Place
from app.sheets.grower_sheet import make_grower_sheet
from app.sheets.grower_trays import cells_in_trays, not_dealt_words
from app.sheets.pdf import Paper, Template, make_pdf
from tests.factories import card, container, garden, sowing
from tests.sheets.reading import squashed, text_of
from tests.sheets.trays_by_hand import NINE, SOWN, cells, dealt, stay, usual_stays

BOXES = (container(), container(id=2, name="9 cm pot", cells_per_tray=18))
POTTED = card(pot_on_container=1, pot_on_after_days=14)


def plan_of(*parts, rows=None, **changes):
    return make_plan(garden(rows, **{"containers": BOXES, "dealt": dealt(*(parts or [(0, 0, 9)]))} | changes))


@pytest.mark.parametrize(
    ("today", "stands", "moves"),
    [
        (date(2027, 4, 10), "not filled yet", "Sat 1 May to heat: Heat bench, level 1, position 2"),
        (
            date(2027, 5, 1),
            "heat: Heat bench, level 1, position 2",
            "Fri 7 May to lamps: Lamp rack, level 2, position 3",
        ),
        (
            date(2027, 5, 6),
            "heat: Heat bench, level 1, position 2",
            "Fri 7 May to lamps: Lamp rack, level 2, position 3",
        ),
        (date(2027, 5, 7), "lamps: Lamp rack, level 2, position 3", "Sat 12 Jun to hardening: waits for a position"),
        (date(2027, 6, 18), "hardening: waits for a position", "Sat 19 Jun handed out"),
        (date(2027, 6, 19), "left on Sat 19 Jun", ""),
    ],
)
def test_a_tray_stands_and_moves_by_its_days(today, stands, moves):
    (row,) = cells_in_trays(plan_of(), cells(), usual_stays(), today)
    assert (row.tray, row.crop, row.cells) == (1, "Tomato", "A1–F1, D2–F2")
    assert (row.stands, row.moves) == (stands, moves)


def test_a_start_tray_ends_when_its_plants_are_potted_on():
    (row,) = cells_in_trays(plan_of(cards=(POTTED,)), cells(), usual_stays()[:2], date(2027, 5, 8))
    assert row.moves == "Sat 12 Jun potted on"
    pots = replace(dealt((0, 0, 7), pots=[0]), container=np.array([1]))
    (row,) = cells_in_trays(plan_of(cards=(POTTED,), dealt=pots), cells(), usual_stays()[:2], date(2027, 5, 8))
    assert row.moves == "Sat 12 Jun out to harden"


def test_what_is_in_the_cells_is_counted():
    def said(told, **changes):
        return [row.count for row in cells_in_trays(plan_of(**changes), told, [], SOWN)]

    assert said(cells()) == ["9 not sown yet"]
    mixed = [
        *cells(NINE[:6], state=CellState.UP),
        *cells(NINE[6:8], state=CellState.SOWN),
        *cells(NINE[8:], state=CellState.LOST),
    ]
    assert said(mixed) == ["2 sown, 6 up, 1 lost"]
    assert said(cells(), dealt=dealt((0, 0, 9), pots=[0])) == ["9 pots, not filled yet"]


def test_a_tray_without_a_place_says_so():
    (row,) = cells_in_trays(plan_of(), cells(), [], SOWN)
    assert (row.stands, row.moves) == ("no place is known", "")


def test_rows_go_by_the_number_of_the_tray_and_not_by_its_id():
    trays = replace(dealt((0, 0, 9), (1, 0, 5)), number=np.array([8, 3]))
    told = [*cells(), *cells(NINE[:5], tray=102)]
    found = cells_in_trays(plan_of(dealt=trays), told, [stay(Place.HEAT, SOWN, date(2027, 5, 7), tray=102)], SOWN)
    assert [(row.tray, row.count) for row in found] == [(3, "5 not sown yet"), (8, "9 not sown yet")]
    assert [row.stands for row in found] == ["heat: Heat bench, level 1, position 2", "no place is known"]


def test_what_is_not_dealt_yet_is_named():
    two = [sowing(), sowing(crop=1)]
    cards = (card(), card(id=2, name="Pepper"))
    assert not_dealt_words(plan_of(), 0) == ""
    assert not_dealt_words(make_plan(garden()), 0) == "Trays are not dealt yet."
    assert not_dealt_words(plan_of(rows=two, cards=cards), 0) == "Cells of Pepper are not dealt yet."
    assert not_dealt_words(plan_of(cards=(POTTED,)), 0) == "Pots of Tomato are not dealt yet."


def test_who_sows_outside_alone_waits_for_no_tray():
    outside = card(start_container=None, direct_sow_weeks=0.0, light=None, heat=False)
    assert not_dealt_words(make_plan(garden(cards=(outside,))), 0) == ""


def test_another_growers_trays_are_not_theirs():
    growers = tuple(
        type(one)(id=n, name=name, plot=None) for one in garden().growers for n, name in ((1, "A"), (2, "B"))
    )
    plan = plan_of(rows=[sowing(), sowing(grower=1)], growers=growers)
    assert (not_dealt_words(plan, 0), not_dealt_words(plan, 1)) == ("", "Cells of Tomato are not dealt yet.")


def test_the_sheet_of_a_grower_of_the_demo_has_every_cell_of_theirs(dealt_demo):
    plan = dealt_demo.plan
    for grower in (0, 6, 30):
        row = plan.garden.growers[grower].id
        mine = [cell for cell in dealt_demo.cells if cell.grower_id == row]
        trays = {cell.tray_id for cell in mine}
        facts = replace(dealt_demo.facts, cells=mine, stays=[one for one in dealt_demo.stays if one.tray_id in trays])
        sheet = make_grower_sheet(plan, grower, facts)
        counted = sum(
            int(part.split()[0]) for line in sheet.trays for part in line.count.split(", ") if part[0].isdigit()
        )
        assert counted == len(mine) > 0
        assert sheet.not_dealt == ""
        text = text_of(make_pdf(Template.GROWER, sheet, Paper.A4))
        for line in sheet.trays:
            assert (
                squashed(f"{line.tray}{line.crop}{line.variety}{line.cells}{line.count}{line.stands}{line.moves}")
                in text
            )


def test_before_dealing_the_sheet_says_so(demo):
    sheet = make_grower_sheet(demo.plan, 0, demo.facts)
    assert sheet.trays == ()
    assert "Traysarenotdealtyet." in text_of(make_pdf(Template.GROWER, sheet, Paper.A4))


def test_days_of_stays_are_day_numbers_of_the_plan(dealt_demo):
    """Where a tray stands on 10 April agrees with the plan's own stays, tray by tray."""
    today, plan = date(2027, 4, 10), dealt_demo.plan
    stored = {int(n): group for n, group in zip(plan.trays.stored, plan.trays.group, strict=True) if n >= 0}
    names = ("heat", "lamps", "window", "hardening")
    for row in cells_in_trays(plan, dealt_demo.cells, dealt_demo.stays, today):
        index = int(np.flatnonzero(plan.garden.dealt.number == row.tray)[0])
        here = (
            (plan.stays.group == stored[index]) & (plan.stays.begin <= as_day(today)) & (plan.stays.end > as_day(today))
        )
        said = names[int(plan.stays.place[here][0])] if here.any() else "not"
        assert row.stands.startswith(said)
