"""The guides: Markdown files of docs/ as the pages of Help.

A file is read into pieces, which a template writes out. So whatever stands in a file is escaped like anything else, and
what the template does not know does not come through.
"""

import re
import struct
import unicodedata
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from flask import Flask, url_for
from markdown_it import MarkdownIt
from markdown_it.token import Token

from app.language import ENGLISH, LANGUAGES, N_, _, speaking

DOCS = Path(__file__).resolve().parents[2] / "docs"
PICTURES = DOCS / "pictures"
# Pages of Help by their file in docs/, in the order of its table of contents, with what they are for.
FOR_ALL = (
    ("member", N_("Members: one page to print")),
    ("log", N_("Logging beside the shelves")),
    ("people", N_("Who may do what, and how people come in")),
    ("reminders", N_("Calendar, weekly letters, words to send")),
    ("cautions", N_("Water and electricity, dust, bitter fruit, treated seed, lifting")),
    ("glossary", N_("What the words mean")),
)
FOR_COORDINATORS = (
    ("coordinator", N_("From January to June, week by week, and page by page")),
    ("first-hour", N_("First steps, tables from a spreadsheet, and what was changed together")),
    ("season-end", N_("Looking back, and beginning the next season")),
    ("backups", N_("Copies of everything, and how to put one back")),
    ("shed", N_("Setting up a small computer beside the shelves")),
    ("operations", N_("Settings, starting at boot, PostgreSQL, many gardens")),
    ("method", N_("How every figure is worked out")),
)
NAMES = tuple(name for name, _ in (*FOR_ALL, *FOR_COORDINATORS))
# What a reader of pages needs nothing of, by page: everything from this heading on.
UP_TO = {"glossary": "Names in code and files"}
# A page whose table rows can be linked to by their first words.
WITH_WORDS = "glossary"


class NoGuideError(Exception):
    """There is no page of Help of this name, or its file is missing from this installation."""


@dataclass(frozen=True)
class Guide:
    """A page of Help.

    Attributes:
        name: Its name in the address.
        language: The language that it is in.
        title: Its heading.
        pieces: What follows, for the template; addresses in it lead to pages of Help.
        sections: Anchor and words of each heading of the second level.
        anchors: Words of each heading and each row that can be linked to, by anchor.
    """

    name: str
    language: str
    title: str
    pieces: tuple[Token, ...]
    sections: tuple[tuple[str, str], ...]
    anchors: dict[str, str]


def init_app(app: Flask) -> None:
    """Let templates write out guides."""
    for function, name in ((address_of, "guide_address"), (picture_of, "picture_of"), (picture_size, "picture_size")):
        app.add_template_global(function, name)


def slug_of(words: str) -> str:
    """Return the anchor of a heading: small letters, digits and hyphens, as code forges make them (common practice)."""
    kept = (
        letter for letter in unicodedata.normalize("NFC", words.strip().lower()) if letter.isalnum() or letter in " -_"
    )
    return "".join(kept).replace(" ", "-")


@cache
def read_guide(name: str, language: str = ENGLISH) -> Guide:
    """Return a page of Help; its file is read once.

    A page in another language has its headings in the order of the English one, and their anchors.

    Args:
        name: Its name in the address.
        language: The language wished for; where the page is not in it, it is in English.

    Raises:
        NoGuideError: There is none.
    """
    if name not in NAMES:
        raise NoGuideError(name)
    if language != ENGLISH:
        path = DOCS / f"{name}.{language}.md"
        if language not in LANGUAGES or not path.exists():
            return read_guide(name)
    else:
        path = DOCS / f"{name}.md"
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise NoGuideError(name) from error
    tokens = _reader().parse(text)
    title = tokens[1].content
    pieces = tuple(_up_to(UP_TO.get(name), tokens[3:]))
    anchors: dict[str, str] = {}
    same = () if language == ENGLISH else tuple(read_guide(name).anchors)
    sections = tuple(_name_headings(pieces, anchors, same))
    with speaking(language):
        _name_tables(title, pieces)
    if name == WITH_WORDS:
        _name_rows(pieces, anchors)
    return Guide(name, language, title, pieces, sections, anchors)


def address_of(link: str) -> str:
    """Return where a link of a guide leads; empty where it leads out of Help, and its words stay words."""
    file, _, anchor = link.partition("#")
    if not file:
        return link
    if re.match(r"https?://", link):
        return ""
    name = file.removesuffix(".md")
    return url_for("guide.show", page=name, _anchor=anchor or None) if file.endswith(".md") and name in NAMES else ""


def picture_of(source: str) -> str:
    """Return the address of a picture in a guide; empty for any that is not in docs/pictures/."""
    folder, _, name = source.rpartition("/")
    return url_for("guide.picture", name=name) if folder == "pictures" and name in list_pictures() else ""


def picture_size(source: str) -> tuple[int, int]:
    """Return width and height of a picture in a guide, so that a page keeps its place while it comes. [px]"""
    return list_pictures().get(source.rpartition("/")[2], (0, 0))


@cache
def list_pictures() -> dict[str, tuple[int, int]]:
    """Return width and height of each file in docs/pictures/, by name; read once. [px]

    Both stand in the first part of a PNG file (W3C, Portable Network Graphics, third edition, 11.2.1).
    """
    return {path.name: struct.unpack(">II", path.read_bytes()[16:24]) for path in sorted(PICTURES.glob("*.png"))}


@cache
def _reader() -> MarkdownIt:
    return MarkdownIt("commonmark", {"html": False}).enable("table")


def _up_to(heading: str | None, tokens: list[Token]) -> Iterator[Token]:
    for at, token in enumerate(tokens):
        if token.type == "heading_open" and tokens[at + 1].content == heading:
            return
        yield token


def _plain(inline: Token) -> str:
    return "".join(child.content for child in inline.children or () if child.type in {"text", "code_inline"})


def _name_tables(title: str, pieces: tuple[Token, ...]) -> None:
    """Name each table by the heading above it, and number it; a head without words becomes a plain cell."""
    words, names = title, Counter[str]()
    for at, token in enumerate(pieces):
        if token.type == "heading_open":
            words = _plain(pieces[at + 1])
        elif token.type == "table_open":
            names[words] += 1
            caption = words
            if names[words] > 1:
                caption = _("%(heading)s, table %(number)s", heading=words, number=names[words])
            token.meta = {"caption": caption, "id": f"table-{names.total()}"}
        elif token.type == "th_open" and not pieces[at + 1].content:
            token.tag = pieces[at + 2].tag = "td"


def _name_headings(
    pieces: tuple[Token, ...], anchors: dict[str, str], same: tuple[str, ...]
) -> Iterator[tuple[str, str]]:
    """Let headings be linked to, and return anchor and words of those of the second level.

    Args:
        pieces: The page.
        anchors: Takes the words of each heading, by anchor.
        same: Anchors of the headings in their order; without any, each is made from its words.
    """
    for at, token in enumerate(pieces):
        if token.type == "heading_open":
            words = _plain(pieces[at + 1])
            anchor = _set_anchor(token, words, anchors, same[len(anchors)] if len(anchors) < len(same) else None)
            if token.tag == "h2":
                yield anchor, words


def _name_rows(pieces: tuple[Token, ...], anchors: dict[str, str]) -> None:
    """Let rows that begin with bold words be linked to by these.

    In another language the English words follow them in brackets, and the row is linked to by those.
    """
    for at, token in enumerate(pieces):
        if token.type == "tr_open" and pieces[at + 1].type == "td_open":
            bold = re.fullmatch(r"\*\*(.+?)\*\*(?: \((.+)\))?", pieces[at + 2].content)
            if bold:
                _set_anchor(token, bold[1], anchors, slug_of(bold[2]) if bold[2] else None)


def _set_anchor(token: Token, words: str, anchors: dict[str, str], wished: str | None = None) -> str:
    """Give a piece an anchor of its own, made from words if none is wished for, and return it."""
    slug = anchor = wished or slug_of(words)
    number = 0
    while anchor in anchors:
        number += 1
        anchor = f"{slug}-{number}"
    token.attrSet("id", anchor)
    anchors[anchor] = words
    return anchor
