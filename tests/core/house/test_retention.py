"""Which backups are kept, against a plain rule that asks of each one by itself."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.house.retention import Keeping, choose_kept

# hypothesis wants the ends bare, and adds the zone
EARLIEST, LATEST = (datetime(year, month, 1) for year, month in ((2024, 11), (2028, 3)))  # noqa: DTZ001
MOMENTS = st.datetimes(EARLIEST, LATEST, timezones=st.just(UTC))
CLOSE = st.builds(
    lambda first, hours: [first + timedelta(hours=hour) for hour in hours],
    MOMENTS,
    st.lists(st.integers(0, 24 * 60), max_size=80),
)
KEEPING = st.builds(Keeping, days=st.integers(1, 9), weeks=st.integers(0, 6), months=st.integers(0, 14))


def is_kept(one, taken, now, keeping):
    """Ask of one backup whether it stays, as a person would who goes over the shelf with a calendar.

    It is the last one of its day, and fewer than so many later days have a backup; or so for its week; or its month.
    """
    if one > now:
        return True
    others = {other for other in taken if other <= now}
    if one == max(others):
        return True
    for number, period in ((keeping.days, "%Y-%m-%d"), (keeping.weeks, "%G-%V"), (keeping.months, "%Y-%m")):
        mine = one.strftime(period)
        is_last = not any(other > one and other.strftime(period) == mine for other in others)
        later = {other.strftime(period) for other in others if other > one} - {mine}
        if is_last and len(later) < number:
            return True
    return False


@given(taken=st.lists(MOMENTS, max_size=60) | CLOSE, now=MOMENTS, keeping=KEEPING)
def test_what_is_kept_is_what_a_plain_rule_keeps(taken, now, keeping):
    assert choose_kept(taken, now, keeping) == {one for one in taken if is_kept(one, taken, now, keeping)}


@given(taken=CLOSE, keeping=KEEPING)
def test_throwing_away_twice_throws_nothing_more_away(taken, keeping):
    now = datetime(2028, 3, 2, tzinfo=UTC)
    kept = choose_kept(taken, now, keeping)
    assert choose_kept(kept, now, keeping) == kept


@given(days=st.integers(1, 500), keeping=KEEPING)
def test_one_a_day_thrown_away_every_day_leaves_what_was_promised(days, keeping):
    first, kept = datetime(2026, 1, 1, 12, tzinfo=UTC), set()
    for day in range(days):
        now = first + timedelta(day)
        kept = set(choose_kept(kept | {now}, now, keeping))
    ages = {(now - one).days for one in kept}
    assert ages >= set(range(min(days, keeping.days)))
    every = [first + timedelta(day) for day in range(days)]
    for number, period in ((keeping.weeks, "%G-%V"), (keeping.months, "%Y-%m")):
        last = {one.strftime(period): one for one in every}
        assert kept >= set(list(last.values())[-number:] if number else [])
    assert len(kept) <= keeping.days + keeping.weeks + keeping.months


@pytest.mark.parametrize("back", [timedelta(hours=1), timedelta(days=40), timedelta(days=4000)])
def test_a_clock_that_was_set_back_throws_nothing_newer_away(back):
    now = datetime(2027, 4, 10, 12, tzinfo=UTC)
    newer = {now - timedelta(day) for day in range(7)}
    later = set()
    for day in range(30):
        moment = now - back + timedelta(day)
        later = set(choose_kept(newer | later | {moment}, moment, Keeping()))
        assert moment in later
        assert {one for one in newer if one > moment} <= later


def test_a_garden_that_rests_all_winter_keeps_what_it_had():
    autumn = [datetime(2026, 10, day, 3, tzinfo=UTC) for day in range(1, 31)]
    kept = choose_kept(autumn, datetime(2027, 3, 1, tzinfo=UTC), Keeping())
    # Sundays end the weeks of 11, 18 and 25 October 2026; the fourth week is that of the last day.
    assert {one.day for one in kept} == {11, 18, 24, 25, 26, 27, 28, 29, 30}
