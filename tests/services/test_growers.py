import pytest

from app.services.growers import GrowerValues, add_grower, change_grower, remove_grower
from app.services.names import NameTakenError
from app.services.removal import InUseError
from app.services.search import find_growers
from app.storage.errors import NotFoundError
from app.storage.models import Grower
from app.storage.queries.growers import count_growers, list_growers
from app.storage.queries.version import get_mark
from tests import rows


def values(**changes):
    return GrowerValues(**{"name": "Ines Moreau", "plot": "14", "contact": None, "days": "saturday"} | changes)


def test_a_grower_is_added(session):
    grower = add_grower(session, values())
    session.expire_all()
    kept = session.get(Grower, grower.id)
    assert (kept.name, kept.plot, kept.contact, kept.days) == ("Ines Moreau", "14", None, "saturday")


@pytest.mark.parametrize("name", ["Ines Moreau", "INES moreau"])
def test_a_name_belongs_to_one_grower_whatever_its_capitals(session, name):
    add_grower(session, values())
    with pytest.raises(NameTakenError):
        add_grower(session, values(name=name))


def test_a_grower_may_change_the_capitals_of_their_own_name(session):
    grower = add_grower(session, values())
    assert change_grower(session, grower.id, values(name="INES MOREAU")).name == "INES MOREAU"


def test_names_that_differ_in_capitals_from_a_folder_can_still_be_saved(session):
    rows.grower(session, "anna")
    other = rows.grower(session, "Anna")
    assert change_grower(session, other.id, values(name="Anna", plot="3")).plot == "3"


def test_a_change_to_what_is_there_already_leaves_the_mark(session):
    grower = add_grower(session, values())
    session.commit()
    mark = get_mark(session)
    change_grower(session, grower.id, values())
    session.commit()
    assert get_mark(session) == mark
    change_grower(session, grower.id, values(plot="15"))
    session.commit()
    assert get_mark(session) != mark


@pytest.mark.parametrize("row_id", [0, -1, 12345, 2**31, 10**30])
def test_a_grower_that_is_not_there_is_not_found(session, row_id):
    with pytest.raises(NotFoundError):
        change_grower(session, row_id, values())


def test_a_grower_without_sowings_is_removed(session):
    grower = add_grower(session, values())
    assert remove_grower(session, grower.id) == "Ines Moreau"
    assert count_growers(session) == 0


def test_a_grower_with_sowings_stays_and_the_first_twenty_are_listed(session):
    grower, crop = rows.grower(session), rows.crop(session, "Carrot")
    for number in range(25):
        rows.sowing(session, grower, crop, f"S-{number:04d}")
    with pytest.raises(InUseError) as refused:
        remove_grower(session, grower.id)
    (uses,) = refused.value.uses
    assert (uses.noun, uses.count, len(uses.first)) == ("sowings", 25, 20)
    assert [use.name for use in uses.first] == [f"S-{number:04d}" for number in range(20)]
    assert {use.words for use in uses.first} == {"Carrot"}


def test_growers_are_listed_with_their_sowings_and_plants(session):
    crop = rows.crop(session)
    for name, plot, counts in (("Ada", "10", (3, 4)), ("Bo", "9", (20,)), ("Cy", None, ())):
        grower = rows.grower(session, name, plot=plot)
        for number, plants in enumerate(counts):
            rows.sowing(session, grower, crop, f"{name}-{number}", plants=plants)
    found = {row.name: (row.sowings, row.plants) for row in list_growers(session)}
    assert found == {"Ada": (2, 7), "Bo": (1, 20), "Cy": (0, 0)}
    assert [row.name for row in list_growers(session, sort="plot")] == ["Bo", "Ada", "Cy"]
    assert [row.name for row in list_growers(session, sort="sowings", down=True)] == ["Ada", "Bo", "Cy"]
    assert [row.name for row in list_growers(session, sort="plants", down=True)] == ["Bo", "Ada", "Cy"]


def test_a_search_takes_its_letters_as_they_are(session):
    green = rows.grower(session, "100 % Green", plot="A_1")
    other = rows.grower(session, "Grëen", plot="B1")
    assert find_growers(session, "%") == find_growers(session, "a_") == [green.id]
    assert find_growers(session, "green") == [green.id, other.id]
    assert [row.name for row in list_growers(session, ids=[other.id])] == ["Grëen"]
    assert list_growers(session, ids=[]) == []
    assert count_growers(session) == 2


def test_a_long_list_comes_in_pages_without_a_gap(session):
    session.add_all(Grower(name=f"Member {number:03d}") for number in range(450))
    session.flush()
    pages = [list_growers(session, page=page) for page in (1, 2, 3, 4)]
    assert [len(page) for page in pages] == [200, 200, 50, 0]
    assert [row.name for page in pages for row in page] == [f"Member {number:03d}" for number in range(450)]
