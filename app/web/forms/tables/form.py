"""The form in which a table is pasted or handed in as a file."""

from typing import Any

from flask import request
from flask_wtf.file import FileField
from werkzeug.datastructures import FileStorage
from wtforms import HiddenField

from app.language import N_, _
from app.web.forms.fields import ChoiceField, GardenForm, LongTextField, require_printable
from app.web.forms.tables.grid import NoTableError, text_of_file

LONGEST_TABLE = 200_000
CHOICE = "is-"  # how the names of inputs begin that say what an unknown name is to be


class TableField(LongTextField):
    """Rows and cells; tabs stay, since they set cells apart."""

    is_one_of_two = True  # beside a file: neither may be left out, but one of them

    def clean(self, text: str) -> str:
        """Return the text with one kind of line break."""
        return text.replace("\r\n", "\n").replace("\r", "\n").removeprefix("\ufeff").strip("\n")

    def read(self, text: str) -> str:
        """Return the text."""
        return require_printable(text, allowed="\n\t")

    def _value(self) -> str:
        text = str(self.raw_data[0]) if self.raw_data else self.data or ""
        return "".join(letter for letter in text if letter in "\n\t" or letter.isprintable())


class TableForm(GardenForm):
    """Paste a table, or choose a file; what was understood is shown before anything is saved."""

    text = TableField(
        N_("Rows from a spreadsheet"),
        longest=LONGEST_TABLE,
        may_be_empty=True,
        description=N_(
            "Mark the cells in the spreadsheet, the row with the names of the columns too, copy them, and paste them "
            "here."
        ),
    )
    file = FileField(N_("Or a CSV file"), description=N_("Tabs, semicolons or commas; up to 1,000 rows."))
    order = ChoiceField(N_("Days"), (("day", N_("day first")), ("month", N_("month first"))), may_be_empty=True)
    seen = HiddenField()

    def validate(self, extra_validators: Any = None) -> bool:  # noqa: ANN401 - as WTForms
        """Take the text of the file, where one was chosen, and check that there is any."""
        file = self.file.data
        wrong = ""
        if isinstance(file, FileStorage) and file.filename:
            try:
                text = text_of_file(file.read())
            except NoTableError as error:
                text, wrong = "", str(error)
            if not wrong:
                self.text.process(None, None)
                self.text.raw_data = [text]
                self.text.process_errors = []
                try:
                    self.text.process_formdata([text])
                except ValueError as error:
                    self.text.process_errors = [str(error)]
        valid = super().validate(extra_validators)
        if wrong:
            self.file.errors = [wrong]
        elif valid and not self.text.data:
            self.text.errors = [_("Paste the rows, or choose the file.")]
        return valid and not wrong and bool(self.text.data)

    @property
    def months_first(self) -> bool | None:
        """The answer to how days are written; None where there is none."""
        return None if self.order.data is None else self.order.data == "month"


def choices_sent() -> dict[str, str]:
    """Return what was said of unknown names, by the name of the input."""
    return {name: value for name, value in request.form.items() if name.startswith(CHOICE)}
