"""One sowing moved by hand: chosen in the address, so that what it would do is seen first."""

from collections.abc import Iterable
from typing import Any

from wtforms import RadioField

from app.core import limits
from app.language import N_, _
from app.web.forms.deal import AddressForm
from app.web.forms.fields import CHOOSE
from app.web.forms.numbers import WholeNumberField


class SowingDayForm(AddressForm):
    """Choose day, light place and plants of a sowing."""

    day = RadioField(N_("Sowing day"), validate_choice=False)
    light = RadioField(N_("Light place"), validate_choice=False)
    placed = WholeNumberField(
        N_("Plants to raise"),
        limits.Bounds(0, limits.PLANTS.high),
        description=N_("Fewer than are wanted where room is short; 0 leaves it out."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Take what a form takes."""
        super().__init__(*args, **kwargs)
        self.wanted = 0
        self.offered: dict[str, set[str]] = {}

    def offer(self, days: Iterable[tuple[str, str]], lights: Iterable[tuple[str, str]], wanted: int) -> None:
        """Set what can be chosen.

        Args:
            days: Value and words of each sowing day.
            lights: Value and words of each light place.
            wanted: The most plants. [1]
        """
        for field, choices in ((self.day, list(days)), (self.light, list(lights))):
            field.choices = choices
            self.offered[field.name] = {value for value, _ in choices}
        self.wanted = wanted

    def validate(self, extra_validators: Any = None) -> bool:  # noqa: ANN401 - as WTForms
        """Tell whether everything is on its list, and no more plants are raised than are wanted."""
        is_right = bool(super().validate(extra_validators))
        for field in (self.day, self.light):
            if field.data not in self.offered[field.name]:
                field.errors = [_(CHOOSE)]
                is_right = False
        if self.placed.data is not None and self.placed.data > self.wanted:
            self.placed.errors = [_("No more can be raised than are wanted: %(wanted)s.", wanted=self.wanted)]
            is_right = False
        return is_right
