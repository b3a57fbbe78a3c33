"""Printers, label stock, test frames and the address on paper."""

from dataclasses import dataclass
from typing import Any

from flask import Blueprint, abort, current_app, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.core.house.label_sheets import StockPaper
from app.extensions import db
from app.language import N_, _
from app.services import printing as service
from app.services.names import NameTakenError
from app.services.printing import Stock, sheet_of
from app.sheets.label_stock import sheet_words, stock_words
from app.sheets.labels import Fit, make_test_frame
from app.sheets.pdf import PdfError, Template, make_pdf, usual_paper
from app.sheets.words import decimal_sign
from app.storage.models import LabelStock, Printer
from app.storage.queries.printing import find_public_address, get_printer, get_stock, list_printers, list_stock
from app.storage.queries.rows import row_values
from app.web.access import Who, open_to
from app.web.context import current_settings
from app.web.forms.labels import AddressForm, CutForm, PrinterForm, SheetForm, StockForm
from app.web.gone import open_row
from app.web.kept import kept
from app.web.once import revise, save
from app.web.paging import read_number
from app.web.public_address import current_public_address
from app.web.views.labels import all_stock, read_fit
from app.web.views.sheets import current_units, send_file

bp = Blueprint("printing", __name__, url_prefix="/labels")

TAKEN = N_("Another one has this name.")
FORMS: dict[str, type[StockForm]] = {"sheet": SheetForm, "cut": CutForm, "single": StockForm}


@dataclass(frozen=True, kw_only=True)
class PrintingPage:
    """What labels are printed with.

    Attributes:
        printers: Every printer with its settings in words.
        own: The garden's own label stock with its measures in words.
        stock: Key and words of all label stock.
        address: The address on paper; None where there is none.
        is_fixed: The surroundings set it.
    """

    printers: list[tuple[Printer, str]]
    own: list[tuple[LabelStock, str]]
    stock: list[tuple[str, str]]
    address: str | None
    is_fixed: bool


@bp.get("/printers")
@open_to(Who.COORDINATORS)
@kept
def index() -> ResponseReturnValue:
    """Show printers, label stock and the address on paper."""
    page = PrintingPage(
        printers=[(printer, fit_words(read_fit(printer.id))) for printer in list_printers(db.session)],
        own=[(row, sheet_words(sheet_of(row))) for row in list_stock(db.session)],
        stock=[(stock.key, stock_words(stock)) for stock in all_stock()],
        address=current_public_address(),
        is_fixed=current_settings().public_url is not None,
    )
    return render_template("labels/printers.html", page=page)


@bp.get("/frame.pdf")
@open_to(Who.COORDINATORS)
@kept
def frame() -> ResponseReturnValue:
    """Hand out the test frame of a stock and a printer."""
    stock = find_stock(request.args.get("stock"))
    printer_id = read_number("printer")
    fit = read_fit(printer_id)
    name = _("No printer") if printer_id is None else get_printer(db.session, printer_id).name
    sheet = make_test_frame(
        stock_words(stock), _("%(printer)s: %(fit)s", printer=name, fit=fit_words(fit)), stock.sheet, fit
    )
    try:
        pdf = make_pdf(Template.LABEL_FRAME, sheet, usual_paper(current_units()))
    except PdfError:
        current_app.logger.exception("No PDF of a test frame")
        return render_template("sheets/no_pdf.html", page=url_for("printing.index")), 500
    return send_file(pdf, "application/pdf", "test-frame.pdf")


@bp.route("/printers/new", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def new_printer() -> ResponseReturnValue:
    """Add a printer."""
    form = PrinterForm(data={"offset_x_mm": 0.0, "offset_y_mm": 0.0, "scale_percent": 100.0})
    if form.validate_on_submit():
        try:
            printer = service.add_printer(db.session, form.values())
        except NameTakenError:
            form.name.errors = [_(TAKEN)]
        else:
            return saved(_("%(name)s added", name=printer.name))
    return render_template("labels/printer.html", form=form, printer=None)


@bp.route("/printers/<int:printer_id>/edit", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def edit_printer(printer_id: int) -> ResponseReturnValue:
    """Change a printer."""
    printer = open_row(get_printer, printer_id, lambda: ("labels/printer.html", {"form": PrinterForm()}))
    form = PrinterForm(obj=printer)
    if form.validate_on_submit():
        try:
            service.change_printer(db.session, printer_id, form.values())
        except NameTakenError:
            form.name.errors = [_(TAKEN)]
        else:
            return saved(_("%(name)s saved", name=printer.name))
    return render_template("labels/printer.html", form=form, printer=printer)


@bp.route("/printers/<int:printer_id>/delete", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def delete_printer(printer_id: int) -> ResponseReturnValue:
    """Ask before a printer is removed, and remove it."""
    printer = get_printer(db.session, printer_id)
    changed = revise(row_values(printer))
    if request.method == "POST" and not changed:
        return saved(_("%(name)s removed", name=service.remove_printer(db.session, printer_id)))
    return render_template(
        "labels/delete.html", changed=changed, name=printer.name, words=_("Its offset and scale are forgotten.")
    )


@bp.route("/stock/new/<any(sheet, cut, single):way>", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def new_stock(way: str) -> ResponseReturnValue:
    """Add label stock: die-cut sheets, labels to cut, or the labels of a label printer."""
    form = FORMS[way]()
    if form.validate_on_submit():
        try:
            stock = service.add_stock(db.session, form.name.data, form.sheet())
        except NameTakenError:
            form.name.errors = [_(TAKEN)]
        else:
            return saved(_("%(name)s added: %(measures)s", name=stock.name, measures=sheet_words(sheet_of(stock))))
    return render_template("labels/stock.html", form=form, way=way, stock=None)


@bp.route("/stock/<int:stock_id>/edit", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def edit_stock(stock_id: int) -> ResponseReturnValue:
    """Change label stock of the garden's own."""
    stock = open_row(get_stock, stock_id, add_instead)
    way = way_of(stock)
    form = FORMS[way](obj=stock)
    if form.validate_on_submit():
        try:
            service.change_stock(db.session, stock_id, form.name.data, form.sheet())
        except NameTakenError:
            form.name.errors = [_(TAKEN)]
        else:
            return saved(_("%(name)s saved: %(measures)s", name=stock.name, measures=sheet_words(sheet_of(stock))))
    return render_template("labels/stock.html", form=form, way=way, stock=stock)


@bp.route("/stock/<int:stock_id>/delete", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def delete_stock(stock_id: int) -> ResponseReturnValue:
    """Ask before label stock is removed, and remove it."""
    stock = get_stock(db.session, stock_id)
    changed = revise(row_values(stock))
    if request.method == "POST" and not changed:
        return saved(_("%(name)s removed", name=service.remove_stock(db.session, stock_id)))
    return render_template(
        "labels/delete.html", changed=changed, name=stock.name, words=f"{sheet_words(sheet_of(stock))}."
    )


@bp.route("/address", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def address() -> ResponseReturnValue:
    """Set the address on paper."""
    fixed = current_settings().public_url
    row = find_public_address(db.session)
    form = AddressForm(revises=True, address=None if row is None else row.address)
    if fixed is None and form.validate_on_submit():
        service.set_public_address(db.session, form.address.data)
        return saved(_("Address for phones saved") if form.address.data else _("Address for phones removed"))
    return render_template("labels/address.html", form=form, fixed=fixed)


def saved(words: str) -> ResponseReturnValue:
    """Commit, and go back to the page of printers and stock with a message."""
    return save(url_for("printing.index"), words)


def find_stock(key: str | None) -> Stock:
    """Return the label stock of an address, or answer that there is none."""
    return next((stock for stock in all_stock() if stock.key == key), None) or abort(404)


def way_of(stock: LabelStock) -> str:
    """Return which form label stock was entered in."""
    if stock.paper is StockPaper.LABEL:
        return "single"
    return "cut" if stock.cut else "sheet"


def add_instead() -> tuple[str, dict[str, Any]]:
    """Return the page that adds label stock which was sent to be changed, but is gone."""
    way = "sheet" if "columns" in request.form else "cut" if "paper" in request.form else "single"
    return "labels/stock.html", {"form": FORMS[way](), "way": way}


def fit_words(fit: Fit) -> str:
    """Return a printer's settings in words, as `0.3 mm to the right, 0.5 mm up, scale 100.2 %`."""
    across, down = (f"{abs(offset):.1f}".replace(".", decimal_sign()) for offset in (fit.dx_mm, fit.dy_mm))
    scale = f"{round(fit.scale * 100, 2):g}".replace(".", decimal_sign())
    parts = [
        _("%(mm)s mm to the left", mm=across) if fit.dx_mm < 0 else _("%(mm)s mm to the right", mm=across),
        _("%(mm)s mm up", mm=down) if fit.dy_mm < 0 else _("%(mm)s mm down", mm=down),
        _("scale %(percent)s %%", percent=scale),
    ]
    return ", ".join([*parts, _("labels turned")] if fit.turned else parts)
