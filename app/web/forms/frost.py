"""The frost record: trying a risk, handing in a station's record, pasting a table."""

from typing import Any

from flask_wtf import FlaskForm
from flask_wtf.file import FileField
from werkzeug.datastructures import FileStorage, MultiDict
from wtforms import HiddenField

from app.core import limits
from app.core.words import FrostLaw, FrostSource
from app.language import N_, _
from app.services.frost import RiskValues
from app.sheets.units import TEMPERATURE
from app.web.forms.fields import ChoiceField, GardenForm, LongTextField
from app.web.forms.numbers import PercentField, QuantityField
from app.web.forms.setup import LAWS, say_autumn, say_spring

LONGEST_PASTE = 8000


class RiskForm(GardenForm):
    """Change the risks that the garden accepts."""

    risk = PercentField(N_("Spring risk"), limits.RISK, say=say_spring)
    autumn_risk = PercentField(N_("Autumn risk"), limits.RISK, say=say_autumn)
    frost_law = ChoiceField(N_("Law of the station’s record"), LAWS, kind=FrostLaw)

    def values(self) -> RiskValues:
        """Return what was typed, once it is valid."""
        return RiskValues(
            risk=self.risk.data,
            autumn_risk=self.autumn_risk.data,
            frost_law=self.frost_law.data,
        )

    def shown(self) -> dict[str, str]:
        """Return the text in each input, as an address has it."""
        return {
            "risk": self.risk.show(self.risk.data),
            "autumn_risk": self.autumn_risk.show(self.autumn_risk.data),
            "frost_law": str(self.frost_law.data),
        }


class TryRiskForm(RiskForm):
    """Try other risks; it is sent in the address and changes nothing, so it needs no token."""

    class Meta(FlaskForm.Meta):
        """Without protection."""

        csrf = False

    @classmethod
    def of_address(cls, settings: Any, typed: MultiDict[str, str]) -> "TryRiskForm":  # noqa: ANN401 - the garden's row
        """Return the form with what stands in an address; what is missing there is as the garden has it.

        A law is tried only where the garden goes by its station.
        """
        stored = cls(formdata=None, obj=settings).shown()
        texts = {name: typed.get(name, text) for name, text in stored.items()}
        if settings.frost_source is not FrostSource.STATION:
            texts["frost_law"] = stored["frost_law"]
        return cls(formdata=MultiDict(texts), obj=settings)


class RecordForm(GardenForm):
    """Hand in a station's record."""

    others = N_("The station’s record")

    record = FileField(
        N_("File of the station’s record"),
        description=N_(
            "daily_temperatures.csv with the columns date, tmin_c and tmax_c, or a GHCN-Daily CSV as the weather "
            "services publish it. UTF-8, up to 32 MB."
        ),
    )

    def validate(self, extra_validators: Any = None) -> bool:  # noqa: ANN401 - as WTForms
        """Check that a file was chosen."""
        valid: bool = super().validate(extra_validators)
        if not isinstance(self.record.data, FileStorage) or not self.record.data.filename:
            self.record.errors = [_("Choose the file.")]
            return False
        return valid

    @property
    def file(self) -> FileStorage:
        """The file, once it is there."""
        chosen: FileStorage = self.record.data
        return chosen


class PastedField(LongTextField):
    """Text from a spreadsheet or a page; its cells stay apart, tabs becoming semicolons that people can see."""

    def process_formdata(self, valuelist: list[Any]) -> None:
        """Read what was sent."""
        self.raw_data = [str(text).replace("\t", " ; ") for text in valuelist]
        super().process_formdata(self.raw_data)


class PasteForm(GardenForm):
    """Paste a published table."""

    others = N_("The garden’s frost dates")

    threshold_c = QuantityField(
        N_("A day counts as freezing at or below"), TEMPERATURE, limits.FREEZE_C, description=N_("As the table says.")
    )
    text = PastedField(
        N_("The table"),
        longest=LONGEST_PASTE,
        blank=N_("Paste the table."),
        description=N_(
            "A line for each chance: the chance in percent, the spring date, the autumn date, as “10 24 May 23 Sep” "
            "or as cells copied from a spreadsheet. Or as some services print it: a line of chances, and below it a "
            "line with a date for each."
        ),
    )
    seen = HiddenField()
