"""A table that somebody brings: what it would add to the garden as it is now."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from app.extensions import db
from app.language import N_, _
from app.services.batches import digest_of_rows, find_batch_sent
from app.services.bring_in import NewGrower, TakenIn, take_in
from app.services.growers import GrowerValues
from app.services.names import NameTakenError
from app.services.seed_lots import NumberAsNameError, SeedLotValues
from app.services.shelves import ShelfValues
from app.services.sowings import (
    FarFromSeasonError,
    OutsideWindowError,
    PlacedAbovePlantsError,
    SeedLotOfOtherCropError,
    SowingValues,
    SownOutsideError,
)
from app.sheets.names import choice_words
from app.sheets.words import day_long
from app.storage.queries.batches import list_rows_by_name, list_sowing_columns
from app.storage.queries.crops import list_crop_choices
from app.storage.queries.growers import list_grower_choices
from app.storage.queries.rows import Choice
from app.storage.queries.seed_lots import list_seed_lot_choices
from app.web.forms.fields import current_habits
from app.web.forms.tables.columns import TableKind
from app.web.forms.tables.form import TableForm, choices_sent
from app.web.forms.tables.reading import NEW, Line, Named, TableFault, Understood, Unknown, folded, read_table

VALUES: Mapping[str, type] = {
    "growers": GrowerValues,
    "shelves": ShelfValues,
    "seed-lots": SeedLotValues,
    "sowings": SowingValues,
}
NAMED = frozenset({"growers", "shelves", "seed-lots"})
FRESH, THERE, OTHER, LEFT_OUT = N_("new"), N_("there already"), N_("there already, otherwise"), N_("left out")


@dataclass(frozen=True, kw_only=True)
class Shown:
    """A row of the table as the preview shows it: its number, cells, what becomes of it, and why."""

    number: int
    cells: tuple[str, ...]
    state: str
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class TablePage:
    """What a table would add.

    Attributes:
        table: What it was understood to say.
        rows: Its rows that were understood.
        faults: What was not understood, or breaks a rule, row by row.
        new: How many rows would be added.
        wrong: How many rows are not right.
        growers: Names of growers who would be made along.
        undecided: Unknown names of which nobody has said yet what they are.
        sent: The batch in which the same rows were saved before; None where they were not.
        mark: Tells this page from one of other rows, or of the same rows in another garden.
        taken: What adding them came to.
    """

    table: Understood
    rows: tuple[Shown, ...]
    faults: tuple[TableFault, ...]
    new: int
    wrong: int
    growers: tuple[str, ...]
    undecided: tuple[Unknown, ...]
    sent: int | None
    mark: str
    taken: TakenIn

    @property
    def can_save(self) -> bool:
        """Whether nothing is left to be decided, and there is something to save."""
        return not (self.table.question or self.undecided or self.sent) and self.new > 0

    @property
    def words(self) -> str:
        """The state of the whole in one word for the template."""
        return "same" if self.sent else "ask" if self.table.question or self.undecided else "ready"


def make_page(form: TableForm, kind: TableKind) -> TablePage:
    """Read what was sent, and add it; the caller commits what was seen before, and else takes it all back.

    Raises:
        NoTableError: It is no table of this kind.
    """
    names = _names(kind)
    table = read_table(
        form.text.data, kind, current_habits(), names, months_first=form.months_first, chosen=choices_sent()
    )
    said = {(one.noun, folded(one.name)): one for one in table.unknown}
    digest = digest_of_rows(kind.key, *sorted(repr(sorted(map(_plain, line.values.items()))) for line in table.lines))
    sent = find_batch_sent(db.session, digest)
    shown, adding, made = _sort_out(kind, table, said)
    is_whole = not table.faults and all(state != LEFT_OUT for state, _ in shown.values())
    # what was left out may be sent again
    taken = take_in(db.session, f"{kind.nouns[1]} pasted", list(made.values()), digest=digest if is_whole else "")
    refused = dict(zip(made, range(len(made)), strict=True))
    faults = list(table.faults)
    rows = []
    for line in table.lines:
        state, note = shown[line.number]
        error = taken.refused.get(refused.get(line.number, -1))
        if error is not None:
            faults.append(_fault(line, error, kind))
            continue
        rows.append(Shown(number=line.number, cells=_cells(line, table), state=state, note=note))
    wrong = {fault.row for fault in faults}
    undecided = tuple(one for one in table.unknown if not one.chosen)
    return TablePage(
        table=table,
        rows=tuple(rows),
        faults=tuple(sorted(faults, key=lambda fault: fault.row)),
        new=0 if sent else len(taken.added),
        wrong=len(wrong),
        growers=taken.growers,
        undecided=undecided,
        sent=None if sent is None else sent.id,
        mark=digest_of_rows(digest, adding, sorted(shown.items()), taken.added, table.months_first),
        taken=taken,
    )


def _names(kind: TableKind) -> dict[str, list[Choice]]:
    wanted = {column.refers for column in kind.columns}
    found: dict[str, list[Choice]] = {}
    if "grower" in wanted:
        found["grower"] = list_grower_choices(db.session)
    if "crop" in wanted:
        kept = list_crop_choices(db.session)
        said = [Choice(*choice) for choice in choice_words(kept)]
        found["crop"] = kept if said == kept else kept + said  # a name that is kept comes before one that is said
    if "seed lot" in wanted:
        found["seed lot"] = [Choice(lot.id, lot.name) for lot in list_seed_lot_choices(db.session)]
    return found


def _sort_out(
    kind: TableKind, table: Understood, said: Mapping[tuple[str, str], Unknown]
) -> tuple[dict[int, tuple[str, str]], list[object], dict[int, Any]]:
    """Return what becomes of each row, what was said of names, and the values of the rows that are to be added."""
    there = _Rows(kind.noun) if kind.key in NAMED else _Sowings()
    shown: dict[int, tuple[str, str]] = {}
    made: dict[int, Any] = {}
    for line in table.lines:
        values = {column.name: line.values.get(column.name, column.empty) for column in kind.columns}
        out, waits = False, False
        for column in kind.columns:
            value = values[column.name]
            if isinstance(value, Named):
                values[column.name], is_out = _decided(value, said)
                line.words[column.label] = _name_words(value, values[column.name], said)
                waits = waits or (is_out and not said[value.noun, folded(value.name)].chosen)
                out = out or is_out
        if out:
            why = _("say above what its name is to be") if waits else _("its name is left out")
            shown[line.number] = (LEFT_OUT, why)
            continue
        known = there.find(values, line)
        if known is not None:
            shown[line.number] = known
            continue
        shown[line.number] = (FRESH, "")
        made[line.number] = VALUES[kind.key](**values)
    return shown, [(one.key, one.chosen) for one in table.unknown], made


def _decided(value: Named, said: Mapping[tuple[str, str], Unknown]) -> tuple[Any, bool]:
    """Return the row number that a name stands for, or a grower to be made, and whether its row is left out."""
    if value.row_id is not None:
        return value.row_id, False
    one = said[value.noun, folded(value.name)]
    if one.chosen == NEW and one.can_be_new:
        return NewGrower(name=one.name), False
    ids = {str(choice.id): choice.id for choice in (*one.close, *one.others)}
    if one.chosen in ids:
        return ids[one.chosen], False
    return None, True


def _name_words(value: Named, decided: object, said: Mapping[tuple[str, str], Unknown]) -> str:
    """Return what a name is taken for, and as what it is written where that is something else."""
    if value.row_id is not None or decided is None:
        return value.name
    if isinstance(decided, NewGrower):
        return decided.name
    one = said[value.noun, folded(value.name)]
    taken = next(choice.name for choice in (*one.close, *one.others) if choice.id == decided)
    return _("%(name)s, written “%(text)s”", name=taken, text=value.name)


class _Rows:
    """Rows that are there, by name."""

    def __init__(self, noun: str) -> None:
        self.by_name = {folded(row.name): row for row in list_rows_by_name(db.session, noun)}

    def find(self, values: Mapping[str, Any], line: Line) -> tuple[str, str] | None:
        """Return that a row is there, and in what it is another; None where it is not."""
        row = self.by_name.get(folded(values["name"]))
        if row is None:
            return None
        others = [name for name in line.values if name != "name" and getattr(row, name) != values[name]]
        return (OTHER, _("what is there stays; change it on its own page")) if others else (THERE, "")


class _Sowings:
    """Sowings that are there; the same one may be there several times."""

    def __init__(self) -> None:
        self.names = [field.name for field in fields(SowingValues)]
        self.left: dict[tuple[Any, ...], list[str]] = {}
        for key, *columns in list_sowing_columns(db.session, self.names):
            self.left.setdefault(tuple(columns), []).append(key)

    def find(self, values: Mapping[str, Any], _line: Line) -> tuple[str, str] | None:
        """Return that the same sowing is there; each counts for one row."""
        keys = self.left.get(tuple(values[name] for name in self.names))
        return (THERE, _("it is %(sowing)s", sowing=keys.pop(0))) if keys else None


def _cells(line: Line, table: Understood) -> tuple[str, ...]:
    return tuple(line.words.get(label, "–") for label in table.labels)


def _plain(item: tuple[str, Any]) -> tuple[str, str]:
    name, value = item
    return name, folded(value.name) if isinstance(value, Named) else repr(value)


def _fault(line: Line, error: Exception, kind: TableKind) -> TableFault:
    """Return the rule that a row breaks, with its column."""
    column, right = _rule_words(error, kind)
    label = next((one.label for one in kind.columns if one.name == column), "")
    return TableFault(line.number, label, line.words.get(label, ""), right)


def _rule_words(error: Exception, kind: TableKind) -> tuple[str, str]:  # noqa: PLR0911 - one for each rule
    if isinstance(error, NameTakenError):
        return "name", _(
            "A row above, or another %(noun)s, has this name. Each needs a name of its own.", noun=kind.one
        )
    if isinstance(error, NumberAsNameError):
        return "name", _("A spreadsheet would take this for a number or a date. Put a letter in it.")
    if isinstance(error, SeedLotOfOtherCropError):
        return "seed_lot_id", _("This is seed of %(crop)s. Name a lot of the crop that is sown.", crop=error.crop)
    if isinstance(error, PlacedAbovePlantsError):
        return "placed", _("No more plants can be granted than are wanted.")
    if isinstance(error, FarFromSeasonError):
        return error.column, _(
            "Give a day in the years from %(first)s to %(last)s.", first=error.season - 1, last=error.season + 1
        )
    if isinstance(error, SownOutsideError):
        return error.column, _("This crop is sown outside, at the plot: leave this empty.")
    if isinstance(error, OutsideWindowError):
        return "sow_on", _(
            "Outside its window, which is %(first)s to %(last)s.",
            first=day_long(error.first),
            last=day_long(error.last),
        )
    raise error
