"""Which cells a sowing gets: side by side, and where it had them before."""

from hypothesis import given
from hypothesis import strategies as st

from app.core.dealing.cells import NOBODY, in_order, rearrange
from app.core.space.grid import Cell, Grid
from app.core.words import CellState
from tests.core.dealing_by_hand import is_one_piece

EMPTY, SOWN = CellState.EMPTY, CellState.SOWN
GRID = in_order(Grid(2, 5))


def tray(text):
    """Return a tray from one sign a cell in the order of the walk, a dot for a free one."""
    owners = [NOBODY if sign == "." else int(sign) for sign in text]
    return {cell: (owner, EMPTY) for cell, owner in zip(GRID, owners, strict=True)}


def written(cells):
    """Return a tray as signs again."""
    return "".join("." if cells[cell][0] == NOBODY else str(cells[cell][0]) for cell in GRID)


def relaid(text, parts, *, is_firm=False):
    laid = rearrange(tray(text), parts, GRID, is_firm=is_firm)
    return None if laid is None else written(laid)


@st.composite
def trays(draw):
    """Return a tray of ten cells with up to four sowings as they come, and parts that fit into it."""
    owners = draw(st.lists(st.integers(-1, 3), min_size=10, max_size=10))
    had = {cell: (owner, EMPTY) for cell, owner in zip(GRID, owners, strict=True)}
    room, parts = 10, []
    for lot in draw(st.permutations(range(5))):
        n = draw(st.integers(0, room))
        if n:
            parts.append((lot, n))
            room -= n
    return had, parts


@given(trays(), st.booleans())
def test_each_sowing_has_its_cells_and_keeps_them_where_they_are_as_many(drawn, is_firm):
    had, parts = drawn
    laid = rearrange(had, parts, GRID, is_firm=is_firm)
    if laid is None:
        assert not is_firm
        return
    assert set(laid) == set(GRID)
    for lot, n in parts:
        mine = {cell for cell, (owner, _) in laid.items() if owner == lot}
        before = {cell for cell, (owner, _) in had.items() if owner == lot}
        assert len(mine) == n
        if len(before) == n:
            assert mine == before
        else:
            assert is_firm or is_one_piece(mine)
    assert {owner for owner, _ in laid.values()} <= {NOBODY, *(lot for lot, _ in parts)}


def test_a_new_sowing_goes_into_the_shortest_stretch_that_holds_it():
    assert relaid("1...222.33", [(1, 1), (2, 3), (3, 2), (4, 1)]) == "1...222433"
    assert relaid("1...222.33", [(1, 1), (2, 3), (3, 2), (4, 2)]) == "144.222.33"


def test_whoever_gets_more_or_fewer_cells_gets_others_and_nobody_else_does():
    assert relaid("1112233...", [(1, 2), (2, 2), (3, 2)]) == "11.2233..."
    assert relaid("1112233...", [(1, 3), (2, 3), (3, 2)]) == "111..33222"


def test_a_tray_is_laid_out_afresh_before_a_sowing_is_scattered():
    assert relaid("11.22.33..", [(1, 2), (2, 2), (3, 2), (4, 3)]) is None


def test_in_a_sown_or_pinned_tray_a_sowing_is_scattered_rather_than_others_moved():
    parts = [(1, 2), (2, 2), (3, 2), (4, 3)]
    assert relaid("11.22.33..", parts, is_firm=True) == "114224334."


def test_what_leaves_a_tray_leaves_free_cells():
    assert relaid("1122......", [(2, 2)]) == "..22......"
    assert relaid("1122......", []) == ".........."


def test_what_is_in_the_cells_of_those_who_stay_stays():
    had = tray("1122......") | dict.fromkeys(GRID[:2], (1, SOWN))
    laid = rearrange(had, [(1, 2), (2, 3)], GRID, is_firm=True)
    assert [laid[cell] for cell in GRID[:3]] == [(1, SOWN), (1, SOWN), (2, EMPTY)]


def test_a_tray_of_another_grid_is_laid_out_afresh_unless_it_is_sown_or_pinned():
    had = tray("11........") | {Cell(3, 1): (2, EMPTY)}
    assert rearrange(had, [(1, 2), (2, 1)], GRID, is_firm=False) is None
    laid = rearrange(had, [(1, 2), (2, 1)], GRID, is_firm=True)
    assert laid[Cell(3, 1)] == (2, EMPTY)
    assert len(laid) == 11
