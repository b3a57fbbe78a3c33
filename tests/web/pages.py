"""The rules that every page keeps, checked on its HTML.

`check_page(html)` raises AssertionError with all that is broken. The `client` fixture of this folder calls it
on every HTML answer, so no test of a page has to think of it.
"""

import re
from collections import Counter
from dataclasses import dataclass, field
from functools import lru_cache
from html.parser import HTMLParser

VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}
INPUTS = {"input", "select", "textarea"}
UNLABELLED_TYPES = {"hidden", "submit", "button"}
WITHOUT_KEY = (
    "/sign-in",
    "/sign-out",
    "/language",
    "/slips/",
    "/account/sign-out-everywhere",
    "/people/slips",
    "/calendar/address",
    "/setup/mail/test",
    "/bench/",
    "/first-steps/clear",
)
OWN_SCRIPT = re.compile(r"(/[^/]+)*/static/waiting\.js\?v=")
REFERENCES = ("aria-describedby", "aria-labelledby", "for")


@dataclass(eq=False)
class Element:
    tag: str
    attributes: dict[str, str | None]
    parents: tuple["Element", ...]
    pieces: list[str] = field(repr=False)  # of the whole page's text
    begin: int
    end: int | None = None

    @property
    def text(self):
        """The words inside, those of the elements in it included."""
        return "".join(self.pieces[self.begin : self.end])

    def within(self, tag):
        return next((parent for parent in self.parents if parent.tag == tag), None)

    def has_class(self, name):
        return name in (self.attributes.get("class") or "").split()


@dataclass
class Page(HTMLParser):
    """Every element of a page with its attributes, parents and text; and what was wrong in reading it."""

    elements: list[Element] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    open: list[Element] = field(default_factory=list)
    pieces: list[str] = field(default_factory=list)
    declared: str = ""

    def __post_init__(self):
        super().__init__()

    def handle_decl(self, decl):
        self.declared = decl.lower()

    def handle_starttag(self, tag, attrs):
        names = [name for name, _ in attrs]
        if len(names) != len(set(names)):
            self.faults.append(f"<{tag}> has an attribute twice")
        element = Element(tag, dict(attrs), tuple(self.open), self.pieces, len(self.pieces))
        self.elements.append(element)
        if tag in VOID:
            element.end = element.begin
        else:
            self.open.append(element)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.close_last()

    def handle_endtag(self, tag):
        if not self.open or self.open[-1].tag != tag:
            self.faults.append(f"</{tag}> closes {self.open[-1].tag if self.open else 'nothing'}")
            return
        self.close_last()

    def close_last(self):
        self.open.pop().end = len(self.pieces)

    def handle_data(self, data):
        self.pieces.append(data)

    def all(self, *tags):
        return [element for element in self.elements if element.tag in tags]


@lru_cache(maxsize=8)  # whoever asks for something on a page has it read that has just been checked
def read_page(html):
    page = Page()
    page.feed(html)
    page.close()
    page.faults.extend(f"<{element.tag}> is never closed" for element in page.open)
    return page


def check_page(html, *, protected=True):
    """Raise AssertionError with every rule that the page breaks.

    Args:
        html: The whole page.
        protected: Whether forms that change something must carry their token.
    """
    page = read_page(html)
    rules = (headings, ids, references, policy, labels, tables)
    faults = [*page.faults, *(fault for rule in rules for fault in rule(page))]
    if protected:
        faults.extend(tokens(page))
    if faults:
        raise AssertionError("\n".join(faults))


def headings(page):
    if page.declared != "doctype html":
        yield "the page does not begin with <!doctype html>"
    if not all(element.attributes.get("lang") for element in page.all("html")):
        yield "<html> has no lang"
    if len(page.all("main")) != 1:
        yield f"{len(page.all('main'))} <main>, not one"
    heads = [" ".join(element.text.split()) for element in page.all("h1")]
    titles = [" ".join(element.text.split()) for element in page.all("title") if not element.within("svg")]
    if len(heads) != 1 or not heads[0]:
        yield f"{len(heads)} <h1>, not one with words: {heads}"
    elif len(titles) != 1 or not titles[0].startswith(heads[0]):
        yield f"the title {titles} does not begin with the heading {heads[0]!r}"


def ids(page):
    found = Counter(element.attributes["id"] for element in page.elements if "id" in element.attributes)
    for name in sorted(name for name, times in found.items() if times > 1):
        yield f"the id {name!r} stands twice"


def references(page):
    found = {element.attributes.get("id") for element in page.elements}
    for element in page.elements:
        for attribute in REFERENCES:
            for name in (element.attributes.get(attribute) or "").split():
                if name not in found:
                    yield f"<{element.tag} {attribute}={name!r}> leads to nothing"
        address = element.attributes.get("href") or ""
        if element.tag == "a" and address.startswith("#") and address[1:] not in found:
            yield f"<a href={address!r}> leads to nothing"


def policy(page):
    for element in page.elements:
        own = element.tag == "script" and OWN_SCRIPT.match(element.attributes.get("src") or "") and not element.text
        if (element.tag in {"style", "script"} and not own) or "style" in element.attributes:
            yield f"<{element.tag}> holds an inline style or script"
        for name in element.attributes:
            if name.startswith("on"):
                yield f"<{element.tag} {name}> is an inline script"


def labels(page):
    labelled = {element.attributes.get("for") for element in page.all("label")}
    for element in page.all(*INPUTS):
        if element.attributes.get("type") in UNLABELLED_TYPES:
            continue
        named = (
            element.attributes.get("id") in labelled or element.within("label") or "aria-label" in element.attributes
        )
        if not named:
            yield f"<{element.tag} name={element.attributes.get('name')!r}> has no label"
    for element in page.all("a", "button"):
        if not element.text.strip() and not element.attributes.get("aria-label"):
            yield f"<{element.tag}> has no words: {element.attributes}"


def tables(page):
    captioned = {id(element.within("table")) for element in page.all("caption") if element.text.strip()}
    for table in page.all("table"):
        if id(table) not in captioned:
            yield "a table has no caption"
    for cell in page.all("th"):
        if not cell.attributes.get("scope"):
            yield f"<th>{cell.text.strip()}</th> has no scope"
    for element in page.all("tr", "th", "td"):
        table = element.within("table")
        if table is None or not table.has_class("stack"):
            continue
        if not element.attributes.get("role"):
            yield f"<{element.tag}> of a stacked table has no role: {element.text.strip()[:40]!r}"
        if element.tag == "td" and element.text.strip() and not element.attributes.get("data-label"):
            yield f"<td> of a stacked table has no data-label: {element.text.strip()[:40]!r}"


def tokens(page):
    for name in ("csrf_token", "key"):
        having = {id(element.within("form")) for element in page.all("input") if element.attributes.get("name") == name}
        for form in page.all("form"):
            is_posted = (form.attributes.get("method") or "get").lower() == "post"
            if is_posted and id(form) not in having and not (name == "key" and is_without_key(form)):
                yield f"a form that is posted has no {name}: {form.attributes}"


def is_without_key(form):
    """Return whether a form needs no key, as the table of those in app/web/once.py says by their endpoints."""
    return (form.attributes.get("action") or "").startswith(WITHOUT_KEY)
