"""Crop cards."""

from wtforms import BooleanField

from app.core import limits
from app.core.words import CountedFrom, Hardiness, HeatMethod, Light, Transplanting
from app.language import N_
from app.services.crops import CropValues
from app.sheets.units import DEPTH_MM, HEAT_SUM_CD, SEEDS_PER_GRAM, TEMPERATURE
from app.web.forms.answers import AnswerField
from app.web.forms.fields import ChoiceField, GardenForm, LongTextField, TextField
from app.web.forms.numbers import DecimalNumberField, QuantityField, WholeNumberField

COUNTED = ((CountedFrom.SEED.value, N_("sowing")), (CountedFrom.TRANSPLANT.value, N_("planting out")))
LIGHTS = ((Light.LAMP.value, N_("lamps")), (Light.WINDOW.value, N_("window, or lamps with room")))
TRANSPLANTING = (
    (Transplanting.EASY.value, N_("easily")),
    (Transplanting.CAREFUL.value, N_("with care")),
    (Transplanting.RESENTS.value, N_("it resents it: never potted on")),
)
HEAT_METHODS = (
    (HeatMethod.MEAN.value, N_("the day’s mean is cut at the base")),
    (HeatMethod.EACH.value, N_("minimum and maximum are each cut at the base")),
)


class CropForm(GardenForm):
    """Add or change a crop card."""

    name = TextField(N_("Crop"), description=N_("As growers ask for it."))
    botanical = TextField(N_("Botanical name"), may_be_empty=True, description=N_("Genus first: Cucurbita pepo."))
    hardiness = ChoiceField(N_("Hardiness"), kind=Hardiness)
    plant_out_weeks = DecimalNumberField(
        N_("Plant out"),
        limits.PLANT_OUT_WEEKS,
        unit_words=N_("weeks after the average last frost"),
        may_be_empty=True,
        description=N_("Before it with a minus: −3."),
    )
    direct_sow_weeks = DecimalNumberField(
        N_("Sow outside"),
        limits.PLANT_OUT_WEEKS,
        unit_words=N_("weeks after the average last frost"),
        may_be_empty=True,
        description=N_("Before it with a minus. Empty for a crop that is not sown outside."),
    )
    days_to_maturity = WholeNumberField(N_("Days to maturity"), limits.MATURITY_DAYS)
    counted_from = ChoiceField(N_("Counted from"), COUNTED, kind=CountedFrom)
    harvest_days = WholeNumberField(
        N_("Picking time wanted"),
        limits.HARVEST_DAYS,
        may_be_empty=True,
        description=N_("Days of harvest after the first ripe fruit. Left empty, 14; 0 for a crop taken once."),
    )
    start_container_id = ChoiceField(
        N_("Container to start in"), kind=int, may_be_empty=True, empty_words=N_("none: sown outside only")
    )
    indoor_weeks_min = DecimalNumberField(
        N_("Fewest weeks indoors"), limits.INDOOR_WEEKS, unit_words=N_("weeks"), may_be_empty=True
    )
    indoor_weeks_max = DecimalNumberField(
        N_("Most weeks indoors"), limits.INDOOR_WEEKS, unit_words=N_("weeks"), may_be_empty=True
    )
    light = ChoiceField(N_("Light"), LIGHTS, kind=Light, may_be_empty=True)
    heat = BooleanField(N_("Comes up on the heated bench"))
    hardening_days = WholeNumberField(
        N_("Days of hardening off"), limits.HARDENING_DAYS, may_be_empty=True, description=N_("Left empty, 7.")
    )
    transplanting = ChoiceField(N_("How it takes transplanting"), TRANSPLANTING, kind=Transplanting, may_be_empty=True)
    pot_on_container_id = ChoiceField(
        N_("Potted on into"), kind=int, may_be_empty=True, empty_words=N_("none: stays where it starts")
    )
    pot_on_after_days = WholeNumberField(N_("Days from emergence to potting on"), limits.POT_ON_DAYS, may_be_empty=True)
    days_to_emerge = WholeNumberField(N_("Days to emergence"), limits.EMERGE_DAYS, may_be_empty=True)
    germ_temp_c = QuantityField(
        N_("At this temperature of the mix"), TEMPERATURE, limits.TEMPERATURE_C, may_be_empty=True
    )
    emergence_row = ChoiceField(
        N_("Row in the table of emergence"),
        may_be_empty=True,
        empty_words=N_("none: the days above hold"),
        description=N_("Days to emergence at each temperature, as published."),
    )
    seeds_per_cell = WholeNumberField(N_("Seeds per cell"), limits.SEEDS_PER_CELL)
    plants_per_cell = WholeNumberField(
        N_("Plants per cell"),
        limits.PLANTS_PER_CELL,
        may_be_empty=True,
        description=N_("More than one for crops grown in clumps. Left empty, 1."),
    )
    sow_depth_mm = QuantityField(
        N_("Sowing depth"),
        DEPTH_MM,
        limits.SOW_DEPTH_MM,
        may_be_empty=True,
        description=N_("0 for seed left on the surface."),
    )
    light_to_germinate = AnswerField(N_("Seed needs light to germinate"))
    germination_kind = ChoiceField(
        N_("Kind in the legal table of germination"),
        may_be_empty=True,
        empty_words=N_("none: 70 %% counts"),
        description=N_("Its legal minimum counts where a seed lot states nothing."),
    )
    seeds_per_gram = QuantityField(N_("Seeds by weight"), SEEDS_PER_GRAM, limits.SEEDS_PER_GRAM, may_be_empty=True)
    seed_storage_years = DecimalNumberField(
        N_("Seed keeps"), limits.STORAGE_YEARS, unit_words=N_("years"), may_be_empty=True
    )
    dli_target = DecimalNumberField(
        N_("Daily light wanted (DLI)"), limits.DLI_MOL, unit_words=N_("mol/m² a day"), may_be_empty=True
    )
    heat_sum_cd = QuantityField(N_("Heat sum to maturity"), HEAT_SUM_CD, limits.HEAT_SUM_CD, may_be_empty=True)
    heat_base_c = QuantityField(N_("Base of the heat sum"), TEMPERATURE, limits.TEMPERATURE_C, may_be_empty=True)
    heat_method = ChoiceField(N_("Below the base"), HEAT_METHODS, kind=HeatMethod, may_be_empty=True)
    source = LongTextField(
        N_("Sources"),
        may_be_empty=True,
        description=N_(
            "Where each figure is from, as “figure: source; figure+figure: source”, with the names of columns "
            "in crops.csv. Say “common practice” or “from memory” where that is true."
        ),
        render_kw={"rows": "12"},
    )

    def values(self) -> CropValues:
        """Return what was typed, once it is valid."""
        return CropValues(
            name=self.name.data,
            botanical=self.botanical.data,
            hardiness=self.hardiness.data,
            plant_out_weeks=self.plant_out_weeks.data,
            direct_sow_weeks=self.direct_sow_weeks.data,
            indoor_weeks_min=self.indoor_weeks_min.data,
            indoor_weeks_max=self.indoor_weeks_max.data,
            start_container_id=self.start_container_id.data,
            pot_on_container_id=self.pot_on_container_id.data,
            pot_on_after_days=self.pot_on_after_days.data,
            transplanting=self.transplanting.data,
            days_to_maturity=self.days_to_maturity.data,
            counted_from=self.counted_from.data,
            harvest_days=self.harvest_days.data,
            hardening_days=self.hardening_days.data,
            days_to_emerge=self.days_to_emerge.data,
            germ_temp_c=self.germ_temp_c.data,
            heat=self.heat.data,
            light=self.light.data,
            light_to_germinate=self.light_to_germinate.answer,
            seeds_per_cell=self.seeds_per_cell.data,
            plants_per_cell=self.plants_per_cell.data,
            sow_depth_mm=self.sow_depth_mm.data,
            seeds_per_gram=self.seeds_per_gram.data,
            seed_storage_years=self.seed_storage_years.data,
            dli_target=self.dli_target.data,
            heat_sum_cd=self.heat_sum_cd.data,
            heat_base_c=self.heat_base_c.data,
            heat_method=self.heat_method.data,
            emergence_row=self.emergence_row.data,
            germination_kind=self.germination_kind.data,
            source=self.source.data,
        )
