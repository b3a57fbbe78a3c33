"""Quantities as a garden reads them, metric or US; stored values are always metric.

Source of the factors:
    NIST SP 811 (2008), appendix B.8: inch 2.54 cm, foot 30.48 cm, square foot 929.0304 cm2, square inch
    6.4516 cm2 and ounce 28.349523125 g, exact; appendix B.9: temperature. The US gallon is 231 cubic
    inches (NIST Handbook 44, appendix C), a quart a quarter and a fluid ounce 1/128 of it.
"""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from math import ceil, floor

from app.core.words import Units
from app.language import N_, _, pgettext
from app.sheets.words import decimal_sign

NO_BREAK_SPACE = "\u00a0"

CM_PER_INCH = Fraction(254, 100)
CM_PER_FOOT = 12 * CM_PER_INCH
ML_PER_GALLON = 231 * CM_PER_INCH**3
ML_PER_QUART = ML_PER_GALLON / 4
ML_PER_FLUID_OUNCE = ML_PER_GALLON / 128
ML_PER_LITRE = 1000
CM2_PER_SQUARE_INCH = CM_PER_INCH**2
CM2_PER_SQUARE_FOOT = CM_PER_FOOT**2
CM2_PER_SQUARE_METRE = 10_000
GRAMS_PER_OUNCE = Fraction(28_349_523_125, 10**9)
FAHRENHEIT_PER_CELSIUS = Fraction(9, 5)
FAHRENHEIT_AT_ZERO_CELSIUS = 32

# Decimals of a stored value beyond which there is only floating error.
ERROR_DECIMALS = 9

# A quantity smaller than this many cm2 is said in square centimetres or inches: a pot, not a shelf.
SMALL_AREA_CM2 = 2000


@dataclass(frozen=True, kw_only=True)
class Unit:
    """A unit of measurement: shown = stored / stored_per_unit + offset.

    Attributes:
        symbol: As it stands after a figure; marked where it is a word.
        stored_per_unit: How much of the stored unit makes one of this.
        offset: What is shown for a stored zero.
        decimals: Decimals that are shown.
        parts: Parts of one that are shown as a fraction, such as 16 for sixteenths; 0 for decimals.
    """

    symbol: str
    stored_per_unit: Fraction = Fraction(1)
    offset: int = 0
    decimals: int = 0
    parts: int = 0

    @property
    def said(self) -> str:
        """The symbol in the language that is being spoken."""
        return _us_symbols().get(self.symbol) or _(self.symbol)

    def from_stored(self, value: float) -> Fraction:
        """Return a stored value in this unit, exactly."""
        return Fraction(repr(value)) / self.stored_per_unit + self.offset

    def to_stored(self, value: Fraction) -> float:
        """Return a value in this unit as it is stored."""
        return float((value - self.offset) * self.stored_per_unit)

    def number(self, value: float) -> str:
        """Return the figure of a stored value in this unit, without the symbol."""
        exact = self.from_stored(value)
        return _as_parts(exact, self.parts) if self.parts else _as_decimal(exact, self.decimals)

    def number_up(self, value: float) -> str:
        """Return the figure rounded up, for what must not be too little; digits of floating error do not count."""
        steps = self.parts or 10**self.decimals
        count = ceil(self.from_stored(round(value, ERROR_DECIMALS)) * steps)
        return self.number(self.to_stored(Fraction(count, steps)))

    def bounds(self, low: float, high: float) -> tuple[str, str]:
        """Return the figures of two stored bounds, rounded inwards, so that what they say is allowed."""
        steps = self.parts or 10**self.decimals
        inner = (ceil(self.from_stored(low) * steps), floor(self.from_stored(high) * steps))
        first, last = (self.number(self.to_stored(Fraction(count, steps))) for count in inner)
        return first, last

    def words(self, value: float) -> str:
        """Return a stored value as figure and symbol."""
        return f"{self.number(value)}{NO_BREAK_SPACE}{self.said}"


@dataclass(frozen=True, kw_only=True)
class Measure:
    """A kind of quantity and the unit it is shown and typed in, by the garden's units."""

    metric: Unit
    us: Unit

    def unit(self, units: Units) -> Unit:
        """Return the unit for a garden's units."""
        return self.us if units is Units.US else self.metric

    def words(self, value: float, units: Units) -> str:
        """Return a stored value as it is said to people."""
        return self.unit(units).words(value)


TEMPERATURE = Measure(
    metric=Unit(symbol="°C", decimals=1),
    us=Unit(symbol="°F", stored_per_unit=1 / FAHRENHEIT_PER_CELSIUS, offset=FAHRENHEIT_AT_ZERO_CELSIUS, decimals=1),
)
TEMPERATURE_DIFFERENCE = Measure(
    metric=Unit(symbol="°C", decimals=1),
    us=Unit(symbol="°F", stored_per_unit=1 / FAHRENHEIT_PER_CELSIUS, decimals=1),
)
LENGTH_CM = Measure(
    metric=Unit(symbol="cm", decimals=1),
    us=Unit(symbol="in", stored_per_unit=CM_PER_INCH, decimals=1),
)
ELEVATION_M = Measure(
    metric=Unit(symbol="m"),
    us=Unit(symbol="ft", stored_per_unit=CM_PER_FOOT / 100),
)
DEPTH_MM = Measure(
    metric=Unit(symbol="mm", decimals=1),
    us=Unit(symbol="in", stored_per_unit=CM_PER_INCH * 10, parts=16),
)
VOLUME_ML = Measure(
    metric=Unit(symbol="ml", decimals=1),
    us=Unit(symbol="fl oz", stored_per_unit=ML_PER_FLUID_OUNCE, decimals=2),
)
BULK_ML = Measure(
    metric=Unit(symbol="l", stored_per_unit=Fraction(ML_PER_LITRE), decimals=1),
    us=Unit(symbol="qt", stored_per_unit=ML_PER_QUART, decimals=1),
)
ORDERED_ML = Measure(
    metric=Unit(symbol="l", stored_per_unit=Fraction(ML_PER_LITRE)),
    us=Unit(symbol="qt", stored_per_unit=ML_PER_QUART),
)
WATER_ML = Measure(
    metric=Unit(symbol="l", stored_per_unit=Fraction(ML_PER_LITRE), decimals=1),
    us=Unit(symbol="gal", stored_per_unit=ML_PER_GALLON, decimals=1),
)
SEED_GRAMS = Measure(
    metric=Unit(symbol="g", decimals=2),
    us=Unit(symbol="oz", stored_per_unit=GRAMS_PER_OUNCE, decimals=3),
)
AREA_CM2 = Measure(
    metric=Unit(symbol="cm²"),
    us=Unit(symbol="sq in", stored_per_unit=CM2_PER_SQUARE_INCH),
)
LARGE_AREA_CM2 = Measure(
    metric=Unit(symbol="m²", stored_per_unit=Fraction(CM2_PER_SQUARE_METRE), decimals=2),
    us=Unit(symbol="sq ft", stored_per_unit=CM2_PER_SQUARE_FOOT, decimals=1),
)

HEAT_SUM_CD = Measure(
    metric=Unit(symbol=N_("°C days")),
    us=Unit(symbol=N_("°F days"), stored_per_unit=1 / FAHRENHEIT_PER_CELSIUS),
)
SEEDS_PER_GRAM = Measure(
    metric=Unit(symbol=N_("seeds per gram"), decimals=2),
    us=Unit(symbol=N_("seeds per ounce"), stored_per_unit=1 / GRAMS_PER_OUNCE),
)


def temperature_words(celsius: float, units: Units) -> str:
    """Return a temperature, as `21 °C` or `69.8 °F`."""
    return TEMPERATURE.words(celsius, units)


def temperature_difference_words(celsius: float, units: Units) -> str:
    """Return a difference between two temperatures, as `5 °C` or `9 °F`."""
    return TEMPERATURE_DIFFERENCE.words(celsius, units)


def length_words(cm: float, units: Units) -> str:
    """Return a length, as `122 cm` or `48 in`."""
    return LENGTH_CM.words(cm, units)


def size_words(width_cm: float, depth_cm: float, units: Units) -> str:
    """Return two lengths, as `122 × 61 cm` or `48 × 24 in`."""
    unit = LENGTH_CM.unit(units)
    return f"{unit.number(width_cm)} × {unit.words(depth_cm)}"


def elevation_words(metres: float, units: Units) -> str:
    """Return a height above the sea, as `320 m` or `1050 ft`."""
    return ELEVATION_M.words(metres, units)


def depth_words(mm: float, units: Units) -> str:
    """Return a small depth, as `6 mm` or `1/4 in`, to the nearest sixteenth of an inch."""
    return DEPTH_MM.words(mm, units)


def sow_depth_words(mm: float, units: Units) -> str:
    """Return how deep to sow, as `6 mm deep`, `1/4 in deep` or `on the surface`."""
    return _("on the surface") if mm == 0 else _("%(depth)s deep", depth=depth_words(mm, units))


def volume_words(ml: float, units: Units) -> str:
    """Return a volume in the unit that suits its size: ml or l, fluid ounces or quarts."""
    largest_small = ML_PER_QUART if units is Units.US else ML_PER_LITRE
    return (VOLUME_ML if ml < largest_small else BULK_ML).words(ml, units)


def ordered_volume_words(ml: float, units: Units) -> str:
    """Return a volume to be ordered in whole units, rounded up, as `412 l` or `436 qt`."""
    unit = ORDERED_ML.unit(units)
    return f"{unit.number_up(ml)}{NO_BREAK_SPACE}{unit.said}"


def water_words(ml: float, units: Units) -> str:
    """Return a volume of water in a pan, as `14.9 l` or `3.9 gal`."""
    return WATER_ML.words(ml, units)


def seed_weight_words(grams: float, units: Units) -> str:
    """Return a weight of seed rounded up, as `0.46 g` or `0.017 oz`."""
    unit = SEED_GRAMS.unit(units)
    return f"{unit.number_up(grams)}{NO_BREAK_SPACE}{unit.said}"


def area_words(cm2: float, units: Units) -> str:
    """Return an area in the unit that suits its size: cm² or m², square inches or feet."""
    return (AREA_CM2 if cm2 < SMALL_AREA_CM2 else LARGE_AREA_CM2).words(cm2, units)


def heat_sum_words(celsius_days: float, units: Units) -> str:
    """Return a heat sum, as `1200 °C days` or `2160 °F days`."""
    return HEAT_SUM_CD.words(celsius_days, units)


def seeds_by_weight_words(per_gram: float, units: Units) -> str:
    """Return the number of seeds in a weight, as `300 seeds per gram` or `8505 seeds per ounce`."""
    return SEEDS_PER_GRAM.words(per_gram, units)


def _us_symbols() -> dict[str, str]:
    """Return the US symbols that other languages write otherwise; the metric ones are the same everywhere."""
    return {
        "in": pgettext("inch", "in"),
        "ft": pgettext("foot", "ft"),
        "sq in": pgettext("square inch", "sq in"),
        "sq ft": pgettext("square foot", "sq ft"),
        "fl oz": pgettext("fluid ounce", "fl oz"),
        "qt": pgettext("quart", "qt"),
        "gal": pgettext("gallon", "gal"),
    }


def _as_decimal(value: Fraction, decimals: int) -> str:
    """Return a value rounded halves up, without needless zeros."""
    step = Decimal(1).scaleb(-decimals)
    rounded = (Decimal(value.numerator) / Decimal(value.denominator)).quantize(step, ROUND_HALF_UP)
    text = f"{rounded:f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text.replace(".", decimal_sign())


def _as_parts(value: Fraction, parts: int) -> str:
    """Return a value as whole number and fraction, such as 1 1/2; never 0 for more than nothing."""
    count = int(value * parts + Fraction(1, 2))
    if count == 0 and value > 0:
        count = 1
    whole, part = divmod(count, parts)
    if part == 0:
        return str(whole)
    fraction = str(Fraction(part, parts))
    return f"{whole} {fraction}" if whole else fraction
