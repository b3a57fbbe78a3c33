"""Packing around what is in dealt trays: against a search over all packings, and by hand."""

from collections import Counter

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from app.core.space.dealt import NOT_DEALT, Kept
from app.core.space.keeping import DealtPart, DealtTray, dealt_by_group, keep_and_pack
from tests.core.by_hand import fewest_trays
from tests.core.dealing_by_hand import fewest_new_trays


@st.composite
def groups(draw, *, firm=True):
    """Return (sizes, capacity, dealt trays): lots as they were dealt once, some of which have grown or shrunk since.

    Whole lots are settled, whole trays pinned; no lot that is settled has another size than it has in trays.
    """
    capacity = draw(st.integers(4, 12))
    before = draw(st.lists(st.integers(1, 2 * capacity), min_size=1, max_size=5))
    rooms, trays = [], []
    for lot, size in enumerate(before):
        pieces = [capacity] * (size // capacity) + [size % capacity] * (size % capacity > 0)
        for cells in pieces:
            open_trays = [number for number, room in enumerate(rooms) if room >= cells]
            if open_trays and draw(st.booleans()):
                number = draw(st.sampled_from(open_trays))
                rooms[number] -= cells
                trays[number].append((lot, cells))
            else:
                rooms.append(capacity - cells)
                trays.append([(lot, cells)])
    settled = {lot for lot in range(len(before)) if firm and not draw(st.integers(0, 3))}
    pinned = {number for number in range(len(trays)) if firm and not draw(st.integers(0, 3))}
    sizes = [
        size if lot in settled or draw(st.booleans()) else draw(st.integers(1, 2 * capacity))
        for lot, size in enumerate(before)
    ]
    sizes += draw(st.lists(st.integers(1, 2 * capacity), max_size=3))
    dealt = []
    for number, parts in enumerate(trays):
        rows = [DealtPart(lot, cells, lot in settled, lot in settled or number in pinned) for lot, cells in parts]
        rows.sort(key=lambda part: (not part.is_settled, not part.is_firm, -part.cells, part.lot))
        dealt.append(DealtTray(10 + number, tuple(rows)))
    return sizes, capacity, dealt


def cells_of(bins):
    """Return the cells of each lot in all trays, and how many trays it is in."""
    cells, trays = Counter(), Counter()
    for _, parts in bins:
        for lot, n in parts:
            cells[lot] += n
            trays[lot] += 1
    return cells, trays


@given(groups())
def test_every_lot_has_its_cells_once_and_no_tray_is_over_full(drawn):
    sizes, capacity, dealt = drawn
    bins = keep_and_pack(sizes, capacity, dealt)
    cells, trays = cells_of(bins)
    assert [cells[lot] for lot in range(len(sizes))] == sizes
    settled = {part.lot for tray in dealt for part in tray.parts if part.is_settled}
    for lot, size in enumerate(sizes):
        assert lot in settled or trays[lot] == -(-size // capacity)
    assert all(0 < sum(n for _, n in parts) <= capacity for _, parts in bins)
    known = [stored for stored, _ in bins if stored != NOT_DEALT]
    assert len(known) == len(set(known))
    assert set(known) <= {tray.stored for tray in dealt}


@given(groups())
def test_what_is_settled_stays_as_it_is(drawn):
    sizes, capacity, dealt = drawn
    found = dict(keep_and_pack(sizes, capacity, dealt))
    for tray in dealt:
        for part in tray.parts:
            assert not part.is_settled or (part.lot, part.cells) in found[tray.stored]


@given(groups())
def test_whoever_is_in_a_pinned_tray_stays_in_it_while_there_is_room(drawn):
    # The rule: first what is sown, then the larger part. A lot stays with the cells that do not fill whole trays, or
    # with a whole tray; in one pinned tray, if it once was in several and no longer needs them all.
    sizes, capacity, dealt = drawn
    found = dict(keep_and_pack(sizes, capacity, dealt))
    for tray in dealt:
        parts = dict(found.get(tray.stored, []))
        gone = [part.lot for part in tray.parts if part.is_firm and part.lot not in parts]
        room = capacity - sum(parts.get(part.lot, 0) for part in tray.parts if part.is_firm)
        for lot in gone:
            elsewhere = [
                dict(found[other.stored])[lot]
                for other in dealt
                if other is not tray and any(part.lot == lot and part.is_firm for part in other.parts)
                if lot in dict(found.get(other.stored, []))
            ]
            rest, whole = sizes[lot] % capacity, sizes[lot] // capacity
            has_rest_elsewhere, whole_elsewhere = rest in elsewhere, elsewhere.count(capacity)
            assert not 0 < rest <= room or has_rest_elsewhere
            assert not (room == capacity and whole > whole_elsewhere)


@given(groups(firm=False))
def test_with_nothing_firm_the_trays_are_as_few_as_if_none_were_dealt(drawn):
    sizes, capacity, dealt = drawn
    assert len(keep_and_pack(sizes, capacity, dealt)) == fewest_trays(sizes, capacity)


@given(groups())
def test_with_some_firm_no_new_tray_could_be_spared(drawn):
    sizes, capacity, dealt = drawn
    bins = keep_and_pack(sizes, capacity, dealt)
    # What the program leaves of firm parts is judged above; the rest must be packed best around that.
    firm = {(tray.stored, part.lot) for tray in dealt for part in tray.parts if part.is_firm}
    rooms, left = [], list(sizes)
    for stored, parts in bins:
        fixed = [(lot, n) for lot, n in parts if (stored, lot) in firm]
        for lot, n in fixed:
            left[lot] -= n
        if fixed:
            rooms.append(capacity - sum(n for _, n in fixed))
    whole = sum(size // capacity for size in left)
    rest = [size % capacity for size in left if size % capacity]
    empty = [room for room in rooms if room == capacity]
    assume(not empty)
    assert len(bins) == len(rooms) + whole + fewest_new_trays(rest, capacity, rooms)


@given(groups())
def test_what_was_packed_once_is_left_as_it_is(drawn):
    sizes, capacity, dealt = drawn
    bins = keep_and_pack(sizes, capacity, dealt)
    was = {(tray.stored, part.lot): part for tray in dealt for part in tray.parts}
    settled = {part.lot for part in was.values() if part.is_settled}
    pinned = {tray.stored for tray in dealt if any(part.is_firm and not part.is_settled for part in tray.parts)}
    again = []
    for number, (stored, parts) in enumerate(bins):
        kept = stored if stored != NOT_DEALT else 100 + number
        rows = [DealtPart(lot, n, lot in settled, lot in settled or kept in pinned) for lot, n in parts]
        rows.sort(key=lambda part: (not part.is_settled, not part.is_firm, -part.cells, part.lot))
        again.append(DealtTray(kept, tuple(rows)))
    found = keep_and_pack(sizes, capacity, again)
    assert {stored: sorted(parts) for stored, parts in found} == {
        tray.stored: sorted((part.lot, part.cells) for part in tray.parts) for tray in again
    }


def part(lot, cells, **changes):
    """Return a part that is neither settled nor pinned."""
    return DealtPart(lot, cells, **{"is_settled": False, "is_firm": False} | changes)


def test_trays_stay_as_they_are_when_that_costs_nothing():
    dealt = [DealtTray(3, (part(0, 30), part(1, 20))), DealtTray(4, (part(2, 60),))]
    assert keep_and_pack([30, 20, 60], 72, dealt) == [(3, [(0, 30), (1, 20)]), (4, [(2, 60)])]
    # A fourth goes beside them.
    assert keep_and_pack([30, 20, 60, 22], 72, dealt) == [(3, [(0, 30), (1, 20), (3, 22)]), (4, [(2, 60)])]


def test_trays_are_dealt_anew_when_that_saves_one():
    # 40 and 30 would have room together.
    dealt = [DealtTray(3, (part(0, 40),)), DealtTray(4, (part(1, 30),))]
    assert keep_and_pack([40, 30], 72, dealt) == [(3, [(0, 40), (1, 30)])]


def test_a_pinned_tray_costs_one_if_it_must():
    dealt = [DealtTray(3, (part(0, 40, is_firm=True),)), DealtTray(4, (part(1, 30, is_firm=True),))]
    assert keep_and_pack([40, 30], 72, dealt) == [(3, [(0, 40)]), (4, [(1, 30)])]


def test_a_lot_that_shrinks_stays_in_its_pinned_tray():
    # 100 cells in two trays; 60 need only one, and that is the pinned one, though the other has the lower number.
    dealt = [DealtTray(3, (part(0, 72),)), DealtTray(4, (part(0, 28, is_firm=True),))]
    assert keep_and_pack([60], 72, dealt) == [(4, [(0, 60)])]


def test_a_lot_that_grows_to_a_whole_tray_stays_in_its_own():
    for is_firm in (True, False):
        dealt = [DealtTray(3, (part(0, 50, is_firm=is_firm),))]
        assert keep_and_pack([72], 72, dealt) == [(3, [(0, 72)])]
        assert keep_and_pack([144], 72, dealt) == [(3, [(0, 72)]), (NOT_DEALT, [(0, 72)])]


def test_a_lot_that_grows_too_large_leaves_even_a_pinned_tray():
    dealt = [DealtTray(3, (part(0, 40, is_firm=True), part(1, 30, is_firm=True)))]
    assert keep_and_pack([45, 30], 72, dealt) == [(3, [(0, 45)]), (NOT_DEALT, [(1, 30)])]


def test_a_tray_that_is_over_full_since_its_container_changed_has_no_room():
    sown = {"is_settled": True, "is_firm": True}
    dealt = [DealtTray(3, (part(0, 60, **sown),))]
    assert keep_and_pack([60, 5], 50, dealt) == [(3, [(0, 60)]), (NOT_DEALT, [(1, 5)])]


def ints(*values):
    return np.array(values, dtype=np.int64)


def kept(*rows):
    """Return parts from rows of (tray, lot, cells, settled, firm, container)."""
    tray, lot, cells, settled, firm, container = (ints(*column) for column in zip(*rows, strict=True))
    return Kept(
        tray=tray,
        lot=lot,
        cells=cells,
        is_filled=settled.astype(bool),
        is_settled=settled.astype(bool),
        is_firm=firm.astype(bool),
        container=container,
    )


def lots_of(found):
    return {group: [(t.stored, [p.lot for p in t.parts]) for t in trays] for group, trays in found.items()}


def test_a_tray_belongs_to_the_group_of_most_of_its_cells():
    # Lots 5 and 7 are the first and second that take room, in groups 0 and 1.
    mixed = kept((2, 5, 10, 0, 0, 0), (2, 7, 11, 0, 0, 0), (4, 5, 3, 0, 0, 0))
    assert lots_of(dealt_by_group(mixed, ints(5, 7), ints(0, 1), ints(0, 0))) == {1: [(2, [1])], 0: [(4, [0])]}


def test_a_tray_belongs_to_the_group_of_what_is_pinned_or_sown_in_it():
    for settled in (0, 1):
        mixed = kept((2, 5, 10, settled, 1, 0), (2, 7, 11, 0, 0, 0))
        assert lots_of(dealt_by_group(mixed, ints(5, 7), ints(0, 1), ints(0, 0))) == {0: [(2, [0])]}


def test_a_tray_of_another_container_is_left_unless_it_is_sown():
    for settled, trays in ((0, {}), (1, {0: [(2, [0])]})):
        found = dealt_by_group(kept((2, 5, 10, settled, 1, 1)), ints(5), ints(0), ints(0))
        assert lots_of(found) == trays


def test_what_takes_no_room_any_more_leaves_its_tray():
    gone = kept((2, 4, 10, 0, 0, 0), (2, 5, 3, 0, 0, 0))
    assert lots_of(dealt_by_group(gone, ints(5), ints(0), ints(0))) == {0: [(2, [0])]}
    nothing = Kept(**dict.fromkeys(("tray", "lot", "cells", "is_filled", "is_settled", "is_firm", "container"), ints()))
    assert dealt_by_group(nothing, ints(5), ints(0), ints(0)) == {}


def test_what_is_sown_but_in_no_group_any_more_takes_its_room():
    # Lot 4 takes no tray any more; 30 of its cells are sown beside lot 5, which is to have 40 more.
    mixed = kept((2, 4, 30, 1, 1, 0), (2, 5, 12, 0, 0, 0))
    ((tray,),) = dealt_by_group(mixed, ints(5), ints(0), ints(0)).values()
    assert (tray.stored, tray.lost_cells) == (2, 30)
    assert keep_and_pack([42], 72, [tray]) == [(2, [(0, 42)])]
    assert keep_and_pack([43], 72, [tray]) == [(NOT_DEALT, [(0, 43)])]
