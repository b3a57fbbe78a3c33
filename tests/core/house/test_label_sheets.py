"""Where labels lie: against sums done by hand."""

import csv
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.errors import OutOfRangeError
from app.core.house.label_sheets import (
    EDGE_MM,
    QUIET_MODULES,
    SLACK_MM,
    Box,
    LabelSheet,
    StockPaper,
    cut_sheet,
    label_box,
    list_cut_marks,
    list_faults,
    list_spots,
    module_mm,
    printed_box,
    single_label,
)
from tests.rules.tree import ROOT

# ISO 216 and ANSI/ASME Y14.1.
PAPERS = {"a4": (210, 297), "letter": (215.9, 279.4)}


def sheet(**changes):
    fields = {
        "paper": StockPaper.A4,
        "columns": 3,
        "rows": 7,
        "label_width_mm": 63.5,
        "label_height_mm": 38.1,
        "left_mm": 7.2,
        "top_mm": 15.15,
        "pitch_across_mm": 66.05,
        "pitch_down_mm": 38.1,
    }
    return LabelSheet(**fields | changes)


def die_cut_rows():
    with (ROOT / "seed_data" / "label_stock.csv").open(encoding="utf-8", newline="") as file:
        return [row for row in csv.DictReader(file) if row["columns"]]


@pytest.mark.parametrize("row", die_cut_rows(), ids=lambda row: ",".join(list(row.values())[:5]))
def test_margins_labels_and_gaps_of_the_stock_add_up_to_its_paper(row):
    width, height = PAPERS[row["paper"]]
    across = 2 * float(row["left_mm"]) + (int(row["columns"]) - 1) * float(row["pitch_across_mm"])
    down = 2 * float(row["top_mm"]) + (int(row["rows"]) - 1) * float(row["pitch_down_mm"])
    assert across + float(row["label_width_mm"]) == pytest.approx(width, abs=0.2)
    assert down + float(row["label_height_mm"]) == pytest.approx(height, abs=0.2)


def test_labels_follow_each_other_row_by_row_from_the_first_free_one():
    spots = list_spots(sheet(), 4, first=20)
    assert [(spot.page, spot.column, spot.row) for spot in spots] == [(0, 1, 6), (0, 2, 6), (1, 0, 0), (1, 1, 0)]
    with pytest.raises(OutOfRangeError, match="first label is 22; it must be from 1 to 21"):
        list_spots(sheet(), 1, first=22)


def test_a_label_lies_where_its_measures_say():
    assert label_box(sheet(), 2, 6) == pytest.approx((139.3, 243.75, 63.5, 38.1))


def test_what_is_printed_keeps_off_the_cut_and_off_the_edge_of_the_paper():
    inner = printed_box(sheet(), 1, 1)
    assert inner == pytest.approx((73.25 + SLACK_MM, 53.25 + SLACK_MM, 63.5 - 2 * SLACK_MM, 38.1 - 2 * SLACK_MM))
    full = sheet(label_width_mm=70, label_height_mm=37, rows=8, left_mm=0, top_mm=0.5, pitch_across_mm=70)
    first = printed_box(full, 0, 0)
    assert (first.left, first.top) == (EDGE_MM, EDGE_MM)
    last = printed_box(full, 2, 7)
    assert last.left + last.width == pytest.approx(210 - EDGE_MM)
    assert printed_box(single_label(57, 32), 0, 0) == Box(1.5, 1.5, 54, 29)


@pytest.mark.parametrize(
    ("changes", "measure", "words"),
    [
        ({"pitch_across_mm": 60.0}, "pitch_across_mm", "would overlap"),
        ({"pitch_down_mm": 38.0}, "pitch_down_mm", "would overlap"),
        ({"columns": 4, "left_mm": 7.0, "pitch_across_mm": 66.0}, "pitch_across_mm", "58.5 mm beyond its right edge"),
        ({"rows": 8}, "pitch_down_mm", "beyond its lower edge"),
        ({"columns": 1, "left_mm": 150.0}, "left_mm", "beyond its right edge"),
        ({"rows": 1, "top_mm": 270.0}, "top_mm", "beyond its lower edge"),
        ({"rows": 1, "label_height_mm": 8.0, "top_mm": 0.0}, "top_mm", "only 2.0 mm of a label would be left"),
    ],
    ids=lambda value: str(value)[:30],
)
def test_measures_that_cannot_be_are_told(changes, measure, words):
    [fault] = list_faults(sheet(**changes))
    assert fault.measure == measure
    assert words in fault.words


def test_measures_that_are_right_have_no_fault():
    assert list_faults(sheet()) == ()
    # half a millimetre of measuring, and a pitch that does not matter
    assert list_faults(sheet(left_mm=7.7, columns=1, pitch_across_mm=1.0)) == ()


@given(st.sampled_from([StockPaper.A4, StockPaper.LETTER]), st.floats(20, 190), st.floats(8, 250))
def test_labels_to_cut_are_as_many_as_fit_in_the_middle_of_the_paper(paper, width, height):
    page = PAPERS[paper]
    made = cut_sheet(paper, width, height)
    assert list_faults(made) == ()
    assert made.left_mm * 2 + made.columns * width == pytest.approx(page[0])
    assert made.top_mm * 2 + made.rows * height == pytest.approx(page[1])
    assert min(made.left_mm, made.top_mm) >= 10 - 1e-6
    assert made.left_mm - width / 2 < 10
    assert made.top_mm - height / 2 < 10


@pytest.mark.parametrize(("width", "height"), [(191, 50), (50, 278)])
def test_a_label_larger_than_the_paper_is_refused(width, height):
    with pytest.raises(OutOfRangeError, match="or less on this paper"):
        cut_sheet(StockPaper.A4, width, height)


def test_cut_marks_stand_at_every_cut_and_on_no_label():
    made = cut_sheet(StockPaper.A4, 95, 55)
    marks = list_cut_marks(made)
    assert {round(mark[0], 6) for mark in marks if mark[0] == mark[2]} == {10, 105, 200}
    assert {round(mark[1], 6) for mark in marks if mark[1] == mark[3]} == {11, 66, 121, 176, 231, 286}
    for (x1, y1, x2, y2), column, row in product(marks, range(2), range(5)):
        box = label_box(made, column, row)
        assert not (box.left < x2 and x1 < box.left + box.width and box.top < y2 and y1 < box.top + box.height)
    assert list_cut_marks(sheet()) == ()


@given(
    st.floats(20, 120),
    st.floats(8, 120),
    st.sampled_from([21, 25, 29, 33, 37]),
    st.floats(0.2, 0.6),
)
def test_a_code_has_its_white_within_the_label_and_keeps_off_its_neighbours(width, height, modules, share):
    one = sheet(
        columns=2, rows=2, label_width_mm=width, label_height_mm=height, pitch_across_mm=width, pitch_down_mm=height
    )
    box = printed_box(one, 1, 1)
    size = module_mm(one, box, modules, share)
    if size is None:
        return
    assert 0.35 <= size <= 0.75
    with_white = (modules + 2 * QUIET_MODULES) * size
    assert with_white <= min(box.width, box.height) + 1e-9
    assert with_white <= share * max(box.width, box.height) + 1e-9
    assert min(width, height) - modules * size >= modules * size / 2 - 1e-9  # half a code between two
