"""Sowings."""

from wtforms import BooleanField

from app.core import limits
from app.core.words import Light
from app.language import N_, _
from app.services.sowings import SowingValues
from app.sheets.words import risk_words
from app.web.forms.fields import ChoiceField, DayField, GardenForm, TextField
from app.web.forms.numbers import PercentField, WholeNumberField

PRIORITIES = ((1, N_("1, first")), (2, "2"), (3, N_("3, last")))
LIGHTS = ((Light.LAMP.value, N_("under lamps")), (Light.WINDOW.value, N_("at a window")))


def say_risk(risk: float) -> str:
    """Return what a spring risk means."""
    return _("%(risk)s freezes after the date it gives.", risk=risk_words(risk))


class SowingForm(GardenForm):
    """Add or change a sowing."""

    grower_id = ChoiceField(N_("Grower"), kind=int)
    crop_id = ChoiceField(N_("Crop"), kind=int)
    plants = WholeNumberField(N_("Plants wanted"), limits.PLANTS, description=N_("Cells and seeds follow from it."))
    variety = TextField(N_("Variety"), may_be_empty=True)
    seed_lot_id = ChoiceField(
        N_("Seed lot"),
        kind=int,
        may_be_empty=True,
        empty_words=N_("not chosen yet"),
        description=N_("Seed of the same crop."),
    )
    brings_seed = BooleanField(
        N_("Its grower brings the seed"),
        description=N_("Else the garden does, and it stands on the list of seed to buy."),
    )
    priority = ChoiceField(
        N_("Priority"),
        PRIORITIES,
        kind=int,
        may_be_empty=True,
        empty_words=N_("not set, counts as 2"),
        description=N_("Who comes first where room is short."),
    )
    days_to_maturity = WholeNumberField(
        N_("Days to maturity of the variety"),
        limits.MATURITY_DAYS,
        may_be_empty=True,
        description=N_("Counted as on the crop card, whose figure holds if this is empty."),
    )
    plant_out = DayField(
        N_("Own plant-out date"),
        may_be_empty=True,
        description=N_("Left empty, it is the first hand-out day that the frost dates allow."),
    )
    risk = PercentField(
        N_("Own spring risk"),
        limits.RISK,
        may_be_empty=True,
        say=say_risk,
        description=N_("Bolder or safer than the garden’s. Only tender crops wait for it."),
    )
    sow_on = DayField(
        N_("Day set for sowing"),
        may_be_empty=True,
        description=N_("Left empty, it is the sowing day nearest to the best day."),
    )
    light = ChoiceField(N_("Light"), LIGHTS, kind=Light, may_be_empty=True, empty_words=N_("as on the crop card"))
    placed = WholeNumberField(
        N_("Plants granted"),
        limits.Bounds(0, limits.PLANTS.high),
        may_be_empty=True,
        description=N_("Only where not all found room. Left empty, all of them."),
    )

    def values(self) -> SowingValues:
        """Return what was typed, once it is valid."""
        return SowingValues(
            grower_id=self.grower_id.data,
            crop_id=self.crop_id.data,
            seed_lot_id=self.seed_lot_id.data,
            plants=self.plants.data,
            variety=self.variety.data,
            days_to_maturity=self.days_to_maturity.data,
            priority=self.priority.data,
            plant_out=self.plant_out.data,
            risk=self.risk.data,
            sow_on=self.sow_on.data,
            light=self.light.data,
            placed=self.placed.data,
            brings_seed=self.brings_seed.data,
        )


class MemberSowingForm(SowingForm):
    """Add or change a sowing of one's own: a wish; what coordinators set of it stays.

    Attributes:
        own_grower_id: Whose it is.
        before: What is written down of the sowing that it changes; None where it adds one.
    """

    own_grower_id = 0
    before: SowingValues | None = None

    brings_seed = BooleanField(N_("I bring the seed"), description=N_("Else the garden does."))
    grower_id = priority = risk = sow_on = light = placed = None  # type: ignore[assignment]  # as WTForms removes fields

    def values(self) -> SowingValues:
        """Return what was typed, once it is valid, with what coordinators have set.

        What they set for another crop does not hold for this one, and no more can be granted than is wanted.
        """
        before, crop_id, plants = self.before, self.crop_id.data, self.plants.data
        is_same_crop = before is not None and before.crop_id == crop_id
        placed = before.placed if before is not None and is_same_crop else None
        return SowingValues(
            grower_id=self.own_grower_id,
            crop_id=crop_id,
            seed_lot_id=self.seed_lot_id.data,
            plants=plants,
            variety=self.variety.data,
            days_to_maturity=self.days_to_maturity.data,
            priority=None if before is None else before.priority,
            plant_out=self.plant_out.data,
            risk=None if before is None else before.risk,
            sow_on=before.sow_on if before is not None and is_same_crop else None,
            light=before.light if before is not None and is_same_crop else None,
            placed=None if placed is None else min(placed, plants),
            brings_seed=self.brings_seed.data,
        )
