"""The sun's day beyond the polar circles and between the hemispheres."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.errors import OutOfRangeError
from app.core.needs.light import day_length, sun_declination, sun_energy, sunset_angle

DAYS = st.integers(1, 366)
LATITUDES = st.floats(-90, 90)


@pytest.mark.parametrize(("latitude", "day", "hours"), [(80, 172, 24), (80, 355, 0), (-80, 172, 0), (-80, 355, 24)])
def test_beyond_the_polar_circles_the_sun_stays_up_or_down(latitude, day, hours):
    # The solstices, as anyone knows who lives there.
    assert day_length(latitude, day) == hours
    assert (sun_energy(latitude, day) > 0) == (hours == 24)


@pytest.mark.parametrize("day", [1, 80, 172, 266, 366])
def test_at_the_equator_every_day_has_twelve_hours(day):
    assert day_length(0, day) == pytest.approx(12)


@given(LATITUDES, DAYS)
def test_the_same_day_north_and_south_fills_a_day_together(latitude, day):
    assert day_length(latitude, day) + day_length(-latitude, day) == pytest.approx(24)


@given(LATITUDES, DAYS)
def test_hours_and_energy_keep_to_their_ranges(latitude, day):
    assert 0 <= day_length(latitude, day) <= 24
    # A level square metre never gets more than the solar constant of 1367 W on it all day, 7 % nearer in January.
    assert 0 <= sun_energy(latitude, day) < 1367 * 86_400 / 1e6 * 1.035 * 0.5


@given(st.floats(-60, 60), DAYS)
def test_the_day_is_long_where_the_sun_stands(latitude, day):
    if abs(latitude * sun_declination(day)) > 1e-3:
        assert (day_length(latitude, day) > 12) == (latitude * sun_declination(day) > 0)


@pytest.mark.parametrize(
    ("latitude", "day", "argument"),
    [(90.1, 1, "latitude_deg"), (-91, 1, "latitude_deg"), (0, 0, "day_of_year"), (0, 367, "day_of_year")],
)
def test_a_latitude_or_day_that_there_is_not_is_refused_by_name(latitude, day, argument):
    for figure in (sunset_angle, day_length, sun_energy):
        with pytest.raises(OutOfRangeError, match=argument):
            figure(latitude, day)
