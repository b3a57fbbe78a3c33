"""What the log of a season teaches of its seed: which sowings count, for which lot, and how many of their cells.

The garden is that of docs/method.md, "Late or failed": sown on Sat 1 May with 6 days to emergence, a sowing counts as
failed from Thu 13 May. What happened in it is invented; what is learnt is held against scipy's Beta law.
"""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta

from app.core.calendar import as_day
from app.core.cards import SeedLotCard
from app.core.log.entries import CAUSES, HANDED_OUT, HARDENED, LOST, NO_CAUSE, NO_LOT, POTTED_ON, SOWN, THINNED, UP, Log
from app.core.log.learning import PRIOR_SEEDS
from app.core.plan import make_plan
from app.core.words import Cause
from tests.factories import card, garden, sowing, sowings

SOWN_ON, FAILED_ON, OUT = date(2027, 5, 1), date(2027, 5, 13), date(2027, 6, 19)
LATER = date(2027, 7, 3)
CELLS, STATED = 40, 0.9
# Every other cause is of the bench, and says nothing of the seed.
TEACHES = (None, Cause.UNKNOWN)


def log_of(*entries):
    """Return entries given as sowing, kind, day, count, cause and seed lot."""
    rows = [
        (number, at, kind, as_day(day), count, NO_CAUSE if cause is None else CAUSES.index(cause), lot)
        for number, (at, kind, day, count, cause, lot) in enumerate(entries, start=1)
    ]
    ids, at, kind, day, count, cause, lot = np.array(rows, dtype=np.int64).T
    nothing = np.zeros(len(rows), dtype=np.int64)
    return Log(
        ids=ids, sowing=at, kind=kind, day=day, count=count, seeds=nothing, tray=nothing, supersedes=nothing,
        cause=cause, seed_lot=lot,
    )  # fmt: skip


def entry(kind, day, count, cause=None, *, at=0, lot=NO_LOT):
    return at, kind, day, count, cause, lot


GIVEN_UP = entry(LOST, date(2027, 5, 12), CELLS)


def plan_of(*entries, today=FAILED_ON, seeds=1, own=(0,), out=(OUT, OUT, OUT), sown=True, more=()):
    """Return the plan of a garden with two lots of a crop, one of another, and sowings of the first crop."""
    log = log_of(*([entry(SOWN, SOWN_ON, CELLS)] if sown else []), *entries)
    wished = sowings(
        [sowing(plants=10, plant_out=as_day(day), germination=STATED) for _, day in zip(own, out, strict=False)]
    )
    lots = tuple(SeedLotCard(id=n + 1, name=f"L{n}", crop=int(n == 2), stated=STATED) for n in range(3))
    cards = (card(seeds_per_cell=seeds), card(id=2, name="Leek"))
    fields = {"cards": cards, "log": log, "lots": lots, "today": as_day(today)}
    made = garden(**fields | dict(more))
    return make_plan(replace(made, sowings=replace(wished, seed_lot=np.array(own))))


def known(plan, lot=0):
    return plan.seen_of_lots[lot]


def assert_is_beta(found, *, tried, up):
    law = beta(PRIOR_SEEDS * STATED + up, PRIOR_SEEDS * (1 - STATED) + tried - up)
    assert found.mean == pytest.approx(law.mean(), abs=1e-3)
    assert (found.low, found.high) == pytest.approx(law.ppf([0.05, 0.95]), abs=2e-3)


def test_silence_teaches_nothing_since_nobody_may_have_looked():
    for today in (date(2027, 5, 12), FAILED_ON, OUT, OUT.replace(month=9)):
        assert known(plan_of(today=today)) is None


@pytest.mark.parametrize("seeds", [1, 2, 3])
def test_of_nothing_up_all_seeds_of_all_cells_failed(seeds):
    """(1 - g)^(m n) is the law of m n single seeds that fail, and so a Beta law whatever m is."""
    assert_is_beta(known(plan_of(GIVEN_UP, seeds=seeds)), tried=seeds * CELLS, up=0)


def test_what_is_reckoned_with_follows():
    """The second sowing is of the same lot, and waits for its day."""
    before, after = (plan_of(*entries, own=(0, 0), out=(OUT, LATER)) for entries in ((), (GIVEN_UP,)))
    assert before.germination.tolist() == [STATED, STATED]
    assert after.germination.tolist() == [known(after).mean] * 2
    assert after.cells[1] > before.cells[1]


@pytest.mark.parametrize("kind", [UP, THINNED, POTTED_ON, HARDENED, HANDED_OUT])
def test_whatever_went_on_came_up(kind):
    found = known(plan_of(entry(kind, date(2027, 5, 12), 5)))
    assert found is None


def test_all_cells_given_up_teach_at_once_and_for_good():
    for today in (date(2027, 5, 10), OUT.replace(month=9)):
        assert_is_beta(known(plan_of(entry(LOST, date(2027, 5, 9), CELLS), today=today)), tried=CELLS, up=0)


@pytest.mark.parametrize("cause", [None, *Cause])
def test_only_a_loss_to_nothing_known_speaks_of_the_seed(cause):
    found = known(plan_of(entry(LOST, date(2027, 5, 9), CELLS, cause)))
    if cause in TEACHES:
        assert_is_beta(found, tried=CELLS, up=0)
    else:
        assert found is None


@given(
    lost=st.lists(st.tuples(st.integers(1, 8), st.sampled_from([None, *Cause])), max_size=5), up=st.integers(0, CELLS)
)
def test_cells_that_the_bench_cost_are_not_among_those_that_were_tried(lost, up):
    losses = [entry(LOST, date(2027, 5, 3), count, cause) for count, cause in lost]
    spoiled = sum(count for count, cause in lost if cause not in TEACHES)
    seen = [entry(UP, date(2027, 5, 6), up)] if up else []
    tried = max(CELLS - spoiled, up)
    found = known(plan_of(*losses, *seen))
    is_counted = up > 0 or sum(count for count, _ in lost) >= CELLS
    if is_counted and tried > 0:
        assert_is_beta(found, tried=tried, up=up)
    else:
        assert found is None


def test_plants_lost_after_they_came_up_take_nothing_off():
    seen = [entry(UP, date(2027, 5, 5), 30), entry(LOST, date(2027, 5, 8), 10, Cause.MICE)]
    assert_is_beta(known(plan_of(*seen)), tried=CELLS, up=30)


def test_what_came_up_teaches_the_lot_that_was_sown():
    said = [entry(SOWN, SOWN_ON, CELLS, lot=1), entry(UP, date(2027, 5, 5), 20)]
    plan = plan_of(*said, sown=False, own=(0, 0, 1))
    assert known(plan, 0) is None
    assert_is_beta(known(plan, 1), tried=CELLS, up=20)
    other = known(plan, 1).mean
    assert plan.germination.tolist() == [other, STATED, other]


def test_seed_of_several_lots_in_one_sowing_teaches_none():
    """Nobody has written down which cell had which."""
    said = [entry(SOWN, SOWN_ON, 20), entry(SOWN, SOWN_ON, 20, lot=1), entry(UP, date(2027, 5, 5), 20)]
    plan = plan_of(*said, sown=False)
    assert plan.seen_of_lots == (None, None, None)
    same = plan_of(*((*one[:-1], 1) for one in said), sown=False)
    assert_is_beta(known(same, 1), tried=CELLS, up=20)


def test_a_lot_that_is_of_another_crop_by_now_is_not_taught():
    plan = plan_of(entry(SOWN, SOWN_ON, CELLS, lot=2), entry(UP, date(2027, 5, 5), 20), sown=False)
    assert known(plan, 2) is None
    assert_is_beta(known(plan, 0), tried=CELLS, up=20)


def test_a_sowing_outside_has_no_day_on_which_it_fails():
    plan = plan_of(
        today=date(2027, 6, 10),
        more={"cards": (card(start_container=None, direct_sow_weeks=0.0, light=None), card(id=2))},
    )
    assert known(plan) is None


def test_a_count_of_seeds_goes_before_the_card():
    plan = plan_of(GIVEN_UP, seeds=2)
    log = replace(plan.garden.log, seeds=np.array([CELLS, 0]))
    assert_is_beta(known(make_plan(replace(plan.garden, log=log))), tried=CELLS, up=0)
