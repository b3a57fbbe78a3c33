"""Days to emergence of any row, between and beyond its figures; the printed table stands in tests/published."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.dates.emergence import EmergenceAnswer, EmergenceRow, Soil, days_to_emerge


@st.composite
def rows(draw):
    """Return a row of figures without gaps, and none around them."""
    temps = sorted(draw(st.sets(st.integers(0, 45), min_size=1, max_size=8)))
    return EmergenceRow(entries=tuple((temp, draw(st.integers(1, 180))) for temp in temps))


@given(rows(), st.floats(-20, 60))
def test_days_lie_between_the_figures_on_both_sides(row, temp):
    answer = days_to_emerge(row, temp)
    coldest, warmest = row.entries[0][0], row.entries[-1][0]
    if not coldest - 2.5 <= temp <= warmest + 2.5:
        assert answer == EmergenceAnswer(soil=Soil.NO_FIGURE)
        return
    near = [days for at, days in row.entries if at <= temp][-1:] + [days for at, days in row.entries if at >= temp][:1]
    assert min(near) - 1e-9 <= answer.days <= max(near) + 1e-9
    assert answer.whole_days - 1 < answer.days <= answer.whole_days + 1e-9


@given(rows())
def test_a_row_gives_its_own_figures_back(row):
    assert [days_to_emerge(row, temp).days for temp, _ in row.entries] == [days for _, days in row.entries]


GAP = EmergenceRow(entries=((5, 0), (10, 20), (15, None), (20, 8), (25, None), (30, 0)))


@pytest.mark.parametrize(
    ("temp", "days", "soil"),
    [
        (12.5, 20, Soil.FIGURE),
        (13, None, Soil.NO_FIGURE),
        (17.5, 8, Soil.FIGURE),
        (7.5, 20, Soil.FIGURE),
        (7, None, Soil.TOO_COLD),
        (5, None, Soil.TOO_COLD),
        (0, None, Soil.TOO_COLD),
        (22.5, 8, Soil.FIGURE),
        (24, None, Soil.NO_FIGURE),
        (30, None, Soil.TOO_HOT),
        (33, None, Soil.TOO_HOT),
    ],
)
def test_a_figure_reaches_towards_what_has_none(temp, days, soil):
    answer = days_to_emerge(GAP, temp)
    assert (answer.days, answer.soil) == (days, soil)


def test_whole_days_are_rounded_up_and_a_whole_day_is_not_pushed_on():
    row = EmergenceRow(entries=((10, 6), (20, 3)))
    assert days_to_emerge(row, 15).whole_days == 4  # 1 / (1/12 + 1/6) is 4
    assert days_to_emerge(row, 15.1).whole_days == 4
    assert days_to_emerge(row, 14.9).whole_days == 5
    assert days_to_emerge(row, 30).whole_days is None
