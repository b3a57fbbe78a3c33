"""What the guides promise is there: headings, page names, commands, pictures; and a help line on every page."""

import re
from collections import Counter

import pytest

from app.cli import main
from app.language import LANGUAGES, _, speaking
from app.web import guides
from app.web.context import MENU
from app.web.guides import NAMES, PICTURES, UP_TO, list_pictures, read_guide
from app.web.topics import TOPICS, topic_of
from app.web.trails import ABOVE, BELOW, STEPS
from tests.browser.guide_pictures import PICTURES as MADE
from tests.rules.tree import ROOT, texts
from tests.web.access_table import TABLE

DOCS = ROOT / "docs"
WITH_PAGE_NAMES = ("coordinator", "member", "shed")  # in which every word in italics is one of the program's
HEAVIEST_BYTES = 80_000
MOST_PICTURES = 10
# What is no page: files, and addresses that lead on.
NO_PAGES = {
    "static", "health.index", "feeds.feed", "feeds.of_garden", "feeds.of_grower", "account.export",
    "account.export_changes", "backups.download", "connect.door", "next_season.folder", "printing.frame",
    "trays.short", "guide.picture",
}  # fmt: skip
IS_FILE = re.compile(r"(?:^|[._])(?:csv|pdf)$")
ALONE = {
    "week.index",
    "account.index",
    "search.index",
    "sign_in.index",
    "sign_in.sign_out",
    "language.index",
    "sign_in.slip",
    "setup.new",
}
ALONE |= {"bench.index", "guide.index"}
PAGES = sorted(
    endpoint
    for endpoint, method in TABLE
    if method == "GET" and endpoint not in NO_PAGES and not IS_FILE.search(endpoint)
)
HELP = {"guide.index", "guide.show", "search.index"}  # that need no help line


def text_of(name):
    text = (DOCS / f"{name}.md").read_text()
    return text.partition(f"## {UP_TO[name]}")[0] if name in UP_TO else text


def in_italics(text):
    return re.findall(r"(?<!\*)\*(?!\*)([^*]+)\*(?!\*)", re.sub(r"^\* ", "", text, flags=re.MULTILINE))


def figures_of(text):
    """Digits of each figure, whichever marks stand between them."""
    return sorted(re.sub(r"\D", "", figure) for figure in re.findall(r"\d+(?:[.,\u00a0\u202f]\d+)*", text))


@pytest.mark.parametrize("name", NAMES)
def test_links_of_a_guide_lead_to_a_heading_that_is_there(name):
    for file, anchor in re.findall(r"\]\(([\w-]+)?(?:\.md)?#([^)]+)\)", text_of(name)):
        assert anchor in read_guide(file or name).anchors, f"{name}: {file}#{anchor}"


def test_headings_are_linked_to_as_code_forges_do():
    """From memory, as most of them do: small letters, no punctuation, hyphens for blanks, numbers for the same."""
    anchors = read_guide("coordinator").anchors
    assert anchors["page-by-page"] == "Page by page"
    assert anchors["january-ask-look-back-order"] == "January: ask, look back, order"
    assert "phones-on-the-wi-fi" in read_guide("shed").anchors
    assert read_guide("glossary").anchors["over-full"] == "over-full"


@pytest.mark.parametrize("name", WITH_PAGE_NAMES)
def test_page_names_in_a_guide_are_those_on_the_pages(name):
    shown = "\n".join(text for file, text in texts(".html", ".py") if file.startswith("app/"))
    named = set(re.findall(r"(?<!\*)\*([^*\n]+)\*(?!\*)", text_of(name))) - {"italics"}
    assert len(named) >= 5
    missing = [words for words in named if not re.search(rf"[>\"]{re.escape(words)}(?:[<\"{{]|$)", shown, re.MULTILINE)]
    assert missing == []


@pytest.mark.parametrize("name", WITH_PAGE_NAMES)
def test_commands_in_a_guide_exist(name):
    named = re.findall(r"`[^`]*\btraymates ([a-z][a-z-]*)[^`]*`", text_of(name))
    assert set(named) <= set(main.commands)
    assert name != "shed" or {"serve", "check", "restore"} <= set(named)


def test_the_member_s_guide_fits_one_page_of_paper():
    """A page of A4 in 10 pt takes some 60 lines of 90 letters: common practice."""
    lines = sum(
        max(1, -(-len(line) // 90)) for line in re.sub(r"(?<!\n)\n(?![\n#*\d])", " ", text_of("member")).split("\n")
    )
    assert lines <= 60


@pytest.mark.parametrize("path", sorted(DOCS.glob("*.??.md")), ids=lambda path: path.name)
def test_a_guide_in_another_language_has_the_headings_links_and_page_names_of_the_english_one(path):
    name, code, _md = path.name.split(".")
    guide, english = read_guide(name, code), read_guide(name)
    assert guide.language == code
    assert sorted(guide.anchors) == sorted(english.anchors)
    assert not {words for _anchor, words in guide.sections} & {words for _anchor, words in english.sections}
    assert [anchor for anchor, _words in guide.sections] == [anchor for anchor, _words in english.sections]
    text = path.read_text()
    assert len(re.findall(r"^\|", text, re.MULTILINE)) == len(re.findall(r"^\|", text_of(name), re.MULTILINE))
    for pattern in (r"^#+ ", r"\]\(([^)]+)\)", r"^\* ", r"^\d\. "):
        assert re.findall(pattern, text, re.MULTILINE) == re.findall(pattern, text_of(name), re.MULTILINE)
    assert len(in_italics(text)) == len(in_italics(text_of(name)))


@pytest.mark.parametrize("path", sorted(DOCS.glob("*.??.md")), ids=lambda path: path.name)
def test_a_guide_in_another_language_has_the_figures_commands_and_sources_of_the_english_one(path):
    """Nothing that is not words may change on the way: figures, code, addresses, and sources in brackets."""
    text, english = path.read_text(), text_of(path.name.split(".")[0])
    for pattern in (r"`[^`]+`", r"^ {4}\S.*$", r"\[([^],]+)[^]]*\](?!\()", r"\b(?:RFC|CFR)\s+[\d.]*[\da-z]"):
        ours, theirs = (
            [" ".join(words.split()).replace(" ;", ";") for words in re.findall(pattern, t, re.MULTILINE)]
            for t in (text, english)
        )
        assert sorted(ours) == sorted(theirs)
    assert figures_of(text) == figures_of(english)


@pytest.mark.parametrize("path", sorted(DOCS.glob("*.??.md")), ids=lambda path: path.name)
def test_page_names_in_a_guide_in_another_language_are_those_on_the_pages_in_it(path):
    name, code, _md = path.name.split(".")
    italics = r"(?<!\*)\*(?![\s*])([^*]+?)(?<!\s)\*(?!\*)"
    named, english = (
        Counter(" ".join(words.split()) for words in re.findall(italics, text))
        for text in (path.read_text(), text_of(name))
    )
    with speaking(code):
        said = {words: " ".join(_(words).split()) for words in english}
    wrong = [words for words, count in english.items() if said[words] != words and named[said[words]] < count]
    assert wrong == []
    assert name not in WITH_PAGE_NAMES or sum(said[words] != words for words in english) >= 5


@pytest.mark.parametrize("path", sorted(DOCS.glob("*.??.md")), ids=lambda path: path.name)
def test_a_guide_in_another_language_names_pages_and_buttons_as_the_program_does_there(path):
    name, code, _md = path.name.split(".")
    ours = [words.split() for words in in_italics(path.read_text())]
    with speaking(code):
        said = {words: _(words) for words in (" ".join(italic.split()) for italic in in_italics(text_of(name)))}
    named = {english: words for english, words in said.items() if words != english}
    assert name not in WITH_PAGE_NAMES or len(named) >= 5
    assert {english: words for english, words in named.items() if words.split() not in ours} == {}


def test_rows_of_the_glossary_in_another_language_are_linked_to_by_the_english_words_in_brackets(tmp_path, monkeypatch):
    rows = "| **zone** (place) | x |\n| **a (b)** (window (of a sowing)) | x |\n| **DLI** | x |\n| plain (no) | x |\n"
    (tmp_path / "glossary.md").write_text("# Words\n\n## Of the garden\n")
    (tmp_path / "glossary.fr.md").write_text(f"# Mots\n\n## Du jardin\n\n| mot | sens |\n|---|---|\n{rows}")
    monkeypatch.setattr(guides, "DOCS", tmp_path)
    read_guide.cache_clear()
    try:
        assert read_guide("glossary", "fr").anchors == {
            "of-the-garden": "Du jardin", "place": "zone", "window-of-a-sowing": "a (b)", "dli": "DLI",
        }  # fmt: skip
    finally:
        read_guide.cache_clear()


def test_a_guide_that_is_not_in_a_language_is_read_in_english():
    assert read_guide("method", "fr") is read_guide("method", "xx") is read_guide("method")


def test_pictures_are_those_of_the_guides_few_and_light():
    used = {name for guide in NAMES for name in re.findall(r"!\[[^]]+\]\(pictures/([\w-]+\.png)\)", text_of(guide))}
    assert used == set(list_pictures()) == {f"{name}.png" for name in MADE}
    assert len(used) <= MOST_PICTURES
    assert [path.name for path in PICTURES.iterdir() if path.stat().st_size > HEAVIEST_BYTES] == []
    assert list_pictures()["log.png"] == (360, 640)


def test_every_page_is_in_the_menu_or_below_another_one_or_stands_alone_on_purpose():
    menu = {endpoint for group in MENU for endpoint, _ in group}
    assert [page for page in PAGES if page not in menu | set(ABOVE) | ALONE] == []
    assert set(BELOW) == set(STEPS)
    endpoints = {endpoint for endpoint, _ in TABLE}
    assert set(ABOVE) | set(BELOW) <= endpoints
    assert not menu & set(ABOVE)


def test_every_page_has_a_help_line():
    assert [page for page in PAGES if topic_of(page) is None and page not in HELP] == []
    assert set(TOPICS) <= {endpoint for endpoint, _ in TABLE}


@pytest.mark.parametrize("endpoint", TOPICS)
def test_a_help_line_leads_to_a_heading_that_is_there(endpoint):
    topic = TOPICS[endpoint]
    for place in filter(None, (topic.guide, topic.member, topic.caution and f"cautions#{topic.caution}")):
        page, _, anchor = place.partition("#")
        assert [code for code in LANGUAGES if anchor not in read_guide(page, code).anchors] == []
    assert re.fullmatch(r"[A-Z“].+[.]", topic.words)


def test_every_caution_stands_beside_some_page():
    told = {topic.caution for topic in TOPICS.values()}
    assert {anchor for anchor in read_guide("cautions").anchors if anchor.startswith("beside-")} <= told
