"""Cells into values: each different cell of a column is judged once, however often it stands there."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from app.language import _
from app.storage.folder.cells import Reference, Text
from app.storage.folder.faults import Fault, Faults
from app.storage.folder.layout import Column, Layout
from app.storage.folder.sheets import Sheet


class _Wrong:
    """Stands for a value that cannot be known, because its cell has a fault; it is neither less nor more than any."""

    def __lt__(self, _other: object) -> bool:
        return False

    def __gt__(self, _other: object) -> bool:
        return False


WRONG = _Wrong()

# Names of each file or published table that may be referred to, to what stands for them in the database;
# None where the names cannot be known.
Names = Mapping[str, Mapping[Any, Any] | None]


@dataclass(frozen=True, kw_only=True)
class Values:
    """The values of a file, by column, with WRONG for those that cannot be known.

    Attributes:
        sheet: The cells they were read from.
        columns: Values by the header of their column; every column of the layout is there.
        count: Number of rows.
    """

    sheet: Sheet
    columns: dict[str, list[Any]]
    count: int

    def fault(self, index: int, column: str, right: str, *, show: bool = True) -> Fault:
        """Return the fault of a cell, with what stands there."""
        cell = self.sheet.columns[column][index] if column in self.sheet.columns else ""
        return Fault(
            file=self.sheet.file,
            row=self.sheet.row_numbers[index],
            column=column,
            found=cell if show and cell else None,
            right=right,
        )


def read_values(sheet: Sheet, layout: Layout, names: Names, faults: Faults) -> Values:
    """Return the values of all columns; each cell with a fault is reported and WRONG.

    Args:
        sheet: The cells.
        layout: What each column holds.
        names: The names that may be referred to.
        faults: Takes the faults.
    """
    count = len(sheet.row_numbers)
    values = Values(sheet=sheet, columns={}, count=count)
    for column in layout.columns:
        if column.name in sheet.columns:
            values.columns[column.name] = _read_column(values, column, names, faults)
        else:
            values.columns[column.name] = [WRONG if column.name in sheet.missing else column.default] * count
        if layout.within and column.name == layout.key[0]:
            names = {**names, layout.file: positions_of_names(values, layout)}
    _check_keys(values, layout, faults)
    return values


def _read_column(values: Values, column: Column, names: Names, faults: Faults) -> list[Any]:
    cells = values.sheet.columns[column.name]
    parse, explain = _reader(column, names)
    known: dict[str, Any] = {}
    reasons: dict[str, Callable[[str], str]] = {}
    for cell in set(cells):
        if cell == "" or (not isinstance(column.kind, Text) and cell.isspace()):
            known[cell] = WRONG if column.filled else column.default
            if column.filled:
                reasons[cell] = lambda _cell: _("the cell is empty; %(right)s", right=column.kind.right(""))
            continue
        try:
            known[cell] = parse(cell)
        except (ValueError, LookupError):
            known[cell] = WRONG
            reasons[cell] = explain
    if reasons:
        _report(values, column.name, reasons, faults)
    return [known[cell] for cell in cells]


def _reader(column: Column, names: Names) -> tuple[Callable[[str], Any], Callable[[str], str]]:
    """Return how a cell becomes a value, and what would be right where it does not."""
    kind = column.kind
    if not isinstance(kind, Reference):
        return kind.parse, kind.right
    known = names[kind.file]
    if known is None:  # the file with the names has a fault of its own
        return lambda _cell: WRONG, kind.right
    return lambda cell: known[kind.parse(cell)], lambda cell: kind.unknown(cell, list(known))


def _report(values: Values, column: str, reasons: Mapping[str, Callable[[str], str]], faults: Faults) -> None:
    cells = values.sheet.columns[column]
    wrong = [index for index, cell in enumerate(cells) if cell in reasons and index not in values.sheet.broken]
    shown = wrong[: faults.room]
    for index in shown:
        faults.add(values.fault(index, column, reasons[cells[index]](cells[index])))
    faults.count(len(wrong) - len(shown))


def _check_keys(values: Values, layout: Layout, faults: Faults) -> None:
    """Report each key that an earlier row has."""
    keys = list(zip(*(values.columns[name] for name in layout.key), strict=True))
    if len(set(keys)) == len(keys):
        return
    first: dict[tuple[Any, ...], int] = {}
    for index, key in enumerate(keys):
        if WRONG in key or index in values.sheet.broken:
            continue
        row = first.setdefault(key, values.sheet.row_numbers[index])
        if row != values.sheet.row_numbers[index]:
            faults.add(values.fault(index, layout.key[-1], layout.already(row)))


def positions_of_names(values: Values, layout: Layout) -> dict[Any, int] | None:
    """Return the names of a file's rows, each to the number of the first row that has it, from 1.

    Where the rows go by numbers of the database, each to itself.

    None where its rows have no names, or where the column of names is missing.
    """
    if not layout.is_named or layout.key[0] not in values.sheet.columns:
        return None
    names = values.columns[layout.key[0]]
    positions = dict(zip(reversed(names), range(len(names), 0, -1), strict=True))
    positions.pop(WRONG, None)
    return {name: name for name in positions} if layout.is_numbered else positions
