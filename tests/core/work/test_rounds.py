"""Care rounds: no shelf runs dry on the fewest days, and nobody does more than their part of them."""

from itertools import combinations

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from app.core.calendar import NO_DAY
from app.core.needs.shelf_use import litres_to_fill, pan_litres
from app.core.plan import make_plan
from app.core.words import HARDENING, Place
from app.core.work.rounds import (
    NOBODY,
    Shelves,
    days_between,
    days_of_rounds,
    quotas_of,
    share_rounds,
    shelves_to_water,
    tray_days,
)
from tests.factories import card, garden, shelf, sowing


def water(used, lasts, rounds, start=0):
    """Return whether water lasts on every shelf, day by day: trays must not come dry, nor stand dry."""
    for row, days in zip(used, lasts, strict=True):
        left = 0
        for day, stands in enumerate(row):
            left -= 1
            if not stands:
                left = 0
            elif day in rounds:
                left = days
            elif day >= start and left <= 0:
                return False
    return True


def drawn_shelves(seed):
    rng = np.random.default_rng(seed)
    n_shelves, n_days = int(rng.integers(1, 4)), 9
    used = np.zeros((n_shelves, n_days), dtype=bool)
    for row in used:
        for _ in range(rng.integers(1, 3)):
            begin = rng.integers(0, n_days)
            row[begin : begin + rng.integers(1, n_days)] = True
    is_coming = rng.random(n_days) < rng.choice([0.4, 0.8, 1.0])
    return Shelves(first=1, used=used, lasts=rng.integers(1, 5, n_shelves)), is_coming


@pytest.mark.parametrize("seed", range(60))
def test_rounds_are_as_few_as_by_trying_all_days_and_no_shelf_stands_dry(seed):
    shelves, is_coming = drawn_shelves(seed)
    found = days_of_rounds(shelves, is_coming, start=0)
    used = shelves.used
    assert water(used, shelves.lasts, set(found))
    comes = {day for row in used for day in range(len(row)) if row[day] and (day == 0 or not row[day - 1])}
    allowed = sorted(comes | set(np.flatnonzero(is_coming).tolist()))
    least = next(
        (
            count
            for count in range(len(allowed) + 1)
            if any(water(used, shelves.lasts, set(days)) for days in combinations(allowed, count))
        ),
        None,
    )
    if least is not None:
        assert len(found) == least
        assert set(found) <= set(allowed)
    else:  # on some days nobody can come: they have a round all the same, so that somebody is looked for
        assert not set(found) <= set(allowed)


@pytest.mark.parametrize("seed", range(20))
def test_rounds_that_stay_count_as_rounds_and_past_ones_too(seed):
    shelves, is_coming = drawn_shelves(seed)
    whole = days_of_rounds(shelves, is_coming, start=0)
    for kept in whole:
        assert days_of_rounds(shelves, is_coming, start=0, fixed=[kept]) == [day for day in whole if day != kept]
        last = max((day for day in whole if day < kept), default=None)
        assert days_of_rounds(shelves, is_coming, start=kept, last=last) == [day for day in whole if day >= kept]


def test_a_round_that_is_overdue_is_due_on_the_first_day():
    shelves = Shelves(first=1, used=np.ones((1, 12), dtype=bool), lasts=np.array([4]))
    assert days_of_rounds(shelves, np.ones(12, dtype=bool), start=6, last=0) == [6, 10]


def least_unfairness(weights, can, done):
    """Return the least sum of squares by an integer program of its own: binary steps of growing price."""
    n = can.shape[1]
    days = np.flatnonzero(can.any(axis=1))
    quotas = weights / weights.sum() * (done.sum() + len(days))
    pairs = [(day, member) for day in days for member in np.flatnonzero(can[day])]
    steps = [(member, step) for member in range(n) for step in range(1, len(days) + 1)]
    price = [0.0] * len(pairs)
    # (x + 1 - q)² - (x - q)² = 2 (x - q) + 1, for x rounds that one has already.
    price += [2 * (done[member] + step - 1 - quotas[member]) + 1 for member, step in steps]
    rows = [([1.0 if d == day else 0.0 for d, _ in pairs] + [0.0] * len(steps), 1, 1) for day in days]
    for member in range(n):
        taken = [1.0 if m == member else 0.0 for _, m in pairs] + [-1.0 if m == member else 0.0 for m, _ in steps]
        rows.append((taken, 0, 0))
    matrix, low, high = (np.array(column) for column in zip(*rows, strict=True))
    answer = milp(price, constraints=LinearConstraint(matrix, low, high), integrality=1, bounds=Bounds(0, 1))
    assert answer.status == 0
    return answer.fun + float(((done - quotas) ** 2).sum()), quotas


@pytest.mark.parametrize("seed", range(40))
def test_rounds_are_shared_as_fairly_as_by_an_integer_program(seed):
    """The judge is scipy's `milp`, over a model of its own."""
    rng = np.random.default_rng(seed)
    n_days, n = int(rng.integers(1, 14)), int(rng.integers(1, 6))
    weights = rng.choice([0.5, 1, 2, 3.7, 9], n)
    can = rng.random((n_days, n)) < rng.choice([0.3, 0.6, 1.0])
    done = rng.integers(0, 3, n)
    before = np.where(rng.random(n_days) < 0.5, rng.integers(0, n, n_days), NOBODY)
    if not can.any():
        assert share_rounds(weights, can, done=done, before=before).tolist() == [NOBODY] * n_days
        return
    owner = share_rounds(weights, can, done=done, before=before)
    assert all(can[day, member] for day, member in enumerate(owner.tolist()) if member != NOBODY)
    assert (owner == NOBODY).tolist() == (~can.any(axis=1)).tolist()
    least, quotas = least_unfairness(weights, can, done)
    count = done + np.bincount(owner[owner != NOBODY], minlength=n)
    assert float(((count - quotas) ** 2).sum()) == pytest.approx(least, abs=1e-6)


def test_where_everybody_can_come_nobody_is_a_whole_round_from_their_quota():
    """The example with which largest remainders are taught, votes and ten seats; from memory, checked by hand."""
    weights = np.array([47_000, 16_000, 15_800, 12_000, 6_100, 3_100], dtype=float)
    free, nothing = np.ones((10, 6), dtype=bool), np.zeros(6, dtype=np.int64)
    owner = share_rounds(weights, free, done=nothing, before=np.full(10, NOBODY))
    assert np.bincount(owner, minlength=6).tolist() == [5, 2, 1, 1, 1, 0]


@pytest.mark.parametrize("seed", range(20))
def test_a_part_is_never_missed_by_a_whole_round(seed):
    rng = np.random.default_rng(seed)
    n_days, n = int(rng.integers(1, 120)), int(rng.integers(1, 60))
    weights = rng.random(n) * 10
    owner = share_rounds(
        weights, np.ones((n_days, n), dtype=bool), done=np.zeros(n, dtype=np.int64), before=np.full(n_days, NOBODY)
    )
    apart = np.bincount(owner, minlength=n) - quotas_of(weights, n_days)
    assert np.abs(apart).max() < 1


def test_rounds_of_one_member_lie_apart():
    owner = share_rounds(
        np.ones(4), np.ones((40, 4), dtype=bool), done=np.zeros(4, dtype=np.int64), before=np.full(40, NOBODY)
    )
    for member in range(4):
        assert set(np.diff(np.flatnonzero(owner == member)).tolist()) == {4}


def test_whoever_has_a_round_keeps_it_where_that_is_fair():
    free, nothing = np.ones((6, 3), dtype=bool), np.zeros(3, dtype=np.int64)
    fair = np.array([2, 2, 0, 1, 1, 0])
    assert share_rounds(np.ones(3), free, done=nothing, before=fair).tolist() == fair.tolist()
    unfair = np.array([2, 2, 2, 1, 1, 0])
    assert (share_rounds(np.ones(3), free, done=nothing, before=unfair) != unfair).sum() == 1
    # Somebody new takes two of six, and the others keep what they have.
    more = share_rounds(np.ones(3), free, done=nothing, before=np.array([0, 1, 0, 1, 0, 1]))
    assert np.bincount(more).tolist() == [2, 2, 2]
    assert (more != np.array([0, 1, 0, 1, 0, 1])).sum() == 2


def test_without_members_or_days_there_is_nothing_to_share():
    none = np.zeros(0, dtype=np.int64)
    assert (
        share_rounds(np.zeros(0), np.zeros((3, 0), dtype=bool), done=none, before=np.full(3, NOBODY)).tolist()
        == [NOBODY] * 3
    )
    assert (
        len(share_rounds(np.ones(2), np.zeros((0, 2), dtype=bool), done=np.zeros(2, dtype=np.int64), before=none)) == 0
    )
    assert quotas_of(np.zeros(4), 2).tolist() == [0.5] * 4


def test_a_pan_lasts_in_whole_days_and_takes_no_more_than_it_holds():
    # docs/method.md, section 11: 20 mm last 6.7 days at 3 mm a day, and hold 14.9 litres on 122 x 61 cm.
    pan = shelf(pan_depth_mm=20.0, levels=1)
    assert days_between(pan, 1) == 6
    assert days_between(shelf(pan_depth_mm=21.0), 1) == 7
    assert days_between(shelf(pan_depth_mm=1.0), 1) == 1
    assert days_between(shelf(), 2) == 2
    assert litres_to_fill(pan, 2) == pytest.approx(122 * 61 * 0.6 / 1000)
    assert litres_to_fill(pan, 30) == pytest.approx(pan_litres(pan)) == pytest.approx(14.884)
    assert litres_to_fill(shelf(), 3) == 0


def test_tray_days_are_those_of_all_stays_shared_by_cells():
    """Against trays counted one by one over the days on which they stand."""
    growers = tuple(type(garden().growers[0])(id=n, name=f"G{n}", plot=None) for n in (1, 2, 3))
    rows = [sowing(grower=0, plants=12), sowing(grower=1, plants=30), sowing(grower=0, plants=60)]
    plan = make_plan(garden(rows, growers=growers))
    found = tray_days(plan)
    by_hand, stays, trays = [0.0, 0.0, 0.0], plan.stays, plan.trays
    for stay in range(len(stays.group)):
        for tray in np.flatnonzero(trays.group == stays.group[stay]).tolist():
            parts = np.flatnonzero(trays.part_tray == tray).tolist()
            cells = sum(int(trays.part_cells[part]) for part in parts)
            for part in parts:
                whose = rows[int(trays.part_lot[part])]["grower"]
                by_hand[whose] += int(stays.end[stay] - stays.begin[stay]) * int(trays.part_cells[part]) / cells
    assert found.tolist() == pytest.approx(by_hand)
    assert found[0] > found[1] > found[2] == 0


def test_every_day_with_trays_has_a_round_where_they_are_watered_by_hand():
    plan = make_plan(garden([sowing(plants=40)]))
    shelves = shelves_to_water(plan, by_hand_days=1)
    rounds = days_of_rounds(shelves, np.ones(shelves.used.shape[1], dtype=bool), start=0)
    days = {day for begin, end in zip(plan.stays.begin, plan.stays.end, strict=True) for day in range(begin, end)}
    assert {shelves.first + at for at in rounds} == days
    assert (plan.stays.place == HARDENING).any()


def test_with_pans_rounds_are_as_far_apart_as_the_pans_last():
    pans = tuple(shelf(place, pan_depth_mm=25.0, name=place) for place in Place if place is not Place.HEAT)
    plan = make_plan(garden([sowing(plants=40)], shelves=pans, cards=(card(heat=False, hardening_days=0),)))
    shelves = shelves_to_water(plan, by_hand_days=1)
    rounds = [shelves.first + at for at in days_of_rounds(shelves, np.ones(shelves.used.shape[1], dtype=bool), start=0)]
    assert rounds[0] == plan.timeline.sow_on[0] != NO_DAY
    assert set(np.diff(rounds).tolist()) == {8}  # 25 mm at 3 mm a day are 8.3 days


def test_a_garden_without_trays_has_no_rounds():
    shelves = shelves_to_water(make_plan(garden([])), by_hand_days=1)
    assert days_of_rounds(shelves, np.zeros(shelves.used.shape[1], dtype=bool), start=0) == []
    assert tray_days(make_plan(garden([]))).tolist() == [0]
