"""Growers."""

from app.core.limits import CONTACT_LETTERS
from app.core.words import Weekday
from app.language import N_
from app.services.growers import GrowerValues
from app.web.forms.fields import GardenForm, ManyChoiceField, TextField

WEEKDAYS = (
    (Weekday.MONDAY.value, N_("Monday")),
    (Weekday.TUESDAY.value, N_("Tuesday")),
    (Weekday.WEDNESDAY.value, N_("Wednesday")),
    (Weekday.THURSDAY.value, N_("Thursday")),
    (Weekday.FRIDAY.value, N_("Friday")),
    (Weekday.SATURDAY.value, N_("Saturday")),
    (Weekday.SUNDAY.value, N_("Sunday")),
)


class GrowerForm(GardenForm):
    """Add or change a grower."""

    name = TextField(N_("Name"))
    plot = TextField(N_("Plot"), may_be_empty=True, description=N_("As the garden numbers its plots."))
    contact = TextField(
        N_("How to reach them"),
        may_be_empty=True,
        longest=CONTACT_LETTERS,
        description=N_("Kept in this garden only. Write down no more than the garden needs."),
    )
    weekdays = ManyChoiceField(N_("Days they can come"), WEEKDAYS, kind=Weekday)

    def values(self) -> GrowerValues:
        """Return what was typed, once it is valid."""
        chosen = set(self.weekdays.data or ())
        return GrowerValues(
            name=self.name.data,
            plot=self.plot.data,
            contact=self.contact.data,
            days=" ".join(day for day in Weekday if day in chosen) or None,
        )
