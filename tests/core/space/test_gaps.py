"""Stays in gaps between pinned ones: by hand. Against a search over all ways see test_assignment.py."""

import pytest

from app.core.space import gaps
from app.core.space.gaps import fewest_in_gaps


def test_what_fits_into_a_gap_takes_no_fresh_position():
    found = fewest_in_gaps([(3, 5), (3, 9)], [1, 1], [(2, 6)], [1], 3)
    assert found.in_gaps == {(0, 0): 1}
    assert (found.waiting, found.is_proven) == ([0, 0], True)


def test_as_many_stand_in_a_gap_as_there_are_gaps_of_its_kind():
    # Three like stays and two gaps: two go there, and with no fresh position one waits.
    for n_fresh, waiting in ((1, [0]), (0, [1])):
        found = fewest_in_gaps([(3, 5)], [3], [(2, 6)], [2], n_fresh)
        assert found.in_gaps == {(0, 0): 2}
        assert found.waiting == waiting


def test_two_stay_in_one_gap_after_one_another():
    found = fewest_in_gaps([(2, 4), (4, 6)], [1, 1], [(2, 6)], [1], 0)
    assert found.in_gaps == {(0, 0): 1, (0, 1): 1}
    assert found.waiting == [0, 0]


def test_one_that_waits_weighs_more_than_all_fresh_positions():
    found = fewest_in_gaps([(1, 9)], [5], [], [], 5)
    assert (found.in_gaps, found.waiting) == ({}, [0])


def test_a_stay_longer_than_every_gap_does_not_go_there():
    found = fewest_in_gaps([(1, 7)], [1], [(2, 9), (0, 6)], [1, 1], 1)
    assert (found.in_gaps, found.waiting) == ({}, [0])


@pytest.mark.parametrize("most", [1, 0])
def test_what_is_too_large_is_not_tried(monkeypatch, most):
    monkeypatch.setattr(gaps, "MOST_CELLS", most)
    found = fewest_in_gaps([(3, 5)], [1], [(2, 6)], [1], 1)
    assert found.is_proven is bool(most)
    assert found.waiting == [1 - most]
