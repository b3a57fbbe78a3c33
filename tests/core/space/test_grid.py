"""Rows and columns of a tray, against counting and by hand."""

from itertools import pairwise
from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.errors import OutOfRangeError
from app.core.space.grid import Cell, Grid, grid_of, row_letters, row_of_letters, straight_runs, walk
from tests.core.dealing_by_hand import is_one_piece

GRIDS = st.tuples(st.integers(1, 12), st.integers(1, 20))


@pytest.mark.parametrize(
    ("cells", "grid"),
    # Grids of trays as they are sold, seen from the long side (common practice); 50 cells are 5 by 10.
    [(72, (6, 12)), (50, (5, 10)), (128, (8, 16)), (200, (10, 20)), (18, (3, 6)), (32, (4, 8)), (1, (1, 1))],
)
def test_usual_trays_have_their_usual_grids(cells, grid):
    assert grid_of(cells) == grid


@given(st.integers(1, 400))
def test_a_grid_has_all_cells_and_none_is_more_like_a_tray(cells):
    rows, columns = grid_of(cells)
    assert rows * columns == cells
    others = [cells / down / down for down in range(1, cells + 1) if cells % down == 0]
    assert abs(log(columns / rows / 2)) <= min(abs(log(shape / 2)) for shape in others) + 1e-9


def test_a_container_gives_its_own_grid():
    assert grid_of(72, 12, 6) == (12, 6)
    assert grid_of(72, 12, None) == (6, 12)


def test_a_tray_without_cells_has_no_grid():
    with pytest.raises(OutOfRangeError, match="cells is 0; it must be 1 or more"):
        grid_of(0)


@pytest.mark.parametrize(
    ("row", "letters"), [(1, "A"), (26, "Z"), (27, "AA"), (52, "AZ"), (53, "BA"), (702, "ZZ"), (703, "AAA")]
)
def test_rows_have_letters_as_columns_of_a_table_have(row, letters):
    assert row_letters(row) == letters
    assert row_of_letters(letters) == row_of_letters(letters.lower()) == row


@given(st.integers(1, 100_000))
def test_letters_lead_back_to_their_row(row):
    assert row_of_letters(row_letters(row)) == row


@pytest.mark.parametrize("letters", ["", "A1", "Ä", "a b", "-", "\N{GREEK CAPITAL LETTER ALPHA}"])
def test_what_is_not_letters_is_no_row(letters):
    with pytest.raises(OutOfRangeError, match="it must be letters from A on"):
        row_of_letters(letters)


@pytest.mark.parametrize("row", [0, -1])
def test_a_row_below_the_first_has_no_letters(row):
    with pytest.raises(OutOfRangeError, match="it must be 1 or more"):
        row_letters(row)


@given(GRIDS)
def test_a_walk_comes_to_every_cell_once_by_single_steps(grid):
    rows, columns = (part.tolist() for part in walk(Grid(*grid)))
    cells = list(zip(rows, columns, strict=True))
    assert sorted(cells) == [(row + 1, column + 1) for row in range(grid[0]) for column in range(grid[1])]
    for one, other in pairwise(cells):
        assert abs(one[0] - other[0]) + abs(one[1] - other[1]) == 1


@given(GRIDS, st.integers(0, 40), st.integers(1, 40))
def test_a_stretch_of_a_walk_hangs_together(grid, begin, n):
    rows, columns = (part.tolist() for part in walk(Grid(*grid)))
    assert is_one_piece(list(zip(rows, columns, strict=True))[begin : begin + n])


def test_a_walk_goes_along_the_short_side():
    rows, columns = walk(Grid(2, 3))
    assert list(zip(rows.tolist(), columns.tolist(), strict=True)) == [(1, 1), (2, 1), (2, 2), (1, 2), (1, 3), (2, 3)]
    rows, columns = walk(Grid(3, 2))
    assert list(zip(rows.tolist(), columns.tolist(), strict=True)) == [(1, 1), (1, 2), (2, 2), (2, 1), (3, 1), (3, 2)]


@given(st.sets(st.tuples(st.integers(1, 5), st.integers(1, 6))))
def test_runs_are_straight_and_together_all_the_cells(cells):
    runs = straight_runs([Cell(*cell) for cell in cells])
    found = []
    for first, last in runs:
        assert first.row == last.row or first.column == last.column
        found += [
            (row, column) for row in range(first.row, last.row + 1) for column in range(first.column, last.column + 1)
        ]
    assert sorted(found) == sorted(cells)


@pytest.mark.parametrize(
    ("cells", "runs"),
    [
        ([(1, 1), (1, 2), (1, 3)], [((1, 1), (1, 3))]),
        ([(1, 1), (2, 1), (3, 1)], [((1, 1), (3, 1))]),
        ([(1, 1), (2, 1), (1, 2), (2, 2), (3, 1)], [((1, 1), (3, 1)), ((1, 2), (2, 2))]),
        ([(2, 2), (2, 2)], [((2, 2), (2, 2))]),
    ],
)
def test_runs_go_the_way_in_which_they_are_fewer(cells, runs):
    assert straight_runs([Cell(*cell) for cell in cells]) == runs
