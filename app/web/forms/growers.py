"""Growers."""

from app.core.limits import CONTACT_LETTERS
from app.core.words import Weekday
from app.services.growers import GrowerValues
from app.web.forms.fields import GardenForm, ManyChoiceField, TextField


class GrowerForm(GardenForm):
    """Add or change a grower."""

    name = TextField("Name")
    plot = TextField("Plot", may_be_empty=True, description="As the garden numbers its plots.")
    contact = TextField(
        "How to reach them",
        may_be_empty=True,
        longest=CONTACT_LETTERS,
        description="Kept in this garden only. Write down no more than the garden needs.",
    )
    weekdays = ManyChoiceField(
        "Days they can come", [(day.value, day.value.capitalize()) for day in Weekday], kind=Weekday
    )

    def values(self) -> GrowerValues:
        """Return what was typed, once it is valid."""
        chosen = set(self.weekdays.data or ())
        return GrowerValues(
            name=self.name.data,
            plot=self.plot.data,
            contact=self.contact.data,
            days=" ".join(day for day in Weekday if day in chosen) or None,
        )
