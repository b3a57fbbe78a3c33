"""The files of a garden folder, their columns, and what each column holds."""

from dataclasses import dataclass

from sqlalchemy import Table

from app.core import limits
from app.core.words import CountedFrom, Hardiness, HeatMethod, Light, Origin, Place, Transplanting
from app.storage.base import table_of
from app.storage.folder.cells import Day, Kind, Name, Number, Reference, Text, Weekdays, Whole, Word, YesNo
from app.storage.models import Container, Crop, Grower, SeedLot, Shelf, Sowing
from app.storage.published import EMERGENCE_FILE, GERMINATION_FILE

SETTINGS_FILE = "garden.toml"
# Files of a garden folder that hold what this version does not keep yet.
LATER_FILES = ("log.csv", "trays.csv", "cells.csv", "stays.csv", "rounds.csv")


@dataclass(frozen=True, kw_only=True)
class Column:
    """A column of a file.

    Attributes:
        name: Its header.
        kind: What its cells hold.
        attribute: The column of the database table.
        required: Whether the file must have the column.
        filled: Whether each cell must be filled.
        default: What an empty cell stands for.
    """

    name: str
    kind: Kind
    attribute: str
    required: bool = False
    filled: bool = False
    default: object = None


@dataclass(frozen=True, kw_only=True)
class Layout:
    """A file of the folder; its first column is its key.

    Attributes:
        file: Name of the file.
        noun: What a row is.
        table: Where its rows are kept.
        columns: Its columns in the order in which they are written.
        shipped: Whether the file that comes with the program stands in where a folder has none.
        optional: Whether a folder may do without.
        ignores_others: Whether columns that are not listed are passed over.
        once: Why a key stands once.
    """

    file: str
    noun: str
    table: Table
    columns: tuple[Column, ...]
    shipped: bool = False
    optional: bool = False
    ignores_others: bool = False
    once: str = "each needs a name of its own"

    @property
    def key(self) -> str:
        """The header of the column that names the rows."""
        return self.columns[0].name

    @property
    def by_name(self) -> dict[str, Column]:
        """The columns by their headers."""
        return {column.name: column for column in self.columns}


CONTAINER = Reference("containers.csv", "container")
CROP = Reference("crops.csv", "crop")
GROWER = Reference("growers.csv", "grower")
SEED_LOT = Reference("seed_lots.csv", "seed lot")
EMERGENCE_ROW = Reference(EMERGENCE_FILE.name, "crop")
GERMINATION_KIND = Reference(GERMINATION_FILE.name, "kind")

NAME = Name(limits.NAME_LETTERS)
LINE = Text(limits.NAME_LETTERS)
WEEKS_OUT = Number(limits.PLANT_OUT_WEEKS)
WEEKS_INDOORS = Number(limits.INDOOR_WEEKS)
CELSIUS = Number(limits.TEMPERATURE_C)
MATURITY = Whole(limits.MATURITY_DAYS)


def _key(name: str) -> Column:
    return Column(name=name, kind=NAME, attribute="name", required=True, filled=True)


def _filled(name: str, kind: Kind, attribute: str | None = None) -> Column:
    return Column(name=name, kind=kind, attribute=attribute or name, required=True, filled=True)


def _required(name: str, kind: Kind, attribute: str | None = None, default: object = None) -> Column:
    return Column(name=name, kind=kind, attribute=attribute or name, required=True, default=default)


def _optional(name: str, kind: Kind, attribute: str | None = None) -> Column:
    return Column(name=name, kind=kind, attribute=attribute or name)


# In the order in which rows may refer to rows.
LAYOUTS: tuple[Layout, ...] = (
    Layout(
        file="growers.csv",
        noun="grower",
        table=table_of(Grower),
        columns=(
            _key("grower"),
            _optional("plot", LINE),
            _optional("contact", Text(limits.CONTACT_LETTERS)),
            _optional("days", Weekdays()),
        ),
    ),
    Layout(
        file="containers.csv",
        noun="container",
        table=table_of(Container),
        shipped=True,
        columns=(
            _key("container"),
            _filled("cells_per_tray", Whole(limits.CELLS_PER_TRAY)),
            _filled("cell_volume_ml", Number(limits.CELL_VOLUME_ML)),
            _optional("rows", Whole(limits.CELLS_PER_TRAY)),
            _optional("columns", Whole(limits.CELLS_PER_TRAY)),
        ),
    ),
    Layout(
        file="crops.csv",
        noun="crop",
        table=table_of(Crop),
        shipped=True,
        columns=(
            _key("crop"),
            _filled("hardiness", Word(Hardiness)),
            _required("plant_out_weeks", WEEKS_OUT),
            _required("indoor_weeks_min", WEEKS_INDOORS),
            _required("indoor_weeks_max", WEEKS_INDOORS),
            _required("start_container", CONTAINER, "start_container_id"),
            _filled("days_to_maturity", MATURITY),
            _filled("counted_from", Word(CountedFrom)),
            _required("days_to_emerge", Whole(limits.EMERGE_DAYS)),
            _required("germ_temp_c", CELSIUS),
            _required("heat", YesNo(), default=False),
            _required("light", Word(Light)),
            _required("seeds_per_cell", Whole(limits.SEEDS_PER_CELL), default=1),
            _optional("botanical", LINE),
            _optional("direct_sow_weeks", WEEKS_OUT),
            _optional("plants_per_cell", Whole(limits.PLANTS_PER_CELL)),
            _optional("pot_on_container", CONTAINER, "pot_on_container_id"),
            _optional("pot_on_after_days", Whole(limits.POT_ON_DAYS)),
            _optional("transplanting", Word(Transplanting)),
            _optional("harvest_days", Whole(limits.HARVEST_DAYS)),
            _optional("hardening_days", Whole(limits.HARDENING_DAYS)),
            _optional("sow_depth_mm", Number(limits.SOW_DEPTH_MM)),
            _optional("light_to_germinate", YesNo()),
            _optional("seeds_per_gram", Number(limits.SEEDS_PER_GRAM)),
            _optional("seed_storage_years", Number(limits.STORAGE_YEARS)),
            _optional("dli_target", Number(limits.DLI_MOL)),
            _optional("heat_sum_cd", Number(limits.HEAT_SUM_CD)),
            _optional("heat_base_c", CELSIUS),
            _optional("heat_method", Word(HeatMethod)),
            _optional("emergence_row", EMERGENCE_ROW),
            _optional("germination_kind", GERMINATION_KIND),
            _optional("source", Text(limits.SOURCE_LETTERS)),
        ),
    ),
    Layout(
        file="shelves.csv",
        noun="shelf",
        table=table_of(Shelf),
        columns=(
            _key("shelf"),
            _filled("place", Word(Place)),
            _filled("width_cm", Number(limits.SHELF_CM)),
            _filled("depth_cm", Number(limits.SHELF_CM)),
            _filled("levels", Whole(limits.LEVELS)),
            _optional("positions", Whole(limits.POSITIONS)),
            _optional("bench_temp_c", CELSIUS),
            _optional("ppfd", Number(limits.PPFD)),
            _optional("hours_per_day", Number(limits.HOURS_PER_DAY)),
            _optional("watts", Number(limits.WATTS)),
            _optional("pan_depth_mm", Number(limits.PAN_DEPTH_MM)),
            _optional("fan", YesNo()),
        ),
    ),
    Layout(
        file="seed_lots.csv",
        noun="seed lot",
        table=table_of(SeedLot),
        optional=True,
        columns=(
            _key("seed_lot"),
            _filled("crop", CROP, "crop_id"),
            _optional("variety", LINE),
            _optional("germination", Number(limits.GERMINATION)),
            _optional("origin", Word(Origin)),
            _optional("year", Whole(limits.SEED_YEAR)),
        ),
    ),
    Layout(
        file="sowings.csv",
        noun="sowing",
        table=table_of(Sowing),
        columns=(
            _key("sowing"),
            _filled("grower", GROWER, "grower_id"),
            _filled("crop", CROP, "crop_id"),
            _filled("plants", Whole(limits.PLANTS)),
            _optional("variety", LINE),
            _optional("days_to_maturity", MATURITY),
            _optional("seed_lot", SEED_LOT, "seed_lot_id"),
            _optional("priority", Whole(limits.PRIORITY)),
            _optional("plant_out", Day()),
            _optional("risk", Number(limits.RISK)),
            _optional("sow_on", Day()),
            _optional("light", Word(Light)),
            _optional("placed", Whole(limits.Bounds(0, limits.PLANTS.high))),
        ),
    ),
)
