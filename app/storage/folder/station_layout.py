"""The two files that a station's daily record may come in, and what their columns hold."""

import re
from dataclasses import dataclass
from typing import Any

from app.core import limits
from app.language import N_, _
from app.storage.base import table_of
from app.storage.folder.cells import Day, Kind, Number, Text
from app.storage.folder.layout import Column, Layout
from app.storage.models import DailyTemperature

RECORD_FILE = "daily_temperatures.csv"
TENTHS = 10
_WHOLE = re.compile(r"-?[0-9]{1,6}")
_DECIMAL = re.compile(r"-?[0-9]{1,6}\.[0-9]+")
_MISSING = "-9999"


@dataclass(frozen=True)
class RecordDay(Day):
    """A date in the centuries in which stations have measured."""

    def parse(self, cell: str) -> Any:  # noqa: ANN401 - a date, as the kind has it
        """Return the date."""
        day = super().parse(cell)
        if day.year not in limits.RECORD_YEAR:
            raise ValueError
        return day

    def right(self, cell: str) -> str:
        """Say which dates are allowed."""
        try:
            super().parse(cell)
        except ValueError:
            return super().right(cell)
        return _(
            "give a day of the years %(low)s to %(high)s", low=limits.RECORD_YEAR.low, high=limits.RECORD_YEAR.high
        )


@dataclass(frozen=True)
class Celsius(Number):
    """A temperature in degrees Celsius."""

    def wanted(self) -> str:
        """Say which temperatures are allowed."""
        low, high = self.bounds
        return _(
            "give a number from %(low)s to %(high)s °C, or nothing for a missing day", low=f"{low:g}", high=f"{high:g}"
        )


@dataclass(frozen=True)
class CelsiusTenths:
    """A temperature in whole tenths of a degree Celsius; -9999 stands for none."""

    bounds: limits.Bounds

    def parse(self, cell: str) -> float | None:
        """Return the temperature, None for none. [C]"""
        text = cell.strip()
        if text == _MISSING:
            return None
        if not _WHOLE.fullmatch(text):
            raise ValueError
        value = int(text) / TENTHS
        if value not in self.bounds:
            raise ValueError
        return value

    def right(self, cell: str) -> str:
        """Say what is allowed."""
        if _DECIMAL.fullmatch(cell.strip()):
            return _("GHCN-Daily has whole tenths of a degree Celsius: 12.3 °C is written 123")
        low, high = (round(bound * TENTHS) for bound in self.bounds)
        return _(
            "give tenths of a degree Celsius from %(low)s to %(high)s, or nothing for a missing day", low=low, high=high
        )

    def write(self, value: float) -> str:
        """Return the cell."""
        return str(round(value * TENTHS))


# The names that GHCN-Daily files and the world's weather services use for them.
GHCN_DATE, GHCN_TMIN, GHCN_TMAX, GHCN_STATION = "DATE", "TMIN", "TMAX", "STATION"
GHCN_FLAGS = {GHCN_TMIN: "TMIN_ATTRIBUTES", GHCN_TMAX: "TMAX_ATTRIBUTES"}

_TWICE = N_("row %(row)s has this day already; a day stands once")


def _column(name: str, kind: Kind, attribute: str, *, required: bool = False, filled: bool = False) -> Column:
    return Column(name=name, kind=kind, attribute=attribute, required=required, filled=filled)


RECORD_LAYOUT = Layout(
    file=RECORD_FILE,
    noun="day",
    table=table_of(DailyTemperature),
    optional=True,
    twice=_TWICE,
    columns=(
        _column("date", RecordDay(), "date", required=True, filled=True),
        _column("tmin_c", Celsius(limits.DAILY_C), "tmin_c", required=True),
        _column("tmax_c", Celsius(limits.DAILY_C), "tmax_c"),
    ),
)
GHCN_LAYOUT = Layout(
    file=RECORD_FILE,
    noun="day",
    table=table_of(DailyTemperature),
    optional=True,
    twice=_TWICE,
    ignores_others=True,
    columns=(
        _column(GHCN_DATE, RecordDay(), "date", required=True, filled=True),
        _column(GHCN_TMIN, CelsiusTenths(limits.DAILY_C), "tmin_c", required=True),
        _column(GHCN_TMAX, CelsiusTenths(limits.DAILY_C), "tmax_c"),
        # Read beside the temperatures, not kept.
        *(_column(name, Text(limits.NAME_LETTERS), name) for name in (GHCN_STATION, *GHCN_FLAGS.values())),
    ),
)
