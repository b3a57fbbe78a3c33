"""Days from sowing to emergence at a temperature of the mix."""

import math
from dataclasses import dataclass
from enum import StrEnum

# Chosen here: up to half the table's step of 5 degrees beyond its outermost figure that figure holds.
REACH_C = 2.5


class Soil(StrEnum):
    """What the published table says of a crop at a temperature."""

    FIGURE = "a figure"
    TOO_COLD = "too cold"
    TOO_HOT = "too hot"
    NO_FIGURE = "no figure at this temperature"


@dataclass(frozen=True, kw_only=True)
class EmergenceRow:
    """A crop's row of the published table.

    Attributes:
        entries: (temperature, entry), temperatures rising; the entry is the days to emergence,
            0 for "no germination", or None for "not tested". At least one is a number of days. [C, d]
    """

    entries: tuple[tuple[float, float | None], ...]


@dataclass(frozen=True, kw_only=True)
class EmergenceAnswer:
    """Days to emergence, or why there are none.

    Attributes:
        soil: What the table says.
        days: Days to emergence, not rounded; None without a figure. [d]
    """

    soil: Soil
    days: float | None = None

    @property
    def whole_days(self) -> int | None:
        """The days rounded up. [d]"""
        return None if self.days is None else math.ceil(self.days - 1e-9)


def days_to_emerge(row: EmergenceRow, temperature_c: float) -> EmergenceAnswer:
    """Return the days to emergence at a temperature.

    Between two figures it is linear in the rate 1/days, since thermal time is linear in the rate.

    Args:
        row: The crop's row of the published table.
        temperature_c: Temperature of the mix. [C]

    Source:
        Figures: Harrington and Minges 1954 (seed_data/emergence_days.csv). The rule between
        and beyond them is chosen here (docs/method.md).
    """
    below = [entry for entry in row.entries if entry[0] <= temperature_c][-1:]
    above = [entry for entry in row.entries if entry[0] >= temperature_c][:1]
    figures = [(at_c, days) for at_c, days in below + above if days]
    if len(figures) == 2:  # noqa: PLR2004 - one on each side
        (low_c, low_days), (high_c, high_days) = figures
        if low_c == high_c:
            return EmergenceAnswer(soil=Soil.FIGURE, days=low_days)
        weight = (temperature_c - low_c) / (high_c - low_c)
        return EmergenceAnswer(soil=Soil.FIGURE, days=1 / ((1 - weight) / low_days + weight / high_days))
    if figures and abs(figures[0][0] - temperature_c) <= REACH_C:
        return EmergenceAnswer(soil=Soil.FIGURE, days=figures[0][1])
    return EmergenceAnswer(soil=_why_not(row, temperature_c, [days for _, days in below + above]))


def _why_not(row: EmergenceRow, temperature_c: float, neighbours: list[float | None]) -> Soil:
    """Say cold or hot where "no germination" stands next to the temperature, or nearer to the figures."""
    figures_c = [at_c for at_c, days in row.entries if days]
    refusals_c = [at_c for at_c, days in row.entries if days == 0]
    next_to_refusal = 0 in neighbours
    if temperature_c < figures_c[0] and (
        next_to_refusal or any(temperature_c < at < figures_c[0] for at in refusals_c)
    ):
        return Soil.TOO_COLD
    if temperature_c > figures_c[-1] and (
        next_to_refusal or any(figures_c[-1] < at < temperature_c for at in refusals_c)
    ):
        return Soil.TOO_HOT
    return Soil.NO_FIGURE
