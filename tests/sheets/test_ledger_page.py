"""The ledger in words and bars, against ledgers written down by hand."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.calendar import week_number
from app.core.space.ledger import Ledger
from app.sheets.ledger_page import CHART_HEIGHT, CHART_WIDTH, over_words, place_chart

FIRST_WEEK = int(week_number(np.array([date(2027, 4, 5).toordinal()]))[0])  # a Monday


def ledger(needed, positions):
    return Ledger(first_week=FIRST_WEEK, needed=np.array(needed), positions=np.array(positions))


def test_nothing_over_full_is_no_sentence():
    assert over_words(ledger([[1, 2, 3, 4]], [1, 2, 3, 4])) == ""


def test_stretches_and_places_that_are_over_full_are_one_sentence():
    needed = [[0, 3, 0, 0], [2, 4, 0, 0], [2, 1, 0, 0], [0, 3, 0, 0]]
    assert over_words(ledger(needed, [1, 2, 0, 0])) == (
        "The heat shelves are over-full from Mon 12 Apr to Sun 25 Apr, by up to 1 tray; "
        "the lamp shelves from Mon 5 Apr to Sun 18 Apr, by up to 2 trays, and from Mon 26 Apr to Sun 2 May, "
        "by up to 1 tray."
    )


def test_a_bar_ends_at_the_line_and_the_rest_stands_above_it():
    chart = place_chart(ledger([[0, 2, 0, 0], [0, 5, 0, 0]], [0, 4, 0, 0]), 1)
    low, full = chart.bars
    (over,) = chart.over
    assert low.height == pytest.approx(full.height / 2, abs=0.02)
    assert full.y == pytest.approx(chart.edge_y, abs=0.02)
    assert over.y + over.height == pytest.approx(chart.edge_y, abs=0.02)
    assert over.height == pytest.approx(full.height / 4, abs=0.02)
    assert chart.peak[0] == 5


@given(
    st.lists(st.tuples(*[st.integers(0, 600)] * 4), min_size=1, max_size=60),
    st.tuples(*[st.integers(0, 600)] * 4),
    st.integers(0, 3),
)
def test_everything_drawn_lies_inside_the_picture(needed, positions, place):
    chart = place_chart(ledger(needed, positions), place)
    for x, y, width, height in (*chart.bars, *chart.over):
        assert x >= 0
        assert x + width <= CHART_WIDTH
        assert y >= 0
        assert y + height <= CHART_HEIGHT
    assert 0 <= chart.edge_y <= CHART_HEIGHT
    assert all(0 <= x <= chart.right for x, _ in chart.months)
    column = [row[place] for row in needed]
    assert len(chart.over) == sum(count > positions[place] for count in column)
