"""Spare plants."""

from typing import Any

from app.core.limits import NOTE_LETTERS, PLANTS
from app.language import N_, pgettext
from app.web.forms.fields import ChoiceField, GardenForm, TextField
from app.web.forms.numbers import WholeNumberField


class OfferForm(GardenForm):
    """Give plants of a sowing away."""

    sowing_id = ChoiceField(N_("Plants of"), kind=int, description=N_("Sowings of which plants live by the log."))
    plants = WholeNumberField(N_("Plants to give away"), PLANTS)
    note = TextField(
        N_("Note"), may_be_empty=True, longest=NOTE_LETTERS, description=N_("Where they stand, how they look.")
    )


class RequestForm(GardenForm):
    """Ask for plants of a crop."""

    grower_id = ChoiceField(N_("For"), kind=int)
    crop_id = ChoiceField(N_("Crop"), kind=int)
    plants = WholeNumberField(N_("Plants"), PLANTS)
    note = TextField(N_("Note"), may_be_empty=True, longest=NOTE_LETTERS)


class MemberRequestForm(RequestForm):
    """Ask for plants for oneself."""

    grower_id = None  # type: ignore[assignment]  # as WTForms removes fields


class GiftForm(GardenForm):
    """Hand plants out to who asks for them."""

    offer_id = ChoiceField(N_("From"), kind=int)
    plants = WholeNumberField(N_("Plants"), PLANTS)

    def __init__(self, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Take what a form takes; `From` is of a person here, for which other languages have a word of its own."""
        super().__init__(**kwargs)
        self.offer_id.label.text = pgettext("who gives", "From")
