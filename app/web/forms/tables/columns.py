"""The columns that tables of growers, shelves, seed lots and sowings may have, by every name that people give them."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from wtforms.fields.core import UnboundField

from app.core import limits
from app.core.words import Units
from app.language import N_, _, ngettext, nouns
from app.web.forms.growers import GrowerForm
from app.web.forms.numbers import WholeNumberField
from app.web.forms.seed_lots import SeedLotForm
from app.web.forms.shelves import ShelfForm
from app.web.forms.sowings import SowingForm
from app.web.forms.tables.words import LIGHTS, ORIGINS, PLACES, YES_NO, read_weekdays, read_word
from app.web.forms.typed import fold_letters

_UNITS = {
    "cm": Units.METRIC, "mm": Units.METRIC, "c": Units.METRIC, "°c": Units.METRIC,
    "in": Units.US, "inch": Units.US, "inches": Units.US, "f": Units.US, "°f": Units.US,
    "po": Units.US, "pouces": Units.US, "pulg": Units.US, "pulgadas": Units.US,
}  # fmt: skip
_NO_UNITS = frozenset({"percent", "%", "h", "w"})
CLOSE = 0.75


@dataclass(frozen=True, kw_only=True)
class TableColumn:
    """A column that a table may have.

    Attributes:
        name: What it fills.
        label: What it is called here.
        names: Other names that people give it, in small letters, with commas between them; marked, like the label.
        field: The field of the form by which one value of it is typed; None where `read` reads it.
        read: Reads a cell where no field of a form does.
        refers: The noun whose names its cells hold; empty for none.
        needed: Whether every row needs it.
        empty: What an empty cell stands for.
    """

    name: str
    label: str
    names: str = ""
    field: Any = None
    read: Callable[[str], Any] | None = None
    refers: str = ""
    needed: bool = False
    empty: Any = None


@dataclass(frozen=True, kw_only=True)
class TableKind:
    """What a table may hold rows of.

    Attributes:
        key: Its name in addresses.
        nouns: A row of it, and rows of it, in English.
        columns: Its columns, in the order in which they are shown.
        example: A table of made up rows, to begin with.
    """

    key: str
    nouns: tuple[str, str]
    columns: tuple[TableColumn, ...]
    example: str

    @property
    def noun(self) -> str:
        """A row of it, in English: what the storage calls it."""
        return self.nouns[0]

    @property
    def one(self) -> str:
        """A row of it in the language that is being spoken."""
        return ngettext(*self.nouns, 1)

    @property
    def many(self) -> str:
        """Rows of it in the language that is being spoken."""
        return ngettext(*self.nouns, 2)


def _of(form: type, name: str, names: str = "", *, label: str = "", **more: Any) -> TableColumn:  # noqa: ANN401 - whatever a TableColumn takes
    field: UnboundField[Any] = getattr(form, name)
    return TableColumn(name=name, label=label or field.args[0], names=names, field=field, **more)


GROWERS = TableKind(
    key="growers",
    nouns=nouns("grower", "growers"),
    columns=(
        _of(GrowerForm, "name", N_("grower, member, gardener, who, full name"), label=N_("Grower"), needed=True),
        _of(GrowerForm, "plot", N_("bed, parcel, plot number, plot no")),
        _of(GrowerForm, "contact", N_("how to reach them, email, e mail, mail, phone, telephone")),
        TableColumn(
            name="days",
            label=N_("Days they can come"),
            names=N_("days, can come, weekdays, comes"),
            read=read_weekdays,
        ),
    ),
    example=N_("Grower\tPlot\tCan come\nAda Brook\t12\tSat, Sun\nTomas Lind\t7b\tany day"),
)
SHELVES = TableKind(
    key="shelves",
    nouns=nouns("shelf", "shelves"),
    columns=(
        _of(ShelfForm, "name", N_("shelf, bench, rack"), label=N_("Shelf"), needed=True),
        TableColumn(
            name="place", label=N_("Place"), names=N_("kind, type, space"), read=read_word(PLACES), needed=True
        ),
        _of(ShelfForm, "width_cm", N_("width"), needed=True),
        _of(ShelfForm, "depth_cm", N_("depth"), needed=True),
        _of(ShelfForm, "levels", N_("tiers, boards"), needed=True),
        _of(ShelfForm, "positions", N_("trays, positions by hand")),
        _of(ShelfForm, "bench_temp_c", N_("bench temp, bench temperature, temperature, temp")),
        _of(ShelfForm, "ppfd", N_("light")),
        _of(ShelfForm, "hours_per_day", N_("hours per day, hours, hours a day")),
        _of(ShelfForm, "watts", N_("watt, wattage")),
        _of(ShelfForm, "pan_depth_mm", N_("pan depth, wick pan")),
        TableColumn(name="fan", label=N_("Fan over the shelf"), names=N_("fan"), read=read_word(YES_NO)),
    ),
    example=N_(
        "Shelf\tPlace\tWidth (cm)\tDepth (cm)\tLevels\nLamp rack A\tlamp\t122\t61\t3\nSouth sill\twindow\t150\t30\t1"
    ),
)
SEED_LOTS = TableKind(
    key="seed-lots",
    nouns=nouns("seed lot", "seed lots"),
    columns=(
        _of(SeedLotForm, "name", N_("seed lot, lot, packet, jar"), label=N_("Seed lot"), needed=True),
        TableColumn(
            name="crop_id", label=N_("Crop"), names=N_("crop card, vegetable, plant"), refers="crop", needed=True
        ),
        _of(SeedLotForm, "variety", N_("cultivar, sort")),
        _of(SeedLotForm, "germination", N_("germination rate, germinates")),
        TableColumn(
            name="origin", label=N_("Where it is from"), names=N_("origin, from, source"), read=read_word(ORIGINS)
        ),
        _of(SeedLotForm, "year", N_("packed for, harvested, harvest year")),
    ),
    example=N_("Seed lot\tCrop\tVariety\tGermination\tYear\nTOM-A\tTomato\tRed Currant\t85 %%\t2026"),
)
SOWINGS = TableKind(
    key="sowings",
    nouns=nouns("sowing", "sowings"),
    columns=(
        TableColumn(
            name="grower_id", label=N_("Grower"), names=N_("member, gardener, name, who"), refers="grower", needed=True
        ),
        TableColumn(
            name="crop_id", label=N_("Crop"), names=N_("crop card, vegetable, plant"), refers="crop", needed=True
        ),
        _of(SowingForm, "plants", N_("number, how many, quantity, count"), needed=True),
        _of(SowingForm, "variety", N_("cultivar, sort")),
        TableColumn(name="seed_lot_id", label=N_("Seed lot"), names=N_("lot, packet, jar"), refers="seed lot"),
        TableColumn(
            name="brings_seed",
            label=N_("Its grower brings the seed"),
            names=N_("brings seed, brings the seed, own seed"),
            read=read_word(YES_NO),
            empty=False,
        ),
        TableColumn(
            name="priority", label=N_("Priority"), field=UnboundField(WholeNumberField, N_("Priority"), limits.PRIORITY)
        ),
        _of(SowingForm, "days_to_maturity", N_("days to maturity, maturity")),
        _of(SowingForm, "plant_out", N_("plant out, plant out date, plant out on, planting date, planted out")),
        _of(SowingForm, "risk", N_("spring risk")),
        _of(SowingForm, "sow_on", N_("sow on, sowing date, sow date, sow")),
        TableColumn(name="light", label=N_("Light"), read=read_word(LIGHTS)),
        _of(SowingForm, "placed", N_("granted")),
    ),
    example=N_("Grower\tCrop\tPlants\tVariety\nAda Brook\tTomato\t6\tRed Currant\nTomas Lind\tLeek\t40\t"),
)
KINDS = {kind.key: kind for kind in (GROWERS, SHELVES, SEED_LOTS, SOWINGS)}


@dataclass(frozen=True)
class Heading:
    """The name of a column as it stands in a table.

    Attributes:
        column: Which it is; None for one that is left out.
        units: The units that it says its figures are in; None where it says none.
        text: As it stands there.
    """

    column: TableColumn | None
    units: Units | None
    text: str


def read_heading(text: str, kind: TableKind) -> Heading:
    """Return which column a cell of the first row names: `width_cm`, `Width (cm)` or `WIDTH` all name the same."""
    words = _plain(text).split()
    units = None
    for cut in (False, True):
        if cut:
            if len(words) < 2 or words[-1] not in {*_UNITS, *_NO_UNITS}:  # noqa: PLR2004 - a name and its unit
                break
            units = _UNITS.get(words.pop())
        for column in kind.columns:
            if " ".join(words) in _spellings(column):
                return Heading(column, units, text)
    return Heading(None, None, text)


def nearest_column(text: str, kind: TableKind) -> str:
    """Return the label of the column whose name is most like a text, as it is said; empty where none is like it."""
    names = {spelling: _(column.label) for column in kind.columns for spelling in _spellings(column)}
    found = get_close_matches(fold_letters(text.casefold()), names, 1, CLOSE)
    return names[found[0]] if found else ""


def _spellings(column: TableColumn) -> frozenset[str]:
    labels = (column.label,) if column.field is None else (column.label, column.field.args[0])
    lists = [column.names, _(column.names)] if column.names else []
    names = [*labels, *map(_, labels), *(name for names in lists for name in names.split(", "))]
    return frozenset({*map(_plain, names), column.name.replace("_", " ").removesuffix(" id")})


def _plain(text: str) -> str:
    """Return a name of a column as two are compared: capital letters, accents and marks do not matter."""
    return " ".join(re.sub(r"[()\[\]_./:*?’'\"-]+", " ", fold_letters(text.casefold())).split())
