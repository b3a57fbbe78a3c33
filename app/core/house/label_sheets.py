"""Sheets of labels: where each label lies on its paper, what of it may be printed on, how large its code is.

All lengths are in mm, from the upper left corner of the page.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from babel.numbers import get_decimal_symbol

from app.core.errors import OutOfRangeError
from app.core.limits import Bounds
from app.language import N_, _, locale


class LabelKind(StrEnum):
    """What a label is for; tags carry a number alone and are printed ahead."""

    TRAY = "tray"
    STAKE = "stake"
    TAG = "tag"


class StockPaper(StrEnum):
    """What labels come on: a sheet of paper, or each on a page of its own from a label printer."""

    A4 = "a4"
    LETTER = "letter"
    LABEL = "label"


# ISO 216 and ANSI/ASME Y14.1.
PAPER_MM = {StockPaper.A4: (210.0, 297.0), StockPaper.LETTER: (215.9, 279.4)}

# Chosen: a number of five digits and a line below it want this much; no sheet holds more.
WIDTH_MM = Bounds(20, 300)
HEIGHT_MM = Bounds(8, 300)
PRINTED_MM = 5.0
LABELS_IN_LINE = Bounds(1, 40)
MARGIN_MM = Bounds(0, 200)
OFFSET_MM = Bounds(-20, 20)
SCALE_PERCENT = Bounds(90, 110)

# Die cuts and the feed of printers are out by a millimetre or so (common practice): nothing is printed nearer
# to the edge of a label, and nothing so near to the edge of the paper that office printers leave it blank.
SLACK_MM = 1.5
EDGE_MM = 4.5
# What measuring with a ruler may be out by. [mm]
MEASURED_MM = 0.5
# Left free around labels that are cut out of plain paper, for the cut marks. [mm]
CUT_MARGIN_MM = 10.0

# ISO/IEC 18004: four modules of white around a code.
QUIET_MODULES = 4
# Chosen: below this, phones and office printers of 300 dots an inch get into trouble; beyond it nothing is gained.
MODULE_MM = Bounds(0.35, 0.75)
# Chosen: a camera that has one code in view sees no more than a strip of the next.
PITCH_OF_CODES = 1.5


# What may be wrong with measures, across the paper and down.
OVERLAP = {
    "across": N_("A label is %(size)s mm wide, so the next cannot begin after %(pitch)s mm: they would overlap."),
    "down": N_("A label is %(size)s mm high, so the next cannot begin after %(pitch)s mm: they would overlap."),
}
BEYOND = {
    "across": N_(
        "The last label would end at %(end)s mm, and the paper ends at %(page)s mm: %(beyond)s mm beyond its right "
        "edge. Measure again, or count again."
    ),
    "down": N_(
        "The last label would end at %(end)s mm, and the paper ends at %(page)s mm: %(beyond)s mm beyond its lower "
        "edge. Measure again, or count again."
    ),
}


class Box(NamedTuple):
    """A rectangle on a page. [mm]"""

    left: float
    top: float
    width: float
    height: float


class Spot(NamedTuple):
    """Where a label lies: page, column and row, each counted from 0."""

    page: int
    column: int
    row: int


class Fault(NamedTuple):
    """What is wrong with the measures of a sheet: the measure by its name, and words for who typed it."""

    measure: str
    words: str


@dataclass(frozen=True, kw_only=True)
class LabelSheet:
    """The measures of a sheet of labels, all in mm.

    Attributes:
        paper: What the labels come on.
        columns: Labels side by side. [1]
        rows: Labels one below the other. [1]
        label_width_mm: Width of a label.
        label_height_mm: Height of a label.
        left_mm: From the left edge of the paper to the first label.
        top_mm: From the upper edge of the paper to the first label.
        pitch_across_mm: From the left edge of a label to that of the next.
        pitch_down_mm: From the upper edge of a label to that of the next.
        cut: They are cut out of plain paper, along marks.
    """

    paper: StockPaper
    columns: int
    rows: int
    label_width_mm: float
    label_height_mm: float
    left_mm: float
    top_mm: float
    pitch_across_mm: float
    pitch_down_mm: float
    cut: bool = False

    @property
    def page_mm(self) -> tuple[float, float]:
        """Width and height of the page."""
        return PAPER_MM.get(self.paper, (self.label_width_mm, self.label_height_mm))

    @property
    def per_page(self) -> int:
        """Labels on a page. [1]"""
        return self.columns * self.rows


def single_label(width_mm: float, height_mm: float) -> LabelSheet:
    """Return the sheet of a label printer: one label is one page.

    Args:
        width_mm: Width of the label. [mm]
        height_mm: Its height. [mm]
    """
    return _grid(StockPaper.LABEL, (1, 1), (width_mm, height_mm), (0, 0), cut=False)


def cut_sheet(paper: StockPaper, width_mm: float, height_mm: float) -> LabelSheet:
    """Return as many labels as plain paper holds, edge to edge in its middle, so that one cut parts two.

    Args:
        paper: A4 or letter.
        width_mm: Width of a label. [mm]
        height_mm: Its height. [mm]

    Raises:
        OutOfRangeError: Not one fits.
    """
    page, size = PAPER_MM[paper], (width_mm, height_mm)
    room = tuple(length - 2 * CUT_MARGIN_MM for length in page)
    counts = (int(room[0] / width_mm + 1e-9), int(room[1] / height_mm + 1e-9))
    for name, side, length, count in zip(("width", "height"), size, room, counts, strict=True):
        if count < 1:
            raise OutOfRangeError(
                f"label {name}", side, _("%(length)s mm or less on this paper", length=_figure(f"{length:g}"))
            )
    margins = tuple((page[at] - counts[at] * size[at]) / 2 for at in range(2))
    return _grid(paper, counts, size, (margins[0], margins[1]), cut=True)


def _grid(
    paper: StockPaper, counts: tuple[int, int], size: tuple[float, float], margins: tuple[float, float], *, cut: bool
) -> LabelSheet:
    return LabelSheet(
        paper=paper,
        columns=counts[0],
        rows=counts[1],
        label_width_mm=size[0],
        label_height_mm=size[1],
        left_mm=margins[0],
        top_mm=margins[1],
        pitch_across_mm=size[0],
        pitch_down_mm=size[1],
        cut=cut,
    )


def list_faults(sheet: LabelSheet) -> tuple[Fault, ...]:
    """Return what is wrong with measures: labels that overlap, or that reach beyond the paper."""
    page_width, page_height = sheet.page_mm
    lines = (
        ("across", sheet.columns, sheet.label_width_mm, sheet.left_mm, page_width),
        ("down", sheet.rows, sheet.label_height_mm, sheet.top_mm, page_height),
    )
    pitches = (sheet.pitch_across_mm, sheet.pitch_down_mm)
    found = []
    for (way, count, size, margin, page), pitch in zip(lines, pitches, strict=True):
        measure = f"pitch_{way}_mm"
        if count > 1 and pitch < size:
            found.append(Fault(measure, _(OVERLAP[way], size=_figure(f"{size:g}"), pitch=_figure(f"{pitch:g}"))))
        end = margin + (count - 1) * pitch + size
        if end > page + MEASURED_MM:
            words = _(
                BEYOND[way],
                end=_figure(f"{end:.1f}"),
                page=_figure(f"{page:g}"),
                beyond=_figure(f"{end - page:.1f}"),
            )
            found.append(Fault(measure if count > 1 else f"{'left' if way == 'across' else 'top'}_mm", words))
    if found:
        return tuple(found)
    ends = (printed_box(sheet, 0, 0), printed_box(sheet, sheet.columns - 1, sheet.rows - 1))
    for measure, left in (("left_mm", min(box.width for box in ends)), ("top_mm", min(box.height for box in ends))):
        if left < PRINTED_MM:
            words = _(
                "Printers leave the outer %(edge)s mm of paper blank: only %(left)s mm of a label would be left.",
                edge=_figure(f"{EDGE_MM:g}"),
                left=_figure(f"{max(0, left):.1f}"),
            )
            found.append(Fault(measure, words))
    return tuple(found)


def _figure(text: str) -> str:
    """Return a figure with the decimal sign of the language."""
    return text.replace(".", get_decimal_symbol(locale()))


def list_spots(sheet: LabelSheet, count: int, first: int = 1) -> tuple[Spot, ...]:
    """Return where labels lie, row by row, page after page.

    Args:
        sheet: The measures.
        count: How many labels. [1, 0 or more]
        first: The first free label of the first page, counted from 1. [1]

    Raises:
        OutOfRangeError: The page has no such label.
    """
    if not 1 <= first <= sheet.per_page:
        raise OutOfRangeError("first label", first, f"from 1 to {sheet.per_page}")
    spots = []
    for index in range(first - 1, first - 1 + count):
        page, on_page = divmod(index, sheet.per_page)
        row, column = divmod(on_page, sheet.columns)
        spots.append(Spot(page, column, row))
    return tuple(spots)


def label_box(sheet: LabelSheet, column: int, row: int) -> Box:
    """Return the outline of a label.

    Args:
        sheet: The measures.
        column: Index of its column.
        row: Index of its row.
    """
    left = sheet.left_mm + column * sheet.pitch_across_mm
    top = sheet.top_mm + row * sheet.pitch_down_mm
    return Box(left, top, sheet.label_width_mm, sheet.label_height_mm)


def printed_box(sheet: LabelSheet, column: int, row: int) -> Box:
    """Return what of a label is printed on: within the slack of its cut, and off the edge of the paper.

    Args:
        sheet: The measures.
        column: Index of its column.
        row: Index of its row.
    """
    label, (page_width, page_height) = label_box(sheet, column, row), sheet.page_mm
    edge = 0.0 if sheet.paper is StockPaper.LABEL else EDGE_MM
    left, top = max(label.left + SLACK_MM, edge), max(label.top + SLACK_MM, edge)
    right = min(label.left + label.width - SLACK_MM, page_width - edge)
    bottom = min(label.top + label.height - SLACK_MM, page_height - edge)
    return Box(left, top, right - left, bottom - top)


def module_mm(sheet: LabelSheet, box: Box, modules: int, share: float) -> float | None:
    """Return the size of a code's modules on a label, or None where they would be too small to be read.

    Args:
        sheet: The measures; codes of neighbours keep apart.
        box: What of the label is printed on.
        modules: Modules along a side of the code, without the white around it. [1]
        share: The most of the longer side that the code with its white may take. [0 to 1]

    Returns:
        Side of a module. [mm]
    """
    with_white = modules + 2 * QUIET_MODULES
    long, short = max(box.width, box.height), min(box.width, box.height)
    rooms = [share * long / with_white, short / with_white]
    if sheet.columns > 1:
        rooms.append(sheet.pitch_across_mm / PITCH_OF_CODES / modules)
    if sheet.rows > 1:
        rooms.append(sheet.pitch_down_mm / PITCH_OF_CODES / modules)
    module = min(MODULE_MM.high, *rooms)
    return module if module >= MODULE_MM.low else None


def list_cut_marks(sheet: LabelSheet) -> tuple[tuple[float, float, float, float], ...]:
    """Return the cut marks of a page: short lines in its margins where the cuts go.

    Returns:
        Ends of each line, x and y of the one and the other. [mm]
    """
    if not sheet.cut:
        return ()
    right = sheet.left_mm + sheet.columns * sheet.label_width_mm
    bottom = sheet.top_mm + sheet.rows * sheet.label_height_mm
    near, far = 1.0, 5.0
    marks = []
    for column in range(sheet.columns + 1):
        x = sheet.left_mm + column * sheet.label_width_mm
        marks += [(x, sheet.top_mm - far, x, sheet.top_mm - near), (x, bottom + near, x, bottom + far)]
    for row in range(sheet.rows + 1):
        y = sheet.top_mm + row * sheet.label_height_mm
        marks += [(sheet.left_mm - far, y, sheet.left_mm - near, y), (right + near, y, right + far, y)]
    return tuple(marks)
