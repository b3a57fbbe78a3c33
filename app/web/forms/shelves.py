"""Shelves."""

from app.core.limits import (
    HOURS_PER_DAY,
    LEVELS,
    PAN_DEPTH_MM,
    POSITIONS,
    PPFD,
    SHELF_CM,
    TEMPERATURE_C,
    WATTS,
)
from app.core.words import Place
from app.language import N_
from app.services.shelves import ShelfValues
from app.sheets.units import DEPTH_MM, LENGTH_CM, TEMPERATURE
from app.web.forms.answers import AnswerField
from app.web.forms.fields import ChoiceField, GardenForm, TextField
from app.web.forms.numbers import DecimalNumberField, QuantityField, WholeNumberField

PLACES = (
    (Place.HEAT.value, N_("heat: heated bench")),
    (Place.LAMP.value, N_("lamp: under lights")),
    (Place.WINDOW.value, N_("window: sill without lamps")),
    (Place.HARDENING.value, N_("hardening: cold frame, shelter outside")),
)


class ShelfForm(GardenForm):
    """Add or change a shelf."""

    name = TextField(N_("Name"), description=N_("As people call it: lamp rack B, south sill."))
    place = ChoiceField(N_("Place"), PLACES, kind=Place)
    width_cm = QuantityField(N_("Width of a level"), LENGTH_CM, SHELF_CM)
    depth_cm = QuantityField(N_("Depth of a level"), LENGTH_CM, SHELF_CM)
    levels = WholeNumberField(N_("Levels"), LEVELS, description=N_("One above the other, of this size."))
    positions = WholeNumberField(
        N_("Positions, counted by hand"),
        POSITIONS,
        may_be_empty=True,
        description=(
            N_(
                "Trays that stand on all levels together, where they overhang or something is in the way. "
                "Left empty, the positions are worked out from width and depth."
            )
        ),
    )
    bench_temp_c = QuantityField(
        N_("Temperature of the mix"),
        TEMPERATURE,
        TEMPERATURE_C,
        may_be_empty=True,
        description=N_("Measured in the mix, not in the air. It decides how soon seed comes up."),
    )
    ppfd = DecimalNumberField(
        N_("Light at the leaves (PPFD)"),
        PPFD,
        unit_words="µmol/m²/s",
        may_be_empty=True,
        description=N_("From a light meter, or from the maker’s sheet for the height at which the lamp hangs."),
    )
    hours_per_day = DecimalNumberField(N_("Lamps on"), HOURS_PER_DAY, unit_words=N_("hours a day"), may_be_empty=True)
    watts = DecimalNumberField(
        N_("Power"),
        WATTS,
        unit_words=N_("watts"),
        may_be_empty=True,
        description=N_("Lamps and heat of the whole shelf together."),
    )
    pan_depth_mm = QuantityField(
        N_("Depth of water in the wick pan"),
        DEPTH_MM,
        PAN_DEPTH_MM,
        may_be_empty=True,
        description=N_("For shelves whose pots drink from a pan through a cloth."),
    )
    fan = AnswerField(N_("Fan over the shelf"))

    def values(self) -> ShelfValues:
        """Return what was typed, once it is valid."""
        return ShelfValues(
            name=self.name.data,
            place=self.place.data,
            width_cm=self.width_cm.data,
            depth_cm=self.depth_cm.data,
            levels=self.levels.data,
            positions=self.positions.data,
            bench_temp_c=self.bench_temp_c.data,
            ppfd=self.ppfd.data,
            hours_per_day=self.hours_per_day.data,
            watts=self.watts.data,
            pan_depth_mm=self.pan_depth_mm.data,
            fan=self.fan.answer,
        )
