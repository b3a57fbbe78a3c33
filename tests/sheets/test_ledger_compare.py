"""Two ledgers side by side, against ledgers written down by hand."""

from datetime import date

import numpy as np
import pytest

from app.core.calendar import week_number
from app.core.space.ledger import Ledger
from app.sheets.ledger_compare import compare_ledgers
from app.sheets.ledger_page import CHART_HEIGHT, place_chart

FIRST_WEEK = int(week_number(np.array([date(2027, 4, 5).toordinal()]))[0])  # a Monday
POSITIONS = [2, 2, 0, 4]


def ledger(needed):
    return Ledger(first_week=FIRST_WEEK, needed=np.array(needed), positions=np.array(POSITIONS))


def pairs(week):
    return [(pair.before, pair.before_over, pair.after, pair.after_over) for pair in week.pairs]


def test_weeks_and_places_that_differ_are_shown_with_what_is_over():
    before = ledger([[1, 1, 0, 0], [1, 5, 0, 0], [2, 3, 0, 1]])
    after = ledger([[1, 1, 0, 0], [1, 2, 0, 0], [2, 3, 0, 2]])
    both = compare_ledgers(before, after)
    assert [chart.place for chart in both.charts] == ["Lamp", "Hardening"]
    assert [week.name for week in both.weeks] == ["2027-W15", "2027-W16"]
    assert pairs(both.weeks[0]) == [(5, 3, 2, 0), (0, 0, 0, 0)]
    assert pairs(both.weeks[1]) == [(3, 1, 3, 1), (1, 0, 2, 0)]
    assert [week.is_over for week in both.weeks] == [False, True]
    assert "by up to 3 trays" in both.over_before
    assert both.over_after == "The lamp shelves are over-full from Mon 19 Apr to Sun 25 Apr, by up to 1 tray."
    assert both.same_places == "Heat stays as it is in every week."
    assert both.same_weeks == "1 other week stays as it is."


def test_what_is_over_full_in_both_is_left_out_where_only_changes_are_asked_for():
    before = ledger([[3, 0, 0, 0], [0, 1, 0, 0]])
    after = ledger([[3, 0, 0, 0], [0, 2, 0, 0]])
    assert [week.name for week in compare_ledgers(before, after).weeks] == ["2027-W14", "2027-W15"]
    assert [week.name for week in compare_ledgers(before, after, only_changes=True).weeks] == ["2027-W15"]


@pytest.mark.parametrize("needed", [[[1, 1, 0, 0]], np.zeros((0, 4), dtype=int)])
def test_equal_ledgers_have_nothing_to_show(needed):
    both = compare_ledgers(ledger(needed), ledger(needed))
    assert (both.charts, both.weeks, both.same_places, both.same_weeks) == ((), (), "", "")


def test_the_outline_of_the_ledger_before_stands_as_high_as_its_trays():
    chart = place_chart(ledger([[0, 2, 0, 0], [0, 1, 0, 0]]), 1, ledger([[0, 4, 0, 0], [0, 0, 0, 0]]))
    base = chart.bars[0].y + chart.bars[0].height
    steps = chart.before.replace("M0 ", "V").split("V")[1:]
    heights = [float(step.partition("H")[0]) for step in steps]
    # Four trays before, twice the two after; then none. The first height is also where the pen begins.
    assert heights[0] == heights[1]
    assert base - heights[1] == pytest.approx(2 * chart.bars[0].height, abs=0.05)
    assert heights[2] == pytest.approx(base, abs=0.05)
    assert 0 <= min(heights) < max(heights) <= CHART_HEIGHT
    assert float(steps[-1].partition("H")[2]) == pytest.approx(chart.right, abs=0.05)
