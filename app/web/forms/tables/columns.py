"""The columns that tables of growers, shelves, seed lots and sowings may have, by every name that people give them."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from wtforms.fields.core import UnboundField

from app.core import limits
from app.core.words import Units
from app.web.forms.fields import WholeNumberField
from app.web.forms.growers import GrowerForm
from app.web.forms.seed_lots import SeedLotForm
from app.web.forms.shelves import ShelfForm
from app.web.forms.sowings import SowingForm
from app.web.forms.tables.words import LIGHTS, ORIGINS, PLACES, YES_NO, read_weekdays, read_word

_UNITS = {
    "cm": Units.METRIC, "mm": Units.METRIC, "c": Units.METRIC, "°c": Units.METRIC,
    "in": Units.US, "inch": Units.US, "inches": Units.US, "f": Units.US, "°f": Units.US,
}  # fmt: skip
_NO_UNITS = frozenset({"percent", "%", "h", "w"})
CLOSE = 0.75


@dataclass(frozen=True, kw_only=True)
class TableColumn:
    """A column that a table may have.

    Attributes:
        name: What it fills.
        label: What it is called here.
        names: Other names that people give it, in small letters.
        field: The field of the form by which one value of it is typed; None where `read` reads it.
        read: Reads a cell where no field of a form does.
        refers: The noun whose names its cells hold; empty for none.
        needed: Whether every row needs it.
        empty: What an empty cell stands for.
    """

    name: str
    label: str
    names: tuple[str, ...] = ()
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
        one: A row of it.
        many: Rows of it.
        columns: Its columns, in the order in which they are shown.
        example: A table of made up rows, to begin with.
    """

    key: str
    one: str
    many: str
    columns: tuple[TableColumn, ...]
    example: str


def _of(form: type, name: str, *names: str, label: str = "", **more: Any) -> TableColumn:  # noqa: ANN401 - as above
    field: UnboundField[Any] = getattr(form, name)
    return TableColumn(name=name, label=label or str(field.args[0]), names=names, field=field, **more)


GROWERS = TableKind(
    key="growers",
    one="grower",
    many="growers",
    columns=(
        _of(GrowerForm, "name", "grower", "member", "gardener", "who", "full name", label="Grower", needed=True),
        _of(GrowerForm, "plot", "bed", "parcel", "plot number", "plot no"),
        _of(GrowerForm, "contact", "how to reach them", "email", "e mail", "mail", "phone", "telephone"),
        TableColumn(
            name="days",
            label="Days they can come",
            names=("days", "can come", "weekdays", "comes"),
            read=read_weekdays,
        ),
    ),
    example="Grower\tPlot\tCan come\nAda Brook\t12\tSat, Sun\nTomas Lind\t7b\tany day",
)
SHELVES = TableKind(
    key="shelves",
    one="shelf",
    many="shelves",
    columns=(
        _of(ShelfForm, "name", "shelf", "bench", "rack", label="Shelf", needed=True),
        TableColumn(name="place", label="Place", names=("kind", "type", "space"), read=read_word(PLACES), needed=True),
        _of(ShelfForm, "width_cm", "width", needed=True),
        _of(ShelfForm, "depth_cm", "depth", needed=True),
        _of(ShelfForm, "levels", "tiers", "boards", needed=True),
        _of(ShelfForm, "positions", "trays", "positions by hand"),
        _of(ShelfForm, "bench_temp_c", "bench temp", "bench temperature", "temperature", "temp"),
        _of(ShelfForm, "ppfd", "light"),
        _of(ShelfForm, "hours_per_day", "hours per day", "hours", "hours a day"),
        _of(ShelfForm, "watts", "watt", "wattage"),
        _of(ShelfForm, "pan_depth_mm", "pan depth", "wick pan"),
        TableColumn(name="fan", label="Fan over the shelf", names=("fan",), read=read_word(YES_NO)),
    ),
    example="Shelf\tPlace\tWidth (cm)\tDepth (cm)\tLevels\n"
    "Lamp rack A\tlamp\t122\t61\t3\nSouth sill\twindow\t150\t30\t1",
)
SEED_LOTS = TableKind(
    key="seed-lots",
    one="seed lot",
    many="seed lots",
    columns=(
        _of(SeedLotForm, "name", "seed lot", "lot", "packet", "jar", label="Seed lot", needed=True),
        TableColumn(
            name="crop_id", label="Crop", names=("crop card", "vegetable", "plant"), refers="crop", needed=True
        ),
        _of(SeedLotForm, "variety", "cultivar", "sort"),
        _of(SeedLotForm, "germination", "germination rate", "germinates"),
        TableColumn(
            name="origin", label="Where it is from", names=("origin", "from", "source"), read=read_word(ORIGINS)
        ),
        _of(SeedLotForm, "year", "packed for", "harvested", "harvest year"),
    ),
    example="Seed lot\tCrop\tVariety\tGermination\tYear\nTOM-A\tTomato\tRed Currant\t85 %\t2026",
)
SOWINGS = TableKind(
    key="sowings",
    one="sowing",
    many="sowings",
    columns=(
        TableColumn(
            name="grower_id", label="Grower", names=("member", "gardener", "name", "who"), refers="grower", needed=True
        ),
        TableColumn(
            name="crop_id", label="Crop", names=("crop card", "vegetable", "plant"), refers="crop", needed=True
        ),
        _of(SowingForm, "plants", "number", "how many", "quantity", "count", needed=True),
        _of(SowingForm, "variety", "cultivar", "sort"),
        TableColumn(name="seed_lot_id", label="Seed lot", names=("lot", "packet", "jar"), refers="seed lot"),
        TableColumn(
            name="brings_seed",
            label="Its grower brings the seed",
            names=("brings seed", "brings the seed", "own seed"),
            read=read_word(YES_NO),
            empty=False,
        ),
        TableColumn(
            name="priority", label="Priority", field=UnboundField(WholeNumberField, "Priority", limits.PRIORITY)
        ),
        _of(SowingForm, "days_to_maturity", "days to maturity", "maturity"),
        _of(SowingForm, "plant_out", "plant out", "plant out date", "plant out on", "planting date", "planted out"),
        _of(SowingForm, "risk", "spring risk"),
        _of(SowingForm, "sow_on", "sow on", "sowing date", "sow date", "sow"),
        TableColumn(name="light", label="Light", read=read_word(LIGHTS)),
        _of(SowingForm, "placed", "granted"),
    ),
    example="Grower\tCrop\tPlants\tVariety\nAda Brook\tTomato\t6\tRed Currant\nTomas Lind\tLeek\t40\t",
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
    words = re.sub(r"[()\[\]_./:*?’'\"-]+", " ", text.casefold()).split()
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
    """Return the label of the column whose name is most like a text; empty where none is like it."""
    names = {spelling: column.label for column in kind.columns for spelling in _spellings(column)}
    found = get_close_matches(text.casefold(), names, 1, CLOSE)
    return names[found[0]] if found else ""


def _spellings(column: TableColumn) -> frozenset[str]:
    own = {column.label.casefold().replace("-", " "), column.name.replace("_", " ").removesuffix(" id")}
    if column.field is not None:
        own.add(re.sub(r"[()_./:*?’'\"-]+", " ", str(column.field.args[0]).casefold()).strip())
    return frozenset({" ".join(name.split()) for name in own} | set(column.names))
