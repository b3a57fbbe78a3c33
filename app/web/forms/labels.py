"""What labels are printed on and with: the choice for one file, printers, label stock, the address on paper."""

import re
from typing import Any

from wtforms import BooleanField

from app.core.errors import OutOfRangeError
from app.core.house.address import LONGEST, read_address
from app.core.house.label_sheets import (
    HEIGHT_MM,
    LABELS_IN_LINE,
    MARGIN_MM,
    OFFSET_MM,
    SCALE_PERCENT,
    WIDTH_MM,
    LabelSheet,
    StockPaper,
    cut_sheet,
    list_faults,
    single_label,
)
from app.core.limits import TRAY_NUMBER, Bounds
from app.language import N_, _
from app.services.printing import PrinterValues
from app.sheets.words import count_words, decimal_sign, number_words
from app.web.forms.fields import ChoiceField, GardenForm, TextField
from app.web.forms.numbers import DecimalNumberField, WholeNumberField
from app.web.forms.typed import shown

MOST_LABELS = 300
FIRST_LABEL = Bounds(1, LABELS_IN_LINE.high**2)
PAPERS = ((StockPaper.A4.value, "A4, 210 × 297 mm"), (StockPaper.LETTER.value, N_("US letter, 215.9 × 279.4 mm")))
ONE, EACH = "lot", "pot"
NUMBERS = re.compile(r"([0-9]{1,6})(?: ?[-\u2013] ?([0-9]{1,6}))?")
EXAMPLE = N_("Write numbers and stretches of numbers, such as 1, 2, 5-9.")


def read_numbers(text: str) -> tuple[int, ...]:
    """Return the numbers of a list such as `1, 2, 5-9`, each once, in order.

    Raises:
        ValueError: It is something else, or more than one file of labels holds; the message says what would be right.
    """
    found: set[int] = set()
    for part in filter(None, (" ".join(part.split()) for part in re.split("[,;]", text))):
        match = NUMBERS.fullmatch(part)
        if match is None:
            raise ValueError(" ".join((_("“%(text)s” is no number.", text=shown(part)), _(EXAMPLE))))
        first, last = int(match[1]), int(match[2] or match[1])
        if last < first:
            raise ValueError(
                _("“%(text)s” runs backwards. Write %(first)s-%(last)s.", text=shown(part), first=last, last=first)
            )
        if first not in TRAY_NUMBER or last not in TRAY_NUMBER:
            highest = number_words(int(TRAY_NUMBER.high))
            raise ValueError(
                _(
                    "“%(text)s” is no number of a tray: they go from 1 to %(highest)s.",
                    text=shown(part),
                    highest=highest,
                )
            )
        if last - first >= MOST_LABELS:
            raise ValueError(
                _(
                    "“%(text)s” are more than %(most)s at once. Print them in several files.",
                    text=shown(part),
                    most=MOST_LABELS,
                )
            )
        found.update(range(first, last + 1))
    if not found:
        raise ValueError(" ".join((_("There is no number here."), _(EXAMPLE))))
    if len(found) > MOST_LABELS:
        raise ValueError(too_many_words(len(found), MOST_LABELS))
    return tuple(sorted(found))


def too_many_words(count: int, most: int) -> str:
    """Return that so many labels do not go into one file."""
    return _(
        "These are %(count)s labels; one file holds at most %(most)s.",
        count=number_words(count),
        most=most,
    )


class SteppedField(DecimalNumberField):
    """A number in steps, such as tenths of a millimetre."""

    def __init__(self, label: str, bounds: Bounds, *, step: float, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Make the field; `step` is in the unit of the bounds."""
        super().__init__(label, bounds, **kwargs)
        self.step = step

    def read(self, text: str) -> float:
        """Return the number, or raise ValueError where it lies between two steps."""
        value = super().read(text)
        steps = round(value / self.step)
        if abs(value / self.step - steps) > 1e-6:  # noqa: PLR2004 - floating error
            step = f"{self.step:g}".replace(".", decimal_sign())
            raise ValueError(_("Enter it in steps of %(step)s %(unit)s.", step=step, unit=self.unit_words))
        return round(steps * self.step, 6)


class PrintForm(GardenForm):
    """Choose what labels are printed on, and with which printer."""

    stock = ChoiceField(N_("Label stock"), description=N_("Columns × rows, then width × height of a label."))
    printer = ChoiceField(N_("Printer"), kind=int, may_be_empty=True, empty_words=N_("none chosen: as measured"))
    first = WholeNumberField(
        N_("First free label"),
        FIRST_LABEL,
        description=N_("On a sheet that is partly used: counted from the upper left, row by row."),
    )
    each = ChoiceField(N_("How many"), ((ONE, N_("one for each lot")), (EACH, N_("one for each pot of a lot"))))
    has_code = BooleanField(N_("With the tray’s code"))

    def check_first(self, sheet: LabelSheet) -> bool:
        """Tell whether the stock has such a first label; if not, the field says so."""
        if self.first.data <= sheet.per_page:
            return True
        there = count_words(sheet.per_page, "label", "labels")
        self.first.errors = [
            _(
                "This stock has %(labels)s on a page. Enter a number from 1 to %(most)s.",
                labels=there,
                most=sheet.per_page,
            )
        ]
        return False


class PrinterForm(GardenForm):
    """Add or change a printer."""

    name = TextField(N_("Name"), description=N_("As people call it: office, shed, label printer."))
    offset_x_mm = SteppedField(
        N_("Move to the right"),
        OFFSET_MM,
        step=0.1,
        unit_words="mm",
        description=N_("With a minus, to the left. In steps of 0.1 mm."),
    )
    offset_y_mm = SteppedField(
        N_("Move down"), OFFSET_MM, step=0.1, unit_words="mm", description=N_("With a minus, up. In steps of 0.1 mm.")
    )
    scale_percent = SteppedField(
        N_("Scale"),
        SCALE_PERCENT,
        step=0.01,
        unit_words="%",
        description=N_("100 where the test frame’s ruler is right. If its 150 mm measure 149: 150 ÷ 149 = 100.67 %%."),
    )
    turned = BooleanField(
        N_("Turn labels by a quarter"),
        description=N_("For a label printer that takes labels short side first. Sheets of labels are not turned."),
    )

    def values(self) -> PrinterValues:
        """Return what was typed, once it is valid."""
        return PrinterValues(
            name=self.name.data,
            offset_x_mm=self.offset_x_mm.data,
            offset_y_mm=self.offset_y_mm.data,
            scale_percent=self.scale_percent.data,
            turned=self.turned.data,
        )


def _length(label: str, bounds: Bounds, **kwargs: Any) -> DecimalNumberField:  # noqa: ANN401 - as WTForms
    return DecimalNumberField(label, bounds, unit_words="mm", **kwargs)


class StockForm(GardenForm):
    """Add or change label stock; the three kinds share their name."""

    name = TextField(N_("Name"), description=N_("As people call it: blue box, big labels, roll in the shed."))
    label_width_mm = _length(N_("Width of a label"), WIDTH_MM)
    label_height_mm = _length(N_("Height of a label"), HEIGHT_MM)

    def sheet(self) -> LabelSheet:
        """Return what was typed as measures, or raise OutOfRangeError."""
        return single_label(self.label_width_mm.data, self.label_height_mm.data)

    def validate(self, extra_validators: Any = None) -> bool:  # noqa: ANN401 - as WTForms
        """Tell whether every field is right, and whether the labels fit the paper."""
        if not super().validate(extra_validators):
            return False
        try:
            faults = list_faults(self.sheet())
        except OutOfRangeError as error:
            field = self.label_width_mm if "width" in error.argument else self.label_height_mm
            size = f"{error.value:g}".replace(".", decimal_sign())
            field.errors = [_("No label of %(size)s mm fits: enter %(allowed)s.", size=size, allowed=error.allowed)]
            return False
        for fault in faults:
            self[fault.measure].errors = [*self[fault.measure].errors, fault.words]
        return not faults


class CutForm(StockForm):
    """Labels to cut out of plain paper."""

    paper = ChoiceField(N_("Paper"), PAPERS, kind=StockPaper)

    def sheet(self) -> LabelSheet:
        """Return what was typed as measures, or raise OutOfRangeError."""
        return cut_sheet(self.paper.data, self.label_width_mm.data, self.label_height_mm.data)


class SheetForm(CutForm):
    """Sheets of die-cut labels, as measured with a ruler."""

    columns = WholeNumberField(N_("Labels side by side"), LABELS_IN_LINE)
    rows = WholeNumberField(N_("Labels one below the other"), LABELS_IN_LINE)
    left_mm = _length(N_("Left edge of the paper to the first label"), MARGIN_MM)
    top_mm = _length(N_("Upper edge of the paper to the first label"), MARGIN_MM)
    pitch_across_mm = _length(
        N_("Left edge of a label to that of the next"),
        WIDTH_MM,
        may_be_empty=True,
        description=N_("Measure over several labels and divide. Left empty, labels lie edge to edge."),
    )
    pitch_down_mm = _length(
        N_("Upper edge of a label to that of the next"),
        HEIGHT_MM,
        may_be_empty=True,
        description=N_("Likewise. Left empty, labels lie edge to edge."),
    )

    def sheet(self) -> LabelSheet:
        """Return what was typed as measures."""
        width, height = self.label_width_mm.data, self.label_height_mm.data
        return LabelSheet(
            paper=self.paper.data,
            columns=self.columns.data,
            rows=self.rows.data,
            label_width_mm=width,
            label_height_mm=height,
            left_mm=self.left_mm.data,
            top_mm=self.top_mm.data,
            pitch_across_mm=width if self.pitch_across_mm.data is None else self.pitch_across_mm.data,
            pitch_down_mm=height if self.pitch_down_mm.data is None else self.pitch_down_mm.data,
        )


class AddressField(TextField):
    """The address by which phones reach the program."""

    def read(self, text: str) -> str:
        """Return the address as it is kept, or raise ValueError with what would be right."""
        return read_address(super().read(text))


class AddressForm(GardenForm):
    """Set the address on paper."""

    address = AddressField(
        N_("Address for phones"),
        longest=LONGEST,
        may_be_empty=True,
        description=(
            N_(
                "What a phone on the garden’s network types to open this program, such as http://shed.lan:5000. A name "
                "or number that stays is best: codes on paper keep the old one."
            )
        ),
    )
