"""Trays on a shelf against common practice and against every layout with one straight cut, in whole millimetres."""

import pytest

from app.core.space.footprint import positions_of, trays_on

TRAY_CM = (54.5, 28.0)


def most_by_trying(width_mm, depth_mm, tray_mm):
    """Return the most trays over every straight cut, every millimetre, and either way round on both sides of it."""
    best = 0
    for along, across in ((width_mm, depth_mm), (depth_mm, width_mm)):
        for cut in range(along + 1):
            best = max(best, block(cut, across, tray_mm) + block(along - cut, across, tray_mm))
    return best


def block(along, across, tray_mm):
    long, short = tray_mm
    return max((along // long) * (across // short), (along // short) * (across // long))


def test_a_shelf_of_four_feet_holds_four_standard_trays():
    # Common practice: 122 x 61 cm holds four trays of 54.5 x 28 cm, either way round.
    assert trays_on(122, 61, TRAY_CM) == 4
    assert trays_on(61, 122, TRAY_CM) == 4


def test_levels_hold_alike():
    assert positions_of(122, 61, TRAY_CM, 3) == 12


def test_a_shelf_that_fits_exactly_is_full():
    assert trays_on(109, 56, TRAY_CM) == 4
    assert trays_on(3 * 26.67, 53.34, (53.34, 26.67)) == 3


@pytest.mark.parametrize(
    ("width", "depth", "trays"), [(140, 85, 7), (54, 28, 0), (54.5, 28, 1), (28, 54.5, 1), (85, 54.5, 3)]
)
def test_a_cut_or_a_turn_gains_a_tray(width, depth, trays):
    # By hand: 140 x 85 holds two columns of three lengthwise and one crosswise in the 31 cm beside them.
    assert trays_on(width, depth, TRAY_CM) == trays


@pytest.mark.parametrize("tray_mm", [(545, 280), (533, 267), (400, 300), (300, 300)], ids=str)
def test_no_layout_with_one_cut_holds_more_and_none_that_fits_is_missed(tray_mm):
    tray_cm = (tray_mm[0] / 10, tray_mm[1] / 10)
    wrong = [
        (width, depth)
        for width in range(200, 2100, 170)
        for depth in range(200, 1500, 130)
        if trays_on(width / 10, depth / 10, tray_cm) != most_by_trying(width, depth, tray_mm)
    ]
    assert wrong == []


@pytest.mark.parametrize(("short_cm", "trays"), [(0.05, 4), (0.06, 3)])
def test_room_short_by_half_a_millimetre_is_enough(short_cm, trays):
    # docs/method.md, section 9: a tape reads no finer.
    assert trays_on(109 - short_cm, 56, TRAY_CM) == trays
