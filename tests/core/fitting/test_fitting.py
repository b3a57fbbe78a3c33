"""Levelling small gardens, against trying every way there is."""

import pytest
from hypothesis import assume, given, settings

from tests.core.fitting_by_hand import MOST_WAYS, Trial
from tests.core.fitting_checks import check_extra, check_proven, levelled
from tests.core.fitting_gardens import small_gardens
from tests.lengths import every


@settings(max_examples=2000 // every(50))
@given(small_gardens())
def test_every_goal_of_a_small_garden_is_the_best_of_all_ways(garden):
    trial = Trial(garden)
    assume(len(trial) <= MOST_WAYS)
    best = trial.best()
    answer = levelled(garden)
    check_proven(answer)
    assert [reached.value for reached in answer.reached] == pytest.approx(
        [best.share, best.plants, best.days, best.trays]
    )
    check_extra(garden, answer, trial.extra())
