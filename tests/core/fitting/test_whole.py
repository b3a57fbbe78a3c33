"""Lots that are moved on the shelves: nobody gets a smaller share, and everything still fits."""

import numpy as np
import pytest

from app.core.fitting.clock import Clock
from app.core.fitting.filling import Filling
from app.core.fitting.fixed import find_fixed
from app.core.fitting.greedy import fill_in_order
from app.core.fitting.judge import faults_of
from app.core.fitting.options import find_options
from app.core.fitting.picked import Picked, choices_of, smallest_share
from app.core.fitting.whole import fill_up, lift
from app.core.fitting.wishes import stand_of
from app.core.plan import make_plan
from tests.core.fitting_gardens import MIDDLE, numbered
from tests.lengths import TIMES


def served(number):
    """Return a garden, and its shelves filled first come, first served."""
    garden = numbered(number, MIDDLE)
    options = find_options(make_plan(garden))
    filling = Filling(options, stand_of(options.plan, options.lot), find_fixed(options))
    fill_in_order(filling, np.flatnonzero(options.is_free))
    return garden, filling


def clock():
    return Clock(60, lambda _: None, lambda: False)


@pytest.mark.soak
@pytest.mark.parametrize("number", range(20 * TIMES))
def test_room_that_is_left_and_plants_to_spare_lower_no_share_and_everything_fits(number):
    garden, filling = served(number)
    options = filling.options
    for step, gives_more in ((fill_up, True), (lift, False)):
        share, plants = smallest_share(options, filling.plants), filling.plants.sum()
        step(filling, clock())
        assert smallest_share(options, filling.plants) >= share
        assert not gives_more or filling.plants.sum() >= plants
        assert not faults_of(garden, choices_of(options, Picked(filling.option, filling.plants)))


def test_the_smallest_share_is_raised_at_all():
    raised = 0
    for number in range(40):
        _, filling = served(number)
        fill_up(filling, clock())
        share = smallest_share(filling.options, filling.plants)
        lift(filling, clock())
        raised += smallest_share(filling.options, filling.plants) > share
    assert raised >= 5
