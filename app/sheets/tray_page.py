"""A tray in words: its cells as a grid, whose they are, where it stands, and what the plan has otherwise by now."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import cycle

import numpy as np

from app.core.calendar import NO_DAY, as_day
from app.core.dealing.outdated import Outdated, find_outdated
from app.core.plan import Plan
from app.core.space.grid import Cell, Grid, row_letters
from app.core.words import PLACES, CellState
from app.language import N_, _, pgettext
from app.services.positions import is_position
from app.sheets.names import name_words
from app.sheets.tray_words import (
    cells_words,
    contents_words,
    leaving_words,
    place_words,
    position_words,
    standing_words,
    state_words,
)
from app.sheets.words import day_words, list_words
from app.storage.queries.trays import CellRow, StayRow, TrayRow

# What is in a cell, where the cells of a tray differ; words say the same to those who cannot see it.
SIGNS = {
    CellState.EMPTY: "",
    CellState.SOWN: "•",
    CellState.UP: "+",
    CellState.POTTED_ON: "»",
    CellState.OUT: "÷",
    CellState.LOST: "×",
}
TINTS = (1, 2, 3)
DIFFERS = {Outdated.CONTENTS: N_("other contents"), Outdated.DAYS: N_("other days")}


@dataclass(frozen=True, kw_only=True)
class GridCell:
    """A cell as the grid shows it.

    Attributes:
        mark: The letters of its lot, empty where it is free.
        sign: What is in it, empty where that is the same in all cells.
        words: All of it in words.
        tint: Which of a few tints its lot has, from 1; 0 where it is free.
        is_top: The cell above belongs to somebody else.
        is_left: So does the one to the left.
    """

    mark: str
    sign: str
    words: str
    tint: int
    is_top: bool
    is_left: bool


@dataclass(frozen=True, kw_only=True)
class LotLine:
    """What one sowing has of the tray.

    Attributes:
        mark: Its letters in the grid.
        tint: Its tint there, from 1.
        sowing_id: Its row number.
        sowing: Its key.
        crop: Name of the crop.
        variety: Its variety, empty where none is given.
        grower: Name of the grower.
        grower_id: Row number of the grower.
        cells: Its cells, as `A1–F2`.
        count: How many, and what is in them.
        is_sown: Whether anything is in any of them.
    """

    mark: str
    tint: int
    sowing_id: int
    sowing: str
    crop: str
    variety: str
    grower: str
    grower_id: int
    cells: str
    count: str
    is_sown: bool


@dataclass(frozen=True, kw_only=True)
class StayLine:
    """A stretch in a place.

    Attributes:
        place: The place as it stands in addresses.
        name: The place in words.
        position: The position in words.
        shelf_id: Its shelf; None where there is none.
        day: A day on which it stands there, today if it does, as it stands in addresses.
        begin: The day it comes, in words.
        end: The day it leaves, in words.
        is_pinned: It keeps this position.
        is_gone: The shelf has this position no longer.
        is_over: The tray has left it.
        is_now: The tray stands there today.
    """

    place: str
    name: str
    position: str
    shelf_id: int | None
    day: str
    begin: str
    end: str
    is_pinned: bool
    is_gone: bool
    is_over: bool
    is_now: bool


@dataclass(frozen=True, kw_only=True)
class TrayPage:
    """A tray as its page shows it.

    Attributes:
        facts: The line of facts under the heading.
        lead: Where it stands now and when it moves, in a sentence or two.
        columns: Numbers of its columns.
        rows: The letters of each row, and its cells.
        signs: The signs in the grid, each with what it means; none where all cells hold the same.
        lots: Whose cells they are, in the order of their first cells.
        stays: Where it stands, by day.
        after: What becomes of it when it leaves its last place; empty where it stands nowhere.
        outdated: What the plan has otherwise by now, in a sentence; empty where nothing is.
        is_sown: Whether anything is in any cell.
        to_fill: Cells that are kept for somebody and are empty. [1]
    """

    facts: tuple[tuple[str, str], ...]
    lead: str
    columns: tuple[int, ...]
    rows: tuple[tuple[str, tuple[GridCell, ...]], ...]
    signs: tuple[tuple[str, str], ...]
    lots: tuple[LotLine, ...]
    stays: tuple[StayLine, ...]
    after: str
    outdated: str
    is_sown: bool
    to_fill: int


def filled_words(*, is_pots: bool, is_filled: bool) -> str:
    """Return what is said of the day on which a tray is filled: sown, to sow, potted on, to pot on."""
    if is_pots:
        return _("Potted on") if is_filled else _("To pot on")
    return _("Sown") if is_filled else _("To sow")


def make_tray_page(
    plan: Plan, tray: TrayRow, cells: Sequence[CellRow], stays: Sequence[StayRow], today: date
) -> TrayPage:
    """Return the page of a tray.

    Args:
        plan: The garden's plan.
        tray: The tray.
        cells: Its cells that belong to a sowing, by row and column.
        stays: Where it stands, by day.
        today: The day that is taken for today.
    """
    lots = _by_lot(cells)
    is_sown = any(cell.state is not CellState.EMPTY for cell in cells)
    is_potted_next = not tray.potted_on and any(
        plan.timeline.pot_on[plan.index_of[sowing]] != NO_DAY for sowing in lots
    )
    states = {cell.state for cell in cells}
    marks = {sowing: row_letters(number).lower() for number, sowing in enumerate(lots, start=1)}
    grid = Grid(
        max([tray.grid.rows, *(cell.row for cell in cells)]), max([tray.grid.columns, *(cell.column for cell in cells)])
    )
    return TrayPage(
        facts=tuple(_facts(tray, len(cells), is_sown=is_sown)),
        lead=_lead(stays, today, is_potted_next=is_potted_next),
        columns=tuple(range(1, grid.columns + 1)),
        rows=tuple(_rows(grid, cells, marks, is_pots=tray.potted_on)),
        signs=tuple((SIGNS[state], state_words(state)) for state in CellState if state in states and SIGNS[state])
        if len(states) > 1
        else (),
        lots=tuple(
            _lot(mark, tint, lots[sowing], is_pots=tray.potted_on)
            for (sowing, mark), tint in zip(marks.items(), cycle(TINTS), strict=False)
        ),
        stays=tuple(stay_line(plan, stay, today) for stay in stays),
        after=leaving_words(stays[-1].place, is_potted_next=is_potted_next) if stays else "",
        outdated=_outdated(plan, tray, stays, today),
        is_sown=is_sown,
        to_fill=sum(cell.state is CellState.EMPTY for cell in cells),
    )


def _by_lot(cells: Sequence[CellRow]) -> dict[int, list[CellRow]]:
    lots: dict[int, list[CellRow]] = {}
    for cell in cells:
        lots.setdefault(cell.sowing_id, []).append(cell)
    return lots


def _facts(tray: TrayRow, used: int, *, is_sown: bool) -> Iterator[tuple[str, str]]:
    yield _("Container"), name_words(tray.container)
    yield filled_words(is_pots=tray.potted_on, is_filled=is_sown), day_words(tray.sow_on)
    taken = _("%(part)s of %(all)s", part=used, all=tray.cells)
    yield (_("Pots taken") if tray.potted_on else _("Cells taken")), taken
    if tray.pinned:
        yield pgettext("a tray", "Pinned"), _("whoever is in it stays")


def _lead(stays: Sequence[StayRow], today: date, *, is_potted_next: bool) -> str:
    stands, moves = standing_words(stays, today, is_potted_next=is_potted_next)
    now = f"{stands[:1].upper()}{stands[1:]}."
    return " ".join((now, _("Next: %(moves)s.", moves=moves))) if moves else now


def _rows(
    grid: Grid, cells: Sequence[CellRow], marks: dict[int, str], *, is_pots: bool
) -> Iterator[tuple[str, tuple[GridCell, ...]]]:
    there = {Cell(cell.row, cell.column): cell for cell in cells}
    is_mixed = len({cell.state for cell in cells}) > 1
    tints = dict(zip(marks, cycle(TINTS), strict=False))

    def owner(row: int, column: int) -> int | None:
        cell = there.get(Cell(row, column))
        return None if cell is None else cell.sowing_id

    for row in range(1, grid.rows + 1):
        line = []
        for column in range(1, grid.columns + 1):
            cell, own = there.get(Cell(row, column)), owner(row, column)
            line.append(
                GridCell(
                    mark="" if own is None else marks[own],
                    sign=SIGNS[cell.state] if cell is not None and is_mixed else "",
                    words=pgettext("a cell", "free") if cell is None else _cell_words(cell, is_pots=is_pots),
                    tint=0 if own is None else tints[own],
                    is_top=row > 1 and own != owner(row - 1, column),
                    is_left=column > 1 and own != owner(row, column - 1),
                )
            )
        yield row_letters(row), tuple(line)


def _cell_words(cell: CellRow, *, is_pots: bool) -> str:
    state = _("not filled yet") if is_pots and cell.state is CellState.EMPTY else state_words(cell.state)
    return ", ".join(filter(None, (name_words(cell.crop), cell.variety, cell.grower, state)))


def _lot(mark: str, tint: int, cells: Sequence[CellRow], *, is_pots: bool) -> LotLine:
    first = cells[0]
    return LotLine(
        mark=mark,
        tint=tint,
        sowing_id=first.sowing_id,
        sowing=first.sowing,
        crop=name_words(first.crop),
        variety=first.variety or "",
        grower=first.grower,
        grower_id=first.grower_id,
        cells=cells_words(Cell(cell.row, cell.column) for cell in cells),
        count=contents_words([cell.state for cell in cells], is_pots=is_pots),
        is_sown=any(cell.state is not CellState.EMPTY for cell in cells),
    )


def stay_line(plan: Plan, stay: StayRow, today: date) -> StayLine:
    """Return a stretch in a place as pages show it."""
    is_over, is_now = stay.end_on <= today, stay.begin_on <= today < stay.end_on
    position = position_words(stay.shelf, stay.level, stay.slot)
    if is_over and stay.shelf_id is None:
        position = _("not known any more")
    return StayLine(
        place=stay.place.value,
        name=place_words(stay.place),
        position=position,
        shelf_id=stay.shelf_id,
        day=(today if is_now else stay.begin_on).isoformat(),
        begin=day_words(stay.begin_on),
        end=day_words(stay.end_on),
        is_pinned=stay.pinned,
        is_gone=_is_gone(plan, stay),
        is_over=is_over,
        is_now=is_now,
    )


def _is_gone(plan: Plan, stay: StayRow) -> bool:
    if stay.shelf_id is None or stay.level is None or stay.slot is None:
        return False
    return not is_position(plan, stay.place, (stay.shelf_id, stay.level, stay.slot))


def _outdated(plan: Plan, tray: TrayRow, stays: Sequence[StayRow], today: date) -> str:
    """Return what the plan has otherwise by now, in a sentence; empty where nothing is."""
    stored = int(np.searchsorted(plan.garden.dealt.number, tray.number))
    spans = [(PLACES.index(stay.place), as_day(stay.begin_on), as_day(stay.end_on)) for stay in stays]
    found = find_outdated(plan, stored, spans, today=as_day(today))
    if Outdated.UNUSED in found:
        return _("What is in it has other cells in the plan by now, or none.")
    differs = list_words([_(DIFFERS[part]) for part in found])
    return _("The plan has %(differs)s for this tray by now.", differs=differs) if differs else ""


def taken_words(stays: Sequence[StayRow]) -> str:
    """Return who stands somewhere, from when to when: tray 9 from Sat 10 Apr to Sat 8 May."""
    return list_words(
        [
            _(
                "tray %(number)s from %(first)s to %(last)s",
                number=stay.tray,
                first=day_words(stay.begin_on),
                last=day_words(stay.end_on),
            )
            for stay in stays
        ]
    )
