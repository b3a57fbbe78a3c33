"""Lists that come by the names of crops come by the names that are said, accents and capitals aside.

The orders are written down by hand, as dictionaries have the words: É with E, Œ as two letters. In English the lists
stay in the order in which the database has them.
"""

import re

import pytest

from app.language import speaking
from app.sheets.names import as_said, name_words
from app.storage.models import Draft, SpareOffer, SpareRequest
from app.storage.queries import seed_lots
from app.storage.queries.seed_lots import list_seed_lots
from app.storage.queries.uses import list_crops_of_container
from tests import rows
from tests.conftest import TODAY
from tests.web.pages import read_page

pytestmark = pytest.mark.postgres

# The garden's people have added the last themselves.
KEPT = ("Eggplant", "Marigold", "Onion", "Spinach", "Tomato", "Zucchini", "Étoile")
ORDERS = {
    "fr": ("Aubergine", "Courgette", "Épinard", "Étoile", "Œillet d’Inde", "Oignon", "Tomate"),
    "es": ("Berenjena", "Calabacín", "Cebolla", "Espinaca", "Étoile", "Tagete", "Tomate"),
}
LISTS = {
    "crops": "/crops",
    "season": "/season",
    "sowings": "/sowings",
    "sowings by crop": "/sowings?sort=crop",
    "seed lots": "/seed-lots",
    "seed": "/supplies",
    "lamps": "/light",
    "spares": "/spares",
    "last season": "/wishes/last-season",
    "risk": "/frost?risk=50",
    "search": "/search?q=jar",
}
CHOICES = {"crop_id": "/sowings/new", "seed_lot_id": "/sowings/new", "crop": "/sowings"}


@pytest.fixture
def box(session):
    """Add the crops in another order, each with a sowing, a seed lot, spare plants and a wish for some; a container."""
    rows.garden(session)
    box, who, other = rows.container(session), rows.grower(session), rows.grower(session, "Noa Vidal")
    rows.shelf(session, positions=40)
    for number, name in enumerate(reversed(KEPT)):
        crop = rows.crop(session, name, box=box)
        sowing = rows.sowing(session, who, crop, f"S-{number}", plants=6)
        rows.seed_lot(session, crop, f"Jar {number}")
        session.add(SpareOffer(sowing_id=sowing.id, plants=1, date=TODAY))
        session.add(SpareRequest(grower_id=other.id, crop_id=crop.id, plants=1, date=TODAY))
        session.add(Draft(grower_id=who.id, crop_id=crop.id, plants=6, brings_seed=False))
    session.commit()
    return box


def names_in(texts, code):
    """Return the first name in each text, each once, in their order."""
    pattern = re.compile("|".join(map(re.escape, ORDERS[code])))
    return tuple(dict.fromkeys(name for text in texts for name in pattern.findall(text)[:1]))


def read(client, address, code):
    return read_page(client.get(address, headers={"Accept-Language": code}).text)


@pytest.mark.parametrize("code", ORDERS)
@pytest.mark.parametrize("address", LISTS.values(), ids=LISTS)
def test_a_list_comes_in_the_order_of_the_names_that_are_said(client, box, code, address):
    lists = {}
    for row in read(client, address, code).all("tr", "li"):
        lists.setdefault(id(row.within("table" if row.tag == "tr" else "ul")), []).append(row.text)
    found = [names for names in (names_in(texts, code) for texts in lists.values()) if len(names) > 1]
    assert found
    assert set(found) == {ORDERS[code]}


@pytest.mark.parametrize("code", ORDERS)
@pytest.mark.parametrize(("name", "address"), CHOICES.items())
def test_a_list_to_choose_from_comes_in_the_order_of_the_names_that_are_said(client, box, code, name, address):
    options = read(client, address, code).all("option")
    mine = [one.text for one in options if one.within("select").attributes.get("name") == name]
    assert names_in(mine, code) == ORDERS[code]


@pytest.mark.parametrize("code", ORDERS)
def test_the_notice_has_its_crops_in_the_order_of_the_names_that_are_said(client, box, code):
    """Their cards are alike, so they stand in one list."""
    links = read(client, f"/notice?language={code}", code).all("a")
    assert names_in([one.text for one in links], code) == ORDERS[code]


@pytest.mark.parametrize("code", ORDERS)
def test_the_first_uses_of_a_container_are_the_first_of_the_names_that_are_said(session, box, code):
    with speaking(code):
        uses = list_crops_of_container(session, box.id)
    assert tuple(use.name for use in uses.first) == ORDERS[code]


@pytest.mark.parametrize("code", ORDERS)
def test_pages_of_a_long_list_follow_each_other_in_that_order(session, box, code, monkeypatch):
    monkeypatch.setattr(seed_lots, "PAGE_ROWS", 3)
    with speaking(code):
        pages = [[name_words(row.crop) for row in list_seed_lots(session, page=page)] for page in (1, 2, 3)]
        back = [name_words(row.crop) for row in list_seed_lots(session, down=True)]
    assert pages == [list(ORDERS[code][:3]), list(ORDERS[code][3:6]), list(ORDERS[code][6:])]
    assert back == list(reversed(ORDERS[code]))[:3]


def test_rows_of_one_name_stay_as_they_came_and_english_ones_all():
    came = [("Zucchini", 1), ("Eggplant", 2), ("Zucchini", 3)]
    with speaking("fr"):
        assert [number for _, number in as_said(came, lambda row: name_words(row[0]))] == [2, 1, 3]
    assert as_said(came, lambda row: name_words(row[0])) == came
