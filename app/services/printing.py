"""Printers, label stock and the address on paper: adding, changing, removing."""

import csv
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from app.core.house.label_sheets import LabelSheet, StockPaper, cut_sheet, single_label
from app.services.columns import set_columns
from app.services.names import require_free
from app.storage.models import LabelStock, Printer, PublicAddress
from app.storage.published import SEED_DATA
from app.storage.queries.printing import find_public_address, get_printer, get_stock, list_stock
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from app.storage import Session

STOCK_FILE = SEED_DATA / "label_stock.csv"
OWN = "own-"
MEASURES = (
    "columns",
    "rows",
    "label_width_mm",
    "label_height_mm",
    "left_mm",
    "top_mm",
    "pitch_across_mm",
    "pitch_down_mm",
)


@dataclass(frozen=True, kw_only=True)
class PrinterValues:
    """What is written down of a printer.

    Attributes:
        name: What people call it.
        offset_x_mm: How far to the right everything is moved. [mm]
        offset_y_mm: How far down everything is moved. [mm]
        scale_percent: How much larger everything is printed. [percent]
        turned: It takes labels of their own page by the other side first.
    """

    name: str
    offset_x_mm: float
    offset_y_mm: float
    scale_percent: float
    turned: bool


@dataclass(frozen=True, kw_only=True)
class Stock:
    """Label stock to choose from.

    Attributes:
        key: As it stands in forms and addresses.
        name: Its own name; empty for stock that comes with the program, which is known by its measures.
        sheet: Its measures.
    """

    key: str
    name: str
    sheet: LabelSheet


def add_printer(session: "Session", values: PrinterValues) -> Printer:
    """Add a printer.

    Raises:
        NameTakenError: Another printer has this name.
    """
    hold_writes(session)
    require_free(session, Printer.name, values.name)
    printer = Printer()
    set_columns(printer, values)
    session.add(printer)
    session.flush()
    return printer


def change_printer(session: "Session", printer_id: int, values: PrinterValues) -> Printer:
    """Change a printer.

    Raises:
        NotFoundError: There is no such printer.
        NameTakenError: Another printer has this name.
    """
    hold_writes(session)
    printer = get_printer(session, printer_id)
    require_free(session, Printer.name, values.name, printer)
    set_columns(printer, values)
    session.flush()
    return printer


def remove_printer(session: "Session", printer_id: int) -> str:
    """Remove a printer and return its name.

    Raises:
        NotFoundError: There is no such printer.
    """
    hold_writes(session)
    printer = get_printer(session, printer_id)
    session.delete(printer)
    session.flush()
    return printer.name


def add_stock(session: "Session", name: str, sheet: LabelSheet) -> LabelStock:
    """Add label stock of the garden's own.

    Raises:
        NameTakenError: Other stock has this name.
    """
    hold_writes(session)
    require_free(session, LabelStock.name, name)
    stock = LabelStock(name=name)
    set_columns(stock, sheet)
    session.add(stock)
    session.flush()
    return stock


def change_stock(session: "Session", stock_id: int, name: str, sheet: LabelSheet) -> LabelStock:
    """Change label stock of the garden's own.

    Raises:
        NotFoundError: There is no such stock.
        NameTakenError: Other stock has this name.
    """
    hold_writes(session)
    stock = get_stock(session, stock_id)
    require_free(session, LabelStock.name, name, stock)
    stock.name = name
    set_columns(stock, sheet)
    session.flush()
    return stock


def remove_stock(session: "Session", stock_id: int) -> str:
    """Remove label stock of the garden's own and return its name.

    Raises:
        NotFoundError: There is no such stock.
    """
    hold_writes(session)
    stock = get_stock(session, stock_id)
    session.delete(stock)
    session.flush()
    return stock.name


def sheet_of(stock: LabelStock) -> LabelSheet:
    """Return the measures of label stock of the garden's own."""
    measures = {name: getattr(stock, name) for name in MEASURES}
    return LabelSheet(paper=stock.paper, cut=stock.cut, **measures)


@cache
def usual_stock() -> tuple[Stock, ...]:
    """Return the label stock that comes with the program, in the order of its file."""
    with STOCK_FILE.open(encoding="utf-8", newline="") as file:
        sheets = [_read_sheet(row) for row in csv.DictReader(file)]
    return tuple(Stock(key=_key(sheet), name="", sheet=sheet) for sheet in sheets)


def list_all_stock(session: "Session", first: StockPaper = StockPaper.A4) -> list[Stock]:
    """Return the garden's own label stock and then that of the program, of this paper before the others."""
    own = [Stock(key=f"{OWN}{row.id}", name=row.name, sheet=sheet_of(row)) for row in list_stock(session)]
    return own + sorted(
        usual_stock(), key=lambda stock: (stock.sheet.paper is not first, list(StockPaper).index(stock.sheet.paper))
    )


def set_public_address(session: "Session", address: str | None) -> None:
    """Keep the address on paper, as `app.core.house.address.read_address` gives it, or none."""
    hold_writes(session)
    row = find_public_address(session)
    if row is not None and address is None:
        session.delete(row)
    elif row is not None and address is not None:
        row.address = address
    elif address is not None:
        session.add(PublicAddress(id=1, address=address))
    session.flush()


def _read_sheet(row: dict[str, str]) -> LabelSheet:
    paper, width, height = StockPaper(row["paper"]), float(row["label_width_mm"]), float(row["label_height_mm"])
    if paper is StockPaper.LABEL:
        return single_label(width, height)
    if row["cut"] == "yes":
        return cut_sheet(paper, width, height)
    return LabelSheet(
        paper=paper,
        columns=int(row["columns"]),
        rows=int(row["rows"]),
        label_width_mm=width,
        label_height_mm=height,
        left_mm=float(row["left_mm"]),
        top_mm=float(row["top_mm"]),
        pitch_across_mm=float(row["pitch_across_mm"]),
        pitch_down_mm=float(row["pitch_down_mm"]),
    )


def _key(sheet: LabelSheet) -> str:
    grid = f"{sheet.columns}x{sheet.rows}{'-cut' if sheet.cut else ''}"
    return f"{sheet.paper}-{grid}-{sheet.label_width_mm:g}x{sheet.label_height_mm:g}"
