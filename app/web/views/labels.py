"""Labels: which trays, on which stock, with which printer; and what was made before and no longer holds."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from flask import Blueprint, current_app, render_template, request, session, url_for
from flask.typing import ResponseReturnValue

from app.core.house.label_sheets import LabelKind, StockPaper
from app.core.words import Units
from app.extensions import db
from app.language import N_, _, choose_language, ngettext, nouns, speaking
from app.services import labels as service
from app.services.labels import (
    TrayOnLabel,
    WornLabel,
    list_missing_labels,
    list_trays_on_labels,
    list_worn_labels,
)
from app.services.printing import Stock, list_all_stock
from app.sheets.label_stock import stock_words
from app.sheets.labels import Fit, LabelFile, LabelOrder, make_stake_labels, make_tags, make_tray_labels
from app.sheets.pdf import PdfError, Template, count_lost, make_pdf, usual_paper
from app.sheets.words import range_words
from app.storage.engine import reading
from app.storage.queries.printing import PrintRow, get_printer, list_days_filled, list_printers, list_prints
from app.storage.queries.trays import list_trays_filled
from app.web.access import Who, open_to
from app.web.context import current_day
from app.web.forms.labels import EACH, MOST_LABELS, ONE, PrintForm, read_numbers, too_many_words
from app.web.kept import kept
from app.web.public_address import current_public_address
from app.web.readers import language_of_garden
from app.web.views.sheets import DAY, current_units, send_file

bp = Blueprint("labels", __name__, url_prefix="/labels")

KINDS = {
    LabelKind.TRAY: N_("Tray labels"),
    LabelKind.STAKE: N_("Stakes for pots"),
    LabelKind.TAG: N_("Numbered tags"),
}
NOUNS = {
    LabelKind.TRAY: nouns("tray label", "tray labels"),
    LabelKind.STAKE: nouns("stake label", "stake labels"),
    LabelKind.TAG: nouns("tag", "tags"),
}


@dataclass(frozen=True, kw_only=True)
class Choice:
    """What an address asks labels for.

    Attributes:
        kind: The kind of label.
        text: The numbers as they were typed.
        filled: The day on which the trays are filled; None where they are named by number.
        numbers: The numbers; empty where none are asked for or they cannot be read.
        wrong: What is wrong with them, empty otherwise.
    """

    kind: LabelKind
    text: str
    filled: date | None
    numbers: tuple[int, ...]
    wrong: str

    @property
    def href(self) -> str:
        """Address of the page that asks for the same labels."""
        return url_for("labels.index", kind=self.kind.value, trays=range_text(self.numbers))

    @property
    def action(self) -> str:
        """Address that makes them."""
        return url_for("labels.make", kind=self.kind.value, trays=range_text(self.numbers))


@dataclass(frozen=True, kw_only=True)
class LabelsPage:
    """The page on which labels are chosen.

    Attributes:
        choice: What the address asks for.
        kinds: Value, words and address of each kind of label.
        noun: The kind of label, one and several.
        trays: The trays asked for, as far as there are any.
        missing: Numbers asked for that no tray has, in words.
        made: The label of this kind that was made last, by number.
        count: Labels of the file; one for each lot, for stakes.
        lost: Letters on them that cannot be printed.
        days: Each day on which trays are filled, with how many.
        to_make: Trays without a label: day of filling, numbers, address of the page that makes them, and count.
        address: The address in the codes; None where there is none.
        tags: The tags that were made, in words.
    """

    choice: Choice
    kinds: list[tuple[str, str, str]]
    noun: tuple[str, str]
    trays: list[TrayOnLabel]
    missing: str
    made: dict[int, PrintRow]
    count: int
    lost: int
    days: list[tuple[date, int]]
    to_make: list[tuple[date, str, str, int]]
    address: str | None
    tags: str


@dataclass(frozen=True, kw_only=True)
class WornLine:
    """Labels that no longer hold for the same reason.

    Attributes:
        noun: What they are.
        numbers: Their numbers in words.
        href: Address of the page that makes them again.
        made_on: The day they were made.
        address: The address in their codes; None where they have none.
        is_elsewhere: The garden's address is another now.
        is_changed: What they say has changed.
    """

    noun: str
    numbers: str
    href: str
    made_on: date
    address: str | None
    is_elsewhere: bool
    is_changed: bool


@bp.get("")
@open_to(Who.COORDINATORS)
def index() -> ResponseReturnValue:
    """Show what labels can be made for; kind and trays stand in the address."""
    choice = read_choice()
    form = make_form(first=1, has_code=True)
    return render_template("labels/index.html", page=make_page(choice), form=form)


@bp.post("/print")
@open_to(Who.COORDINATORS)
def make() -> ResponseReturnValue:
    """Hand out a file of labels, and remember that they were made."""
    choice, today = read_choice(), current_day()
    with reading():
        form = make_form()
        if choice.kind is not LabelKind.STAKE:
            del form.each
        stock = next((one for one in all_stock() if one.key == form.stock.data), None)
        ready = form.validate_on_submit() and stock is not None and form.check_first(stock.sheet)
        trays = trays_of(choice)
        spoken = choose_language(language_of_garden())
        with speaking(spoken):
            labels = make_labels(choice, trays, form, stock) if ready and stock else None
        if labels is None or not 0 < count_of(labels) <= MOST_LABELS:
            if labels is not None and count_of(labels):
                wrong = form.each if choice.kind is LabelKind.STAKE else form.stock
                wrong.errors = [too_many_words(count_of(labels), MOST_LABELS)]
            return render_template("labels/index.html", page=make_page(choice), form=form)
        address, paper = current_public_address(), usual_paper(current_units())
        db.session.rollback()  # nobody waits for the file
    try:
        with speaking(spoken):
            pdf = make_pdf(Template.LABELS, labels, paper)
    except PdfError:
        current_app.logger.exception("No PDF of labels")
        return render_template("sheets/no_pdf.html", page=choice.href), 500
    has_code = choice.kind is not LabelKind.STAKE or form.has_code.data
    contents = {tray.number: tray for tray in trays} or dict.fromkeys(choice.numbers)
    service.note_labels(db.session, choice.kind, contents, address if has_code else None, today)
    db.session.commit()
    session["label_stock"], session["label_printer"] = form.stock.data, form.printer.data
    return send_file(pdf, "application/pdf", f"{choice.kind}-labels-{today.isoformat()}.pdf")


@bp.get("/again")
@open_to(Who.COORDINATORS)
@kept
def again() -> ResponseReturnValue:
    """Show labels that were made and no longer hold."""
    address = current_public_address()
    lines = worn_lines(list_worn_labels(db.session, address, current_day()))
    return render_template("labels/again.html", lines=lines, address=address)


def read_choice() -> Choice:
    """Return what the address asks labels for."""
    kind = LabelKind(request.args["kind"]) if request.args.get("kind") in list(LabelKind) else LabelKind.TRAY
    text, day = request.args.get("trays", "").strip(), request.args.get("filled", "")
    numbers: tuple[int, ...] = ()
    filled, wrong = None, ""
    if text:
        try:
            numbers = read_numbers(text)
        except ValueError as error:
            wrong = str(error)
    elif DAY.fullmatch(day) and kind is not LabelKind.TAG:
        try:
            filled = date.fromisoformat(day)
        except ValueError:
            wrong = _("There is no such day.")
        else:
            numbers = tuple(row.number for row in list_trays_filled(db.session, filled, filled))[:MOST_LABELS]
    return Choice(kind=kind, text=text, filled=filled, numbers=numbers, wrong=wrong)


def make_form(**values: object) -> PrintForm:
    """Return the form of stock and printer, with what was chosen last."""
    chosen = {"stock": session.get("label_stock"), "printer": session.get("label_printer"), "each": ONE}
    form = PrintForm(data=chosen | values)
    stock = all_stock()
    form.stock.offer([(one.key, stock_words(one)) for one in stock])
    form.printer.offer([(printer.id, printer.name) for printer in list_printers(db.session)])
    if not form.is_submitted():  # what was chosen last may be gone
        form.stock.data = form.stock.data if form.stock.data in {one.key for one in stock} else stock[0].key
        form.printer.data = form.printer.data if form.printer.data in form.printer.values else None
    return form


def all_stock() -> list[Stock]:
    """Return all label stock, that of the garden's paper first."""
    first = StockPaper.LETTER if current_units() is Units.US else StockPaper.A4
    return list_all_stock(db.session, first)


def trays_of(choice: Choice) -> list[TrayOnLabel]:
    """Return the trays that the labels are for; none for tags."""
    if choice.kind is LabelKind.TAG or not choice.numbers:
        return []
    return list_trays_on_labels(db.session, choice.numbers, current_day())


def make_labels(choice: Choice, trays: list[TrayOnLabel], form: PrintForm, stock: Stock) -> LabelFile:
    """Return the labels on their stock, as the printer needs them."""
    order = LabelOrder(
        sheet=stock.sheet, first=form.first.data, fit=read_fit(form.printer.data), address=current_public_address()
    )
    if choice.kind is LabelKind.TRAY:
        return make_tray_labels(trays, order)
    if choice.kind is LabelKind.STAKE:
        return make_stake_labels(trays, order, one_each=form.each.data == EACH, has_code=form.has_code.data)
    return make_tags(choice.numbers, order)


def read_fit(printer_id: int | None) -> Fit:
    """Return how a printer is set; without one, as measured."""
    if printer_id is None:
        return Fit()
    printer = get_printer(db.session, printer_id)
    return Fit(
        dx_mm=printer.offset_x_mm,
        dy_mm=printer.offset_y_mm,
        scale=printer.scale_percent / 100,
        turned=printer.turned,
    )


def count_of(labels: LabelFile) -> int:
    """Return how many labels a file holds."""
    return sum(len(page) for page in labels.pages)


def make_page(choice: Choice) -> LabelsPage:
    """Return the page of a choice; what is to be made stands on it while nothing is chosen."""
    address, trays = current_public_address(), trays_of(choice)
    order = LabelOrder(sheet=all_stock()[0].sheet, address=address)
    labels = make_stake_labels(trays, order) if choice.kind is LabelKind.STAKE else make_tray_labels(trays, order)
    is_tag = choice.kind is LabelKind.TAG
    there = {tray.number for tray in trays}
    missing = [] if is_tag else [number for number in choice.numbers if number not in there]
    made = list_prints(db.session, choice.kind, None if is_tag else choice.numbers) if is_tag or trays else []
    return LabelsPage(
        choice=choice,
        kinds=[(kind.value, _(words), url_for("labels.index", kind=kind.value)) for kind, words in KINDS.items()],
        noun=NOUNS[choice.kind],
        trays=trays,
        missing=range_words(missing),
        made={row.number: row for row in made},
        count=len(choice.numbers) if is_tag else count_of(labels),
        lost=count_lost(labels),
        days=list_days_filled(db.session),
        to_make=[] if choice.numbers or is_tag else list(missing_lines(choice.kind)),
        address=address,
        tags=range_words(row.number for row in made) if is_tag else "",
    )


def missing_lines(kind: LabelKind) -> Iterable[tuple[date, str, str, int]]:
    """Yield the trays without a label: day of filling, numbers, address of the page that makes them, and count."""
    if kind is LabelKind.TRAY:
        for day, numbers in list_missing_labels(db.session, current_day()):
            first = numbers[:MOST_LABELS]
            yield day, range_words(first), url_for("labels.index", trays=range_text(first)), len(first)


def worn_lines(worn: Iterable[WornLabel]) -> list[WornLine]:
    """Return labels that no longer hold, those with the same reason on one line."""

    def likeness(label: WornLabel) -> tuple[object, ...]:
        return label.kind, label.is_changed, label.is_elsewhere, label.address or "", label.made_on

    lines = []
    for _likeness, alike in groupby(sorted(worn, key=lambda one: (likeness(one), one.number)), key=likeness):
        group = list(alike)[:MOST_LABELS]
        numbers = [label.number for label in group]
        first = group[0]
        one, many = NOUNS[first.kind]
        lines.append(
            WornLine(
                noun=ngettext(one, many, len(group)),
                numbers=range_words(numbers),
                href=url_for("labels.index", kind=first.kind.value, trays=range_text(numbers)),
                made_on=first.made_on,
                address=first.address,
                is_elsewhere=first.is_elsewhere,
                is_changed=first.is_changed,
            )
        )
    return lines


def range_text(numbers: Iterable[int]) -> str:
    """Return ascending numbers as they stand in addresses, as `1-4,9`."""
    return range_words(numbers).replace(" – ", "-").replace(", ", ",")
