"""Which positions there are."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.dealing.positions import positions_of_places, slots_of_levels
from app.core.words import Place
from tests.factories import shelf


@given(st.integers(0, 200), st.integers(1, 20))
def test_positions_are_spread_over_the_levels_as_evenly_as_can_be(positions, levels):
    slots = slots_of_levels(positions, levels)
    assert (len(slots), sum(slots)) == (levels, positions)
    assert max(slots) - min(slots) <= 1
    assert list(slots) == sorted(slots, reverse=True)


@pytest.mark.parametrize(("positions", "levels", "slots"), [(8, 2, (4, 4)), (7, 3, (3, 2, 2)), (1, 3, (1, 0, 0))])
def test_the_first_levels_take_what_is_over(positions, levels, slots):
    assert slots_of_levels(positions, levels) == slots


def test_positions_of_a_place_go_by_the_names_of_its_shelves():
    shelves = (
        shelf(Place.LAMP, name="Rack", positions=3, levels=2),
        shelf(Place.HEAT, name="Mat", positions=1, levels=1),
        shelf(Place.LAMP, name="Bench", positions=2, levels=1),
    )
    assert positions_of_places(shelves) == {
        Place.HEAT: ((1, 1, 1),),
        Place.LAMP: ((2, 1, 1), (2, 1, 2), (0, 1, 1), (0, 1, 2), (0, 2, 1)),
        Place.WINDOW: (),
        Place.HARDENING: (),
    }


def test_without_shelves_there_are_none():
    assert positions_of_places(()) == dict.fromkeys(Place, ())
