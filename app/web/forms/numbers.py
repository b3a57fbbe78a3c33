"""Form fields for numbers: counts, plain numbers, shares in percent, and quantities in the garden's units."""

from decimal import Decimal
from fractions import Fraction
from typing import Any

from app.core.limits import Bounds
from app.language import _
from app.sheets.units import Measure, Unit
from app.sheets.words import decimal_sign, number_words
from app.web.forms.fields import TypedField
from app.web.forms.typed import read_decimal, read_parts, read_whole

PERCENT = Decimal(100)


class WholeNumberField(TypedField):
    """A count, typed as `12`, `1 000` or `12,0`."""

    input_mode = "numeric"

    def __init__(self, label: str, bounds: Bounds, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Make the field; `bounds` are the smallest and the largest count allowed."""
        self.bounds = bounds
        if bounds.low < 0:
            self.input_mode = "text"  # the number keys of some phones have no minus
        super().__init__(label, **kwargs)

    def read(self, text: str) -> int:
        """Return the count."""
        low, high = int(self.bounds.low), int(self.bounds.high)
        wanted = _("Enter a whole number from %(low)s to %(high)s.", low=number_words(low), high=number_words(high))
        try:
            value = read_whole(text)
        except ValueError as error:
            raise ValueError(f"{error}. {wanted}") from None
        require_between(value, low, high, wanted)
        return value


class DecimalNumberField(TypedField):
    """A number, typed as `2,5` or `2.5`."""

    input_mode = "decimal"

    def __init__(self, label: str, bounds: Bounds, *, unit_words: str = "", **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Make the field; `bounds` are in the unit whose words stand behind the input."""
        self.bounds = bounds
        self.unit_words = unit_words
        if bounds.low < 0:
            self.input_mode = "text"
        super().__init__(label, **kwargs)

    def read(self, text: str) -> float:
        """Return the number."""
        low, high = self.bounds
        first, last = (with_sign(f"{bound:.12g}") for bound in self.bounds)
        if self.unit_words:
            wanted = _("Enter a number from %(low)s to %(high)s %(unit)s.", low=first, high=last, unit=self.unit_words)
        else:
            wanted = _("Enter a number from %(low)s to %(high)s.", low=first, high=last)
        value = float(_decimal(without_unit(text, self.unit_words), low, high, wanted))
        require_between(value, low, high, wanted)
        return value

    def show(self, value: float) -> str:
        """Return the number without needless zeros."""
        return plain_number(Decimal(repr(value)))


class PercentField(TypedField):
    """A share from 0 to 1, typed in percent as `75` or `75 %`."""

    input_mode = "decimal"
    unit_words = "%"

    def __init__(self, label: str, bounds: Bounds, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Make the field; `bounds` are shares from 0 to 1."""
        self.bounds = bounds
        super().__init__(label, **kwargs)

    def read(self, text: str) -> float:
        """Return the share."""
        low, high = (PERCENT * Decimal(repr(bound)) for bound in self.bounds)
        wanted = _("Enter percent from %(low)s to %(high)s.", low=plain_number(low), high=plain_number(high))
        percent = _decimal(without_unit(text, "%"), float(low), float(high), wanted)
        require_between(float(percent), float(low), float(high), wanted)
        return float(percent / PERCENT)

    def show(self, value: float) -> str:
        """Return the share in percent."""
        return plain_number(PERCENT * Decimal(repr(value)))


class QuantityField(TypedField):
    """A quantity shown and typed in the garden's units and stored in metric ones."""

    def __init__(self, label: str, measure: Measure, bounds: Bounds, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Make the field; `bounds` are in the stored, metric unit."""
        self.measure = measure
        self.bounds = bounds
        super().__init__(label, **kwargs)
        typed_with_digits = bounds.low >= 0 and not self.unit.parts
        self.render_kw["inputmode"] = "decimal" if typed_with_digits else "text"

    @property
    def unit(self) -> Unit:
        """The unit in which the garden reads this quantity."""
        return self.measure.unit(self.habits.units)

    @property
    def unit_words(self) -> str:
        """The unit's symbol, which stands behind the input."""
        return self.unit.said

    def read(self, text: str) -> float:
        """Return the quantity in its stored unit."""
        low, high = self.bounds
        first, last = self.unit.bounds(low, high)
        wanted = _("Enter a figure from %(low)s to %(high)s %(unit)s.", low=first, high=last, unit=self.unit_words)
        text = without_unit(without_unit(text, self.unit_words), self.unit.symbol)
        parts = read_parts(text) if self.unit.parts else None
        if parts is None:
            parts = Fraction(_decimal(text, self._figure(low), self._figure(high), wanted))
        value = self.unit.to_stored(parts)
        require_between(value, low, high, wanted)
        return value

    def show(self, value: float) -> str:
        """Return the quantity in the garden's unit, without its symbol."""
        return self.unit.number(value)

    def _figure(self, stored: float) -> float:
        return float(self.unit.from_stored(stored))


def require_between(value: float, low: float, high: float, wanted: str) -> None:
    """Raise ValueError with what is wanted unless low <= value <= high."""
    if value < low:
        raise ValueError(_("This is too small. %(wanted)s", wanted=wanted))
    if value > high:
        raise ValueError(_("This is too large. %(wanted)s", wanted=wanted))


def without_unit(text: str, symbol: str) -> str:
    """Return the text without the unit that stands behind the input anyway."""
    return text.removesuffix(symbol).rstrip() if symbol else text


def plain_number(value: Decimal) -> str:
    """Return a number without needless zeros and without an exponent."""
    text = f"{value:f}"
    return with_sign(text.rstrip("0").rstrip(".") if "." in text else text)


def with_sign(figure: str) -> str:
    """Return a figure with the decimal sign of the language."""
    return figure.replace(".", decimal_sign())


def _decimal(text: str, low: float, high: float, wanted: str) -> Decimal:
    try:
        return read_decimal(text, low, high)
    except ValueError as error:
        raise ValueError(f"{error}. {wanted}") from None
