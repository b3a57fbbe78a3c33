"""Spare plants."""

from app.core.limits import NOTE_LETTERS, PLANTS
from app.web.forms.fields import ChoiceField, GardenForm, TextField, WholeNumberField


class OfferForm(GardenForm):
    """Give plants of a sowing away."""

    sowing_id = ChoiceField("Plants of", kind=int, description="Sowings of which plants live by the log.")
    plants = WholeNumberField("Plants to give away", PLANTS)
    note = TextField("Note", may_be_empty=True, longest=NOTE_LETTERS, description="Where they stand, how they look.")


class RequestForm(GardenForm):
    """Ask for plants of a crop."""

    grower_id = ChoiceField("For", kind=int)
    crop_id = ChoiceField("Crop", kind=int)
    plants = WholeNumberField("Plants", PLANTS)
    note = TextField("Note", may_be_empty=True, longest=NOTE_LETTERS)


class MemberRequestForm(RequestForm):
    """Ask for plants for oneself."""

    grower_id = None  # type: ignore[assignment]  # as WTForms removes fields


class GiftForm(GardenForm):
    """Hand plants out to who asks for them."""

    offer_id = ChoiceField("From", kind=int)
    plants = WholeNumberField("Plants", PLANTS)
