"""Label stock in words: its names are made of its measures."""

from app.core.house.label_sheets import LabelSheet, StockPaper
from app.core.words import Units
from app.language import N_, _
from app.services.printing import Stock
from app.sheets.units import DEPTH_MM
from app.sheets.words import decimal_sign

PAPERS = {StockPaper.A4: "A4", StockPaper.LETTER: N_("US letter")}
MM_PER_INCH = 25.4
# A length this near to a sixteenth of an inch is said in inches too. [mm]
SAME_MM = 0.05


def stock_words(stock: Stock) -> str:
    """Return the name of label stock, as `A4, 3 × 7, 63.5 × 38.1 mm`, with its own name before it."""
    words = sheet_words(stock.sheet)
    return f"{stock.name}: {words}" if stock.name else words


def sheet_words(sheet: LabelSheet) -> str:
    """Return the measures of label stock in words, as `A4, 3 × 7, 63.5 × 38.1 mm`."""
    width, height = sheet.label_width_mm, sheet.label_height_mm
    size = f"{_mm(width)} × {_mm(height)} mm"
    if sheet.paper is StockPaper.LABEL:
        return _("Label printer, one a page, %(size)s", size=size)
    paper = _(PAPERS[sheet.paper])
    if sheet.cut:
        return _(
            "%(paper)s plain paper to cut, %(columns)s × %(rows)s, %(size)s",
            paper=paper,
            columns=sheet.columns,
            rows=sheet.rows,
            size=size,
        )
    if sheet.paper is StockPaper.LETTER:
        inches = _("%(width)s × %(height)s in", width=_inches(width), height=_inches(height))
        size = f"{size} ({inches})"
    return f"{paper}, {sheet.columns} × {sheet.rows}, {size}"


def _mm(length: float) -> str:
    return f"{length:.1f}".removesuffix(".0").replace(".", decimal_sign())


def _inches(length: float) -> str:
    sixteenths = round(length / MM_PER_INCH * 16)
    if abs(sixteenths * MM_PER_INCH / 16 - length) < SAME_MM:
        return DEPTH_MM.unit(Units.US).number(length)
    return f"{length / MM_PER_INCH:.2f}".replace(".", decimal_sign())
