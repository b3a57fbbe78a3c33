"""Labels as they leave the printer: where they lie, and what they say.

Where labels lie is worked out from the measures in the file of label stock, by sums of the tests' own.
"""

import re
from dataclasses import replace
from itertools import pairwise

import pytest

from app.core.house.label_sheets import LabelKind, single_label
from app.core.space.grid import Cell, Grid, walk
from app.core.words import Place
from app.services.printing import usual_stock
from app.sheets.label_stock import stock_words
from app.sheets.labels import (
    Fit,
    make_stake_labels,
    make_tags,
    make_test_frame,
    make_tray_labels,
    move_words,
)
from app.sheets.pdf import Paper, Template, make_pdf
from app.sheets.tray_words import cells_words
from tests.sheets.apart import make_pdf_apart
from tests.sheets.labelling import (
    AREAS,
    HOSTILE,
    LINE_EM,
    SMALLEST_PT,
    STOCK,
    Area,
    codes_in,
    in_mm,
    lot,
    order,
    pictures,
    printed,
    tight,
    tray,
)
from tests.sheets.reading import POINTS_PER_MM, leaves, overlapping, pages, squashed, text_of

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
    labels = make_tray_labels([tray(number) for number in range(1, 301)], order())
    found = leaves(make_pdf_apart(Template.LABELS, labels, Paper.A4))
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
