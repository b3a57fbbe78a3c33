"""Who is in most need of spare plants: by examples, and by comparing any two who ask."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.log.entries import HANDED_OUT, LOST, SOWN, UP
from app.core.plan import make_plan
from app.core.work.spares import Asked, Given, Need, failed_sowings, in_order_of_need, need_of, plants_in_sight
from tests.core.log.test_logged import log_of
from tests.factories import card, garden, sowing

SOWN_ON, UP_ON = 738_000, 738_007


def plan_of(rows, entries=(), today=0):
    """Return a plan with entries of sowing, kind, day and count."""
    made = garden(rows, cards=(card(), card(id=2, name="Pepper")))
    log = log_of([(n, who, kind, day, count, 0, 0, 0) for n, (who, kind, day, count) in enumerate(entries, start=1)])
    return make_plan(replace(made, log=log, today=today))


NEEDS = st.builds(Need, has_failed=st.booleans(), wanted=st.sampled_from([0, 6, 12]), has=st.integers(0, 14))


@given(st.lists(st.tuples(NEEDS, st.integers(1, 5)), max_size=9))
def test_of_any_two_the_one_in_more_need_comes_first(drawn):
    asked = [Asked(number=n, grower=0, crop=0, day=day) for n, (_, day) in enumerate(drawn)]
    needs = {n: need for n, (need, _) in enumerate(drawn)}
    order = in_order_of_need(reversed(asked), needs)
    assert sorted(one.number for one in order) == list(range(len(drawn)))
    for first, then in pairwise(order):
        one, other = needs[first.number], needs[then.number]
        if one.has_failed != other.has_failed:
            assert one.has_failed
        elif one.share != other.share:
            assert one.share < other.share
        else:
            assert (first.day, first.number) < (then.day, then.number)


@pytest.mark.parametrize(
    ("wanted", "has", "share"), [(12, 3, 0.25), (12, 12, 1.0), (12, 20, 1.0), (0, 0, 1.0), (6, 0, 0.0)]
)
def test_a_share_is_of_what_was_wanted_and_no_more_than_all(wanted, has, share):
    assert Need(has_failed=False, wanted=wanted, has=has).share == share


LIFE = [(0, SOWN, SOWN_ON, 9), (0, UP, UP_ON, 8)]


@pytest.mark.parametrize(
    ("entries", "in_sight", "has_failed"),
    [
        ([], 6, False),  # not sown yet: all six that are placed
        ([(0, SOWN, SOWN_ON, 9)], 6, False),
        (LIFE, 8, False),  # eight cells with a seedling, one plant to a cell
        ([*LIFE, (0, LOST, UP_ON + 3, 5)], 3, False),
        ([*LIFE, (0, HANDED_OUT, UP_ON + 40, 4)], 8, False),  # four with them, four on the shelf
        ([*LIFE, (0, LOST, UP_ON + 3, 8)], 0, True),
        ([(0, SOWN, SOWN_ON, 9), (0, LOST, UP_ON, 9)], 0, True),  # nothing came up, and it was given up
        ([*LIFE, (0, HANDED_OUT, UP_ON + 40, 6), (0, LOST, UP_ON + 41, 2)], 6, False),
    ],
)
def test_plants_in_sight_are_those_that_left_live_or_may_come_up(entries, in_sight, has_failed):
    plan = plan_of([sowing()], entries)
    assert plants_in_sight(plan).tolist() == [in_sight]
    assert failed_sowings(plan).tolist() == [has_failed]


def test_a_sowing_of_which_nothing_is_up_long_after_has_failed():
    # Six days to emergence: it counts as failed twelve days after it was sown.
    for days, has_failed in ((11, False), (12, True)):
        plan = plan_of([sowing()], [(0, SOWN, SOWN_ON, 9)], today=SOWN_ON + days)
        assert failed_sowings(plan).tolist() == [has_failed]
        assert plants_in_sight(plan).tolist() == [0 if has_failed else 6]


def test_need_counts_the_crop_alone_and_what_was_given_and_got():
    rows = [sowing(), sowing(grower=1, plants=10), sowing(crop=1, plants=40)]
    entries = [*LIFE, (0, HANDED_OUT, UP_ON + 9, 3), *((1, kind, day, count) for _, kind, day, count in LIFE)]
    plan = plan_of(rows, entries)
    gifts = [Given(sowing=0, grower=1, plants=3)]
    # The giver had eight, of which three went to another; those left by the log, and are no longer theirs.
    assert need_of(plan, 0, 0, gifts) == Need(has_failed=False, wanted=6, has=5)
    assert need_of(plan, 1, 0, gifts) == Need(has_failed=False, wanted=10, has=11)
    assert need_of(plan, 0, 1, gifts) == Need(has_failed=False, wanted=40, has=40)
    assert need_of(plan, 1, 1, gifts) == Need(has_failed=False, wanted=0, has=0)
