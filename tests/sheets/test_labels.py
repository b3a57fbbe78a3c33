"""Labels as they leave the printer: where they lie, what they say, and that their codes can be read.

Where labels lie is worked out here from the measures in the file of label stock, by sums of its own. Codes are read
from pictures of the pages by a library that has nothing to do with what draws them.
"""

import csv
import re
import shutil
import subprocess
from dataclasses import replace
from datetime import date
from functools import cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import pytest
import zxingcpp
from fontTools.ttLib import TTFont

from app.core.grid import Cell, Grid, walk
from app.core.label_sheets import LabelKind, single_label
from app.core.words import Place
from app.services.labels import LotOnLabel, NextMove, TrayOnLabel
from app.services.printing import usual_stock
from app.sheets.label_stock import stock_words
from app.sheets.labels import (
    Fit,
    LabelOrder,
    make_stake_labels,
    make_tags,
    make_test_frame,
    make_tray_labels,
    move_words,
)
from app.sheets.pdf import BOLD, REGULAR, Paper, Template, make_pdf
from app.sheets.tray_words import cells_words
from tests.conftest import STRICT
from tests.rules.tree import ROOT
from tests.sheets.reading import POINTS_PER_MM, leaves, overlapping, pages, squashed, text_of

ADDRESS = "http://shed.lan:5000"
SMALLEST_PT = 6.5
# Of the bundled fonts, from the line on which letters stand: the box of a line, and its upper edge. [em]
LINE_EM, ASCENT_EM = 1.362, 1.069
# Too small for a code that can be read.
STOCK = {stock.key: stock for stock in usual_stock()}
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


# ---------------------------------------------------------------- where labels lie


@pytest.mark.parametrize("key", STOCK)
def test_each_tag_lies_within_its_label_off_the_cut_on_paper_of_the_right_size(key):
    page, outlines = AREAS[key]
    count = len(outlines) + 2
    found = leaves(printed(make_tags(range(1, count + 1), order(key))))
    assert len(found) == -(-count // len(outlines))
    seen = {}
    for at, leaf in enumerate(found):
        assert (leaf.width, leaf.height) == pytest.approx([side * POINTS_PER_MM for side in page], abs=0.02)
        for word in leaf.words:
            if word.text.isdecimal():
                seen[int(word.text)] = at, word
    assert sorted(seen) == list(range(1, count + 1))
    for number, (at, word) in seen.items():
        assert at == (number - 1) // len(outlines)
        outline, box = outlines[(number - 1) % len(outlines)], in_mm(word)
        assert outline.left + 1.4 <= box.left
        assert box.right <= outline.right - 1.4
        # the box of a line is higher than its digits
        assert outline.top < (box.top + box.bottom) / 2 < outline.bottom


@pytest.mark.parametrize("kind", list(LabelKind), ids=str)
@pytest.mark.parametrize("key", STOCK)
def test_words_stay_on_their_label_and_off_each_other(key, kind):
    long = [lot(number, variety=name, grower=name) for number, name in enumerate(HOSTILE)]
    trays = [tray(number, long[:number], container=HOSTILE[6]) for number in range(1, 8)]
    labels = make_tray_labels(trays, order(key))
    if kind is not LabelKind.TRAY:
        is_stake = kind is LabelKind.STAKE
        labels = make_stake_labels(trays, order(key)) if is_stake else make_tags([1, 999_999], order(key))
    _, outlines = AREAS[key]
    for leaf in map(tight, leaves(printed(labels))):
        assert overlapping(leaf) == []
        for word in leaf.words:
            box = in_mm(word)
            middle = (box.left + box.right) / 2, (box.top + box.bottom) / 2
            [outline] = [a for a in outlines if a.left < middle[0] < a.right and a.top < middle[1] < a.bottom]
            assert outline.left + 1.2 <= box.left
            assert box.right <= outline.right - 1.2
            assert outline.top + 1.2 <= box.top
            assert box.bottom <= outline.bottom - 1.2


@pytest.mark.parametrize("kind", list(LabelKind), ids=str)
@pytest.mark.parametrize("key", STOCK)
def test_nothing_is_smaller_than_can_be_read(key, kind):
    lots = [lot(number, variety=name, grower=name) for number, name in enumerate(HOSTILE)]
    made = {
        LabelKind.TRAY: make_tray_labels([tray(1, lots)], order(key)),
        LabelKind.STAKE: make_stake_labels([tray(1, lots)], order(key)),
        LabelKind.TAG: make_tags([999_999], order(key)),
    }
    sizes = [(word.bottom - word.top) / LINE_EM for leaf in leaves(printed(made[kind])) for word in leaf.words]
    assert min(sizes) >= SMALLEST_PT - 0.05


def test_the_first_free_label_is_honoured():
    _, outlines = AREAS["a4-3x7-63.5x38.1"]
    found = leaves(printed(make_tags([1, 2, 3], order(first=20))))
    places = {word.text: (at, in_mm(word)) for at, leaf in enumerate(found) for word in leaf.words}
    for text, page, label in (("1", 0, 19), ("2", 0, 20), ("3", 1, 0)):
        at, box = places[text]
        assert at == page
        assert outlines[label].left < box.left < box.right < outlines[label].right


def test_offset_and_scale_of_the_printer_move_everything():
    fit = Fit(dx_mm=1.3, dy_mm=-0.7, scale=1.012)
    plain, moved = (leaves(printed(make_tray_labels([tray()], order(fit=f)))) for f in (Fit(), fit))
    assert len(plain[0].words) == len(moved[0].words) > 5
    for one, other in zip(plain[0].words, moved[0].words, strict=True):
        before, after = in_mm(one), in_mm(other)
        assert after.left == pytest.approx(1.3 + 1.012 * before.left, abs=0.02)
        assert after.bottom == pytest.approx(-0.7 + 1.012 * before.bottom, abs=0.02)
    assert (plain[0].width, plain[0].height) == (moved[0].width, moved[0].height)


@pytest.mark.parametrize("turned", [False, True], ids=["straight", "turned"])
def test_a_label_printer_gets_one_page_of_exact_size_for_each_label_and_none_more(turned):
    trays = [tray(number) for number in (7, 8, 9)]
    pdf = printed(make_tray_labels(trays, order(sheet=single_label(62.4, 29.1), fit=Fit(turned=turned))))
    found = leaves(pdf)
    wanted = (29.1, 62.4) if turned else (62.4, 29.1)
    assert len(found) == 3
    for leaf in found:
        assert (leaf.width, leaf.height) == pytest.approx([side * POINTS_PER_MM for side in wanted], abs=0.02)
    for number, picture in zip((7, 8, 9), pictures(pdf, 200), strict=True):
        [(text, corners)] = codes_in(picture, Area(0, 0, *wanted), 200)
        assert text == f"HTTP://SHED.LAN:5000/T/{number}"
        (x1, y1), (x2, y2) = corners[:2]
        level, upright = abs(y2 - y1) < 0.5, abs(x2 - x1) < 0.5
        assert (upright, level) == (turned, not turned)


def test_sheets_of_labels_are_not_turned():
    pdf = printed(make_tags([1], order(fit=Fit(turned=True))))
    assert pdf == printed(make_tags([1], order()))


# ---------------------------------------------------------------- codes


@pytest.mark.parametrize("kind", list(LabelKind), ids=str)
@pytest.mark.parametrize("key", WITH_CODE)
def test_the_code_of_every_label_is_read_from_the_page_and_lies_within_it(key, kind):
    _, outlines = AREAS[key]
    pdf = of_kind(kind, key)
    for dpi in (150, 200):
        found = []
        shown = pictures(pdf, dpi)
        for number in range(6):
            page, at = divmod(number, len(outlines))
            outline = outlines[at]
            [(text, corners)] = codes_in(shown[page], outline, dpi)
            found.append(text)
            xs, ys = [x for x, _ in corners], [y for _, y in corners]
            # a code of this address has 25 modules a side (version 2), and 4 of white around it
            white = 4 * (max(xs) - min(xs)) / 25 - 0.4
            assert holds(outline, Area(min(xs) - white, min(ys) - white, max(xs) + white, max(ys) + white), 1.0)
        assert found == [f"HTTP://SHED.LAN:5000/T/{number}" for number in range(98, 104)]


@pytest.mark.parametrize("key", ["a4-5x13-38.1x21.2", "letter-3x10-66.675x25.4", "a4-3x8-70x37"])
def test_the_white_around_a_code_is_white(key):
    dpi = 300
    for kind in LabelKind:
        picture = pictures(of_kind(kind, key), dpi)[0]
        for outline in AREAS[key][1][:6]:
            [(_, corners)] = codes_in(picture, outline, dpi)
            (left, top), (right, bottom) = corners[0], corners[2]
            module = (right - left) / 25
            far, near = 3.8 * module, 0.5 * module
            scale = dpi / 25.4

            def part(x1, y1, x2, y2, picture=picture, scale=scale):
                return picture[round(y1 * scale) : round(y2 * scale), round(x1 * scale) : round(x2 * scale)]

            assert part(left - far, top - far, left - near, bottom + far).min() > 200
            assert part(right + near, top - far, right + far, bottom + far).min() > 200
            assert part(left - far, top - far, right + far, top - near).min() > 200
            assert part(left - far, bottom + near, right + far, bottom + far).min() > 200


def test_a_full_page_of_tags_is_read_at_once_each_number_on_its_own_label():
    key = "a4-5x13-38.1x21.2"
    _, outlines = AREAS[key]
    [picture] = pictures(printed(make_tags(range(1, 66), order(key))), 200)
    found = {}
    for text, corners in codes_in(picture, Area(0, 0, 210, 297), 200):
        x, y = (sum(corner[at] for corner in corners) / 4 for at in (0, 1))
        [number] = [n for n, a in enumerate(outlines, start=1) if a.left < x < a.right and a.top < y < a.bottom]
        found[number] = text
    assert found == {number: f"HTTP://SHED.LAN:5000/T/{number}" for number in range(1, 66)}


def test_no_code_would_be_read_where_there_is_none():
    [picture] = pictures(printed(make_tags([1], order(address=None))), 200)
    assert codes_in(picture, Area(0, 0, 210, 297), 200) == []


@pytest.mark.parametrize("kind", list(LabelKind), ids=str)
def test_without_an_address_the_label_says_so(kind):
    made = {
        LabelKind.TRAY: make_tray_labels([tray()], order(address=None)),
        LabelKind.STAKE: make_stake_labels([tray()], order(address=None)),
        LabelKind.TAG: make_tags([1], order(address=None)),
    }
    assert squashed("No code: no address is set.") in text_of(printed(made[kind]))


def test_a_label_too_small_for_a_code_says_so():
    assert squashed("No code: the label is too small.") in text_of(
        printed(make_tags([1], order("letter-4x20-44.45x12.7")))
    )


def test_a_stake_can_do_without_a_code():
    pdf = printed(make_stake_labels([tray()], order(), has_code=False))
    assert codes_in(pictures(pdf, 200)[0], Area(0, 0, 210, 297), 200) == []
    assert "Nocode" not in text_of(pdf)


# ---------------------------------------------------------------- what labels say


def test_a_tray_label_says_number_day_container_lots_and_next_move():
    two = tray(
        12, [lot(0, [(r, c) for r in range(1, 7) for c in (1, 2)], variety="Marmande", grower="Ines Moreau"), lot(1)]
    )
    text = text_of(printed(make_tray_labels([two], order("a4-2x5-99.1x57"))))
    for words in (
        "12",
        "sown Sat 10 Apr",
        "72-cell tray",
        "A1–F2 Tomato Marmande, Ines Moreau",
        "A1 Tomato, Grower 1",
        "Next: Sat 24 Apr to lamps, Rack B",
    ):
        assert squashed(words) in text


@pytest.mark.parametrize(
    ("changes", "is_potted_on", "words"),
    [
        ({}, False, "Sat 24 Apr to lamps, Rack B"),
        ({"shelf": ""}, False, "Sat 24 Apr to lamps"),
        ({"origin": Place.HARDENING, "goal": None}, True, "Sat 24 Apr handed out"),
        ({"goal": None}, False, "Sat 24 Apr potted on or out"),
        ({"goal": None}, True, "Sat 24 Apr out"),
    ],
    ids=str,
)
def test_a_move_is_said(changes, is_potted_on, words):
    assert move_words(replace(tray().move, **changes), is_potted_on=is_potted_on) == words


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ([(1, 1)], "A1"),
        ([(1, 1), (1, 2), (2, 1), (2, 2)], "A1–B2"),
        ([(r, 1) for r in range(1, 7)] + [(6, 2), (5, 2)], "A1–F1, E2–F2"),
        ([(r, c) for r in range(1, 7) for c in range(1, 13)], "A1–F12"),
        ([(1, 1), (3, 3)], "A1, C3"),
        ([(27, 1), (28, 1)], "AA1–AB1"),
    ],
    ids=str,
)
def test_cells_are_said_as_blocks(cells, words):
    assert cells_words(Cell(*cell) for cell in cells) == words


@pytest.mark.parametrize("count", range(1, 73, 7))
def test_the_blocks_of_a_lot_hold_its_cells_and_no_others(count):
    rows, columns = walk(Grid(6, 12))
    cells = {Cell(r, c) for r, c in zip(rows[5 : 5 + count].tolist(), columns[5 : 5 + count].tolist(), strict=True)}
    said = set()
    for block in cells_words(cells).split(", "):
        corners = [(ord(part[0]) - 64, int(part[1:])) for part in block.split("–")]
        (top, left), (bottom, right) = corners[0], corners[-1]
        said |= {(r, c) for r in range(top, bottom + 1) for c in range(left, right + 1)}
    assert said == cells


@pytest.mark.parametrize("key", STOCK)
def test_of_twenty_lots_those_that_do_not_fit_are_counted(key):
    lots = [lot(n, [(n % 6 + 1, n // 6 + 1)], grower=f"Grower G{n:02d}") for n in range(20)]
    pdf = printed(make_tray_labels([tray(10_234, lots)], order(key)))
    text = text_of(pdf)
    shown = len(re.findall(r"GrowerG\d\d", text))
    assert "10234" in text
    if shown < 20:
        words = f"and {20 - shown} more: see the page" if shown else "20 lots: see the page"
        assert squashed(words) in text
    else:
        assert "seethepage" not in text
    assert len(pages(pdf)) == 1


def test_on_a_large_label_all_twenty_lots_stand():
    lots = [lot(n, [(n % 6 + 1, n // 6 + 1)], grower=f"Grower G{n:02d}") for n in range(20)]
    text = text_of(printed(make_tray_labels([tray(1, lots)], order("letter-2x3-101.6x84.6667"))))
    assert len(re.findall(r"GrowerG\d\d", text)) == 20


@pytest.mark.parametrize("name", HOSTILE)
def test_names_come_out_as_typed(name):
    trays = [tray(1, [lot(crop=name, variety=name, grower=name)], container=name)]
    for labels in (
        make_tray_labels(trays, order("a4-2x4-99.1x67.7")),
        make_stake_labels(trays, order("a4-2x4-99.1x67.7")),
    ):
        text = text_of(printed(labels))
        assert text.count(squashed(name)) == (4 if labels.kind is LabelKind.TRAY else 3)


def test_stakes_are_one_for_each_lot_or_for_each_pot():
    trays = [tray(3, [lot(0, [(1, 1), (1, 2), (1, 3)]), lot(1)], potted_on=True)]
    one, each = (text_of(printed(make_stake_labels(trays, order(), one_each=each))) for each in (False, True))
    assert (one.count("Grower0"), one.count("Grower1")) == (1, 1)
    assert (each.count("Grower0"), each.count("Grower1")) == (3, 1)
    assert squashed("Tomato Grower 0, plot 14 Tray 3") in one


def test_equal_labels_give_equal_bytes():
    one, again = (printed(make_tray_labels([tray(), tray(2)], order())) for _ in range(2))
    assert one == again
    assert b"CreationDate" not in one


def test_three_hundred_trays_make_one_file():
    found = leaves(printed(make_tray_labels([tray(number) for number in range(1, 301)], order())))
    assert len(found) == 15


# ---------------------------------------------------------------- stock in words, and the test frame


def test_stock_is_named_by_its_measures():
    words = {stock_words(stock) for stock in usual_stock()}
    assert len(words) == len(usual_stock()) > 25
    assert {
        "A4, 3 × 7, 63.5 × 38.1 mm",
        "US letter, 3 × 10, 66.7 × 25.4 mm (2 5/8 × 1 in)",
        "US letter, 2 × 3, 101.6 × 84.7 mm (4 × 3.33 in)",
        "A4 plain paper to cut, 2 × 5, 95 × 55 mm",
        "Label printer, one a page, 57 × 32 mm",
    } <= words
    assert stock_words(replace(usual_stock()[0], name="Blue box")).startswith("Blue box: A4, ")


@pytest.mark.parametrize("fit", [Fit(), Fit(dx_mm=1.5, dy_mm=-1.0, scale=1.01)], ids=["as measured", "moved"])
def test_the_test_frame_shows_outlines_and_rulers_where_they_belong(fit):
    key, dpi = "a4-3x7-63.5x38.1", 300
    frame = make_test_frame("A4, 3 × 7", "Office: 0.0 mm to the right", STOCK[key].sheet, fit)
    pdf = make_pdf(Template.LABEL_FRAME, frame, Paper.A4)
    [picture] = pictures(pdf, dpi)
    dark = picture < 160

    def at(x, y):
        """Return where a place of the page lies in the picture, as row and column."""
        return (
            round((fit.dy_mm + fit.scale * y) * dpi / 25.4),
            round((fit.dx_mm + fit.scale * x) * dpi / 25.4),
        )

    for area in AREAS[key][1][9:]:  # below what is written on the frame
        for x in (area.left, area.right):
            row, column = at(x, area.top + 3.3)
            assert dark[row, column - 2 : column + 3].any()
        for y in (area.top, area.bottom):
            row, column = at(area.left + 33.3, y)
            assert dark[row - 2 : row + 3, column].any()
    # the ruler across begins 20 mm from both edges and has a tick at every millimetre of its 150
    row, first = at(20, 20 - 0.7)
    ends = [at(20 + mm, 20)[1] for mm in range(151)]
    assert all(dark[row, end - 2 : end + 3].any() for end in ends)
    assert not any(dark[row, (one + other) // 2] for one, other in pairwise(ends[125:]))
    assert not dark[row, ends[-1] + 6 : ends[-1] + 30].any()
    assert ends[-1] - first == pytest.approx(150 * fit.scale * dpi / 25.4, abs=1)
    # and so has the ruler down with its 200
    _, column = at(20 - 0.7, 20)
    ends = [at(20, 20 + mm)[0] for mm in range(201)]
    assert all(dark[end - 2 : end + 3, column].any() for end in ends)
    text = text_of(pdf)
    assert squashed("actual size (100 %)") in text
    assert squashed("Office: 0.0 mm to the right") in text


@pytest.mark.parametrize("key", STOCK)
def test_every_stock_has_a_test_frame_of_one_page_of_its_size(key):
    sheet = STOCK[key].sheet
    pdf = make_pdf(Template.LABEL_FRAME, make_test_frame("Stock", "Office", sheet, Fit()), Paper.A4)
    [leaf] = leaves(pdf)
    page, _ = AREAS[key]
    assert (leaf.width, leaf.height) == pytest.approx([side * POINTS_PER_MM for side in page], abs=0.02)
    assert all(
        0 <= word.left < word.right <= leaf.width and 0 <= word.top < word.bottom <= leaf.height for word in leaf.words
    )
