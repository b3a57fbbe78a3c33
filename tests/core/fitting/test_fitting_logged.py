"""Levelling gardens in mid-season: days have passed, something is written down, the rest waits or comes too late."""

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from app.core.fitting.judge import faults_of
from app.core.fitting.recount import Recount
from app.core.plan import make_plan
from app.core.space.ledger import over_same_weeks
from tests.core.fitting_by_hand import MOST_WAYS, Trial, earliest_day
from tests.core.fitting_checks import check_extra, check_proven, levelled
from tests.core.fitting_gardens import numbered_in_season
from tests.lengths import every


@settings(max_examples=1500 // every(50))
@example(164)  # two sowings have as many pots as each other in a pinned tray, and are no longer of one group
@example(207)  # fewer came up than pots are pinned for
@example(584)  # a sowing that leaves its group lets the others move on earlier, where there is no room
@example(929)  # of what is sown in one tray, some is potted on and some not any more
@given(st.integers(0, 999_999))
def test_every_goal_in_mid_season_is_the_best_of_all_ways(number):
    garden = numbered_in_season(number)
    trial = Trial(garden)
    assume(len(trial) <= MOST_WAYS)
    best = trial.best()
    answer = levelled(garden)
    check_proven(answer)
    assert [reached.value for reached in answer.reached] == pytest.approx(
        [best.share, best.plants, best.days, best.trays]
    )
    check_extra(garden, answer, trial.extra())


@settings(max_examples=600 // every(30))
@given(st.integers(0, 999_999))
def test_what_is_written_down_or_too_late_stays_and_nothing_is_sown_in_the_past(number):
    garden = numbered_in_season(number)
    answer = levelled(garden)
    before, after = make_plan(garden), make_plan(answer.choices.made_in(garden))
    assert not faults_of(garden, answer.choices)
    assert (after.is_too_late == before.is_too_late).all()
    stays = before.is_too_late.copy()
    stays[garden.log.sowing] = True
    for name in ("sow_on", "emerges", "pot_on", "harden", "plant_out"):
        assert (getattr(before.timeline, name)[stays] == getattr(after.timeline, name)[stays]).all()
    for name in ("cells", "light_place", "plants"):
        assert (getattr(before, name)[stays] == getattr(after, name)[stays]).all()
    assert (
        after.timeline.sow_on[(before.light_place >= 0) & ~stays & (after.progress.sown_on == 0)]
        >= earliest_day(garden)
    ).all()


@settings(max_examples=600 // every(30))
@given(st.integers(0, 999_999))
def test_the_ledger_of_an_answer_is_that_of_the_plan_of_the_day(number):
    garden = numbered_in_season(number)
    answer = levelled(garden)
    # What stands on each day is counted by what knows nothing of the ledger.
    for plan, ledger in ((answer.before, answer.before.ledger), (answer.after, answer.after.ledger)):
        assert plan.garden.today == garden.today
        fullest = {}
        for (place, day), trays in Recount(plan).by_day.items():
            week = (day - 1) // 7
            fullest[week, place] = max(trays, fullest.get((week, place), 0))
        needed = {
            (week, place): int(ledger.needed[row, place])
            for row, week in enumerate(ledger.weeks)
            for place in range(4)
            if ledger.needed[row, place]
        }
        assert needed == fullest
    # It is over-full only where what stays is by itself.
    one, _ = over_same_weeks(answer.after.ledger, answer.before.ledger)
    over = {place for place in range(4) if (one.free[:, place] < 0).any()}
    assert over <= {stuck.place for stuck in answer.stuck}
