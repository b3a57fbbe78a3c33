"""The worked example of levelling in docs/method.md, section 13, counted there by hand."""

from datetime import date

from app.core.fitting.answer import Goal
from app.core.words import LAMP, Place
from tests.core.fitting_checks import check_proven, levelled
from tests.factories import GrowerCard, card, container, garden, shelf, sowing

GROWERS = tuple(GrowerCard(id=n, name=f"Grower {n}", plot=None) for n in (1, 2))
# Planted out on Sat 19 Jun and sown from 29 April to 13 May: the tomato of section 6, whose bench adds two days.
TOMATO = card(
    plant_out_weeks=0.0, indoor_weeks_min=37 / 7, indoor_weeks_max=51 / 7, days_to_maturity=55, days_to_emerge=8
)


def test_two_growers_share_the_only_tray_as_the_method_counts_it():
    made = garden(
        [sowing(grower=0), sowing(grower=1)],
        cards=(TOMATO,),
        containers=(container(cells_per_tray=9),),
        shelves=(shelf(Place.LAMP, positions=1),),
        growers=GROWERS,
    )
    answer = levelled(made)
    check_proven(answer)
    assert {reached.goal: reached.value for reached in answer.reached} == {
        Goal.SHARE: 2 / 6,
        Goal.PLANTS: 12,
        Goal.DAYS: 12,
        Goal.TRAYS: 1,
    }
    assert sorted(answer.after.plants.tolist()) == [2, 4]
    assert sorted(answer.after.cells.tolist()) == [3, 6]
    assert set(answer.after.timeline.sow_on.tolist()) == {date(2027, 5, 8).toordinal()}
    assert answer.extra.positions == tuple(int(place == LAMP) for place in range(4))
    assert answer.extra.bound == 1
