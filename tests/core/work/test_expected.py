"""What is likely to be logged next, and of how many."""

import pytest

from app.core.words import LogKind
from app.core.work.expected import Part, expected_count, next_kind


@pytest.mark.parametrize(
    ("part", "kind"),
    [
        (Part(to_sow=24), LogKind.SOWN),
        (Part(to_sow=4, sown=20), LogKind.SOWN),
        (Part(sown=24), LogKind.UP),
        (Part(sown=24, up=20), LogKind.HANDED_OUT),
        (Part(sown=24, up=20, is_potted_on=True), LogKind.POTTED_ON),
        (Part(sown=24, up=20, is_potted_on=True, is_potted=True, pots=18), LogKind.HANDED_OUT),
        (Part(sown=24, up=20, living=0, left=20), LogKind.PLANTED_OUT),
    ],
)
def test_what_comes_next_follows_the_life_of_a_plant(part, kind):
    assert next_kind(part) is kind


def test_in_a_tray_of_pots_potting_on_comes_before_handing_out():
    assert next_kind(Part(to_pot=3), is_pots=True) is LogKind.POTTED_ON
    assert next_kind(Part(pots=3), is_pots=True) is LogKind.HANDED_OUT


def test_counts_are_those_that_can_be_expected():
    """By hand: of 50 cells of which 4 in 5 come up, 40; two plants a cell make 80."""
    part = Part(to_sow=6, sown=50, chance_up=0.8, plants_per_cell=2, to_pot=60)
    wanted = {
        LogKind.SOWN: 6,
        LogKind.UP: 40,
        LogKind.THINNED: 80,
        LogKind.POTTED_ON: 60,
        LogKind.LOST: None,
        LogKind.HANDED_OUT: 80,
        LogKind.PLANTED_OUT: 80,
    }
    assert {kind: expected_count(part, kind) for kind in LogKind} == wanted


def test_what_was_counted_goes_before_what_is_expected():
    part = Part(sown=50, up=31, chance_up=0.8, living=28, left=10, planted=4)
    assert expected_count(part, LogKind.UP) == 31
    assert expected_count(part, LogKind.HANDED_OUT) == 28
    assert expected_count(part, LogKind.PLANTED_OUT) == 6


def test_nobody_can_tell_how_many_where_there_is_nothing():
    assert {expected_count(Part(), kind) for kind in LogKind} == {None}
