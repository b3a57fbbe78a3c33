"""Which days are dealt, and which day a page shows: chosen in the address, so these forms need no token."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from flask_wtf import FlaskForm

from app.language import N_, _
from app.sheets.words import count_words, day_words, day_year
from app.web.forms.fields import ChoiceField, DayField, GardenForm

SEASON = "season"
RANGE = "range"


class AddressForm(GardenForm):
    """A form that is sent in the address and changes nothing."""

    class Meta(FlaskForm.Meta):
        """Without protection."""

        csrf = False


class DayForm(AddressForm):
    """Choose another day."""

    day = DayField(N_("Another day"))


class DealForm(AddressForm):
    """Choose the days to deal: the season, one on which trays are filled, or a range."""

    day = ChoiceField(N_("Days"))
    first = DayField(N_("From"), may_be_empty=True, description=N_("For other days than the list has."))
    last = DayField(N_("To"), may_be_empty=True)

    def offer(self, season: tuple[date, date], days: Iterable[tuple[date, int]], asked: str | None) -> None:
        """Set the days that can be chosen.

        Args:
            season: First and last day on which trays are filled.
            days: Each coming day on which they are, with how many.
            asked: The day that was asked for; it can be chosen even if none is filled on it.
        """
        choices = {day: f"{day_words(day)}, {count_words(count, 'tray', 'trays')}" for day, count in days}
        day = _read_day(asked)
        if day is not None:
            choices.setdefault(day, day_year(day))
        first, last = map(day_words, season)
        season_words = _("the whole season, %(first)s – %(last)s", first=first, last=last)
        named = [(SEASON, season_words), (RANGE, _("a range of days"))]
        self.day.offer([*named, *((day.isoformat(), words) for day, words in sorted(choices.items()))])

    def validate(self, extra_validators: Any = None) -> bool:  # noqa: ANN401 - as WTForms
        """Tell whether every field is right, and a range has days and does not run backwards."""
        if not super().validate(extra_validators):
            return False
        if self.day.data == RANGE and not (self.first.data and self.last.data):
            wrong = self.last if self.first.data else self.first
            wrong.errors = [_("A range needs its first and its last day.")]
            return False
        if self.day.data == RANGE and self.last.data < self.first.data:
            self.last.errors = [_("This day lies before the first one.")]
            return False
        return True

    def days(self, season: tuple[date, date]) -> tuple[date, date]:
        """Return the first and the last day to deal, once they are right."""
        if self.day.data == RANGE:
            return self.first.data, self.last.data
        day = _read_day(self.day.data)
        return season if day is None else (day, day)


def _read_day(text: str | None) -> date | None:
    try:
        return date.fromisoformat(text or "")
    except ValueError:
        return None
