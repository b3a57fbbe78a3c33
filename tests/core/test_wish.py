"""Wishes more and less, held against gardens that were made so from the start."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from app.core.plan import make_plan
from app.core.space.ledger import Ledger
from app.core.wish import peaks_of, with_sowing, without_room
from tests.factories import garden, sowing

ROWS = st.lists(st.builds(lambda plants, sow_on: sowing(plants=plants, sow_on=sow_on), st.integers(1, 90), st.just(0)))


def one(**changes):
    return {"name": "S999", "seed_lot": -1} | sowing(**changes)


def same(left, right):
    assert np.array_equal(left.ledger.needed, right.ledger.needed)
    assert np.array_equal(left.cells, right.cells)
    assert np.array_equal(left.timeline.sow_on, right.timeline.sow_on)


@given(ROWS, st.integers(1, 90))
def test_one_more_is_as_if_it_had_been_there(there, plants):
    more, number = with_sowing(garden(there), one(plants=plants))
    assert number == len(there)
    same(make_plan(more), make_plan(garden([*there, sowing(plants=plants)])))


@given(ROWS.filter(bool), st.integers(1, 90), st.data())
def test_one_changed_is_as_if_it_had_been_so(there, plants, data):
    at = data.draw(st.integers(0, len(there) - 1))
    changed, number = with_sowing(garden(there), one(plants=plants), at)
    assert (number, changed.sowings.names) == (at, garden(there).sowings.names)
    same(make_plan(changed), make_plan(garden([*there[:at], sowing(plants=plants), *there[at + 1 :]])))


@given(st.lists(st.tuples(st.integers(1, 90), st.booleans()), min_size=1, max_size=12))
def test_without_some_the_ledger_is_that_of_the_others(drawn):
    is_new = np.array([new for _, new in drawn])
    less = make_plan(without_room(garden([sowing(plants=plants) for plants, _ in drawn]), is_new))
    others = make_plan(garden([sowing(plants=plants) for plants, new in drawn if not new]))
    assert np.array_equal(less.ledger.needed, others.ledger.needed)
    assert not less.cells[is_new].any()


def test_the_fullest_week_is_the_first_with_most_trays():
    needed = np.array([[0, 1, 0, 0], [0, 5, 0, 2], [0, 5, 0, 0]])
    ledger = Ledger(first_week=100, needed=needed, positions=np.array([4, 3, 0, 0]))
    found = [(peak.place, peak.week, peak.needed, peak.positions) for peak in peaks_of(ledger)]
    assert found == [(0, None, 0, 4), (1, 101, 5, 3), (3, 101, 2, 0)]


def test_an_empty_ledger_has_no_fullest_week():
    ledger = Ledger(first_week=0, needed=np.zeros((0, 4), dtype=int), positions=np.array([2, 0, 0, 0]))
    assert [(peak.week, peak.needed) for peak in peaks_of(ledger)] == [(None, 0)]
