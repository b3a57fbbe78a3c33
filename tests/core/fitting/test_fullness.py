"""When places are full and where sowings stand, against a count of every day."""

from collections import defaultdict

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from app.core.calendar import DAYS_IN_WEEK
from app.core.fitting.fullness import Crowded, Use, presence_of, use_of
from app.core.plan import make_plan
from app.core.words import PLACES
from tests.core.gardens import gardens

FIRST_WEEK = 105_000
MONDAY = FIRST_WEEK * DAYS_IN_WEEK + 1
WEEKS = 4


@st.composite
def uses(draw):
    """Return four places over four weeks, and stretches of days to ask for, some of them outside these weeks."""
    standing = draw(st.lists(st.integers(0, 3), min_size=4 * 7 * WEEKS, max_size=4 * 7 * WEEKS))
    positions = draw(st.lists(st.integers(0, 3), min_size=4, max_size=4))
    stretches = st.tuples(st.integers(0, 3), st.integers(-20, 40), st.integers(-2, 30))
    return (
        Use(
            first_week=FIRST_WEEK,
            standing=np.array(standing).reshape(4, -1),
            positions=np.array(positions),
        ),
        draw(st.lists(stretches, min_size=1, max_size=8)),
    )


def columns_of(stretches):
    place, begin, length = np.array(stretches).T
    return place, MONDAY + begin, MONDAY + begin + length


def trays_on(use, place, day):
    return int(use.standing[place, day - MONDAY]) if 0 <= day - MONDAY < 7 * WEEKS else 0


@given(uses(), st.integers(0, 3))
def test_stretches_meet_the_weeks_that_a_count_of_their_days_finds(drawn, trays):
    use, stretches = drawn
    crowded, columns = Crowded(use, trays), columns_of(stretches)
    low, high = crowded.ranges(*columns)
    for number, (place, begin, end) in enumerate(zip(*columns, strict=True)):
        days = [day for day in range(begin, end) if 0 <= day - MONDAY < 7 * WEEKS]
        by_hand = {(day - 1) // 7 for day in days if trays_on(use, place, day) + trays > use.positions[place]}
        assert set(crowded.weeks[place][low[number] : high[number]]) == by_hand


@given(uses())
def test_the_most_trays_of_a_stretch_are_those_of_its_fullest_day(drawn):
    use, stretches = drawn
    columns = columns_of(stretches)
    by_hand = [
        max((trays_on(use, place, day) for day in range(begin, end)), default=0)
        for place, begin, end in zip(*columns, strict=True)
    ]
    assert use.most(*columns).tolist() == by_hand


def test_a_garden_without_days_is_never_full():
    use = Use(first_week=0, standing=np.zeros((4, 0), dtype=np.int64), positions=np.zeros(4, dtype=np.int64))
    asked = (np.array([0]), np.array([5]), np.array([9]))
    assert use.most(*asked).tolist() == [0]
    low, high = Crowded(use, 1).ranges(*asked)
    assert (high - low).tolist() == [0]


@given(gardens())
def test_days_of_sowings_and_of_places_are_those_of_the_plan_stay_by_stay(drawn):
    plan = make_plan(drawn.garden)
    standing, days = defaultdict(int), defaultdict(set)
    for tray, group in enumerate(plan.trays.group.tolist()):
        lots = plan.trays.part_lot[plan.trays.part_tray == tray].tolist()
        for row in np.flatnonzero(plan.stays.group == group).tolist():
            place = int(plan.stays.place[row])
            for day in range(plan.stays.begin[row], plan.stays.end[row]):
                standing[place, day] += 1
                for lot in lots:
                    days[lot, place].add(day)
    presence, use = presence_of(plan), use_of(plan)
    for lot in range(len(drawn.garden.sowings)):
        for place in range(len(PLACES)):
            there = days[lot, place]
            begin, end = int(presence.begin[lot, place]), int(presence.end[lot, place])
            assert (begin, end) == ((min(there), max(there) + 1) if there else (0, 0))
            assert len(there) == end - begin  # without a gap, so that its ends say it all
    first = use.first_week * DAYS_IN_WEEK + 1
    counted = {(place, first + day): int(trays) for (place, day), trays in np.ndenumerate(use.standing) if trays}
    assert counted == {key: trays for key, trays in standing.items() if trays}
