"""What can be written down on a page: each sowing with what is likely to be said of it."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from app.core.calendar import NO_DAY
from app.core.plan import Plan
from app.core.space.grid import Cell, row_letters
from app.core.words import CellState, LogKind
from app.core.work.expected import IN_POTS, Part, chance_up, due_on, expected_count, next_kind, whole_sowing
from app.language import _
from app.sheets.log_words import entry_words
from app.sheets.names import name_words
from app.sheets.tray_words import cells_words
from app.sheets.words import day_short, day_words
from app.storage.queries.log import EntryRow
from app.storage.queries.trays import CellRow, TrayRow

IN_TRAYS = tuple(LogKind)
# What can be told cell by cell.
BY_CELL = (LogKind.SOWN, LogKind.UP, LogKind.LOST)
TINTS = 3
GROWS = frozenset({CellState.SOWN, CellState.UP})


@dataclass(frozen=True, kw_only=True)
class LogLine:
    """One sowing of which something can be written down.

    Attributes:
        sowing_id: Its row number.
        sowing: Its key.
        crop: Name of the crop.
        variety: Its variety, empty where none is given.
        grower_id: Row number of the grower.
        grower: Name of the grower.
        part: What there is of it here.
        mark: Its letters in the tray; empty where it is no tray's page.
        where: Its cells there, as `A1–F2`; elsewhere the day on which it is due. Empty for neither.
        before: What was written down of it last, in words; empty for nothing.
        entry_ids: Row numbers of its entries that hold, for what tells two states apart.
    """

    sowing_id: int
    sowing: str
    crop: str
    variety: str
    grower_id: int
    grower: str
    part: Part
    mark: str = ""
    where: str = ""
    before: str = ""
    entry_ids: tuple[int, ...] = ()

    def expected(self, kind: LogKind) -> int | None:
        """Return how many an entry of a kind is likely to be of."""
        return expected_count(self.part, kind)


@dataclass(frozen=True, kw_only=True)
class TickCell:
    """A cell that can be ticked; without a value it is free or somebody else's.

    Attributes:
        value: Row and column, as they are sent; empty where it cannot be ticked.
        name: What it is called on the tray, as `B4`.
        mark: The letters of its lot, empty where it is free.
        words: All of it in words.
        tint: Which of a few tints its lot has, from 1; 0 where it is free.
    """

    value: str
    name: str
    mark: str
    words: str
    tint: int


@dataclass(frozen=True, kw_only=True)
class TickGrid:
    """The cells of a tray with its shorter side across, so that a thumb finds each on a phone.

    Attributes:
        heads: What stands above the columns.
        rows: What stands before each row, and its cells.
        is_upright: Whether the letters stand above, as on a tray that stands on its short side.
        all_values: Values of all that can be ticked.
    """

    heads: tuple[str, ...]
    rows: tuple[tuple[str, tuple[TickCell, ...]], ...]
    is_upright: bool
    all_values: tuple[str, ...]


def kinds_in(*, is_pots: bool) -> tuple[LogKind, ...]:
    """Return the kinds of entries that make sense of a tray."""
    return IN_POTS if is_pots else IN_TRAYS


def lines_of_tray(
    plan: Plan, tray: TrayRow, cells: Sequence[CellRow], own: Iterable[int], entries: Sequence[EntryRow]
) -> list[LogLine]:
    """Return the sowings in a tray.

    Args:
        plan: The garden's plan.
        tray: The tray.
        cells: All its cells that belong to a sowing, by row and column.
        own: Row numbers of the sowings that are wanted.
        entries: All entries of these, those made last first.
    """
    wanted, lots = set(own), dict[int, list[CellRow]]()
    for cell in cells:
        lots.setdefault(cell.sowing_id, []).append(cell)
    lines = []
    for number, (sowing_id, lot) in enumerate(lots.items(), start=1):
        if sowing_id not in wanted:
            continue
        mine = [entry for entry in _holding(entries) if entry.sowing_id == sowing_id]
        here = [entry for entry in mine if entry.tray in {None, tray.number}]
        first, index = lot[0], plan.index_of[sowing_id]
        lines.append(
            LogLine(
                sowing_id=sowing_id,
                sowing=first.sowing,
                crop=name_words(first.crop),
                variety=first.variety or "",
                grower_id=first.grower_id,
                grower=first.grower,
                part=_part_of_tray(plan, index, tray, lot, mine),
                mark=row_letters(number).lower(),
                where=cells_words(Cell(cell.row, cell.column) for cell in lot),
                before=before_words(here),
                entry_ids=tuple(entry.id for entry in here),
            )
        )
    return lines


def line_of_sowing(plan: Plan, index: int, entries: Sequence[EntryRow]) -> LogLine:
    """Return a whole sowing.

    Args:
        plan: The garden's plan.
        index: Its index in the plan.
        entries: All its entries, those made last first; none where they are not wanted.
    """
    sowings, garden = plan.garden.sowings, plan.garden
    grower = garden.growers[int(sowings.grower[index])]
    holding = _holding(entries)
    return LogLine(
        sowing_id=int(sowings.ids[index]),
        sowing=sowings.names[index],
        crop=name_words(garden.cards[int(sowings.crop[index])].name),
        variety=sowings.varieties[index] or "",
        grower_id=grower.id,
        grower=grower.name,
        part=whole_sowing(plan, index),
        before=before_words(holding),
        entry_ids=tuple(entry.id for entry in holding),
    )


def due_line(plan: Plan, index: int, kind: LogKind) -> LogLine:
    """Return a whole sowing with the day on which a kind of entry is due of it."""
    line, day = line_of_sowing(plan, index, ()), due_on(plan, kind, index)
    return LogLine(**vars(line) | {"where": day_short(date.fromordinal(day)) if day != NO_DAY else ""})


def likely_kind(lines: Sequence[LogLine], *, is_pots: bool = False) -> LogKind:
    """Return what is likely to be written down next of sowings: what comes first in the life of any."""
    order = list(LogKind)
    return min((next_kind(line.part, is_pots=is_pots) for line in lines), key=order.index)


def before_words(entries: Sequence[EntryRow]) -> str:
    """Return what the entries say that came last, of each kind one; empty without any."""
    last: dict[LogKind, EntryRow] = {}
    for entry in entries:
        last.setdefault(entry.kind, entry)
    said = [f"{entry_words(entry)} {day_words(entry.date)}" for entry in last.values()]
    return "; ".join(reversed(said[:3]))


def tick_grid(tray: TrayRow, cells: Sequence[CellRow], own: Iterable[int], kind: LogKind) -> TickGrid:
    """Return the cells of a tray to be ticked.

    Args:
        tray: The tray.
        cells: All its cells that belong to a sowing, by row and column.
        own: Row numbers of the sowings whose cells can be ticked.
        kind: What is written down: cells in which nothing is sown come up no more than others are sown again.
    """
    wanted, there = set(own), {(cell.row, cell.column): cell for cell in cells}
    marks: dict[int, int] = {}
    for cell in cells:
        marks.setdefault(cell.sowing_id, len(marks) + 1)
    rows, columns = tray.grid.rows, tray.grid.columns
    is_upright = rows < columns

    def tick(row: int, column: int) -> TickCell:
        cell, name = there.get((row, column)), f"{row_letters(row)}{column}"
        if cell is None:
            return TickCell(value="", name=name, mark="", words=_("%(cell)s, free", cell=name), tint=0)
        is_open = cell.sowing_id in wanted and (cell.state is CellState.EMPTY) == (kind is LogKind.SOWN)
        mark = marks[cell.sowing_id]
        return TickCell(
            value=f"{row}-{column}" if is_open and (kind is LogKind.SOWN or cell.state in GROWS) else "",
            name=name,
            mark=row_letters(mark).lower(),
            words=", ".join(filter(None, (name, name_words(cell.crop), cell.variety, cell.grower))),
            tint=(mark - 1) % TINTS + 1,
        )

    if is_upright:
        heads = tuple(row_letters(row) for row in range(1, rows + 1))
        lines = [(str(column), [tick(row, column) for row in range(1, rows + 1)]) for column in range(1, columns + 1)]
    else:
        heads = tuple(str(column) for column in range(1, columns + 1))
        lines = [
            (row_letters(row), [tick(row, column) for column in range(1, columns + 1)]) for row in range(1, rows + 1)
        ]
    return TickGrid(
        heads=heads,
        rows=tuple((head, tuple(line)) for head, line in lines),
        is_upright=is_upright,
        all_values=tuple(cell.value for _, line in lines for cell in line if cell.value),
    )


def _part_of_tray(plan: Plan, index: int, tray: TrayRow, lot: Sequence[CellRow], entries: Sequence[EntryRow]) -> Part:
    states = Counter(cell.state for cell in lot)
    whole, empty = whole_sowing(plan, index), states[CellState.EMPTY]
    mine = [entry for entry in entries if entry.tray == tray.number]
    gone = _sum(mine, LogKind.LOST) + max(_sum(mine, LogKind.HANDED_OUT), _sum(mine, LogKind.PLANTED_OUT))
    if tray.potted_on:
        pots = states.total() - empty
        return Part(
            to_pot=empty, pots=pots, is_potted=pots > 0, living=max(0, pots - gone),
            left=_sum(mine, LogKind.HANDED_OUT), planted=_sum(mine, LogKind.PLANTED_OUT),
        )  # fmt: skip
    filled = states.total() - empty
    if filled and filled == whole.sown:
        return Part(**vars(whole) | {"to_sow": empty})
    counted = [entry.number for entry in mine if entry.kind is LogKind.UP]
    up = max(counted) if counted else None
    if up is None and whole.up is not None and whole.sown and not any(e.tray for e in entries if e.kind is LogKind.UP):
        up = round(whole.up * filled / whole.sown)
    return Part(
        to_sow=empty,
        sown=filled,
        up=up,
        chance_up=chance_up(plan, index),
        plants_per_cell=whole.plants_per_cell,
        to_pot=whole.to_pot,
        is_potted=whole.is_potted,
        is_potted_on=whole.is_potted_on,
        living=None if up is None else max(0, up * whole.plants_per_cell - gone),
        left=_sum(mine, LogKind.HANDED_OUT),
        planted=_sum(mine, LogKind.PLANTED_OUT),
    )


def _sum(entries: Iterable[EntryRow], kind: LogKind) -> int:
    return sum(entry.number for entry in entries if entry.kind is kind)


def _holding(entries: Iterable[EntryRow]) -> list[EntryRow]:
    return [entry for entry in entries if entry.superseded_by is None and entry.number]
