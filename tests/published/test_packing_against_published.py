"""Trays against instances with proven optima (bin_packing.json) and overlaps (interval_overlaps.json)."""

from collections import Counter

import numpy as np
import pytest

from app.core.calendar import DAYS_IN_WEEK
from app.core.space.ledger import count_trays
from app.core.space.packing import lower_bound, pack
from app.core.words import LAMP, PLACES
from tests.published.tables import read_instances

PACKING = read_instances("bin_packing.json")
OVERLAPS = read_instances("interval_overlaps.json")
EVERY_PACKING = pytest.mark.parametrize("instance", PACKING, ids=lambda instance: instance["name"])


def test_there_are_25_packings_and_8_overlaps():
    assert (len(PACKING), len(OVERLAPS)) == (25, 8)


@EVERY_PACKING
def test_the_number_of_trays_is_the_proven_optimum(instance):
    assert len(pack(instance["items"], instance["capacity"])) == instance["optimum"]


@EVERY_PACKING
def test_the_packing_holds_every_lot_once_without_splitting_what_remains(instance):
    sizes, capacity = instance["items"], instance["capacity"]
    trays = pack(sizes, capacity)
    # A lot fills size // capacity trays alone; its remainder stands in one tray more, with others.
    alone = Counter(tray[0] for tray in trays[: sum(size // capacity for size in sizes)])
    shared = trays[sum(alone.values()) :]
    assert alone == Counter({lot: size // capacity for lot, size in enumerate(sizes) if size >= capacity})
    assert all(tray == [tray[0]] for tray in trays[: sum(alone.values())])
    standing = Counter(lot for tray in shared for lot in tray)
    assert standing == Counter(lot for lot, size in enumerate(sizes) if size % capacity)
    assert all(sum(sizes[lot] % capacity for lot in tray) <= capacity for tray in shared)
    assert all(shared)


@EVERY_PACKING
def test_the_bound_never_passes_the_optimum(instance):
    rest = Counter(size % instance["capacity"] for size in instance["items"])
    del rest[0]
    whole = sum(size // instance["capacity"] for size in instance["items"])
    assert whole + lower_bound(rest, instance["capacity"]) <= instance["optimum"]


def test_filling_the_largest_first_would_not_always_do():
    # As recorded beside the instances: the quick rule needs one more on most of the published ones.
    harder = [instance for instance in PACKING if instance.get("first_fit_decreasing", 0) > instance["optimum"]]
    assert len(harder) >= 8


@pytest.mark.parametrize("instance", OVERLAPS, ids=lambda instance: instance["name"])
def test_the_ledger_counts_the_greatest_overlap(instance):
    # Halves of an hour stand for days; a month of weeks before them keeps them off the first ordinals.
    begin, end, weight = (np.array(column) for column in zip(*instance["intervals"], strict=True))
    first_day = 700 * DAYS_IN_WEEK + 1
    ledger = count_trays(
        np.full(len(begin), LAMP),
        (first_day + 2 * begin).astype(np.int64),
        (first_day + 2 * end).astype(np.int64),
        weight.astype(np.int64),
        np.array([0, instance["peak"], 0, 0]),
    )
    assert ledger.needed[:, LAMP].max() == instance["peak"]
    assert ledger.free[:, LAMP].min() == 0
    assert ledger.needed[:, [place for place in range(len(PLACES)) if place != LAMP]].sum() == 0
