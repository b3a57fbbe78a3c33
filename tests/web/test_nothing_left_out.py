"""No page says a word that is not to be translated, but what the garden's people wrote.

Pages are asked for in a made-up language, which puts every word that is marked between two signs, and what is filled in
outside of them. What stands there is a name, a figure, a unit, or a day; anything else was left out.
"""

import re
from dataclasses import asdict
from html.parser import HTMLParser

import pytest
from babel import Locale
from babel.support import NullTranslations
from sqlalchemy import String, select
from sqlalchemy.orm import Session

from app import language
from app.language import LANGUAGES
from app.storage.base import Base
from app.storage.published import names_in
from app.web import languages
from app.web.guides import NAMES, read_guide
from app.web.views import labels, people, printing, sheets
from tests.web.everything import addresses, fill
from tests.web.pages import VOID

OPEN, CLOSE = "\N{MATHEMATICAL LEFT WHITE SQUARE BRACKET}", "\N{MATHEMATICAL RIGHT WHITE SQUARE BRACKET}"
READ_ALOUD = ("aria-label", "aria-description", "alt", "placeholder", "title", "data-label", "label")
SILENT = {"script", "style", "code"}
# Its page is made for a program, is a guide, which says in which language it is, or takes words apart as if pasted.
NO_PAGES = {"guide.show", "health.index", "bring_in.index"}
SPOKEN = "fr"  # the made-up language comes in place of it
# Signs and short forms that are the same in every language.
SIGNS = {
    "CSV", "PDF", "PIN", "QR", "SMTP", "TLS", "STARTTLS", "Wi-Fi", "PPFD", "DLI", "Traymates", "kWh", "Wh", "mol",
    "µmol", "mm", "cm", "m²", "ml", "min",
    "kg", "g", "h", "m", "L", "l", "kB", "MB", "GB", "W", "C", "F", "K", "s", "x", "d", "p", "A", "A4",
    *LANGUAGES.values(),
}  # fmt: skip
# Parts of a sheet's contents that are no words: keys and drawings.
DRAWN = {"kind", "key", "place", "path", "address", "code"}
# What stands on pages besides: faults as they were written down, the name that takes a person's place, a file's path.
ALLOWED = {
    "backups.index": {"is", "left", "no", "of", "page", "text"},
    "next_season.index": {"season", "sqlite"},
    "people.erase_person": {"Plot"},
}
FILLED = re.compile(r"%\(\w+\)[0-9.]*[a-z]|\{\w+\}")
PATH = re.compile(r"(?:/[\w.-]+){2,}")
WORD = re.compile(r"[^\W\d_]+(?:[-’'][^\W\d_]+)*")


class Marking(NullTranslations):
    """Says everything between two signs, but what is filled in."""

    def gettext(self, message):
        return f"{OPEN}{FILLED.sub(lambda found: CLOSE + found.group() + OPEN, message)}{CLOSE}"

    def ngettext(self, one, many, count):
        return self.gettext(one if count == 1 else many)

    def pgettext(self, _context, message):
        return self.gettext(message)


class Heard(HTMLParser):
    """Gathers what a page lets people read or hear: its text, and the attributes that are read aloud."""

    def __init__(self, page):
        super().__init__()
        self.said, self._silent = [], 0
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        if self._silent or tag in SILENT or (tag != "html" and given.get("lang", SPOKEN) != SPOKEN):
            self._silent += tag not in VOID
            return
        self.said += [given[name] for name in READ_ALOUD if given.get(name)]
        if tag == "input" and given.get("type") in {"submit", "button"}:
            self.said.append(given.get("value", ""))
        self.said.append("\n")

    def handle_endtag(self, _tag):
        self._silent = max(0, self._silent - 1)
        self.said.append("\n")

    def handle_data(self, data):
        if not self._silent:
            self.said.append(data)


def unmarked(said):
    """Return what stands outside of the signs; a sign that is left over shows that a sentence was cut."""
    for _twice in range(2):
        said = re.sub(f"{OPEN}[^{OPEN}{CLOSE}]*{CLOSE}", " ", said)
    return said


def typed(engine):
    """Return what finds every text in the database, which people wrote, and the headings of guides."""
    guides = [read_guide(name, SPOKEN) for name in NAMES]
    found = {words for guide in guides for words in (guide.title, *guide.anchors.values())}
    with Session(engine) as session:
        found |= set(names_in(SPOKEN).values())
        for table in Base.metadata.sorted_tables:
            columns = [column for column in table.columns if isinstance(column.type, String)]
            for row in session.execute(select(*columns)) if columns else ():
                found |= {str(value) for value in row if value}
    texts = sorted((text for text in found if WORD.search(text)), key=len, reverse=True)
    return re.compile("|".join(rf"(?<!\w){re.escape(text)}(?!\w)" for text in texts))


def names_of_days():
    """Return the names of months and days in the language, as the library has them."""
    locale = Locale.parse(SPOKEN)
    names = [*locale.months["format"].values(), *locale.days["format"].values()]
    return {word.lower() for one in names for name in one.values() for word in WORD.findall(name)}


@pytest.fixture
def marked(monkeypatch):
    """Put the made-up language in place of French."""
    marking = Marking()
    for module in (language, languages):
        monkeypatch.setattr(module, "catalogue", lambda _code: marking)


def left_out(said, known, days):
    """Return the words of a text that nothing explains, and what is around a sign that is left over."""
    said = unmarked(said)
    cut = [said[max(0, at - 30) : at + 60] for at in (said.find(OPEN), said.find(CLOSE)) if at >= 0]
    words = WORD.findall(known.sub(" ", PATH.sub(" ", said)))
    return cut + sorted({word for word in words if word not in SIGNS and word.lower() not in days and len(word) > 1})


def words_in(value):
    """Yield every text of a sheet's contents, but what is a key, a drawing or an address."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for name, part in value.items():
            if name not in DRAWN:
                yield from words_in(part)
    elif isinstance(value, list | tuple):
        for part in value:
            yield from words_in(part)


def test_no_text_of_a_page_is_left_out(app, client, engine, marked):
    ids = fill(engine)
    known, days = typed(engine), names_of_days()
    found = {}
    for endpoint, address in addresses(app, ids, "GET").items():
        answer = client.get(address, headers={"Accept-Language": SPOKEN})
        if endpoint not in NO_PAGES and answer.mimetype == "text/html" and answer.status_code == 200:
            words = left_out("".join(Heard(answer.text).said), known, days)
            found |= {endpoint: rest} if (rest := sorted(set(words) - ALLOWED.get(endpoint, set()))) else {}
    assert found == {}


def test_no_text_of_a_sheet_is_left_out(app, client, engine, marked, monkeypatch):
    ids = fill(engine)
    known, days = typed(engine), names_of_days()
    made, found = [], {}
    for view in (sheets, labels, printing, people):
        monkeypatch.setattr(view, "make_pdf", lambda _template, sheet, _paper: made.append(sheet) or b"%PDF-")
    for endpoint, address in addresses(app, ids, "GET").items():
        if endpoint.rpartition(".")[2].endswith(("pdf", "door", "frame")):
            made.clear()
            asked = {"stock": f"own-{ids['stock_id']}", "language": SPOKEN}
            client.get(address, query_string=asked, headers={"Accept-Language": SPOKEN})
            assert made, (endpoint, address)
            words = left_out("\n".join(words_in(asdict(made[0]))), known, days)
            found |= {endpoint: rest} if (rest := sorted(set(words) - ALLOWED.get(endpoint, set()))) else {}
    assert found == {}


def test_a_word_that_is_left_out_is_found():
    nobody = re.compile("Ada Brandt")
    said = f"{OPEN}Sown by {CLOSE}Ada Brandt{OPEN} on {CLOSE}lun. 5 avr., CSV"
    assert left_out(said, nobody, names_of_days()) == []
    assert left_out(f"{said} today", nobody, names_of_days()) == ["today"]
    assert left_out(f"{OPEN}Sown by Ada", nobody, set()) != []
