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
from app.services.printing import PrinterValues
from app.sheets.words import count_words, number_words
from app.web.forms.fields import ChoiceField, DecimalNumberField, GardenForm, TextField, WholeNumberField
from app.web.forms.typed import shown

MOST_LABELS = 300
FIRST_LABEL = Bounds(1, LABELS_IN_LINE.high**2)
PAPERS = ((StockPaper.A4.value, "A4, 210 × 297 mm"), (StockPaper.LETTER.value, "US letter, 215.9 × 279.4 mm"))
ONE, EACH = "lot", "pot"
NUMBERS = re.compile(r"([0-9]{1,6})(?: ?[-\u2013] ?([0-9]{1,6}))?")
EXAMPLE = "Write numbers and stretches of numbers, such as 1, 2, 5-9."


def read_numbers(text: str) -> tuple[int, ...]:
    """Return the numbers of a list such as `1, 2, 5-9`, each once, in order.

    Raises:
        ValueError: It is something else, or more than one file of labels holds; the message says what would be right.
    """
    found: set[int] = set()
    for part in filter(None, (" ".join(part.split()) for part in re.split("[,;]", text))):
        match = NUMBERS.fullmatch(part)
        if match is None:
            raise ValueError(f"“{shown(part)}” is no number. {EXAMPLE}")
        first, last = int(match[1]), int(match[2] or match[1])
        if last < first:
            raise ValueError(f"“{shown(part)}” runs backwards. Write {last}-{first}.")
        if first not in TRAY_NUMBER or last not in TRAY_NUMBER:
            highest = number_words(int(TRAY_NUMBER.high))
            raise ValueError(f"“{shown(part)}” is no number of a tray: they go from 1 to {highest}.")
        if last - first >= MOST_LABELS:
            raise ValueError(f"“{shown(part)}” are more than {MOST_LABELS} at once. Print them in several files.")
        found.update(range(first, last + 1))
    if not found:
        raise ValueError(f"There is no number here. {EXAMPLE}")
    if len(found) > MOST_LABELS:
        raise ValueError(f"These are {number_words(len(found))} labels; one file holds at most {MOST_LABELS}.")
    return tuple(sorted(found))


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
            raise ValueError(f"Enter it in steps of {self.step:g} {self.unit_words}.")
        return round(steps * self.step, 6)


class PrintForm(GardenForm):
    """Choose what labels are printed on, and with which printer."""

    stock = ChoiceField("Label stock", description="Columns × rows, then width × height of a label.")
    printer = ChoiceField("Printer", kind=int, may_be_empty=True, empty_words="none chosen: as measured")
    first = WholeNumberField(
        "First free label",
        FIRST_LABEL,
        description="On a sheet that is partly used: counted from the upper left, row by row.",
    )
    each = ChoiceField("How many", ((ONE, "one for each lot"), (EACH, "one for each pot of a lot")))
    has_code = BooleanField("With the tray’s code")

    def check_first(self, sheet: LabelSheet) -> bool:
        """Tell whether the stock has such a first label; if not, the field says so."""
        if self.first.data <= sheet.per_page:
            return True
        there = count_words(sheet.per_page, "label", "labels")
        self.first.errors = [f"This stock has {there} on a page. Enter a number from 1 to {sheet.per_page}."]
        return False


class PrinterForm(GardenForm):
    """Add or change a printer."""

    name = TextField("Name", description="As people call it: office, shed, label printer.")
    offset_x_mm = SteppedField(
        "Move to the right",
        OFFSET_MM,
        step=0.1,
        unit_words="mm",
        description="With a minus, to the left. In steps of 0.1 mm.",
    )
    offset_y_mm = SteppedField(
        "Move down", OFFSET_MM, step=0.1, unit_words="mm", description="With a minus, up. In steps of 0.1 mm."
    )
    scale_percent = SteppedField(
        "Scale",
        SCALE_PERCENT,
        step=0.01,
        unit_words="%",
        description="100 where the test frame’s ruler is right. If its 150 mm measure 149: 150 ÷ 149 = 100.67 %.",
    )
    turned = BooleanField(
        "Turn labels by a quarter",
        description="For a label printer that takes labels short side first. Sheets of labels are not turned.",
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

    name = TextField("Name", description="As people call it: blue box, big labels, roll in the shed.")
    label_width_mm = _length("Width of a label", WIDTH_MM)
    label_height_mm = _length("Height of a label", HEIGHT_MM)

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
            field.errors = [f"No label of {error.value:g} mm fits: enter {error.allowed}."]
            return False
        for fault in faults:
            self[fault.measure].errors = [*self[fault.measure].errors, fault.words]
        return not faults


class CutForm(StockForm):
    """Labels to cut out of plain paper."""

    paper = ChoiceField("Paper", PAPERS, kind=StockPaper)

    def sheet(self) -> LabelSheet:
        """Return what was typed as measures, or raise OutOfRangeError."""
        return cut_sheet(self.paper.data, self.label_width_mm.data, self.label_height_mm.data)


class SheetForm(CutForm):
    """Sheets of die-cut labels, as measured with a ruler."""

    columns = WholeNumberField("Labels side by side", LABELS_IN_LINE)
    rows = WholeNumberField("Labels one below the other", LABELS_IN_LINE)
    left_mm = _length("Left edge of the paper to the first label", MARGIN_MM)
    top_mm = _length("Upper edge of the paper to the first label", MARGIN_MM)
    pitch_across_mm = _length(
        "Left edge of a label to that of the next",
        WIDTH_MM,
        may_be_empty=True,
        description="Measure over several labels and divide. Left empty, labels lie edge to edge.",
    )
    pitch_down_mm = _length(
        "Upper edge of a label to that of the next",
        HEIGHT_MM,
        may_be_empty=True,
        description="Likewise. Left empty, labels lie edge to edge.",
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
        "Address for phones",
        longest=LONGEST,
        may_be_empty=True,
        description=(
            "What a phone on the garden’s network types to open this program, such as http://shed.lan:5000. A name "
            "or number that stays is best: codes on paper keep the old one."
        ),
    )
