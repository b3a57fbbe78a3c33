"""Labels under test: trays and stock, where labels lie by the file of stock, and codes read from pictures of pages.

Codes are read by a library that has nothing to do with what draws them.
"""

import csv
import re
import shutil
import subprocess
from datetime import date
from functools import cache
from typing import NamedTuple

import numpy as np
import pytest
import zxingcpp
from fontTools.ttLib import TTFont

from app.core.house.label_sheets import LabelKind
from app.core.space.grid import Cell
from app.core.words import Place
from app.services.labels import LotOnLabel, NextMove, TrayOnLabel
from app.services.printing import usual_stock
from app.sheets.labels import LabelOrder, make_stake_labels, make_tags, make_tray_labels
from app.sheets.pdf import BOLD, REGULAR, Paper, Template, make_pdf
from tests.conftest import STRICT
from tests.rules.tree import ROOT
from tests.sheets.reading import POINTS_PER_MM

ADDRESS = "http://shed.lan:5000"
SMALLEST_PT = 6.5
# Of the bundled fonts, from the line on which letters stand: the box of a line, and its upper edge. [em]
LINE_EM, ASCENT_EM = 1.362, 1.069
STOCK = {stock.key: stock for stock in usual_stock()}
# Too small for a code that can be read.
TOO_SMALL = {"letter-4x20-44.45x12.7"}
WITH_CODE = [key for key in STOCK if key not in TOO_SMALL]
HOSTILE = (
    "#import [x] $x^2$ *bold* _it_ `raw`",
    "<label> @ref \\n // {{ 7*7 }} ~ --",
    "Łukasz Ćwiękała",
    "Нина Жук",
    "Ἀθηνᾶ Παπαδοπούλου",
    "Nguyễn Thị Ánh",
    "W" * 40,
)


class Area(NamedTuple):
    left: float
    top: float
    right: float
    bottom: float


def areas():
    """Return the outlines of the labels of a page, by key of the stock, from the file. [mm]"""
    found = {}
    with (ROOT / "seed_data" / "label_stock.csv").open(encoding="utf-8", newline="") as file:
        for row, stock in zip(csv.DictReader(file), usual_stock(), strict=True):
            width, height = float(row["label_width_mm"]), float(row["label_height_mm"])
            page = {"a4": (210, 297), "letter": (215.9, 279.4), "label": (width, height)}[row["paper"]]
            counts, margins, pitches = (1, 1), (0, 0), (width, height)
            if row["cut"] == "yes":
                counts = (int((page[0] - 20) // width), int((page[1] - 20) // height))
                margins = ((page[0] - counts[0] * width) / 2, (page[1] - counts[1] * height) / 2)
            elif row["columns"]:
                counts = (int(row["columns"]), int(row["rows"]))
                margins = (float(row["left_mm"]), float(row["top_mm"]))
                pitches = (float(row["pitch_across_mm"]), float(row["pitch_down_mm"]))
            corners = [
                (margins[0] + column * pitches[0], margins[1] + line * pitches[1])
                for line in range(counts[1])
                for column in range(counts[0])
            ]
            found[stock.key] = page, [Area(x, y, x + width, y + height) for x, y in corners]
    return found


AREAS = areas()


def lot(number=0, cells=((1, 1),), **changes):
    fields = {"crop": "Tomato", "variety": "", "grower": f"Grower {number}", "plot": "14"}
    return LotOnLabel(cells=tuple(Cell(*cell) for cell in cells), **fields | changes)


def tray(number=1, lots=None, **changes):
    fields = {
        "container": "72-cell tray",
        "sow_on": date(2027, 4, 10),
        "potted_on": False,
        "move": NextMove(day=date(2027, 4, 24), origin=Place.HEAT, goal=Place.LAMP, shelf="Rack B"),
    }
    return TrayOnLabel(number=number, lots=(lot(),) if lots is None else tuple(lots), **fields | changes)


def order(key="a4-3x7-63.5x38.1", **changes):
    return LabelOrder(**{"sheet": STOCK[key].sheet, "address": ADDRESS} | changes)


def printed(labels):
    return make_pdf(Template.LABELS, labels, Paper.A4)


def of_kind(kind, key, count=6):
    """Return a PDF of labels of some trays, numbered from 98 so that digits differ in number."""
    trays = [tray(number) for number in range(98, 98 + count)]
    made = {
        LabelKind.TRAY: lambda: make_tray_labels(trays, order(key)),
        LabelKind.STAKE: lambda: make_stake_labels(trays, order(key)),
        LabelKind.TAG: lambda: make_tags([tray.number for tray in trays], order(key)),
    }
    return printed(made[kind]())


def pictures(pdf, dpi):
    """Return each page as an array of greys, at so many dots an inch."""
    if shutil.which("pdftoppm") is None:
        (pytest.fail if STRICT else pytest.skip)("pdftoppm is not there; Debian has it in poppler-utils")
    command = ["pdftoppm", "-gray", "-r", str(dpi)]
    data = subprocess.run(command, input=pdf, capture_output=True, check=True, timeout=120).stdout
    found = []
    while data:
        head = re.match(rb"P5\s(\d+) (\d+)\s255\s", data)
        width, height = int(head[1]), int(head[2])
        end = head.end() + width * height
        found.append(np.frombuffer(data[head.end() : end], dtype=np.uint8).reshape(height, width))
        data = data[end:]
    return found


def codes_in(picture, area, dpi):
    """Return what is read from a part of a page: the text, and the corners of the code in mm from the page's corner."""
    scale = dpi / 25.4
    left, top, right, bottom = (max(0, round(side * scale)) for side in area)
    part = np.ascontiguousarray(picture[top:bottom, left:right])
    found = []
    for code in zxingcpp.read_barcodes(part, formats=zxingcpp.BarcodeFormat.QRCode):
        at = code.position
        corners = [at.top_left, at.top_right, at.bottom_right, at.bottom_left]
        found.append((code.text, [((c.x + left) / scale, (c.y + top) / scale) for c in corners]))
    return found


def in_mm(word):
    return Area(*(side / POINTS_PER_MM for side in word[:4]))


@cache
def reach(letter):
    """Return how far a letter reaches up and down from the line in the bundled fonts. [em]"""
    ups, downs = [0], [0]
    for path in (REGULAR, BOLD):
        with TTFont(path) as font:
            glyph = font["glyf"][font.getBestCmap()[ord(letter)]]
            ups.append(getattr(glyph, "yMax", 0) / font["head"].unitsPerEm)
            downs.append(-getattr(glyph, "yMin", 0) / font["head"].unitsPerEm)
    return max(ups), max(downs)


def tight(leaf):
    """Return a page on which the boxes of words are as high as their letters."""
    words = []
    for word in leaf.words:
        size = (word.bottom - word.top) / LINE_EM
        line = word.top + ASCENT_EM * size
        ups, downs = zip(*map(reach, word.text), strict=True)
        words.append(word._replace(top=line - max(ups) * size, bottom=line + max(downs) * size))
    return leaf._replace(words=words)


def holds(area, inner, slack):
    return (
        area.left + slack <= inner.left
        and area.top + slack <= inner.top
        and inner.right <= area.right - slack
        and inner.bottom <= area.bottom - slack
    )
