"""What is settled in dealt trays, and which groups that ties together; by hand."""

import numpy as np

from app.core.space.dealt import Dealt, join_groups, settle


def ints(*values):
    return np.array(values, dtype=np.int64)


def dealt(*parts, filled=(100, 103, 105), potted=(0, 0, 0), pinned=(0, 0, 0)):
    """Return three trays from parts of (tray, lot, cells, cells that are filled)."""
    tray, lot, cells, full = (ints(*column) for column in zip(*parts, strict=True))
    return Dealt(
        ids=ints(7, 8, 9),
        number=ints(1, 2, 3),
        container=ints(0, 1, 0),
        filled=ints(*filled),
        is_potted_on=np.array(potted, dtype=bool),
        is_pinned=np.array(pinned, dtype=bool),
        part_tray=tray,
        part_lot=lot,
        part_cells=cells,
        part_filled=full,
    )


def test_a_sowing_is_settled_from_its_first_sown_cell_on():
    trays = dealt((0, 1, 12, 0), (1, 1, 5, 5), (2, 0, 4, 0))
    settled, kept = settle(trays, 3, potted_on=False)
    assert settled.is_settled.tolist() == [False, True, False]
    # All its cells are its own, sown or kept for it; its day and container are those of the tray that is sown.
    assert settled.cells.tolist() == [0, 17, 0]
    assert settled.day.tolist() == [0, 103, 0]
    assert settled.container.tolist() == [-1, 1, -1]
    assert kept.is_settled.tolist() == [True, True, False]
    assert kept.is_firm.tolist() == [True, True, False]
    assert trays.is_filled.tolist() == [False, True, False]


def test_the_first_sown_tray_gives_day_and_container():
    settled, _ = settle(dealt((0, 0, 4, 1), (1, 0, 5, 5), filled=(104, 103, 105)), 1, potted_on=False)
    assert (settled.day.tolist(), settled.container.tolist()) == ([103], [0])


def test_pinned_trays_are_firm_but_not_settled():
    _, kept = settle(dealt((0, 0, 4, 0), (1, 1, 5, 0), pinned=(0, 1, 0)), 2, potted_on=False)
    assert kept.is_settled.tolist() == [False, False]
    assert kept.is_firm.tolist() == [False, True]


def test_pots_and_what_is_sown_are_settled_apart():
    trays = dealt((0, 0, 4, 4), (1, 0, 3, 0), potted=(0, 1, 0))
    sown, potted = settle(trays, 1, potted_on=False), settle(trays, 1, potted_on=True)
    assert (sown[0].is_settled.tolist(), sown[0].cells.tolist()) == ([True], [4])
    assert (potted[0].is_settled.tolist(), potted[0].cells.tolist()) == ([False], [0])
    assert (sown[1].tray.tolist(), potted[1].tray.tolist()) == ([0], [1])


def test_where_nothing_is_dealt_nothing_is_settled():
    settled, kept = settle(Dealt(), 2, potted_on=False)
    assert settled.is_settled.tolist() == [False, False]
    assert (settled.day.tolist(), settled.container.tolist()) == ([0, 0], [-1, -1])
    assert len(kept.tray) == len(Dealt()) == len(Dealt().is_filled) == 0


def joined(*parts, group):
    return join_groups(settle(dealt(*parts), len(group), potted_on=False)[1], ints(*group)).tolist()


def test_what_is_sown_in_one_tray_moves_as_one_group():
    assert joined((0, 0, 4, 4), (0, 1, 4, 4), group=(5, 3, 4)) == [3, 3, 4]


def test_groups_join_over_several_trays():
    # Sowings 0 and 1 share a tray, 1 and 2 another, 2 and 3 a third.
    parts = [(0, 0, 4, 4), (0, 1, 4, 4), (1, 1, 4, 4), (1, 2, 4, 4), (2, 2, 4, 4), (2, 3, 4, 4)]
    assert joined(*parts, group=(9, 8, 7, 2)) == [2, 2, 2, 2]


def test_what_is_not_sown_or_takes_no_room_joins_nobody():
    assert joined((0, 0, 4, 4), (0, 1, 4, 0), group=(5, 3)) == [5, 3]
    assert joined((0, 0, 4, 4), (0, 1, 4, 4), group=(5, -1)) == [5, -1]
