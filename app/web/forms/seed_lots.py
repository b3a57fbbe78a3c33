"""Seed lots."""

from app.core.limits import GERMINATION, SEED_YEAR, SEEDS_TRIED, SEEDS_UP, TEST_DAYS
from app.core.words import Origin
from app.services.seed_lots import SeedLotValues
from app.services.seed_tests import SeedTestValues
from app.web.forms.fields import ChoiceField, DayField, GardenForm, PercentField, TextField, WholeNumberField

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
        description="As printed on the packet. Your own tests on damp paper are added on the page of the lot.",
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


class SeedTestForm(GardenForm):
    """Write down a test on damp paper."""

    date = DayField("Begun on")
    tried = WholeNumberField("Seeds laid out", SEEDS_TRIED, description="Ten tell a little, fifty a good deal.")
    up = WholeNumberField("Came up", SEEDS_UP, description="Seeds with a root by the last count.")
    days = WholeNumberField("Counted after", TEST_DAYS, description="When they were counted last.")

    def values(self, seed_lot_id: int) -> SeedTestValues:
        """Return what was typed, once it is valid."""
        return SeedTestValues(
            seed_lot_id=seed_lot_id,
            date=self.date.data,
            tried=self.tried.data,
            up=self.up.data,
            days=self.days.data,
        )
