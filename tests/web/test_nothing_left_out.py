"""No page says a word that is not to be translated, but what the garden's people wrote.

Pages are asked for in a made-up language, which puts every word that is marked between two signs, and what is filled in
outside of them. What stands there is a name, a figure, a unit, or a day; anything else was left out.
"""

import re
from html.parser import HTMLParser

import pytest
from babel import Locale
from babel.support import NullTranslations
from sqlalchemy import String, select
from sqlalchemy.orm import Session

from app import language
from app.language import LANGUAGES
from app.storage.base import Base
from app.web import languages
from app.web.guides import NAMES, read_guide
from tests.web.everything import addresses, fill
from tests.web.pages import VOID

OPEN, CLOSE = "\N{MATHEMATICAL LEFT WHITE SQUARE BRACKET}", "\N{MATHEMATICAL RIGHT WHITE SQUARE BRACKET}"
READ_ALOUD = ("aria-label", "aria-description", "alt", "placeholder", "title", "data-label", "label")
SILENT = {"script", "style", "code"}
# Its page is made for a program, or is a guide, which says in which language it is.
NO_PAGES = {"guide.show", "health.index"}
SPOKEN = "fr"  # the made-up language comes in place of it
# Signs and short forms that are the same in every language.
SIGNS = {
    "CSV", "PDF", "PIN", "QR", "SMTP", "TLS", "STARTTLS", "Wi-Fi", "PPFD", "DLI", "Traymates", "kWh", "Wh", "mol",
    "µmol", "mm", "cm", "m²", "ml", "min",
    "kg", "g", "h", "m", "L", "l", "kB", "MB", "GB", "W", "C", "F", "K", "s", "x", "d", "p", "A", "A4",
    *LANGUAGES.values(),
}  # fmt: skip
FILLED = re.compile(r"%\(\w+\)[0-9.]*[a-z]|\{\w+\}")
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
    return re.sub(f"{OPEN}[^{OPEN}{CLOSE}]*{CLOSE}", " ", said)


def typed(engine):
    """Return what finds every text in the database, which people wrote, and the headings of guides."""
    found = {words for name in NAMES for words in read_guide(name, SPOKEN).anchors.values()}
    with Session(engine) as session:
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


def left_out(page, known, days):
    """Return the words of a page that nothing explains."""
    said = unmarked("".join(Heard(page).said))
    words = WORD.findall(known.sub(" ", said))
    cut = [said[max(0, at - 30) : at + 60] for at in (said.find(OPEN), said.find(CLOSE)) if at >= 0]
    return cut + sorted({word for word in words if word not in SIGNS and word.lower() not in days and len(word) > 1})


def test_no_text_of_a_page_is_left_out(app, client, engine, marked):
    ids = fill(engine)
    known, days = typed(engine), names_of_days()
    found = {}
    for endpoint, address in addresses(app, ids, "GET").items():
        if endpoint in NO_PAGES:
            continue
        answer = client.get(address, headers={"Accept-Language": SPOKEN})
        if answer.mimetype == "text/html" and answer.status_code == 200:
            words = left_out(answer.text, known, days)
            if words:
                found[endpoint] = words
    assert found == {}
