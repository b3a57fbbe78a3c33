import pytest

from app.core.words import Place
from app.services.names import NameTakenError
from app.services.plan import get_plan
from app.services.shelves import ShelfValues, add_shelf, change_shelf, list_shelf_room, remove_shelf
from tests import rows
from tests.conftest import TODAY


def values(**changes):
    fields = dict.fromkeys(
        ("positions", "bench_temp_c", "ppfd", "hours_per_day", "watts", "pan_depth_mm", "fan"),
    )
    fields |= {"name": "Rack", "place": Place.LAMP, "width_cm": 122.0, "depth_cm": 61.0, "levels": 3}
    return ShelfValues(**fields | changes)


@pytest.fixture
def garden(session):
    return rows.garden(session)


def room(session):
    session.commit()
    return list_shelf_room(session, get_plan(session))


# A shelf of 122 x 61 cm holds four standard trays: common practice.
def test_a_shelf_has_its_computed_positions_on_all_levels(session, garden):
    add_shelf(session, values())
    assert [positions for _, positions in room(session).shelves] == [12]


def test_positions_counted_by_hand_go_before_the_computed_ones(session, garden):
    shelf = add_shelf(session, values(positions=15))
    assert room(session).shelves[0][1] == 15
    change_shelf(session, shelf.id, values(positions=0))
    assert room(session).shelves[0][1] == 0
    change_shelf(session, shelf.id, values())
    assert room(session).shelves[0][1] == 12


def test_shelves_stand_in_the_ledgers_order_with_the_sum_of_each_place(session, garden):
    add_shelf(session, values(name="B", place=Place.HARDENING, positions=7))
    add_shelf(session, values(name="A", place=Place.LAMP, positions=3))
    add_shelf(session, values(name="C", place=Place.HEAT, positions=2))
    add_shelf(session, values(name="D", place=Place.LAMP, positions=4))
    found = room(session)
    assert [row.name for row, _ in found.shelves] == ["C", "A", "D", "B"]
    assert found.totals == ((Place.HEAT, 2), (Place.LAMP, 7), (Place.WINDOW, 0), (Place.HARDENING, 7))


def test_a_name_belongs_to_one_shelf(session):
    add_shelf(session, values())
    with pytest.raises(NameTakenError):
        add_shelf(session, values(name="rack"))


def test_a_removed_shelf_no_longer_counts(session, garden):
    shelf = add_shelf(session, values())
    assert remove_shelf(session, shelf.id, today=TODAY) == "Rack"
    assert room(session).shelves == ()
