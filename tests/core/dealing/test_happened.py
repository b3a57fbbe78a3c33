"""What has happened to a sown tray stays as it is written down; what is to come follows the plan."""

from itertools import accumulate, pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from app.core.dealing.happened import Planned, days_of_stays

TODAY = 100


def days(*stays, today=TODAY):
    """Return the days of one tray's stays, each given as planned and as dealt."""
    return days_of_stays([Planned(7, *planned, *(dealt or (None, None))) for planned, dealt in stays], today)


# Counted on the fingers: first what the plan says now, then what was dealt, then what is right on day 100.
CASES = {
    "nothing has begun": ([((105, 110), (104, 109)), ((110, 130), (109, 129))], [(105, 110), (110, 130)]),
    "it was to come under the lamps, and nobody wrote that it is up: it is on heat still": (
        [((90, 105), (90, 97)), ((105, 130), (97, 125))],
        [(90, 105), (105, 130)],
    ),
    "it came under the lamps on its day, and is there": (
        [((90, 97), (90, 97)), ((97, 130), (97, 125))],
        [(90, 97), (97, 130)],
    ),
    "it is looked for today, so it comes under the lamps today at the latest": (
        [((90, 100), (90, 97)), ((100, 130), (97, 125))],
        [(90, 97), (97, 130)],
    ),
    "it should have been carried some days ago: it is carried today": (
        [((90, 96), (90, 108)), ((96, 130), (108, 130))],
        [(90, 100), (100, 130)],
    ),
    "it stands where it is longer": ([((90, 112), (90, 108)), ((112, 130), (108, 130))], [(90, 112), (112, 130)]),
    "sown under the lamps, it should have been on heat before": (
        [((90, 98), None), ((98, 130), (90, 130))],
        [None, (90, 130)],
    ),
    "sown under the lamps, it should be on heat now": ([((90, 104), None), ((104, 130), (90, 130))], [None, (90, 130)]),
    "a place to which it comes only today, late, is left tomorrow": (
        [((90, 98), (90, 100)), ((98, 99), (100, 130)), ((99, 130), (130, 140))],
        [(90, 100), (100, 101), (101, 130)],
    ),
    "a place that it should have come to and left while it stood before it is passed over": (
        [((90, 98), (90, 110)), ((98, 99), (110, 130)), ((99, 130), (130, 140))],
        [(90, 100), None, (100, 130)],
    ),
    "it should be gone already: it goes today": ([((80, 95), (80, 120))], [(80, 100)]),
    "it was to be gone, and stays longer": ([((80, 110), (80, 99))], [(80, 110)]),
    "it is gone": ([((80, 98), (80, 97))], [(80, 97)]),
}


@pytest.mark.parametrize(("stays", "right"), CASES.values(), ids=CASES)
def test_the_days_are_right(stays, right):
    assert days(*stays) == right


def test_trays_do_not_touch_each_other():
    gone, comes = Planned(1, 80, 98, 80, 97), Planned(2, 90, 120, None, None)
    assert days_of_stays([gone, comes], TODAY) == [(80, 97), (90, 120)]


LENGTHS = st.lists(st.integers(1, 30), min_size=1, max_size=4)


@st.composite
def trays(draw):
    """Return the stays of a tray, one after another in the plan, and in what was dealt, where they may be missing."""
    planned = list(pairwise(accumulate(draw(LENGTHS), initial=draw(st.integers(60, 110)))))
    begin, stays = draw(st.integers(60, 110)), []
    for span in planned:
        begin += draw(st.sampled_from((0, 0, 3)))  # a tray that was moved by hand leaves a gap
        end = begin + draw(st.integers(1, 30))
        is_dealt = draw(st.booleans())
        stays.append((span, (begin, end) if is_dealt else None))
        begin = end if is_dealt else begin
    return stays


def stands_as_planned(stays, today):
    """Whether the plan has begun somewhere where the tray was dealt, or it was dealt nowhere by now."""
    begun = [planned[0] for planned, dealt in stays if dealt is not None and dealt[0] <= today]
    return not begun or min(begun) <= today


@given(trays(), st.integers(70, 160))
def test_a_tray_is_in_one_place_and_its_past_is_kept(stays, today):
    found = days(*stays, today=today)
    spans = sorted(span for span in found if span is not None)
    assert all(one[1] <= other[0] for one, other in pairwise(spans))
    assert all(begin < end for begin, end in spans)
    for (planned, dealt), now in zip(stays, found, strict=True):
        if dealt is not None and planned[0] <= today and dealt[0] <= today and now is not None:
            assert now[0] == dealt[0]


@given(trays(), st.integers(70, 160))
def test_from_tomorrow_on_it_stands_where_the_plan_has_it(stays, today):
    assume(stands_as_planned(stays, today))
    found, planned = days(*stays, today=today), [span for span, _ in stays]
    for day in range(today + 1, max(end for _, end in planned)):
        assert place_on(found, day) == place_on(planned, day)


def place_on(spans, day):
    return [at for at, span in enumerate(spans) if span and span[0] <= day < span[1]]


@given(trays(), st.integers(70, 160), st.integers(0, 60))
def test_dealing_again_changes_nothing_on_that_day_or_later(stays, today, later):
    assume(stands_as_planned(stays, today))
    found = days(*stays, today=today)
    dealt_so = [(planned, now) for (planned, _), now in zip(stays, found, strict=True)]
    assert days(*dealt_so, today=today + later) == found
