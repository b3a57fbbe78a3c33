import calendar
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.language import LANGUAGES, speaking
from app.sheets.bars import BAR_WIDTH, LINE_WIDTH, month_mark, month_starts, season_line, span_of, use_bar

COUNTS = st.integers(0, 10_000)
DAYS = st.dates(date(2020, 1, 1), date(2035, 12, 31))


@given(COUNTS, COUNTS, COUNTS)
def test_a_bar_stays_on_its_line_and_says_what_is_free_or_over(needed, positions, most):
    bar = use_bar(needed, positions, most)
    assert bar.free - bar.over == positions - needed
    assert min(bar.free, bar.over) == 0
    assert bar.edge_x + bar.over_width <= BAR_WIDTH + 0.1
    assert bar.bar_width <= bar.edge_x


def test_edges_of_one_column_stand_below_each_other():
    most = 39
    assert {use_bar(needed, 32, most).edge_x for needed in (0, 20, 32, 39)} == {82.1}


def test_an_empty_place_without_positions_has_a_bar():
    bar = use_bar(0, 0)
    assert (bar.edge_x, bar.bar_width, bar.over_width) == (0, 0, 0)


def test_a_line_shows_window_sowing_and_planting_out_in_order():
    span = span_of([date(2027, 3, 6), date(2027, 6, 12)])
    assert span == (date(2027, 3, 1), date(2027, 7, 1))
    line = season_line((date(2027, 4, 3), date(2027, 4, 17)), date(2027, 4, 10), date(2027, 6, 5), span)
    assert line.from_x < line.sow_x < line.from_x + line.window_width < line.out_x
    assert line.sow_x + line.indoors_width == pytest.approx(line.out_x, abs=0.11)
    assert [name for _, name in line.months] == ["Mar", "Apr", "May", "Jun", ""]


def test_a_sowing_outside_has_no_time_indoors():
    day = date(2027, 5, 1)
    line = season_line((day, day), day, None, span_of([day]))
    assert (line.indoors_width, line.out_x) == (0, None)


@given(st.lists(DAYS, min_size=4, max_size=4), DAYS, DAYS)
def test_nothing_is_drawn_past_the_ends(days, first, last):
    first, last = min(first, last), max(first, last)
    start, end, sow_on, plant_out = days
    line = season_line((min(start, end), max(start, end)), sow_on, plant_out, (first, last))
    drawn = [line.from_x, line.sow_x, line.out_x, line.sow_x + line.indoors_width, *(x for x, _ in line.months)]
    assert all(-0.11 <= x <= LINE_WIDTH + 0.11 for x in drawn)


def test_a_long_line_shortens_the_names_of_its_months():
    days = (date(2026, 7, 1), date(2027, 7, 1))
    line = season_line(days, days[0], days[1], days)
    assert [name for _, name in line.months][:3] == ["J", "A", "S"]
    assert len(month_starts(*days)) == 13


def test_months_are_marked_in_english_as_python_shortens_them():
    """The standard library's own names, in its locale `C`."""
    assert [month_mark(month) for month in range(1, 13)] == list(calendar.month_abbr)[1:]


@pytest.mark.parametrize("code", LANGUAGES)
def test_no_two_months_are_marked_alike(code):
    with speaking(code):
        assert len({month_mark(month) for month in range(1, 13)}) == 12
        assert all(len(month_mark(month, is_letter=True)) == 1 for month in range(1, 13))
