"""Long lists: their order and filters stand in the address, and what is shown is in that order; on both engines."""

import re
from urllib.parse import parse_qsl, urlsplit

import pytest
from sqlalchemy.orm import Session

from tests import rows
from tests.web.everything import fill
from tests.web.filling import form_values
from tests.web.pages import read_page

pytestmark = pytest.mark.postgres

LISTS = {
    "/growers": "?q=e",
    "/sowings": "?crop={crop_id}",
    "/seed-lots": "?crop={lot_crop}",
    "/trays": "?kind=cells",
    "/log/entries": "?kind=sown",
}


@pytest.fixture
def values(engine):
    values = fill(engine)
    with Session(engine) as session:
        values["lot_crop"] = session.get_one(rows.SeedLot, values["seed_lot_id"]).crop_id
        box = rows.container(session, "Other box")
        for number, (crop, plants) in enumerate([("Leek", 5), ("Beet", 40), ("Chard", 17)]):
            card = rows.crop(session, crop, box=box)
            grower = rows.grower(session, f"Grower {9 - number}", plot=f"{number + 8}")
            rows.sowing(session, grower, card, f"S-9{number}", plants=plants)
            rows.seed_lot(session, card, name=f"Packet {number}", germination=(None, 0.9, 0.5)[number])
        session.commit()
    return values


def column(page, words):
    """Return what stands in the column with this head, row by row, as a reader sees it."""
    table = page.all("table")[0]
    heads = [th for th in page.all("th") if th.within("thead") and th.within("table") is table]
    at = next(index for index, th in enumerate(heads) if th.text.strip(" ↑↓") == words)
    body = [tr for tr in page.all("tr") if tr.within("tbody") and tr.within("table") is table]
    cells = [[cell for cell in page.all("th", "td") if cell.within("tr") is tr] for tr in body]
    return [" ".join(row[at].text.split()) for row in cells]


def links_of(page):
    """Return the address of each head by its words."""
    return {
        a.text.strip(" ↑↓"): a.attributes["href"] for a in page.all("a") if a.within("thead") and a.has_class("sort")
    }


def number_of(text):
    return int(re.match(r"\d+", text.replace(",", ""))[0])


def test_every_head_orders_the_list_both_ways_and_says_so(client, values):
    for address in LISTS:
        turn_each_head(client, address)


def turn_each_head(client, address):
    page = read_page(client.get(address).text)
    heads = links_of(page)
    assert len(heads) >= 3
    for words in heads:
        seen = set()
        link = links_of(read_page(client.get(address).text))[words]
        for _ in range(2):
            shown = read_page(client.get(link).text)
            [marked] = [th for th in shown.all("th") if "aria-sort" in th.attributes]
            assert marked.text.strip(" ↑↓") == words
            seen.add(marked.attributes["aria-sort"])
            link = links_of(shown)[words]
        assert seen == {"ascending", "descending"}


FIGURES_AND_NAMES = (
    ("/growers", "Grower", str.casefold),
    ("/growers", "Plants", number_of),
    ("/growers", "Sowings", number_of),
    ("/sowings", "Key", str),
    ("/sowings", "Grower", str.casefold),
    ("/sowings", "Plants", number_of),
    ("/seed-lots", "Seed lot", str.casefold),
    ("/seed-lots", "Sowings", number_of),
    ("/trays", "Tray", lambda text: number_of(text.removeprefix("Tray "))),
    ("/trays", "Cells", number_of),
)


def test_rows_come_in_the_order_that_is_said(client, values):
    for address, words, value in FIGURES_AND_NAMES:
        turn_twice(client, address, words, value)


def turn_twice(client, address, words, value):
    for _ in range(2):
        link = links_of(read_page(client.get(address).text))[words]
        page = read_page(client.get(link).text)
        [marked] = [th for th in page.all("th") if "aria-sort" in th.attributes]
        found = [value(text) for text in column(page, words)]
        assert found == sorted(found, reverse=marked.attributes["aria-sort"] == "descending")
        assert len(found) > 1
        address = link


def test_dates_of_the_plan_order_sowings_and_none_come_last(client, values):
    for way in ("on", "-on"):
        texts = column(read_page(client.get(f"/sowings?sort={way}").text), "Sow on")
        days = [re.search(r"(\d+) (\w+)", text) for text in texts]
        order = [("JanFebMarAprMayJunJulAugSepOctNovDec".index(day[2][:3]), int(day[1])) for day in days if day]
        assert order == sorted(order, reverse=way.startswith("-"))
        assert all(day is None for day in days[len(order) :])


def test_values_that_are_missing_come_last_either_way(client, values):
    for way in ("stated", "-stated"):
        found = column(read_page(client.get(f"/seed-lots?sort={way}").text), "Stated")
        assert found[-1] == "–"
        figures = [number_of(text) for text in found if text != "–"]
        assert figures == sorted(figures, reverse=way.startswith("-"))


def test_filter_and_order_keep_each_other_and_can_be_left(client, values):
    for address, filtered in LISTS.items():
        filter_and_order(client, values, address, filtered)


def filter_and_order(client, values, address, filtered):
    asked = dict(parse_qsl(filtered.format(**values).lstrip("?")))
    page = read_page(client.get(address + filtered.format(**values)).text)
    for link in links_of(page).values():
        assert asked.items() <= dict(parse_qsl(urlsplit(link).query)).items()
    sorted_by = dict(parse_qsl(urlsplit(next(iter(links_of(page).values()))).query))["sort"]
    both = read_page(client.get(address, query_string=asked | {"sort": "-" + sorted_by.lstrip("-")}).text)
    kept = [e.attributes["value"] for e in both.all("input") if e.attributes.get("name") == "sort"]
    assert kept == ["-" + sorted_by.lstrip("-")]
    [clear] = [a.attributes["href"] for a in both.all("a") if a.text == "Show all"]
    assert dict(parse_qsl(urlsplit(clear).query)) == {"sort": kept[0]}


def test_pages_of_a_list_keep_its_order(client, engine, values):
    with Session(engine) as session:
        for number in range(210):
            rows.grower(session, f"Neighbour {number:03d}")
        session.commit()
    text = client.get("/growers?sort=-name&q=neighbour").text
    assert column(read_page(text), "Grower")[0] == "Neighbour 209"
    following = re.search(r'rel="next" href="([^"]+)"', text)[1].replace("&amp;", "&")
    assert column(read_page(client.get(following).text), "Grower") == [f"Neighbour {n:03d}" for n in range(9, -1, -1)]


def test_what_was_saved_is_in_view(client, values):
    """The answer leads to the row itself, and the row is there."""
    for address in (
        f"/shelves/{values['shelf_id']}/edit",
        f"/containers/{values['container_id']}/edit",
        f"/seed-lots/{values['seed_lot_id']}/edit",
        f"/sowings/{values['sowing_id']}/edit",
        f"/people/{values['account_id']}/edit",
    ):
        answer = client.post(address, data=form_values(client.get(address).text))
        assert answer.status_code == 302, address
        path, _, anchor = answer.headers["Location"].partition("#")
        rows_there = [e.tag for e in read_page(client.get(path).text).elements if e.attributes.get("id") == anchor]
        assert rows_there == ["tr"], address


NO_ORDERS = ("", "-", "--name", "name;", "id", "\0", "' OR 1=1 --", "a" * 5000, "-stated,", "__class__")


def test_an_order_that_there_is_not_is_the_usual_one(client, values):
    for address in LISTS:
        usual = read_page(client.get(address).text)
        for sort in NO_ORDERS:
            other = read_page(client.get(address, query_string={"sort": sort}).text)
            heads = [[th.text for th in page.all("th") if "aria-sort" in th.attributes] for page in (usual, other)]
            assert heads[0] == heads[1]


def test_the_order_can_be_chosen_where_heads_are_hidden(client, values):
    """On a phone rows are blocks without heads: the same links stand above them."""
    for address in LISTS:
        page = read_page(client.get(address).text)
        choice = [a for a in page.all("a") if (nav := a.within("nav")) and nav.has_class("sorting")]
        assert [a.attributes["href"] for a in choice] == list(links_of(page).values())
        assert len([a for a in choice if a.attributes.get("aria-current")]) == 1
