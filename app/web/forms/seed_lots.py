"""Seed lots."""

from app.core.limits import GERMINATION, SEED_YEAR, SEEDS_TRIED, SEEDS_UP, TEST_DAYS
from app.core.words import Origin
from app.language import N_
from app.services.seed_lots import SeedLotValues
from app.services.seed_tests import SeedTestValues
from app.web.forms.fields import ChoiceField, DayField, GardenForm, TextField
from app.web.forms.numbers import PercentField, WholeNumberField

ORIGINS = (
    (Origin.BOUGHT.value, N_("bought")),
    (Origin.SAVED.value, N_("saved here or by a member")),
    (Origin.GIFT.value, N_("gift or swap")),
)


class SeedLotForm(GardenForm):
    """Add or change a seed lot."""

    name = TextField(
        N_("Name"), description=N_("What you write on the packet or jar, with a letter in it: TOM-A, jar 12.")
    )
    crop_id = ChoiceField(N_("Crop"), kind=int)
    variety = TextField(N_("Variety"), may_be_empty=True)
    germination = PercentField(
        N_("Germination"),
        GERMINATION,
        may_be_empty=True,
        description=N_("As printed on the packet. Your own tests on damp paper are added on the page of the lot."),
    )
    origin = ChoiceField(N_("Where it is from"), ORIGINS, kind=Origin, may_be_empty=True)
    year = WholeNumberField(N_("Year"), SEED_YEAR, may_be_empty=True, description=N_("Packed for, or harvested in."))

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

    date = DayField(N_("Begun on"))
    tried = WholeNumberField(N_("Seeds laid out"), SEEDS_TRIED, description=N_("Ten tell a little, fifty a good deal."))
    up = WholeNumberField(N_("Came up"), SEEDS_UP, description=N_("Seeds with a root by the last count."))
    days = WholeNumberField(N_("Counted after"), TEST_DAYS, description=N_("When they were counted last."))

    def values(self, seed_lot_id: int) -> SeedTestValues:
        """Return what was typed, once it is valid."""
        return SeedTestValues(
            seed_lot_id=seed_lot_id,
            date=self.date.data,
            tried=self.tried.data,
            up=self.up.data,
            days=self.days.data,
        )
