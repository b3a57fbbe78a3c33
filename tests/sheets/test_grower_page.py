"""What stands on the shelves for a grower, and a sowing through the season."""

from datetime import date

import numpy as np
import pytest

from app.core.cards import GrowerCard
from app.core.plan import make_plan
from app.sheets.bars import LINE_WIDTH
from app.sheets.grower_page import cells_on_shelves, lines_of_sowings
from tests.factories import card, garden, sowing


def test_cells_on_the_shelves_agree_with_a_count_tray_by_tray():
    growers = tuple(GrowerCard(id=number + 1, name=f"Grower {number}", plot=None) for number in range(3))
    plan = make_plan(garden([sowing(grower=n % 3, plants=5 + 9 * n) for n in range(12)], growers=growers))
    begin, end = int(plan.stays.begin.min()), int(plan.stays.end.max())
    for day in range(begin - 1, end + 1, 9):
        groups = {g for g, b, e in zip(plan.stays.group, plan.stays.begin, plan.stays.end, strict=True) if b <= day < e}
        for grower in range(3):
            cells, trays = 0, set()
            parts = zip(plan.trays.part_tray, plan.trays.part_lot, plan.trays.part_cells, strict=True)
            for tray, lot, count in parts:
                if plan.trays.group[tray] in groups and lot % 3 == grower:
                    cells, trays = cells + count, trays | {int(tray)}
            assert cells_on_shelves(plan, grower, date.fromordinal(day)) == (cells, len(trays))


def test_the_steps_of_a_line_stand_in_the_order_of_their_days():
    pots = {"pot_on_container": 0, "pot_on_after_days": 14}
    plan = make_plan(garden([sowing(), sowing(plant_out=date(2027, 7, 3).toordinal())], cards=(card(**pots),)))
    for line, words in lines_of_sowings(plan, [0, 1]):
        steps = [line.sow_x, line.emerges_x, line.pot_on_x, line.harden_x, line.out_x]
        assert steps == sorted(steps)
        assert line.hardening_width == pytest.approx(line.out_x - line.harden_x, abs=0.11)
        assert 0 <= line.from_x <= line.out_x <= LINE_WIDTH
        assert [part.split()[0] for part in words.split("; ")] == ["Sow", "sow", "emerges", "pot", "harden", "plants"]


def test_lines_of_one_page_share_their_months():
    plan = make_plan(garden([sowing(), sowing(plant_out=date(2027, 8, 28).toordinal())]))
    first, second = (line.months for line, _ in lines_of_sowings(plan, [0, 1]))
    assert first == second


def test_no_sowings_have_no_lines():
    plan = make_plan(garden([]))
    assert lines_of_sowings(plan, []) == []
    assert cells_on_shelves(plan, 0, date(2027, 5, 1)) == (0, 0)
    assert np.sum(plan.cells) == 0
