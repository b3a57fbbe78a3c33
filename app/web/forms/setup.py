"""The garden's settings and frost dates."""

import re
from typing import Any

from wtforms import FieldList, FormField

from app.core import limits
from app.core.words import FrostLaw, FrostSource, Side, Units, Weekday
from app.language import N_, _, language, list_languages
from app.services.frost import SAME_THRESHOLD_C, THRESHOLDS_C
from app.services.garden import HALF_PERCENT, FrostValues, GardenValues, StartValues
from app.sheets.units import ELEVATION_M, LENGTH_CM, TEMPERATURE
from app.sheets.words import AUTUMNS, month_day_words, risk_words
from app.web.forms.fields import ChoiceField, GardenForm, GardenPart, MonthDayField, TextField
from app.web.forms.numbers import DecimalNumberField, PercentField, QuantityField, WholeNumberField

UNITS = ((Units.METRIC.value, N_("metric: °C, cm, litres")), (Units.US.value, N_("US: °F, inches, quarts")))
SOURCES = (
    (FrostSource.TABLE.value, N_("a published table")),
    (FrostSource.DATES.value, N_("average dates only")),
    (FrostSource.STATION.value, N_("the station’s record")),
)
LAWS = (
    (FrostLaw.NORMAL.value, N_("normal law")),
    (FrostLaw.EMPIRICAL.value, N_("empirical law, for a skewed record")),
)
USUAL_CHANCES = (90, 50, 10)
MONTH_DAY = re.compile(r"\b[0-9]{2}-[0-9]{2}\b")
CROSSED = N_(
    "The average last frost must lie in the spring half of the growing year, before the average first frost "
    "of autumn. Is the latitude right?"
)
SPARE_LINES = 3


class StartForm(GardenForm):
    """Set up a garden."""

    name = TextField(N_("Name of the garden"))
    season = WholeNumberField(N_("Growing year"), limits.SEASON)
    units = ChoiceField(N_("Units"), UNITS, kind=Units)
    latitude = DecimalNumberField(
        N_("Latitude"),
        limits.LATITUDE_DEG,
        unit_words=N_("degrees"),
        description=N_("South of the equator with a minus: −37.8."),
    )
    last = MonthDayField(N_("Average last frost of spring"))
    first = MonthDayField(N_("Average first frost of autumn"))

    def values(self) -> StartValues:
        """Return what was typed, once it is valid."""
        return StartValues(
            name=self.name.data,
            season=self.season.data,
            units=self.units.data,
            language=language(),
            latitude=self.latitude.data,
            last=self.last.data,
            first=self.first.data,
        )


class GardenSettingsForm(GardenForm):
    """Change the garden's own settings."""

    name = TextField(N_("Name of the garden"))
    season = WholeNumberField(N_("Growing year"), limits.SEASON)
    units = ChoiceField(N_("Units"), UNITS, kind=Units)
    language = ChoiceField(
        N_("Language"),
        tuple(list_languages()),
        kind=str,
        description=N_("Of sheets and labels. Each person reads pages in their own."),
    )
    sowing_day = ChoiceField(N_("Sowing day"), kind=Weekday, description=N_("The garden sows together on it."))
    hand_out_day = ChoiceField(N_("Hand-out day"), kind=Weekday, description=N_("Growers collect plants on it."))
    wishes_close = MonthDayField(
        N_("Wishes close"), may_be_empty=True, description=N_("Last day of the growing year on which growers may ask.")
    )
    tray_length_cm = QuantityField(N_("Length of a standard tray"), LENGTH_CM, limits.TRAY_CM)
    tray_width_cm = QuantityField(N_("Width of a standard tray"), LENGTH_CM, limits.TRAY_CM)
    confidence = PercentField(
        N_("Confidence of enough plants"),
        limits.CONFIDENCE,
        description=N_("How sure each sowing is to give the plants wanted. Higher means more cells."),
    )
    survival = PercentField(
        N_("Seedlings that live"),
        limits.SURVIVAL,
        description=N_("Share that reaches planting out: damping off, accidents."),
    )
    spare = PercentField(N_("Spare pots on potting on"), limits.SPARE, description=N_("Above the plants wanted."))

    def values(self) -> GardenValues:
        """Return what was typed, once it is valid."""
        return GardenValues(
            name=self.name.data,
            season=self.season.data,
            units=self.units.data,
            language=self.language.data,
            sowing_day=self.sowing_day.data,
            hand_out_day=self.hand_out_day.data,
            wishes_close=self.wishes_close.data,
            tray_length_cm=self.tray_length_cm.data,
            tray_width_cm=self.tray_width_cm.data,
            confidence=self.confidence.data,
            survival=self.survival.data,
            spare=self.spare.data,
        )


def say_dates(message: str) -> str:
    """Return what the core says of frost dates as a sentence with its dates in words."""
    said = MONTH_DAY.sub(lambda day: month_day_words(day[0]), message)
    return f"{said[:1].upper()}{said[1:].rstrip('.')}."


def say_spring(risk: float) -> str:
    """Return what the garden's spring risk means."""
    return _("%(years)s freezes after the date it gives.", years=risk_words(risk))


def say_autumn(risk: float) -> str:
    """Return what the garden's autumn risk means."""
    return _("%(years)s freezes by the date it gives.", years=risk_words(risk, AUTUMNS))


class FrostLine(GardenPart):
    """A line of the table: a chance, and the date it has in spring and in autumn."""

    chance = WholeNumberField(N_("Chance"), limits.CHANCE_PERCENT, may_be_empty=True)
    spring = MonthDayField(N_("Freeze on this day or later"), may_be_empty=True)
    autumn = MonthDayField(N_("Freeze on this day or before"), may_be_empty=True)


class ThresholdField(QuantityField):
    """A freezing threshold; one of the usual ones typed with a decimal or two is meant exactly, as 36 °F by 2.2 °C."""

    def read(self, text: str) -> float:
        """Return the threshold. [C]"""
        typed = super().read(text)
        return next((usual for usual in THRESHOLDS_C if abs(usual - typed) <= SAME_THRESHOLD_C), typed)


class FrostForm(GardenForm):
    """Change where the garden lies and when it freezes there."""

    latitude = DecimalNumberField(
        N_("Latitude"),
        limits.LATITUDE_DEG,
        unit_words=N_("degrees"),
        description=N_("South of the equator with a minus: −37.8."),
    )
    longitude = DecimalNumberField(
        N_("Longitude"),
        limits.LONGITUDE_DEG,
        unit_words=N_("degrees"),
        description=N_("West of Greenwich with a minus."),
    )
    elevation_m = QuantityField(N_("Height above the sea"), ELEVATION_M, limits.ELEVATION_M)
    frost_source = ChoiceField(N_("What is known of frost"), SOURCES, kind=FrostSource)
    frost_law = ChoiceField(N_("Law of the station’s record"), LAWS, kind=FrostLaw)
    threshold_c = ThresholdField(
        N_("A day counts as freezing at or below"),
        TEMPERATURE,
        limits.FREEZE_C,
        description=N_(
            "As the table says; with a record usually 0 °C (32 °F), else −2.2 °C (28 °F) or 2.2 °C (36 °F)."
        ),
    )
    lines = FieldList(FormField(FrostLine), label=N_("Dates of the table"))
    last = MonthDayField(N_("Average last frost of spring"), may_be_empty=True)
    first = MonthDayField(N_("Average first frost of autumn"), may_be_empty=True)
    risk = PercentField(N_("Spring risk of the garden"), limits.RISK, say=say_spring)
    autumn_risk = PercentField(N_("Autumn risk of the garden"), limits.RISK, say=say_autumn)

    def validate(self, extra_validators: Any = None) -> bool:  # noqa: ANN401 - as WTForms
        """Check each line: a date without a chance, a chance twice; and that both dates of a pair are there."""
        valid = super().validate(extra_validators)
        checks = {FrostSource.DATES: self._validate_pair, FrostSource.TABLE: self._validate_lines}
        check = checks.get(self.frost_source.data)
        return valid if check is None else check() and valid

    def values(self) -> FrostValues:
        """Return what was typed, once it is valid, the dates apart."""
        return FrostValues(
            latitude=self.latitude.data,
            longitude=self.longitude.data,
            elevation_m=self.elevation_m.data,
            frost_source=self.frost_source.data,
            frost_law=self.frost_law.data,
            threshold_c=self.threshold_c.data,
            risk=self.risk.data,
            autumn_risk=self.autumn_risk.data,
        )

    def points(self) -> dict[Side, dict[int, str]]:
        """Return the dates typed for the source that is chosen, as chance in percent to MM-DD on each side."""
        if self.frost_source.data is FrostSource.DATES:
            return {Side.SPRING: {HALF_PERCENT: self.last.data}, Side.AUTUMN: {HALF_PERCENT: self.first.data}}
        lines = [line.form for line in self.lines]
        return {
            side: {line.chance.data: line[side].data for line in lines if line[side].data is not None} for side in Side
        }

    def _validate_pair(self) -> bool:
        missing = [field for field in (self.last, self.first) if field.data is None and not field.errors]
        for field in missing:
            field.errors = [_("Enter the average date.")]
        return not missing

    def _validate_lines(self) -> bool:
        seen: set[int | None] = set()
        wrong = False
        for line in (entry.form for entry in self.lines):
            has_date = line.spring.data is not None or line.autumn.data is not None
            message = None
            if line.chance.data is None and has_date and not line.chance.errors:
                message = _("Enter the chance that these dates have.")
            elif line.chance.data is not None and line.chance.data in seen:
                message = _("This chance stands on another line already.")
            seen.add(line.chance.data)
            if message is not None:
                line.chance.errors = [message]
                self.lines.errors = [*self.lines.errors, {"chance": [message]}]
                wrong = True
        return not wrong


def frost_lines(points: dict[Side, dict[int, str]]) -> list[dict[str, Any]]:
    """Return the lines of the table as the form takes them, the highest chance first, with empty ones to fill in.

    Args:
        points: Chance in percent to MM-DD on each side.
    """
    chances = sorted({*points[Side.SPRING], *points[Side.AUTUMN]}, reverse=True)
    lines = [
        {"chance": chance, "spring": points[Side.SPRING].get(chance), "autumn": points[Side.AUTUMN].get(chance)}
        for chance in chances
    ]
    usual = [chance for chance in USUAL_CHANCES if chance not in chances]
    if len(chances) < len(USUAL_CHANCES):
        lines += [{"chance": chance, "spring": None, "autumn": None} for chance in usual]
    return lines + [{"chance": None, "spring": None, "autumn": None}] * SPARE_LINES
