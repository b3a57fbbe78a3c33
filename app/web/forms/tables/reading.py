"""A table in rows and cells, read into what a garden writes down; what was not understood is said cell by cell."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from types import SimpleNamespace
from typing import Any, NamedTuple

from wtforms.fields.core import UnboundField

from app.core.words import Weekday
from app.language import _
from app.sheets.words import day_long, number_words
from app.storage.folder.cells import cell_to_text
from app.storage.queries.rows import Choice
from app.web.forms.fields import DayField, TextField, TypedField, bind_spoken
from app.web.forms.numbers import PercentField, QuantityField, WholeNumberField
from app.web.forms.tables.columns import Heading, TableColumn, TableKind, nearest_column, read_heading
from app.web.forms.tables.grid import EMPTY, Grid, NoTableError, cut_up
from app.web.forms.typed import Habits, months_first_in, read_day, read_decimal, shown

NEW, OUT = "new", "out"
MOST_CLOSE = 5
CLOSE = 0.6
YEARS_NOT_SPOKEN = frozenset({"year"})


class TableFault(NamedTuple):
    """A cell that is not right: its row and column, what stands there, and what would be right."""

    row: int
    column: str
    found: str
    right: str


class Named(NamedTuple):
    """A name in a cell that refers to a row of another noun; `row_id` is None where there is none of that name."""

    noun: str
    name: str
    row_id: int | None


@dataclass(frozen=True, kw_only=True)
class Unknown:
    """A name that is not there, and what can be done about it.

    Attributes:
        noun: What it would be.
        name: As it stands in the table.
        rows: The rows that have it.
        close: The names that are most like it.
        others: All other names.
        can_be_new: Whether one of that name can be made.
        chosen: What is chosen: `new`, `out`, or an id as text.
    """

    noun: str
    name: str
    rows: tuple[int, ...]
    close: tuple[Choice, ...]
    others: tuple[Choice, ...]
    can_be_new: bool
    chosen: str

    @property
    def key(self) -> str:
        """The name of its input."""
        return choice_key(self.noun, self.name)


@dataclass(kw_only=True)
class Line:
    """A row of the table.

    Attributes:
        number: Its number as a spreadsheet counts it.
        values: The value of each column; a `Named` where it refers to something.
        words: Each of them in words, by the label of its column.
    """

    number: int
    values: dict[str, Any] = field(default_factory=dict)
    words: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Understood:
    """What a table was understood to say.

    Attributes:
        kind: What it has rows of.
        labels: The labels of the columns that it has.
        left_out: Headings of columns that are passed over, with the label of the one that is most like each.
        lines: Its rows without a fault.
        faults: What was not understood.
        question: A slashed day that could be read in two ways; empty where that is plain or has been answered.
        ways: The day in both ways, in words: day first, month first.
        months_first: How slashed days were read.
        unknown: Names that are not there.
        count: Rows in all.
    """

    kind: TableKind
    labels: tuple[str, ...]
    left_out: tuple[tuple[str, str], ...]
    lines: tuple[Line, ...]
    faults: tuple[TableFault, ...]
    question: str
    ways: tuple[str, str]
    months_first: bool
    unknown: tuple[Unknown, ...]
    count: int


def folded(name: str) -> str:
    """Return a name as two are compared: capital letters and blanks do not matter."""
    return " ".join(name.casefold().split())


def choice_key(noun: str, name: str) -> str:
    """Return the name of the input in which somebody says what an unknown name is to be."""
    return f"is-{noun.replace(' ', '-')}-{folded(name)}"


def read_table(
    text: str,
    kind: TableKind,
    habits: Habits,
    names: Mapping[str, Iterable[Choice]],
    *,
    months_first: bool | None = None,
    chosen: Mapping[str, str],
) -> Understood:
    """Return what a text says.

    Args:
        text: The table, its first row naming the columns.
        kind: What it has rows of.
        habits: How the garden writes days and quantities.
        names: What its cells may refer to, by noun.
        months_first: The answer to the question of days, where it was given.
        chosen: What somebody has said of unknown names, by the name of the input.

    Raises:
        NoTableError: It is no table of this kind.
    """
    grid = cut_up(text, lambda cell: read_heading(cell, kind).column is not None)
    heads = _read_head(grid, kind)
    asked, ways = "", ("", "")
    days = [at for at, head in enumerate(heads) if head.column and _makes(head.column, DayField)]
    told, open_day = months_first_in(row[at] for row in grid.rows for at in days if at < len(row))
    if told is None and open_day is not None:
        asked = open_day if months_first is None else ""
        first, last = (day_long(read_day(open_day, replace(habits, months_first=way))) for way in (False, True))
        ways = first, last
    order = told if told is not None else months_first if open_day is not None else None
    habits = replace(habits, months_first=order)
    reader = _Reader(kind, heads, habits, {noun: list(rows) for noun, rows in names.items()}, chosen)
    for number, row in zip(grid.numbers, grid.rows, strict=True):
        reader.read(number, row)
    return Understood(
        kind=kind,
        labels=tuple(head.column.label for head in heads if head.column is not None),
        left_out=tuple((head.text, nearest_column(head.text, kind)) for head in heads if head.column is None),
        lines=tuple(reader.lines),
        faults=tuple(reader.faults),
        question=asked,
        ways=ways,
        months_first=habits.month_first,
        unknown=tuple(reader.unknown()),
        count=len(grid.rows),
    )


def _read_head(grid: Grid, kind: TableKind) -> list[Heading]:
    heads = [read_heading(text, kind) for text in grid.head]
    found = [head.column.name for head in heads if head.column is not None]
    needed = [column for column in kind.columns if column.needed]
    if not found:
        raise NoTableError(
            _(
                "Row 1 must name the columns, and no name in it is known. Give at least: %(wanted)s. Found: %(found)s",
                wanted=", ".join(_(column.label) for column in needed),
                found=shown(", ".join(grid.head)),
            )
        )
    missing = [_(column.label) for column in needed if column.name not in found]
    if missing:
        raise NoTableError(
            _(
                "Row 1 has no column of this name: %(names)s. Every %(noun)s needs it; add it, or name it so.",
                names=", ".join(missing),
                noun=kind.one,
            )
        )
    twice = sorted({_(head.column.label) for head in heads if head.column and found.count(head.column.name) > 1})
    if twice:
        raise NoTableError(_("Row 1 names this column twice: %(names)s. Name it once.", names=", ".join(twice)))
    if not grid.rows:
        raise NoTableError(_("There are no rows below the names of the columns."))
    return heads


def _makes(column: TableColumn, kind: type[TypedField]) -> bool:
    return column.field is not None and issubclass(column.field.field_class, kind)


class _Reader:
    """Reads rows; each different cell of a column once."""

    def __init__(
        self,
        kind: TableKind,
        heads: list[Heading],
        habits: Habits,
        names: Mapping[str, list[Choice]],
        chosen: Mapping[str, str],
    ) -> None:
        self.kind, self.heads, self.names, self.chosen = kind, heads, names, chosen
        self.lines: list[Line] = []
        self.faults: list[TableFault] = []
        self.ids = {noun: {folded(row.name): row for row in reversed(rows)} for noun, rows in names.items()}
        self.met: dict[tuple[str, str], tuple[str, list[int]]] = {}
        self.read_cells = [self._cell_reader(head, habits) for head in heads]
        self.known: list[dict[str, tuple[Any, str] | str]] = [{} for _ in heads]

    def read(self, number: int, row: tuple[str, ...]) -> None:
        """Read a row; if a cell of it is not right, it is not among the lines."""
        line, wrong = Line(number=number), len(self.faults)
        if len(row) > len(self.heads):
            right = _(
                "There are %(cells)s cells under %(columns)s columns. A decimal comma or another mark inside a cell "
                "needs quotation marks around the cell.",
                cells=len(row),
                columns=len(self.heads),
            )
            self.faults.append(TableFault(number, "", shown(row[-1]), right))
            return
        for at, (head, cell) in enumerate(zip(self.heads, row, strict=True)):
            if head.column is None:
                continue
            if cell in EMPTY:
                if head.column.needed:
                    right = _("Every %(noun)s needs it.", noun=self.kind.one)
                    self.faults.append(TableFault(number, head.column.label, "", right))
                continue
            found = self.known[at].get(cell)
            if found is None:
                found = self.known[at][cell] = self._read_cell(at, cell)
            if isinstance(found, str):
                self.faults.append(TableFault(number, head.column.label, shown(cell), found))
                continue
            value, said = found
            line.values[head.column.name] = value
            line.words[head.column.label] = said
            if isinstance(value, Named) and value.row_id is None:
                self.met.setdefault((value.noun, folded(value.name)), (value.name, []))[1].append(number)
        if len(self.faults) == wrong:
            self.lines.append(line)

    def unknown(self) -> Iterable[Unknown]:
        """Yield the names that are not there."""
        for (noun, key), (name, rows) in self.met.items():
            there = self.names.get(noun, [])
            by_name = {folded(row.name): row for row in there}
            close = tuple(by_name[one] for one in get_close_matches(key, by_name, MOST_CLOSE, CLOSE))
            near = {row.id for row in close}
            chosen = self.chosen.get(choice_key(noun, name), "")
            can_be_new = noun == "grower"
            if not chosen and can_be_new and not close:
                chosen = NEW
            yield Unknown(
                noun=noun,
                name=name,
                rows=tuple(rows),
                close=close,
                others=tuple({row.id: row for row in there if row.id not in near}.values()),
                can_be_new=can_be_new,
                chosen=chosen,
            )

    def _read_cell(self, at: int, cell: str) -> tuple[Any, str] | str:
        try:
            return self.read_cells[at](cell_to_text(cell))
        except ValueError as error:
            return str(error)

    def _cell_reader(self, head: Heading, habits: Habits) -> Callable[[str], tuple[Any, str]]:
        column = head.column
        if column is None:
            return lambda cell: (cell, cell)
        if column.refers:
            unbound: Any = UnboundField(TextField, column.label)
            name = unbound.bind(form=None, name=column.name, _meta=SimpleNamespace(habits=habits, locales=[]))
            name.object_data = None
            return lambda cell: self._read_name(column.refers, name, cell)
        if column.read is not None:
            read = column.read
            return lambda cell: _said(read(cell))
        if head.units is not None:
            habits = replace(habits, units=head.units, months_first=habits.month_first)
        bound = bind_spoken(column.field, form=None, name=column.name, _meta=SimpleNamespace(habits=habits, locales=[]))
        bound.object_data = None
        return lambda cell: _read_typed(bound, cell)

    def _read_name(self, noun: str, bound: Any, cell: str) -> tuple[Named, str]:  # noqa: ANN401 - a field of a form
        bound.process_formdata([cell])
        name = bound.data
        row = self.ids.get(noun, {}).get(folded(name))
        return Named(noun, name if row is None else row.name, None if row is None else row.id), (
            name if row is None else row.name
        )


def _read_typed(bound: Any, cell: str) -> tuple[Any, str]:  # noqa: ANN401 - a field of a form
    """Return the value of a cell as a field of a form reads it, and the value in words."""
    if isinstance(bound, PercentField):
        value = _read_share(bound, cell)
        return value, f"{bound.show(value)} %"
    bound.process_formdata([cell])
    value = bound.data
    if isinstance(bound, QuantityField):
        return value, f"{bound.show(value)} {bound.unit_words}"
    if isinstance(bound, DayField):
        return value, day_long(value)
    if isinstance(bound, WholeNumberField):
        return value, str(value) if bound.short_name in YEARS_NOT_SPOKEN else number_words(value)
    unit = getattr(bound, "unit_words", "")
    return value, f"{bound.show(value)} {unit}".strip()


def _read_share(bound: PercentField, cell: str) -> float:
    """Return a share, given in percent or, as in a garden folder, as a part of one: 0.85 is 85 %."""
    try:
        bound.process_formdata([cell])
    except ValueError:
        low, high = bound.bounds
        if "%" in cell:
            raise
        try:
            share = float(read_decimal(cell, low, high))
        except ValueError:
            share = high + 1
        if not low <= share <= high:
            raise
        return share
    return float(bound.data)


def _said(value: Any) -> tuple[Any, str]:  # noqa: ANN401 - what a word stands for
    if isinstance(value, bool):
        return value, _("yes") if value else _("no")
    if value is None:
        return value, _("any day")
    days = str(value).split()
    if all(day in list(Weekday) for day in days):
        return value, ", ".join(_(day).capitalize() for day in days)
    return value, _(str(value))
