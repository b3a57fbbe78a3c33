"""Seed lots."""

from app.core.limits import GERMINATION, SEED_YEAR
from app.core.words import Origin
from app.services.seed_lots import SeedLotValues
from app.web.forms.fields import ChoiceField, GardenForm, PercentField, TextField, WholeNumberField

ORIGINS = (
    (Origin.BOUGHT.value, "bought"),
    (Origin.SAVED.value, "saved here or by a member"),
    (Origin.GIFT.value, "gift or swap"),
)


class SeedLotForm(GardenForm):
    """Add or change a seed lot."""

    name = TextField("Name", description="What you write on the packet or jar, with a letter in it: TOM-A, jar 12.")
    crop_id = ChoiceField("Crop", kind=int)
    variety = TextField("Variety", may_be_empty=True)
    germination = PercentField(
        "Germination",
        GERMINATION,
        may_be_empty=True,
        description="As printed on the packet, or from your own test on damp paper.",
    )
    origin = ChoiceField("Where it is from", ORIGINS, kind=Origin, may_be_empty=True)
    year = WholeNumberField("Year", SEED_YEAR, may_be_empty=True, description="Packed for, or harvested in.")

    def values(self) -> SeedLotValues:
        """Return what was typed, once it is valid."""
        return SeedLotValues(
            name=self.name.data,
            crop_id=self.crop_id.data,
            variety=self.variety.data,
            germination=self.germination.data,
            origin=self.origin.data,
            year=self.year.data,
        )
