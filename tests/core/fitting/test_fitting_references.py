"""What levelling is held against: that it agrees with itself, with the judge, and does what it says."""

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from app.core.fitting.answer import Choices, Goal
from app.core.fitting.judge import faults_of, values_of
from app.core.fitting.recount import Recount
from app.core.plan import make_plan
from tests.core.fitting_by_hand import MOST_WAYS, Trial, rank
from tests.core.fitting_gardens import small_gardens
from tests.core.fitting_milp import Middling
from tests.lengths import TIMES


def choices_of(garden, trial, ways):
    """Return some ways as the choices that they are."""
    columns = {name: getattr(garden.sowings, name).copy() for name in ("sow_on", "light", "placed")}
    for way in ways:
        if way not in trial.fixed:
            for name, value in (("sow_on", way.written), ("light", way.light), ("placed", way.plants)):
                columns[name][way.lot] = value
    return Choices(**columns)


@given(small_gardens(), st.data())
def test_trays_positions_and_goals_by_hand_are_those_of_the_judge(garden, data):
    trial = Trial(garden)
    ways = [*trial.fixed, *(data.draw(st.sampled_from(ways)) for ways in trial.free)]
    choices = choices_of(garden, trial, ways)
    plan = make_plan(choices.made_in(garden))
    standing, trays = trial.shelves.stand(ways)
    assert +standing == Recount(plan).by_day
    fits = trial.shelves.fit(standing)
    assert (faults_of(garden, choices) == []) == fits
    share, weighted, days = rank(garden, ways)
    assert values_of(plan) == {Goal.SHARE: -share, Goal.PLANTS: -weighted, Goal.DAYS: days, Goal.TRAYS: trays}


@settings(max_examples=40 * TIMES)
@given(small_gardens())
def test_the_integer_programme_finds_what_trying_every_way_finds(garden):
    trial = Trial(garden)
    assume(len(trial) <= MOST_WAYS)
    assert Middling(garden).best() == trial.best()
    assert Middling(garden, all_plants=True).fewest_extra() == trial.extra()
