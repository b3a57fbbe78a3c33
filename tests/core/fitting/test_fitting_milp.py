"""Levelling middling gardens, against a model of every sowing for another solver."""

import pytest

from tests.core.fitting_checks import check_extra, check_proven, levelled
from tests.core.fitting_gardens import MIDDLE, numbered, numbered_in_season
from tests.core.fitting_milp import Middling
from tests.lengths import every

# In number 51 what is left of sowings in pinned trays has to be packed otherwise than it would be alone. Of number 73,
# with 23 sowings of one crop, neither solver proves the smallest share in five minutes.
GARDENS = sorted({*range(201)[every(20) - 1 :: every(20)], 51} - {73})
IN_SEASON = range(200)[every(40) - 1 :: every(40)]


@pytest.mark.soak
@pytest.mark.parametrize("number", GARDENS)
def test_every_goal_of_a_middling_garden_is_what_another_solver_finds(number):
    check(numbered(number, MIDDLE))


@pytest.mark.soak
@pytest.mark.parametrize("number", IN_SEASON)
def test_every_goal_in_mid_season_is_what_another_solver_finds(number):
    check(numbered_in_season(number, MIDDLE))


def check(garden):
    best = Middling(garden).best()
    answer = levelled(garden)
    check_proven(answer)
    assert [reached.value for reached in answer.reached] == pytest.approx(
        [best.share, best.plants, best.days, best.trays]
    )
    check_extra(garden, answer, Middling(garden, all_plants=True).fewest_extra())
