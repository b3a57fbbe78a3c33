"""Sheets as PDF: set by typst, with fonts that come along; what people typed stays text."""

import json
import unicodedata
from dataclasses import asdict, dataclass
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import typst
from fontTools.ttLib import TTFont

from app.core.words import Units
from app.language import _, language
from app.sheets.typst_words import find_words

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

FOLDER = Path(__file__).parent
FONTS = FOLDER / "fonts"
TEMPLATES = FOLDER / "typst"
REGULAR, BOLD = FONTS / "NotoSans-Regular.ttf", FONTS / "NotoSans-Bold.ttf"

# Stands for a character that the fonts do not have; they do have this one.
REPLACEMENT = "\ufffd"
ZERO_WIDTH_SPACE = "\u200b"
# A word wider than this may be broken anywhere: the narrowest column of people's words is as wide. [em]
WIDEST_WORD = 8.0
LETTERS_TO_A_BREAK = 4
BREAKS_AFTER = frozenset("-–/")


class Paper(StrEnum):
    """A size of paper, by the name that typst and people use."""

    A4 = "a4"
    LETTER = "letter"


class Template(StrEnum):
    """The layout of a sheet, by the name of its file."""

    WEEKLY = "weekly"
    GROWER = "grower"
    HAND_OUT = "hand_out"
    WORK = "work"
    SOWING = "sowing"
    MOVES = "moves"
    NOTICE = "notice"
    LABELS = "labels"
    LABEL_FRAME = "label_frame"
    SLIPS = "slips"
    DOOR = "door"
    ROUND = "round"
    REVIEW = "review"


class PdfError(Exception):
    """A sheet could not be set; the page of the same contents can still be printed."""


def usual_paper(units: Units) -> Paper:
    """Return the paper of a garden with these units: letter with US units, else A4."""
    return Paper.LETTER if units is Units.US else Paper.A4


def make_pdf(template: Template, sheet: "DataclassInstance", paper: Paper) -> bytes:
    """Return a sheet as PDF; equal sheets give equal bytes.

    Args:
        template: The layout.
        sheet: What it says, words and counts only.
        paper: The size of the paper.

    Raises:
        PdfError: typst refuses it.
    """
    text = _Printable()
    data = text.of(asdict(sheet))
    inputs = {
        "sheet": json.dumps(data),
        "paper": _TYPST_PAPER[paper],
        "lost": str(text.lost),
        "language": language(),
        "words": json.dumps({words: _(words) for words in _layout_words()}),
    }
    try:
        pdf = typst.compile(
            str(TEMPLATES / f"{template}.typ"),
            root=str(TEMPLATES),
            font_paths=[str(FONTS)],
            ignore_system_fonts=True,
            sys_inputs=inputs,
            format="pdf",
        )
    except RuntimeError as error:  # typst.TypstError among them
        raise PdfError(f"typst could not set {template}: {error}") from error
    return bytes(pdf)


def count_lost(sheet: "DataclassInstance") -> int:
    """Return how many characters of a sheet the fonts cannot print."""
    text = _Printable()
    text.of(asdict(sheet))
    return text.lost


_TYPST_PAPER = {Paper.A4: "a4", Paper.LETTER: "us-letter"}


@dataclass
class _Printable:
    """Makes text that the fonts can print, and counts the characters they cannot.

    Attributes:
        lost: Characters that were replaced.
    """

    lost: int = 0

    def of(self, value: object) -> object:
        """Return a value of lists, objects, words and counts with its words made printable."""
        if isinstance(value, str):
            return self.text(value)
        if isinstance(value, dict):
            return {key: self.of(item) for key, item in value.items()}
        if isinstance(value, list | tuple):
            return [self.of(item) for item in value]
        return value

    def text(self, text: str) -> str:
        """Return text with a mark for each character that has no glyph, and breaks in words that are too wide."""
        if text.isascii() and text.isprintable():
            return _broken(text)
        printed = [self.character(character) for character in unicodedata.normalize("NFC", text)]
        return _broken("".join(printed))

    def character(self, character: str) -> str:
        """Return what is printed for a character: controls are blanks, what only steers other letters nothing."""
        category = unicodedata.category(character)
        if category in {"Cc", "Zl", "Zp"}:
            return " "
        if category == "Cf" or unicodedata.name(character, "").startswith("VARIATION SELECTOR"):
            return ""
        if ord(character) in _glyphs():
            return character
        self.lost += 1
        return REPLACEMENT


@cache
def _layout_words() -> list[str]:
    """Return the words of all layouts; each names its own, and those that it shares."""
    return find_words("".join(path.read_text(encoding="utf-8") for path in sorted(TEMPLATES.glob("*.typ"))))


@cache
def _glyphs() -> frozenset[int]:
    """Return the code points that both fonts can print."""
    return frozenset(_widths(REGULAR)) & frozenset(_widths(BOLD))


@cache
def _widths(path: Path) -> dict[int, float]:
    """Return the width of each code point in a font. [em]"""
    with TTFont(path, lazy=True) as font:
        advances, em = font["hmtx"].metrics, font["head"].unitsPerEm
        return {code: advances[name][0] / em for code, name in font.getBestCmap().items()}


def _broken(text: str) -> str:
    """Return text in which a word that no column would hold can be broken."""
    widths = _widths(BOLD)  # the wider one
    pieces, word, width = [], "", 0.0
    for character in [*text, ""]:
        ends = not character or character.isspace() or character in BREAKS_AFTER
        word += character
        width += widths.get(ord(character), 1.0) if character else 0.0
        if ends:
            pieces.append(_with_breaks(word) if width > WIDEST_WORD else word)
            word, width = "", 0.0
    return "".join(pieces)


def _with_breaks(word: str) -> str:
    return ZERO_WIDTH_SPACE.join(word[at : at + LETTERS_TO_A_BREAK] for at in range(0, len(word), LETTERS_TO_A_BREAK))
