"""The time that is left of a levelling."""

from app.core.fitting.clock import Clock


def clock(seconds, *, is_stopped=False):
    return Clock(seconds, report=lambda _: None, is_stopped=lambda: is_stopped)


def test_when_its_time_is_up_a_little_more_can_be_given():
    late = clock(0)
    assert late.left == 0
    assert 4 < late.with_at_least(5).left <= 5
    assert late.left == 0


def test_nothing_is_taken_of_the_time_that_there_is():
    assert clock(60).with_at_least(5).left > 50


def test_whoever_wants_it_to_stop_is_not_kept_waiting():
    assert clock(0, is_stopped=True).with_at_least(5).left == 0
