"""The ledger over any stays, against a count of every day."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from app.core.calendar import DAYS_IN_WEEK, monday_of
from app.core.space.ledger import count_trays
from app.core.words import HARDENING, HEAT, LAMP, WINDOW

MONDAY = 105_000 * DAYS_IN_WEEK + 1
POSITIONS = np.array([2, 8, 4, 6])
STAYS = st.lists(st.tuples(st.integers(0, 3), st.integers(0, 200), st.integers(-3, 40), st.integers(0, 9)), max_size=25)


def ledger_of(stays):
    place, begin, end, trays = (np.array(column, dtype=np.int64) for column in zip(*stays, strict=True))
    return count_trays(place, begin, end, trays, POSITIONS)


def standing(stays, place, day):
    return sum(trays for at, begin, end, trays in stays if at == place and begin <= day < end)


@given(STAYS)
def test_each_week_shows_its_fullest_day(drawn):
    stays = [(place, MONDAY + begin, MONDAY + begin + length, trays) for place, begin, length, trays in drawn]
    used = [day for place, begin, end, trays in stays for day in (begin, end - 1) if trays and end > begin]
    ledger = ledger_of(stays) if stays else ledger_of([(0, MONDAY, MONDAY, 1)])
    if not used:
        assert len(ledger.needed) == 0
        return
    assert ledger.weeks[0] == (min(used) - 1) // 7
    assert ledger.weeks[-1] == (max(used) - 1) // 7
    for week, needed in zip(ledger.weeks, ledger.needed.tolist(), strict=True):
        days = [monday_of(week).toordinal() + n for n in range(7)]
        assert needed == [max(standing(stays, place, day) for day in days) for place in range(4)]


def test_a_tray_that_leaves_makes_room_for_one_that_comes_the_same_day():
    # Half-open, docs/method.md section 1.
    ledger = ledger_of([(LAMP, MONDAY, MONDAY + 3, 2), (LAMP, MONDAY + 3, MONDAY + 7, 2)])
    assert ledger.needed.tolist() == [[0, 2, 0, 0]]


def test_the_four_places_stand_in_their_order():
    ledger = ledger_of([(place, MONDAY, MONDAY + 1, place + 1) for place in (HEAT, LAMP, WINDOW, HARDENING)])
    assert ledger.needed.tolist() == [[1, 2, 3, 4]]
    assert ledger.free.tolist() == [[1, 6, 1, 2]]


def test_a_week_without_trays_between_others_is_listed():
    ledger = ledger_of([(LAMP, MONDAY, MONDAY + 1, 1), (LAMP, MONDAY + 14, MONDAY + 15, 1)])
    assert ledger.needed[:, LAMP].tolist() == [1, 0, 1]


def test_an_over_full_place_has_negative_room():
    assert ledger_of([(HEAT, MONDAY, MONDAY + 1, 5)]).free[0, HEAT] == -3


def test_a_stay_of_no_days_or_no_trays_counts_nowhere():
    ledger = ledger_of([(LAMP, MONDAY, MONDAY, 3), (LAMP, MONDAY + 2, MONDAY, 3), (LAMP, MONDAY, MONDAY + 9, 0)])
    assert ledger.needed.shape == (0, 4)
    assert list(ledger.weeks) == []
    assert ledger.free.shape == (0, 4)
