"""Searching: what is found, by whom, and what hostile words come to; on both engines."""

import pytest
from sqlalchemy.orm import Session

from app.core.words import Role
from app.services.search import MOST_HITS
from tests import rows
from tests.people import sign_in_as
from tests.web.everything import fill
from tests.web.pages import read_page
from tests.web.test_queries import Statements

pytestmark = pytest.mark.postgres
MOST_QUERIES = 12


@pytest.fixture
def garden(engine):
    """Return ids of a garden of two growers, with names that hold accents and signs."""
    with Session(engine) as session:
        rows.garden(session)
        box = rows.container(session)
        tomato, pepper = rows.crop(session, "Tomato", box=box), rows.crop(session, "Jalapeño pepper", box=box)
        ada = rows.grower(session, "Adéla Novotná", plot="12b")
        ines = rows.grower(session, "Inês O’Brien", plot="7")
        first = rows.sowing(session, ada, tomato, "S-0001", variety="Čudo 100 %")
        other = rows.sowing(session, ines, tomato, "S-0002", variety="Under_score")
        rows.seed_lot(session, pepper, name="Packet of Älva")
        rows.shelf(session, "Søndre vindue")
        session.commit()
        return {"ada": ada.id, "ines": ines.id, "first": first.id, "other": other.id}


def found(client, text):
    """Return the words of each hit, by the kind above it."""
    page = read_page(client.get("/search", query_string={"q": text}).text)
    kind, hits = "", {}
    for element in page.elements:
        if element.tag == "h2":
            kind = element.attributes["id"]
        elif element.tag == "a" and element.within("ul") and element.within("ul").has_class("guides"):
            hits.setdefault(kind, []).append(element.text)
    return hits


def test_names_are_found_whatever_their_capitals_and_accents(client, garden):
    assert found(client, "novotna")["growers"] == ["Adéla Novotná"]
    assert found(client, "NOVOTNÁ")["growers"] == ["Adéla Novotná"]
    assert found(client, "ines o'brien")["growers"] == ["Inês O’Brien"]
    assert found(client, "jalapeno") == {"crops": ["Jalapeño pepper"], "seed-lots": ["Packet of Älva"]}
    assert found(client, "alva")["seed-lots"] == ["Packet of Älva"]
    assert found(client, "sondre")["shelves"] == ["Søndre vindue"]


def test_all_words_have_to_be_in_what_is_found_and_it_is_grouped(client, garden):
    assert found(client, "tomato") == {"sowings": ["S-0001", "S-0002"], "crops": ["Tomato"]}
    assert found(client, "tomato cudo") == {"sowings": ["S-0001"]}
    assert found(client, "S-0002") == {"sowings": ["S-0002"]}
    assert found(client, "plot 12b") == {"growers": ["Adéla Novotná"]}


def test_signs_of_patterns_are_letters_like_others(client, garden):
    assert found(client, "100 %") == {"sowings": ["S-0001"]}
    assert found(client, "r_s") == {"sowings": ["S-0002"]}
    assert found(client, "%") == {"sowings": ["S-0001"]}
    assert found(client, "*") == {}


def test_a_hit_leads_to_its_page_and_a_sowing_to_its_row(client, garden):
    page = read_page(client.get("/search?q=cudo").text)
    [link] = [a.attributes["href"] for a in page.all("a") if a.text == "S-0001"]
    assert link == f"/growers/{garden['ada']}#sowing-{garden['first']}"
    opened = read_page(client.get(link.partition("#")[0]).text)
    assert [e.tag for e in opened.elements if e.attributes.get("id") == f"sowing-{garden['first']}"] == ["tr"]


def test_members_find_what_they_may_see(app, garden):
    member, nobody = app.test_client(), app.test_client()
    sign_in_as(member, "Inês O’Brien", Role.MEMBER, garden["ines"])
    sign_in_as(nobody, "Tom Adler", Role.MEMBER)
    assert found(member, "tomato") == {"sowings": ["S-0002"], "crops": ["Tomato"]}
    assert found(member, "novotna") == {}
    assert found(member, "S-0001") == {}
    assert "Novotn" not in member.get("/search?q=o").text
    assert found(member, "ines")["growers"] == ["Inês O’Brien"]
    assert found(nobody, "tomato") == {"crops": ["Tomato"]}
    assert app.test_client().get("/search?q=tomato").status_code == 302


@pytest.mark.parametrize("typed", ["{}", "tray {}", "Tray{}", "#{}", " 00{} "])
def test_a_tray_s_number_leads_straight_to_the_tray(client, engine, typed):
    number = fill(engine)["number"]
    answer = client.get("/search", query_string={"q": typed.format(number)})
    assert answer.status_code == 302
    assert answer.headers["Location"] == f"/trays/{number}"


def test_a_number_that_no_tray_has_is_said_and_searched_for(client, garden):
    text = client.get("/search?q=100").text
    assert "There is no tray 100" in text
    assert found(client, "100") == {"sowings": ["S-0001"]}


HOSTILE = [
    "", " ", "\0", "a\0b", "'", '"', "'; DROP TABLE grower; --", "%", "_", "\\", "<script>alert(1)</script>",
    "{{ 7*7 }}",
    "../../etc/passwd", "\u202eevil", "\ud800", "\U0001f331", "\U0001d4afomato", "a" * 100_000, "a " * 5_000,
    "\r\nSet-Cookie: x=1",
    "9" * 400, "-1", "0", "1e9", "٣", "NaN", "tray", "#", "\u0301" * 500, "ﷺ" * 80,
]  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE, ids=lambda text: repr(text[:12]))
def test_hostile_words_are_words(client, garden, text):
    """Each is answered with a page that shows it as text, or with nothing found; too long an address is cut."""
    answer = client.get("/search", query_string={"q": text.encode("utf-8", "surrogatepass")})
    assert answer.status_code == 200
    assert "Traceback" not in answer.text
    assert "<script>alert" not in answer.text
    assert "Set-Cookie: x" not in str(answer.headers)


def test_a_long_list_of_hits_shows_the_first_and_counts_the_rest(client, engine, garden):
    with Session(engine) as session:
        for number in range(MOST_HITS + 5):
            rows.grower(session, f"Neighbour {number:02d}")
        session.commit()
    assert len(found(client, "neighbour")["growers"]) == MOST_HITS
    assert f"the first {MOST_HITS} of {MOST_HITS + 5}" in client.get("/search?q=neighbour").text


def test_a_search_takes_few_queries_whatever_the_garden_holds(app, client, engine, garden):
    statements = Statements(app)
    client.get("/search?q=o")
    few = len(statements)
    with Session(engine) as session:
        grower, crop = session.get_one(rows.Grower, garden["ada"]), rows.crop(session, "Oca")
        for number in range(300):
            rows.sowing(session, grower, crop, f"S-1{number:03d}")
        session.commit()
    statements.clear()
    client.get("/search?q=o")
    assert few == len(statements) <= MOST_QUERIES


def test_the_box_stands_in_the_head_of_every_page_of_who_is_signed_in(client, visitor, garden):
    for address in ("/", "/growers", "/setup", "/account"):
        page = read_page(client.get(address).text)
        [box] = [form for form in page.all("form") if form.attributes.get("action") == "/search"]
        assert box.within("header")
        assert box.attributes["role"] == "search"
    assert 'action="/search"' not in visitor.get("/sign-in").text
