"""Help: guides as pages, the help line that leads there, and the way back of every page."""

import html
import re
from collections import Counter
from urllib.parse import urlsplit

import pytest

from app.core.words import Role
from app.web import guides
from app.web.guides import NAMES, Guide, list_pictures, read_guide
from tests.people import sign_in_as
from tests.web.everything import addresses, fill
from tests.web.pages import read_page

HOSTILE = """# Title <b>bold</b>

Words <script>alert(1)</script> and [a link](javascript:alert(1)), [one](http://elsewhere.example/x),
[up](../../secret.md), [file](operations/nginx.conf), ![far](http://elsewhere.example/x.png) ![out](../static/mark.svg)
![none](pictures/none.png) and "quotes' &amp; `<code>`.

<div onclick="x">raw</div>

## Ünïcode & “quotes”

## Ünïcode & “quotes”

| *a* | b |
|---|---|
| **<i>** | x |
"""


_read = {}


@pytest.fixture
def pages(app, client, engine):
    """Return each page of a garden that has something of every kind, as a coordinator sees it, by endpoint."""
    return _read.get(engine.dialect.name) or _read.setdefault(engine.dialect.name, read_all(app, client, engine))


def read_all(app, client, engine):
    values = fill(engine)
    found = {}
    for endpoint, address in addresses(app, values, "GET").items():
        answer = client.get(address)
        if answer.mimetype == "text/html" and answer.status_code == 200:
            found[endpoint] = read_page(answer.text)
    return found


def trail_of(page):
    return [a for a in page.all("a") if (nav := a.within("nav")) and nav.attributes.get("aria-label") == "Way back"]


@pytest.mark.parametrize("name", NAMES)
def test_every_link_of_a_guide_leads_to_a_page_and_a_place_that_are_there(visitor, name):
    answer = visitor.get(f"/help/{name}")
    assert answer.status_code == 200
    page = read_page(answer.text)
    main = [a.attributes["href"] for a in page.all("a") if a.within("main")]
    for link in main:
        target = urlsplit(link)
        if target.path:
            other = visitor.get(target.path)
            assert other.status_code in {200, 302}, link
        ids = {e.attributes.get("id") for e in (read_page(other.text) if target.path else page).elements}
        assert not target.fragment or target.fragment in ids, link
    assert all(visitor.get(image.attributes["src"]).status_code == 200 for image in page.all("img"))
    assert all(image.attributes["alt"] for image in page.all("img"))


def test_what_a_guide_shows_is_what_its_file_says(visitor):
    """The words of the file without its marks, by an independent reading of it: none is lost on the way."""
    text = (guides.DOCS / "coordinator.md").read_text()
    bare = re.sub(r"!\[[^]]*\]\([^)]*\)|^\s*\|?[-| ]+\|$|\]\([^)]*\)", " ", text, flags=re.MULTILINE)
    words = re.findall(r"\w+", bare)
    main = visitor.get("/help/coordinator").text.partition("<main")[2].partition("</main")[0]
    shown = Counter(re.findall(r"\w+", html.unescape(re.sub(r"<[^>]+>", " ", main))))
    numbers = {"1", "2", "3", "4", "5"}  # of lists, which the browser writes
    assert {word: n for word, n in Counter(words).items() if shown[word] < n and word not in numbers} == {}


def test_nothing_in_a_file_becomes_markup(visitor, tmp_path, monkeypatch):
    """OWASP ASVS 5.0.0, 1.3.5: of a markup language comes through what is named, with addresses inside the program."""
    (tmp_path / "member.md").write_text(HOSTILE)
    monkeypatch.setattr(guides, "DOCS", tmp_path)
    read_guide.cache_clear()
    try:
        text = visitor.get("/help/member").text
        page = read_page(text)
        inside = [e for e in page.elements if e.within("main")]
        assert {e.tag for e in inside} <= {
            "h1", "h2", "p", "a", "code", "table", "caption", "thead", "tbody", "tr", "th", "td", "em", "strong", "div",
        }  # fmt: skip
        assert not any(name.startswith("on") for e in inside for name in e.attributes)
        assert [a.attributes["href"] for a in inside if a.tag == "a"] == []
        assert "elsewhere.example" not in text
        assert "&lt;script&gt;alert(1)&lt;/script&gt;" in text
        assert [e.attributes["id"] for e in inside if e.tag == "h2"] == ["ünïcode--quotes", "ünïcode--quotes-1"]
    finally:
        read_guide.cache_clear()


@pytest.mark.parametrize(
    "address",
    [
        "/help/none", "/help/README", "/help/..", "/help/decisions", "/help/security", "/help/member.md",
        "/help/%2e%2e%2fREADME", "/help/pictures/..%2fmember.md", "/help/pictures/none.png", "/help/pictures/",
        "/help/%00",
    ],
)  # fmt: skip
def test_nothing_but_guides_and_their_pictures_is_handed_out(visitor, address):
    assert visitor.get(address).status_code == 404


def test_pictures_are_handed_out_as_such(visitor):
    for name in list_pictures():
        answer = visitor.get(f"/help/pictures/{name}")
        assert answer.mimetype == "image/png"
        assert answer.data.startswith(b"\x89PNG\r\n\x1a\n")


def test_pages_go_on_where_the_guides_are_not_installed(client, engine, tmp_path, monkeypatch):
    fill(engine)
    monkeypatch.setattr(guides, "DOCS", tmp_path)
    read_guide.cache_clear()
    try:
        assert client.get("/growers").status_code == 200
        assert client.get("/help").status_code == 200
        assert "not here" in client.get("/help/member").text
    finally:
        read_guide.cache_clear()


def test_every_page_has_a_help_line_or_is_help_itself(pages):
    without = []
    for endpoint, page in pages.items():
        lines = [a for a in page.all("a") if a.within("aside") and a.within("aside").has_class("help-line")]
        if not lines:
            without.append(endpoint)
        for line in lines:
            path, _, anchor = line.attributes["href"].partition("#")
            assert anchor in read_guide(path.removeprefix("/help/")).anchors, endpoint
    assert set(without) <= {"guide.index", "guide.show", "search.index"}
    assert len(pages) > 80


def test_members_are_led_to_their_own_guide(app, client, engine):
    values = fill(engine)
    member = app.test_client()
    sign_in_as(member, "Ines Moreau", Role.MEMBER, values["grower_id"])
    assert "/help/member#see-what-is-due" in member.get("/").text
    assert "/help/coordinator#this-week" in client.get("/").text


def test_way_back_of_every_inner_page_leads_to_pages_above_it(app, client, engine):
    inner, pages = 0, read_all(app, client, engine)
    for endpoint, page in pages.items():
        steps = trail_of(page)
        inner += bool(steps)
        for step in steps:
            assert client.get(step.attributes["href"]).status_code == 200, endpoint
            assert step.text.strip()
            assert "None" not in step.text
    assert inner > 55
    assert [a.text for a in trail_of(pages["growers.edit"])] == ["Growers", "Odile Keel"]
    assert [a.text for a in trail_of(pages["seed_lots.delete_test"])][:2] == ["Crop cards", "Seed lots"]
    assert len(trail_of(pages["seed_lots.delete_test"])) == 3
    assert [a.text for a in trail_of(pages["people.erase_person"])] == ["Set-up", "People", "Ilse Varga"]
    assert trail_of(pages["week.index"]) == []


def test_way_back_names_only_what_its_reader_may_open(app, engine):
    values = fill(engine)
    member = app.test_client()
    sign_in_as(member, "Ines Moreau", Role.MEMBER, values["grower_id"])
    assert trail_of(read_page(member.get(f"/growers/{values['grower_id']}").text)) == []
    assert [a.text for a in trail_of(read_page(member.get(f"/shelves/{values['shelf_id']}").text))] == ["Shelves"]


def test_a_page_that_is_gone_still_shows_the_way_back(client, engine):
    fill(engine)
    answer = client.get("/growers/987654/edit")
    assert [a.text for a in trail_of(read_page(answer.text))] == ["Growers"]


def test_the_menu_marks_where_a_page_belongs(pages):
    for endpoint, words in (
        ("shelves.edit", "Set-up"),
        ("trays.move", "Trays"),
        ("deal.index", "Trays"),
        ("log.correct", "Log"),
    ):
        [marked] = [a for a in pages[endpoint].all("a") if a.attributes.get("aria-current")]
        assert marked.text == words
    assert [a for a in pages["account.index"].all("a") if a.attributes.get("aria-current")] == []


def test_titles_of_pages_are_their_own(pages):
    """WCAG 2.2, 2.4.2: the title tells one page from another; of pages with their own object here there is one each."""
    titles = Counter(page.all("title")[0].text for page in pages.values())
    assert [title for title, count in titles.items() if count > 1] == []


def test_every_page_can_be_walked_with_the_keyboard(pages):
    """WCAG 2.2, 2.4.1, 2.4.3 and 2.1.1: a skip link comes first, and the order is that of the page."""
    for endpoint, page in pages.items():
        first = next(e for e in page.elements if e.tag in {"a", "button", "input"} and e.within("body"))
        assert first.has_class("skip"), endpoint
        assert first.attributes["href"] == "#main"
        assert [e.attributes["id"] for e in page.all("main")] == ["main"]
        for element in page.elements:
            assert int(element.attributes.get("tabindex") or 0) <= 0, endpoint
            assert "accesskey" not in element.attributes, endpoint


def test_a_guide_is_read_once():
    read_guide.cache_clear()
    assert isinstance(read_guide("member"), Guide)
    assert read_guide("member") is read_guide("member")
