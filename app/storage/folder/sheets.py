"""A CSV file of a garden folder as it stands: its encoding, its rows, its header."""

import codecs
import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from app.language import N_, _, grouped
from app.storage.folder.faults import Fault, Faults, nearest, quoted
from app.storage.folder.layout import Layout

_SAVE_AS_UTF_8 = N_('save it as UTF-8: a spreadsheet calls it "CSV UTF-8" or asks for the character set when saving')
_UNCLOSED = N_(
    "a quote that opens in this row is not closed, or one inside a quoted cell is not doubled; "
    'close it, or write "" for it'
)
_TOO_FEW = N_(
    "there are %(cells)s cells under %(columns)s columns; a comma is missing, or a text with commas needs quotes "
    "around it"
)
_TOO_MANY = N_(
    "there are %(cells)s cells under %(columns)s columns; a comma is too many, or a text with commas needs quotes "
    "around it"
)

# Tuples, since lists by the hundred thousand keep the garbage collector busy.
Row = tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """The cells of a file, by column.

    Attributes:
        file: Name of the file.
        columns: The cells of each column that the file has and the layout knows, all equally many.
        missing: Required columns that the file lacks.
        row_numbers: The row of each line of cells as a spreadsheet counts it.
        broken: Indices of rows with too many or too few cells; their cells are not to be judged.
    """

    file: str
    columns: dict[str, Sequence[str]]
    missing: frozenset[str]
    row_numbers: Sequence[int]
    broken: frozenset[int]


def read_sheet(path: Path, layout: Layout, faults: Faults) -> Sheet | None:
    """Return the cells of a file, or None if it has no header to go by.

    Args:
        path: The file.
        layout: Which columns it may have.
        faults: Takes what is wrong with encoding, quotes, header and numbers of cells.
    """
    text = read_text(path, faults)
    return None if text is None else sheet_of(text, path.name, layout, faults)


def sheet_of(text: str, file: str, layout: Layout, faults: Faults) -> Sheet | None:
    """Return the cells of a file's text; arguments else and result as `read_sheet`."""
    rows = _rows(text, file, faults)
    if not rows or not any(rows[0]):
        right = _("the header row is missing; it begins with %(name)s", name=layout.columns[0].name)
        faults.add(Fault(file=file, row=1, right=right))
        return None
    header = _without_empty_end(tuple(cell.strip() for cell in rows[0]))
    if len(header) == 1 and len(layout.columns) > 1 and any(mark in header[0] for mark in ";\t"):
        right = _("the cells are not separated by commas; save the file as comma-separated")
        faults.add(Fault(file=file, row=1, found=header[0], right=right))
        return None
    missing = _check_header(header, file, layout, faults)
    kept, numbers = _filled_rows(rows)
    broken = _even_out(kept, numbers, len(header), file, faults)
    cells: Sequence[Sequence[str]] = list(zip(*kept, strict=True)) or [()] * len(header)
    known = layout.by_name
    columns: dict[str, Sequence[str]] = {}
    for name, column in zip(header, cells, strict=True):
        if name in known:
            columns.setdefault(name, column)
    return Sheet(file=file, columns=columns, missing=missing, row_numbers=numbers, broken=broken)


def read_text(path: Path, faults: Faults) -> str | None:
    """Return the text of a file; one in another encoding is a fault, and is read all the same to find the others."""
    try:
        data = path.read_bytes()
    except OSError as error:
        faults.add(Fault(file=path.name, right=f"the file cannot be read: {error.strerror}"))
        return None
    return text_of(data, path.name, faults)


def text_of(data: bytes, file: str, faults: Faults) -> str:
    """Return the text of a file's bytes, as `read_text`."""
    sixteen = _sixteen_bits(data)
    if sixteen is not None:
        faults.add(Fault(file=file, row=1, right=_("the file is in UTF-16; %(save)s", save=_(_SAVE_AS_UTF_8))))
        return data.decode(sixteen, "replace").removeprefix("\ufeff")
    data = data.removeprefix(codecs.BOM_UTF8)
    try:
        return data.decode()
    except UnicodeDecodeError as error:
        faults.add(_wrong_byte(data, error.start, file))
        # Line by line, so that the lines that are right bring no faults of their own.
        return "\n".join(line.decode("utf-8" if _is_utf_8(line) else "cp1252", "replace") for line in data.split(b"\n"))


def _sixteen_bits(data: bytes) -> str | None:
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    start = data[:1000]
    if start.count(0) * 3 < len(start) or not start:
        return None
    return "utf-16-be" if start[0] == 0 else "utf-16-le"


def _wrong_byte(data: bytes, at: int, file: str) -> Fault:
    """Return the fault of the first byte that is not UTF-8, with its row and the cell it is in."""
    before = data[:at].decode()
    try:
        rows = list(csv.reader(io.StringIO(before, newline="")))
    except csv.Error:
        rows = []
    byte = data[at : at + 1]
    meant = byte.decode("cp1252", "replace")
    lines = sum(1 for line in data.split(b"\n") if not _is_utf_8(line))
    said = {"byte": byte.hex().upper(), "letter": quoted(meant), "save": _(_SAVE_AS_UTF_8)}
    if lines > 1:
        right = _(
            "byte %(byte)s is not UTF-8 (%(letter)s in Windows-1252) (%(lines)s lines have such bytes); %(save)s",
            **said,
            lines=grouped(lines),
        )
    else:
        right = _("byte %(byte)s is not UTF-8 (%(letter)s in Windows-1252); %(save)s", **said)
    if file.endswith(".toml"):
        return Fault(file=file, row=before.count("\n") + 1, right=right)
    ends_row = before.endswith(("\n", "\r")) and not _is_inside_quotes(before)
    row = len(rows) + 1 if ends_row or not rows else len(rows)
    place = 0 if ends_row or not rows else len(rows[-1]) - 1
    column = rows[0][place].strip() if row > 1 and place < len(rows[0]) else None
    return Fault(file=file, row=row, column=column, right=right)


def _is_inside_quotes(text: str) -> bool:
    return text.count('"') % 2 == 1


def _is_utf_8(line: bytes) -> bool:
    try:
        line.decode()
    except UnicodeDecodeError:
        return False
    return True


def _rows(text: str, file: str, faults: Faults) -> list[Row]:
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    rows: list[Row] = []
    while True:
        try:
            rows.extend(map(tuple, reader))
        except csv.Error:
            faults.add(Fault(file=file, row=len(rows) + 1, right=_(_UNCLOSED)))
            rows.append(())
        else:
            return rows


def _check_header(header: Sequence[str], file: str, layout: Layout, faults: Faults) -> frozenset[str]:
    known = layout.by_name
    seen: set[str] = set()
    missing = [column.name for column in layout.columns if column.required and column.name not in header]
    for name in header:
        if name not in known and layout.ignores_others:
            continue
        if name in seen:
            faults.add(Fault(file=file, row=1, column=name, found=name, right=_("this column is there already")))
        elif name not in known:
            wanted = missing or [column for column in known if column not in header]
            right = _("there is no column of that name.") + (nearest(name, wanted) or nearest(name, known))
            faults.add(Fault(file=file, row=1, column=name or None, found=name, right=right))
        seen.add(name)
    for name in missing:
        faults.add(Fault(file=file, row=1, column=name, right=_("this column is missing; it is required")))
    return frozenset(missing)


def _without_empty_end(cells: Row) -> Row:
    """Return cells without the empty ones at the end, which spreadsheets like to add."""
    width = len(cells)
    while width and not cells[width - 1]:
        width -= 1
    return cells[:width]


def _filled_rows(rows: list[Row]) -> tuple[list[Row], Sequence[int]]:
    """Return the rows below the header that are not blank, and their numbers."""
    if all(map(any, rows)):
        return rows[1:], range(2, len(rows) + 1)
    kept = [(number, row) for number, row in enumerate(rows[1:], 2) if any(row)]
    return [row for _, row in kept], [number for number, _ in kept]


def _even_out(rows: list[Row], numbers: Sequence[int], width: int, file: str, faults: Faults) -> frozenset[int]:
    """Make all rows as wide as the header; return the indices of those that were not."""
    if set(map(len, rows)) <= {width}:
        return frozenset()
    broken = []
    for index, row in enumerate(rows):
        if len(row) > width:
            rows[index] = row[:width] + _without_empty_end(row[width:])
        if len(rows[index]) != width:
            broken.append(index)
    for index in broken:
        found = len(rows[index])
        right = _(_TOO_FEW if found < width else _TOO_MANY, cells=found, columns=width)
        faults.add(Fault(file=file, row=numbers[index], right=right))
        rows[index] = (rows[index] + ("",) * width)[:width]
    return frozenset(broken)
