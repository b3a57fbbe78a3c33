"""Labels of trays, stakes for pots and numbered tags, laid on their stock; and the test frame of a printer."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from app.core.house.address import tray_address
from app.core.house.label_sheets import (
    Box,
    LabelKind,
    LabelSheet,
    StockPaper,
    label_box,
    list_cut_marks,
    list_spots,
    module_mm,
    printed_box,
)
from app.core.words import Place
from app.language import _
from app.services.labels import LotOnLabel, NextMove, TrayOnLabel
from app.sheets.names import name_words
from app.sheets.qr import make_pattern
from app.sheets.tray_words import cells_words, place_words
from app.sheets.words import day_words

# The most of a label's longer side that its code may take: words go before, a tag has none.
CODE_SHARES = {LabelKind.TRAY: 0.38, LabelKind.STAKE: 0.35, LabelKind.TAG: 0.6}

# The test frame: where its rulers begin, and how long they are at most. [mm]
RULER_FROM_MM = 20
RULERS_MM = (150, 200)
RULER_FROM_ON_LABEL_MM = 8
RULER_STEP_MM = 5


@dataclass(frozen=True, kw_only=True)
class Fit:
    """How a printer's paper differs from the page: everything is moved and scaled from the upper left corner.

    Attributes:
        dx_mm: To the right. [mm]
        dy_mm: Downwards. [mm]
        scale: Factor of all lengths. [1]
        turned: The page is turned by a quarter, clockwise.
    """

    dx_mm: float = 0.0
    dy_mm: float = 0.0
    scale: float = 1.0
    turned: bool = False


@dataclass(frozen=True, kw_only=True)
class Code:
    """A code as it is drawn, or why there is none.

    Attributes:
        modules: Modules along a side; 0 without a code. [1]
        module_mm: Side of a module. [mm]
        path: The dark modules as an SVG path in units of a module, from the upper left corner.
        note: Why there is no code, empty otherwise.
    """

    modules: int = 0
    module_mm: float = 0.0
    path: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class LotLine:
    """One line of a label: cells, crop, variety and grower."""

    cells: str
    crop: str
    variety: str
    grower: str


@dataclass(frozen=True, kw_only=True)
class Label:
    """What a label says; what a kind of label does not carry is empty.

    Attributes:
        number: Number of the tray.
        day: The day it is filled, in words.
        container: Name of the container.
        lots: What is in it.
        move: Its next move, in words.
        crop: Of a stake: the crop.
        variety: Its variety.
        grower: Who grows it.
        plot: Their plot, in words.
        code: The code, or why there is none.
    """

    number: int
    code: Code = Code()
    day: str = ""
    container: str = ""
    lots: tuple[LotLine, ...] = ()
    move: str = ""
    crop: str = ""
    variety: str = ""
    grower: str = ""
    plot: str = ""


@dataclass(frozen=True, kw_only=True)
class PlacedLabel:
    """A label in its place; lengths in mm."""

    left: float
    top: float
    width: float
    height: float
    label: Label


@dataclass(frozen=True, kw_only=True)
class LabelFile:
    """A file of labels.

    Attributes:
        kind: What kind they are of.
        title: What they are, in words.
        page_width_mm: Width of a page before it is turned.
        page_height_mm: Its height.
        pages: The labels of each page.
        marks: Ends of the cut marks of every page. [mm]
        fit: How the printer's paper differs.
    """

    kind: LabelKind
    title: str
    page_width_mm: float
    page_height_mm: float
    pages: tuple[tuple[PlacedLabel, ...], ...]
    marks: tuple[tuple[float, float, float, float], ...]
    fit: Fit


@dataclass(frozen=True, kw_only=True)
class TestFrame:
    """The outlines of a sheet of labels with two rulers, to find out what a printer does to them.

    Attributes:
        title: The stock, in words.
        printer: The printer and how it is set, in words.
        page_width_mm: Width of the page before it is turned.
        page_height_mm: Its height.
        outlines: Where the labels lie. [mm]
        printed: What of them is printed on. [mm]
        marks: Ends of the cut marks. [mm]
        ruler_from_mm: From the left and the upper edge of the page to where both rulers begin.
        across_mm: Length of the ruler across.
        down_mm: Length of the ruler down.
        on_label: The page is a label, which has no room for words.
        fit: How the printer is set.
    """

    __test__ = False  # no test, whatever pytest makes of its name

    title: str
    printer: str
    page_width_mm: float
    page_height_mm: float
    outlines: tuple[Box, ...]
    printed: tuple[Box, ...]
    marks: tuple[tuple[float, float, float, float], ...]
    ruler_from_mm: int
    across_mm: int
    down_mm: int
    on_label: bool
    fit: Fit


@dataclass(frozen=True, kw_only=True)
class LabelOrder:
    """Where labels are printed.

    Attributes:
        sheet: Measures of the stock.
        first: The first free label, counted from 1. [1]
        fit: How the printer's paper differs.
        address: The garden's address; None without one.
    """

    sheet: LabelSheet
    first: int = 1
    fit: Fit = Fit()
    address: str | None = None


def make_tray_labels(trays: Sequence[TrayOnLabel], order: LabelOrder) -> LabelFile:
    """Return the labels of trays, one each."""
    labels = [
        Label(
            number=tray.number,
            day=_filled_words(tray),
            container=name_words(tray.container),
            lots=tuple(_lot_line(lot) for lot in tray.lots),
            move="" if tray.move is None else move_words(tray.move, is_potted_on=tray.potted_on),
        )
        for tray in trays
    ]
    return _file(LabelKind.TRAY, _("Tray labels"), labels, order)


def make_stake_labels(
    trays: Sequence[TrayOnLabel], order: LabelOrder, *, one_each: bool = False, has_code: bool = True
) -> LabelFile:
    """Return labels for stakes in pots.

    Args:
        trays: The trays of pots.
        order: Where they are printed.
        one_each: One for each pot, not one for each lot.
        has_code: Whether they carry the tray's code.
    """
    labels = [
        Label(
            number=tray.number,
            crop=name_words(lot.crop),
            variety=lot.variety,
            grower=lot.grower,
            plot=_("plot\u00a0%(plot)s", plot=lot.plot) if lot.plot else "",
        )
        for tray in trays
        for lot in tray.lots
        for _pot in range(len(lot.cells) if one_each else 1)
    ]
    return _file(LabelKind.STAKE, _("Stake labels"), labels, order, has_code=has_code)


def make_tags(numbers: Iterable[int], order: LabelOrder) -> LabelFile:
    """Return tags with nothing but a number and its code."""
    return _file(LabelKind.TAG, _("Numbered tags"), [Label(number=number) for number in numbers], order)


def make_test_frame(title: str, printer: str, sheet: LabelSheet, fit: Fit) -> TestFrame:
    """Return the test frame of label stock and a printer."""
    on_label = sheet.paper is StockPaper.LABEL
    begin = RULER_FROM_ON_LABEL_MM if on_label else RULER_FROM_MM
    # The rulers end a few mm before the far edges.
    lengths = [int((side - begin - 3) // RULER_STEP_MM * RULER_STEP_MM) for side in sheet.page_mm]
    if not on_label:
        lengths = [min(pair) for pair in zip(lengths, RULERS_MM, strict=True)]
    spots = list_spots(sheet, sheet.per_page)
    return TestFrame(
        title=title,
        printer=printer,
        page_width_mm=sheet.page_mm[0],
        page_height_mm=sheet.page_mm[1],
        outlines=tuple(label_box(sheet, spot.column, spot.row) for spot in spots),
        printed=tuple(printed_box(sheet, spot.column, spot.row) for spot in spots),
        marks=list_cut_marks(sheet),
        ruler_from_mm=begin,
        across_mm=max(0, lengths[0]),
        down_mm=max(0, lengths[1]),
        on_label=on_label,
        fit=_fit(sheet, fit),
    )


def move_words(move: NextMove, *, is_potted_on: bool) -> str:
    """Return a move in words, as `Sat 24 Apr to lamps, Rack B`."""
    if move.goal is not None:
        place = ", ".join(filter(None, (place_words(move.goal), move.shelf)))
        return _("%(day)s to %(place)s", day=day_words(move.day), place=place)
    if move.origin is Place.HARDENING:
        return _("%(day)s handed out", day=day_words(move.day))
    if is_potted_on:
        return _("%(day)s out", day=day_words(move.day))
    return _("%(day)s potted on or out", day=day_words(move.day))


def _filled_words(tray: TrayOnLabel) -> str:
    day = day_words(tray.sow_on)
    return _("potted on %(day)s", day=day) if tray.potted_on else _("sown %(day)s", day=day)


def _lot_line(lot: LotOnLabel) -> LotLine:
    return LotLine(cells=cells_words(lot.cells), crop=name_words(lot.crop), variety=lot.variety, grower=lot.grower)


def _file(
    kind: LabelKind, title: str, labels: Sequence[Label], order: LabelOrder, *, has_code: bool = True
) -> LabelFile:
    pages: dict[int, list[PlacedLabel]] = {}
    sheet = order.sheet
    for spot, label in zip(list_spots(sheet, len(labels), order.first), labels, strict=True):
        box = printed_box(sheet, spot.column, spot.row)
        code = _code(kind, label.number, box, order) if has_code else Code()
        placed = PlacedLabel(
            left=box.left, top=box.top, width=box.width, height=box.height, label=replace(label, code=code)
        )
        pages.setdefault(spot.page, []).append(placed)
    return LabelFile(
        kind=kind,
        title=title,
        page_width_mm=sheet.page_mm[0],
        page_height_mm=sheet.page_mm[1],
        pages=tuple(tuple(page) for page in pages.values()),
        marks=list_cut_marks(sheet),
        fit=_fit(sheet, order.fit),
    )


def _fit(sheet: LabelSheet, fit: Fit) -> Fit:
    """Return the fit for a sheet: only a page that is a label can be turned."""
    return replace(fit, turned=fit.turned and sheet.paper is StockPaper.LABEL)


def _code(kind: LabelKind, number: int, box: Box, order: LabelOrder) -> Code:
    if order.address is None:
        return Code(note=_("No code: no address is set."))
    pattern = make_pattern(tray_address(order.address, number))
    size = module_mm(order.sheet, box, pattern.modules, CODE_SHARES[kind])
    if size is None:
        return Code(note=_("No code: the label is too small."))
    return Code(modules=pattern.modules, module_mm=size, path=pattern.path)
