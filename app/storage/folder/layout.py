"""The files of a garden folder, their columns, and what each column holds."""

from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import ColumnElement, Table, select, true

from app.core import limits
from app.core.words import (
    Cause,
    CellState,
    CountedFrom,
    Hardiness,
    HeatMethod,
    Light,
    LogKind,
    Origin,
    Place,
    Tick,
    Transplanting,
)
from app.language import _
from app.storage.base import table_of
from app.storage.folder.cells import (
    CellLabels,
    Day,
    Kind,
    Name,
    Number,
    NumberReference,
    Reference,
    RowLetters,
    Text,
    Weekdays,
    Whole,
    Word,
    YesNo,
)
from app.storage.models import (
    CareRound,
    Cell,
    Container,
    Crop,
    Draft,
    Grower,
    LogEntry,
    SeedLot,
    SeedTest,
    Shelf,
    Sowing,
    SpareGift,
    SpareOffer,
    SpareRequest,
    Stay,
    Ticked,
    Tray,
)
from app.storage.published import EMERGENCE_FILE, GERMINATION_FILE

SETTINGS_FILE = "garden.toml"
TRAYS_FILE, CELLS_FILE, STAYS_FILE = "trays.csv", "cells.csv", "stays.csv"
LOG_FILE, OFFERS_FILE, REQUESTS_FILE = "log.csv", "spare_offers.csv", "spare_requests.csv"


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
    """A file of the folder.

    Attributes:
        file: Name of the file.
        noun: What a row is.
        table: Where its rows are kept.
        columns: Its columns in the order in which they are written.
        key_columns: How many of them, from the first on, tell the rows apart.
        order: What its rows are written in the order of; nothing for the order in which they came.
        written: Which rows of the table are written.
        shipped: Whether the file that comes with the program stands in where a folder has none.
        optional: Whether a folder may do without.
        ignores_others: Whether columns that are not listed are passed over.
        once: Why a key stands once.
        twice: What is said of a key that an earlier `row` has, in place of words made of noun and `once`.
    """

    file: str
    noun: str
    table: Table
    columns: tuple[Column, ...]
    key_columns: int = 1
    order: tuple[ColumnElement[Any], ...] = ()
    written: ColumnElement[bool] = field(default_factory=true)
    shipped: bool = False
    optional: bool = False
    ignores_others: bool = False
    once: str = "each needs a name of its own"
    twice: str = ""

    def already(self, row: int) -> str:
        """Say that an earlier row has a key already."""
        return _(self.twice, row=row) if self.twice else f"row {row} has this {self.noun} already; {self.once}"

    @property
    def key(self) -> tuple[str, ...]:
        """The headers of the columns that tell the rows apart."""
        return tuple(column.name for column in self.columns[: self.key_columns])

    @property
    def is_named(self) -> bool:
        """Whether one column names the rows, so that other files may refer to them."""
        return self.key_columns == 1

    @property
    def is_numbered(self) -> bool:
        """Whether the rows go by the numbers that the database gives them."""
        return bool(self.columns) and self.columns[0].attribute == "id"

    @property
    def within(self) -> tuple[Column, ...]:
        """The columns that refer to rows of the same file."""
        return tuple(c for c in self.columns if isinstance(c.kind, Reference) and c.kind.file == self.file)

    @property
    def by_name(self) -> dict[str, Column]:
        """The columns by their headers."""
        return {column.name: column for column in self.columns}


CONTAINER = Reference("containers.csv", "container")
CROP = Reference("crops.csv", "crop")
GROWER = Reference("growers.csv", "grower")
SEED_LOT = Reference("seed_lots.csv", "seed lot")
SHELF = Reference("shelves.csv", "shelf")
SOWING = Reference("sowings.csv", "sowing")
TRAY = NumberReference(TRAYS_FILE, "tray", Whole(limits.TRAY_NUMBER))
ENTRY = Reference(LOG_FILE, "entry")
OFFER = NumberReference(OFFERS_FILE, "offer", Whole(limits.ROW_NUMBER))
REQUEST = NumberReference(REQUESTS_FILE, "request", Whole(limits.ROW_NUMBER))
EMERGENCE_ROW = Reference(EMERGENCE_FILE.name, "crop")
GERMINATION_KIND = Reference(GERMINATION_FILE.name, "kind")

NAME = Name(limits.NAME_LETTERS)
LINE = Text(limits.NAME_LETTERS)
NOTE = Text(limits.NOTE_LETTERS)
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


def _optional(name: str, kind: Kind, attribute: str | None = None, default: object = None) -> Column:
    return Column(name=name, kind=kind, attribute=attribute or name, default=default)


def _tray_number(table: Table) -> ColumnElement[Any]:
    """Return the number of the tray that a row of a table belongs to."""
    tray = table_of(Tray)
    return select(tray.c.number).where(tray.c.id == table.c.tray_id).scalar_subquery()


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
            _optional("brings_seed", YesNo(), default=False),
        ),
    ),
    Layout(
        file=TRAYS_FILE,
        noun="tray",
        table=table_of(Tray),
        optional=True,
        once="each needs a number of its own",
        order=(table_of(Tray).c.number,),
        columns=(
            _filled("tray", TRAY.numbers, "number"),
            _filled("container", CONTAINER, "container_id"),
            _filled("sow_on", Day()),
            _optional("potted_on", YesNo(), default=False),
            _optional("pinned", YesNo(), default=False),
        ),
    ),
    # Its table has every cell of a tray; a row is written, and needed, for those that belong to a sowing.
    Layout(
        file=CELLS_FILE,
        noun="cell",
        table=table_of(Cell),
        optional=True,
        key_columns=3,
        once="a cell belongs to one sowing",
        order=(_tray_number(table_of(Cell)), table_of(Cell).c.row_number, table_of(Cell).c.column_number),
        written=table_of(Cell).c.sowing_id.is_not(None),
        columns=(
            _filled("tray", TRAY, "tray_id"),
            _filled("row", RowLetters(), "row_number"),
            _filled("column", Whole(limits.CELLS_PER_TRAY), "column_number"),
            _required("sowing", SOWING, "sowing_id"),
            _required("state", Word(CellState), default=CellState.EMPTY),
        ),
    ),
    # Two rows of a tray may not share a day, which is checked as such: no columns are its key.
    Layout(
        file=STAYS_FILE,
        noun="stay",
        table=table_of(Stay),
        optional=True,
        key_columns=0,
        order=(_tray_number(table_of(Stay)), table_of(Stay).c.begin_on),
        columns=(
            _filled("tray", TRAY, "tray_id"),
            _filled("place", Word(Place)),
            _required("shelf", SHELF, "shelf_id"),
            _required("level", Whole(limits.LEVELS)),
            _required("slot", Whole(limits.Bounds(1, limits.POSITIONS.high))),
            _filled("from", Day(), "begin_on"),
            _filled("to", Day(), "end_on"),
            _optional("pinned", YesNo(), default=False),
        ),
    ),
    Layout(
        file=LOG_FILE,
        noun="entry",
        table=table_of(LogEntry),
        optional=True,
        columns=(
            _key("entry"),
            _filled("sowing", SOWING, "sowing_id"),
            _filled("kind", Word(LogKind)),
            _filled("date", Day()),
            _filled("count", Whole(limits.ENTRY_COUNT)),
            _optional("seeds", Whole(limits.ENTRY_SEEDS)),
            _optional("tray", TRAY, "tray_id"),
            _optional("seed_lot", SEED_LOT, "seed_lot_id"),
            _optional("cause", Word(Cause)),
            _optional("note", NOTE),
            _optional("supersedes", ENTRY, "supersedes_id"),
            _optional("cells", CellLabels(limits.ENTRY_CELLS_LETTERS)),
            _optional("grower", GROWER, "grower_id"),
        ),
    ),
    Layout(
        file="ticks.csv",
        noun="tick",
        table=table_of(Ticked),
        optional=True,
        key_columns=3,
        once="a task is ticked off once a day",
        columns=(
            _filled("sowing", SOWING, "sowing_id"),
            _filled("task", Word(Tick)),
            _filled("date", Day()),
        ),
    ),
    Layout(
        file="seed_tests.csv",
        noun="test",
        table=table_of(SeedTest),
        optional=True,
        key_columns=0,
        columns=(
            _filled("seed_lot", SEED_LOT, "seed_lot_id"),
            _filled("date", Day()),
            _filled("tried", Whole(limits.TRIED)),
            _filled("up", Whole(limits.Bounds(0, limits.TRIED.high))),
            _optional("days", Whole(limits.TEST_DAYS)),
            _optional("seeds_per_cell", Number(limits.TRIED_PER_CELL), default=1.0),
        ),
    ),
    Layout(
        file="rounds.csv",
        noun="round",
        table=table_of(CareRound),
        optional=True,
        once="a day has one round",
        columns=(
            _filled("date", Day()),
            _required("grower", GROWER, "grower_id"),
            _optional("offered", YesNo(), "is_offered", default=False),
            _optional("swapped", YesNo(), "is_swapped", default=False),
            _optional("done_on", Day()),
            _optional("done_by", GROWER, "done_by_id"),
            _optional("note", NOTE),
        ),
    ),
    Layout(
        file="drafts.csv",
        noun="sowing of last season",
        table=table_of(Draft),
        optional=True,
        key_columns=0,
        columns=(
            _filled("grower", GROWER, "grower_id"),
            _filled("crop", CROP, "crop_id"),
            _filled("plants", Whole(limits.PLANTS)),
            _optional("variety", LINE),
            _optional("days_to_maturity", MATURITY),
            _optional("seed_lot", SEED_LOT, "seed_lot_id"),
            _optional("priority", Whole(limits.PRIORITY)),
            _optional("brings_seed", YesNo(), default=False),
            _optional("got", Whole(limits.ENTRY_COUNT)),
        ),
    ),
    Layout(
        file=OFFERS_FILE,
        noun="offer",
        table=table_of(SpareOffer),
        optional=True,
        once="each needs a number of its own",
        columns=(
            _filled("offer", OFFER.numbers, "id"),
            _filled("sowing", SOWING, "sowing_id"),
            _filled("plants", Whole(limits.PLANTS)),
            _filled("date", Day()),
            _optional("note", NOTE),
        ),
    ),
    Layout(
        file=REQUESTS_FILE,
        noun="request",
        table=table_of(SpareRequest),
        optional=True,
        once="each needs a number of its own",
        columns=(
            _filled("request", REQUEST.numbers, "id"),
            _filled("grower", GROWER, "grower_id"),
            _filled("crop", CROP, "crop_id"),
            _filled("plants", Whole(limits.PLANTS)),
            _filled("date", Day()),
            _optional("note", NOTE),
        ),
    ),
    Layout(
        file="spare_gifts.csv",
        noun="gift",
        table=table_of(SpareGift),
        optional=True,
        key_columns=0,
        columns=(
            _filled("offer", OFFER, "offer_id"),
            _required("grower", GROWER, "grower_id"),
            _filled("plants", Whole(limits.PLANTS)),
            _filled("date", Day()),
            _optional("request", REQUEST, "request_id"),
        ),
    ),
)
