"""Lots in trays: the fewest, and a proof of it; small cases against a search over all packings."""

from collections import Counter

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from app.core.errors import OutOfRangeError
from app.core.space.packing import lower_bound, pack, pack_into
from tests.core.by_hand import fewest_bins, fewest_trays
from tests.core.dealing_by_hand import fewest_new_trays

SMALL = st.lists(st.integers(1, 45), max_size=8), st.integers(1, 20)
# Lots near a third and a half of a tray: there quick rules fail.
TIGHT = st.lists(st.integers(9, 28), min_size=5, max_size=12), st.integers(45, 55)


@st.composite
def beside(draw, *, tight=False):
    """Return lots, the cells of a tray, and the free cells of trays that are there."""
    capacity = draw(st.integers(45, 55) if tight else st.integers(1, 20))
    size = st.integers(9, 28) if tight else st.integers(1, capacity)
    rooms = st.integers(0, capacity)
    return draw(st.lists(size, max_size=9)), capacity, draw(st.lists(rooms, max_size=4))


def first_fit_decreasing(sizes, capacity):
    """Return how many trays the rule of thumb takes: the largest first, into the first tray with room."""
    rooms, whole = [], sum(size // capacity for size in sizes)
    for size in sorted((size % capacity for size in sizes), reverse=True):
        fitting = next((n for n, room in enumerate(rooms) if room >= size), None)
        if fitting is not None:
            rooms[fitting] -= size
        elif size:
            rooms.append(capacity - size)
    return whole + len(rooms)


def parts_of(sizes, capacity, trays):
    """Return the parts of each lot: whole trays first, then what remains."""
    whole = sum(size // capacity for size in sizes)
    return [
        [(lot, capacity if number < whole else sizes[lot] % capacity) for lot in tray]
        for number, tray in enumerate(trays)
    ]


@given(*SMALL)
def test_small_packings_are_the_best_of_all(sizes, capacity):
    assert len(pack(sizes, capacity)) == fewest_trays(sizes, capacity)


@given(*TIGHT)
@example([25, 17, 11, 27, 15, 20, 10, 19], 50)
@example([4, 5, 10, 10, 6], 18)
def test_tight_packings_are_the_best_of_all(sizes, capacity):
    # The two examples pass through the solver: it finds one tray less in the first, proves the second.
    assert len(pack(sizes, capacity)) == fewest_trays(sizes, capacity)


@given(*SMALL)
def test_every_lot_stands_whole_and_no_tray_is_over_full(sizes, capacity):
    parts = parts_of(sizes, capacity, pack(sizes, capacity))
    assert all(0 < sum(cells for _, cells in tray) <= capacity for tray in parts)
    standing = Counter()
    for lot, cells in (part for tray in parts for part in tray):
        standing[lot] += cells
    assert [standing[lot] for lot in range(len(sizes))] == sizes


@given(*SMALL)
def test_a_lot_stands_in_as_few_trays_as_it_can(sizes, capacity):
    trays_of = Counter(lot for tray in pack(sizes, capacity) for lot in tray)
    assert [trays_of[lot] for lot in range(len(sizes))] == [-(-size // capacity) for size in sizes]


@given(st.lists(st.integers(1, 300), max_size=60), st.sampled_from((18, 50, 72, 128, 200)))
def test_it_never_takes_more_trays_than_filling_the_largest_first(sizes, capacity):
    trays = len(pack(sizes, capacity))
    assert -(-sum(sizes) // capacity) <= trays <= first_fit_decreasing(sizes, capacity)


@given(*SMALL)
def test_equal_lots_are_packed_alike(sizes, capacity):
    assert pack(sizes, capacity) == pack(list(sizes), capacity)


@given(*SMALL)
def test_the_order_of_the_lots_does_not_change_how_many_trays(sizes, capacity):
    assert len(pack(sizes, capacity)) == len(pack(sizes[::-1], capacity))


@given(st.lists(st.integers(1, 20), max_size=8))
def test_the_lower_bound_never_passes_the_optimum(sizes):
    assert lower_bound(Counter(sizes), 20) <= fewest_bins(sizes, 20)


@given(*SMALL, st.integers(1, 45))
def test_one_more_lot_never_takes_fewer_trays(sizes, capacity, more):
    assert len(pack(sizes, capacity)) <= len(pack([*sizes, more], capacity))


def test_two_trays_do_where_the_rule_of_thumb_takes_three():
    # docs/method.md, section 8: 30 + 24 + 18 and 30 + 21 + 21 are 72 each.
    sizes = [30, 30, 24, 21, 21, 18]
    assert first_fit_decreasing(sizes, 72) == 3
    assert len(pack(sizes, 72)) == 2


def test_a_lot_larger_than_a_tray_fills_whole_trays_and_shares_the_last():
    assert pack([100, 44], 72) == [[0], [0, 1]] or pack([100, 44], 72) == [[0], [1, 0]]
    assert pack([144], 72) == [[0], [0]]
    assert pack([], 72) == []


@given(beside() | beside(tight=True))
def test_beside_trays_that_are_there_the_new_ones_are_the_fewest(drawn):
    sizes, capacity, rooms = drawn
    in_rooms, new = pack_into(sizes, capacity, rooms)
    assert sorted(lot for tray in in_rooms + new for lot in tray) == list(range(len(sizes)))
    for tray, room in zip(in_rooms + new, rooms + [capacity] * len(new), strict=True):
        assert sum(sizes[lot] for lot in tray) <= room
    assert all(new)
    assert len(new) == fewest_new_trays(sizes, capacity, rooms)


@given(beside())
def test_without_trays_that_are_there_it_is_plain_packing(drawn):
    sizes, capacity, _ = drawn
    assert len(pack_into(sizes, capacity, [])[1]) == len(pack(sizes, capacity))


def test_filling_the_rooms_by_rule_would_not_always_do():
    # 24 + 18 fill the room of 42, 27 goes into that of 40, and 25 + 19 into one new tray. Filling the smaller room
    # first takes 25 or 19 + 18 for it, and then two new ones. Only a solver finds it.
    sizes = [19, 18, 24, 25, 27]
    in_rooms, new = pack_into(sizes, 45, [40, 42])
    assert [sorted(sizes[lot] for lot in tray) for tray in in_rooms + new] == [[27], [18, 24], [19, 25]]


@pytest.mark.parametrize(
    ("sizes", "rooms", "message"),
    [
        ([3, 0], [], r"sizes is \(0, 3\); it must be from 1 to 10"),
        ([11], [], r"sizes is \(11, 11\); it must be from 1 to 10"),
        ([3], [11], r"rooms is \(11, 11\); it must be from 0 to 10"),
        ([3], [-1, 4], r"rooms is \(-1, 4\); it must be from 0 to 10"),
    ],
)
def test_lots_and_rooms_that_no_tray_has_are_refused(sizes, rooms, message):
    with pytest.raises(OutOfRangeError, match=message):
        pack_into(sizes, 10, rooms)


@pytest.mark.parametrize(
    ("sizes", "capacity", "message"),
    [
        ([3], 0, "capacity is 0; it must be 1 or more"),
        ([3, 0], 72, "sizes is 0; it must be 1 or more"),
        ([-2], 72, "sizes is -2; it must be 1 or more"),
    ],
)
def test_lots_and_trays_without_cells_are_refused(sizes, capacity, message):
    with pytest.raises(OutOfRangeError, match=message):
        pack(sizes, capacity)
