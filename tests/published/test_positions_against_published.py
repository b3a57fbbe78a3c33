"""Positions against intervals whose largest overlap is known (interval_overlaps.json)."""

import numpy as np
import pytest

from app.core.space.assignment import assign_positions
from tests.published.tables import read_instances

EVERY_OVERLAP = pytest.mark.parametrize(
    "instance", read_instances("interval_overlaps.json"), ids=lambda instance: instance["name"]
)


def assign(instance, n_positions):
    """Return days and positions of trays as many as the weights say; halves of an hour stand for days."""
    lasting = [span for span in instance["intervals"] if span[0] < span[1]]
    begin, end, weight = (np.array(column) for column in zip(*lasting, strict=True))
    begin, end = (np.repeat(2 * hours, weight.astype(int)).astype(np.int64) for hours in (begin, end))
    nobody = np.full(len(begin), -1)
    found = assign_positions(begin, end, n_positions, pinned=nobody, wished=nobody, owner=nobody)
    return begin, end, found


@EVERY_OVERLAP
def test_the_positions_used_are_the_greatest_overlap(instance):
    begin, end, found = assign(instance, instance["peak"] + 5)
    assert (found.used, found.overlap, found.waiting) == (instance["peak"], instance["peak"], 0)
    assert found.is_fewest
    for position in range(instance["peak"]):
        there = np.flatnonzero(found.position == position)
        there = there[np.argsort(begin[there])]
        assert (end[there][:-1] <= begin[there][1:]).all()


@EVERY_OVERLAP
def test_with_one_position_less_something_waits(instance):
    assert assign(instance, instance["peak"])[2].waiting == 0
    assert assign(instance, instance["peak"] - 1)[2].waiting > 0
