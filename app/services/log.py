"""Writing the log: what was sown, came up, was lost and handed out, and what that makes of cells and trays."""

import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np

from app.core.calendar import NO_DAY, as_day
from app.core.limits import LOG_YEARS_BEFORE
from app.core.log.entries import KINDS, Log
from app.core.log.rules import OfSowing, check_entry, with_entry
from app.core.log.state import logged_of
from app.core.words import CellState, LogKind, Tick
from app.services.following import follow_log
from app.services.trays import NotInTrayError
from app.storage.models import Cell, LogEntry, Sowing, Ticked, Tray
from app.storage.queries.crops import get_crop
from app.storage.queries.garden import find_garden
from app.storage.queries.growers import get_grower
from app.storage.queries.log import find_ticked, get_entries, get_entry, next_entry_name
from app.storage.queries.seed_lots import get_seed_lot
from app.storage.queries.sowings import get_sowing
from app.storage.queries.trays import get_cells, get_tray_model, list_cells_of_sowing
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from app.core.words import Cause
    from app.storage import Session

    Content = tuple[Cell, Tray]


class AlreadyCorrectedError(Exception):
    """The entry that is to be corrected was corrected already."""


class OtherEntryError(Exception):
    """A correction is of another sowing or kind than what it corrects."""


class OtherSeedError(Exception):
    """The seed that was sown is of another crop than the sowing; `crop` is which."""

    def __init__(self, crop: str) -> None:
        """Keep the crop of the seed."""
        super().__init__(f"This is seed of {crop}")
        self.crop = crop


@dataclass(frozen=True, kw_only=True)
class NewEntry:
    """What somebody writes down.

    Attributes:
        sowing_id: Of which sowing.
        kind: What was done or seen.
        date: On which day.
        count: Cells for sown and up, plants for the others; 0 takes back what it corrects. [1]
        seeds: Seeds sown; None where not counted. [1]
        tray: Number of the tray that it is of; None for the whole sowing.
        cells: Row and column of each cell that it is of; the count is theirs then.
        seed_lot_id: The seed that was sown, if another than the sowing's; a correction keeps that of its entry.
        cause: What plants were lost to.
        note: Anything else.
        grower_id: Who did it.
        supersedes_id: The entry that it corrects.
    """

    sowing_id: int
    kind: LogKind
    date: date
    count: int
    seeds: int | None = None
    tray: int | None = None
    cells: tuple[tuple[int, int], ...] = ()
    seed_lot_id: int | None = None
    cause: "Cause | None" = None
    note: str | None = None
    grower_id: int | None = None
    supersedes_id: int | None = None


def add_entries(
    session: "Session", entries: Iterable[NewEntry], *, today: date, account_id: int | None
) -> list[LogEntry]:
    """Write down entries, all of them or none.

    Args:
        session: Its transaction takes it all.
        entries: What is written down, in the order in which it happened.
        today: The latest day that can be given.
        account_id: Who types it in.

    Raises:
        NotFoundError: There is no such sowing, tray, seed lot, grower or entry.
        NotInTrayError: The sowing has no cells in the tray, or not the ones given.
        LogRuleError: An entry says what cannot be.
        AlreadyCorrectedError: What is to be corrected was corrected already.
        OtherEntryError: A correction is of another sowing or kind.
        OtherSeedError: The seed lot is of another crop.
    """
    hold_writes(session)
    added = [_add(session, entry, today, account_id) for entry in entries]
    sowing_ids = list(dict.fromkeys(entry.sowing_id for entry in added))
    for sowing_id in sowing_ids:
        _update_cells(session, sowing_id)
    follow_log(session, sowing_ids)
    return added


def take_back(session: "Session", entry_id: int, *, today: date, account_id: int | None) -> LogEntry:
    """Take back an entry: another one says so, and both stay.

    Raises:
        NotFoundError: There is no such entry.
        LogRuleError: Later entries would say what cannot be.
        AlreadyCorrectedError: It was corrected already.
    """
    hold_writes(session)
    entry = get_entry(session, entry_id)
    tray = None if entry.tray_id is None else session.get(Tray, entry.tray_id)
    gone = NewEntry(
        sowing_id=entry.sowing_id,
        kind=entry.kind,
        date=entry.date,
        count=0,
        tray=None if tray is None else tray.number,
        grower_id=entry.grower_id,
        supersedes_id=entry.id,
    )
    return add_entries(session, [gone], today=today, account_id=account_id)[0]


def tick(session: "Session", sowing_id: int, task: Tick, day: date, account_id: int | None) -> None:
    """Tick off a task of a sowing on a day; one that is ticked off already stays so. Raises NotFoundError."""
    hold_writes(session)
    get_sowing(session, sowing_id)
    if find_ticked(session, sowing_id, task, day) is None:
        session.add(Ticked(sowing_id=sowing_id, task=task, date=day, account_id=account_id, made_at=time.time()))
        session.flush()


def untick(session: "Session", sowing_id: int, task: Tick, day: date) -> None:
    """Take a tick back, if it is there."""
    hold_writes(session)
    ticked = find_ticked(session, sowing_id, task, day)
    if ticked is not None:
        session.delete(ticked)
        session.flush()


def _add(session: "Session", entry: NewEntry, today: date, account_id: int | None) -> LogEntry:
    sowing = get_sowing(session, entry.sowing_id)
    crop = get_crop(session, sowing.crop_id)
    if entry.grower_id is not None:
        get_grower(session, entry.grower_id)
    if entry.seed_lot_id is not None:
        lot = get_seed_lot(session, entry.seed_lot_id)
        if lot.crop_id != sowing.crop_id:
            raise OtherSeedError(get_crop(session, lot.crop_id).name)
    there = get_entries(session, sowing.id)
    _require_open(entry, there, session)
    tray = None if entry.tray is None else get_tray_model(session, entry.tray)
    contents = list_cells_of_sowing(session, sowing.id)
    in_tray = None if tray is None else [cell for cell, its in contents if its.id == tray.id]
    if in_tray is not None and not in_tray:
        raise NotInTrayError
    if entry.cells and not set(entry.cells) <= {(cell.row_number, cell.column_number) for cell in in_tray or ()}:
        raise NotInTrayError
    count = len(entry.cells) if entry.cells and entry.count else entry.count
    filled = [(cell, its) for cell, its in contents if not its.potted_on and cell.state is not CellState.EMPTY]
    has_sown = entry.kind is LogKind.SOWN or any(one.kind is LogKind.SOWN for one in there)
    log, number = with_entry(
        _columns(there),
        sowing=0,
        kind=KINDS.index(entry.kind),
        day=as_day(entry.date),
        count=count,
        seeds=entry.seeds or 0,
        tray=0 if tray is None else tray.id,
        supersedes=entry.supersedes_id or 0,
    )
    check_entry(
        log,
        number,
        OfSowing(
            seeds_per_cell=crop.seeds_per_cell,
            plants_per_cell=crop.plants_per_cell or 1,
            cells_in_tray=None if in_tray is None else len(in_tray),
            # Trays that were filled before there was a log of them.
            filled_on=min((as_day(its.sow_on) for _, its in filled), default=NO_DAY) if not has_sown else NO_DAY,
            filled_cells=0 if has_sown else len(filled),
        ),
        today=as_day(today),
        season_begins=_season_begins(session),
    )
    made = LogEntry(
        name=next_entry_name(session),
        sowing_id=sowing.id,
        kind=entry.kind,
        date=entry.date,
        count=count,
        seeds=entry.seeds,
        tray_id=None if tray is None else tray.id,
        seed_lot_id=entry.seed_lot_id or _lot_of_corrected(entry, there),
        cause=entry.cause,
        note=entry.note,
        supersedes_id=entry.supersedes_id,
        cells=" ".join(f"{row}-{column}" for row, column in entry.cells) or None,
        grower_id=entry.grower_id,
        account_id=account_id,
        made_at=time.time(),
    )
    session.add(made)
    session.flush()
    return made


def _season_begins(session: "Session") -> int:
    """Return the first day that an entry may be of: a year before the growing year begins. [day number]"""
    garden = find_garden(session)
    return NO_DAY if garden is None else date(garden.season - LOG_YEARS_BEFORE, 1, 1).toordinal()


def _require_open(entry: NewEntry, there: Sequence[LogEntry], session: "Session") -> None:
    """Refuse to correct an entry twice, or by something else."""
    if entry.supersedes_id is None:
        return
    if any(one.supersedes_id == entry.supersedes_id for one in there):
        raise AlreadyCorrectedError
    corrected = get_entry(session, entry.supersedes_id)
    if corrected.sowing_id != entry.sowing_id or corrected.kind is not entry.kind:
        raise OtherEntryError


def _lot_of_corrected(entry: NewEntry, there: Sequence[LogEntry]) -> int | None:
    """Return the seed lot of the entry that is corrected; None where it says none, or the correction takes it back."""
    if not entry.count:
        return None
    return next((one.seed_lot_id for one in there if one.id == entry.supersedes_id), None)


def _columns(entries: Sequence[LogEntry]) -> Log:
    """Return the entries of one sowing as columns, under index 0."""
    rows = [
        (
            entry.id,
            0,
            KINDS.index(entry.kind),
            as_day(entry.date),
            entry.count,
            entry.seeds or 0,
            entry.tray_id or 0,
            entry.supersedes_id or 0,
        )
        for entry in entries
    ]
    table = np.array(rows, dtype=np.int64).reshape(-1, 8)
    names = ("ids", "sowing", "kind", "day", "count", "seeds", "tray", "supersedes")
    columns: dict[str, Any] = dict(zip(names, table.T, strict=True))
    return Log(**columns)


def _update_cells(session: "Session", sowing_id: int) -> None:
    """Bring the cells of a sowing to what its entries say, and the days of its trays with them."""
    sowing = get_sowing(session, sowing_id)
    entries = get_entries(session, sowing_id)
    contents = list_cells_of_sowing(session, sowing_id)
    were_empty = {tray.id: True for _, tray in contents}
    for cell, tray in contents:
        were_empty[tray.id] &= cell.state is CellState.EMPTY
    _Contents(contents, entries, is_over=_is_over(session, sowing, entries)).update()
    for tray in {tray.id: tray for _, tray in contents}.values():
        own = [cell for cell, its in contents if its.id == tray.id]
        if were_empty[tray.id] and any(cell.state is not CellState.EMPTY for cell in own):
            _begin(session, tray, entries)
    session.flush()


def _is_over(session: "Session", sowing: Sowing, entries: Sequence[LogEntry]) -> bool:
    crop = get_crop(session, sowing.crop_id)
    logged = logged_of(_columns(entries), 1)
    return bool(logged.is_over(np.array([crop.plants_per_cell or 1]))[0])


def _begin(session: "Session", tray: Tray, entries: Sequence[LogEntry]) -> None:
    """Let a tray that was just filled stand from the day on which it was; others in it may have been before."""
    kind = LogKind.POTTED_ON if tray.potted_on else LogKind.SOWN
    days = [one.date for one in _holding(entries) if one.kind is kind and one.tray_id in {None, tray.id}]
    own = {entry.sowing_id for entry in entries}
    others = [
        cell for cell in get_cells(session, tray.id) if cell.sowing_id not in own and cell.state is not CellState.EMPTY
    ]
    if days and not others:
        tray.sow_on = min(days)


def _holding(entries: Sequence[LogEntry]) -> list[LogEntry]:
    corrected = {entry.supersedes_id for entry in entries}
    return [entry for entry in entries if entry.id not in corrected and entry.count > 0]


class _Contents:
    """The cells of one sowing, and what its entries make of them."""

    def __init__(self, contents: "list[Content]", entries: Sequence[LogEntry], *, is_over: bool) -> None:
        self._contents = contents
        self._entries = entries
        self._holding = sorted(_holding(entries), key=lambda entry: (KINDS.index(entry.kind), entry.id))
        self._is_over = is_over

    def update(self) -> None:
        """Give each cell its state; what was filled before there was a log of it stays filled."""
        was_logged = {entry.kind for entry in self._entries}
        for cell, tray in self._contents:
            if (LogKind.POTTED_ON if tray.potted_on else LogKind.SOWN) in was_logged:
                cell.state = CellState.EMPTY
            elif cell.state is not CellState.EMPTY:
                cell.state = CellState.UP if tray.potted_on else CellState.SOWN
        steps = {
            LogKind.SOWN: self._sow,
            LogKind.UP: self._see,
            LogKind.POTTED_ON: self._pot_on,
            LogKind.LOST: self._lose,
        }
        for entry in self._holding:
            if entry.kind in steps:
                steps[entry.kind](entry)
        if self._is_over:
            for potted_on in (False, True):
                self._turn(CellState.OUT, potted_on=potted_on)

    def _of(self, entry: LogEntry, *, potted_on: bool) -> list[Cell]:
        """Return the cells that an entry may be of."""
        named = set((entry.cells or "").split())
        return [
            cell
            for cell, tray in self._contents
            if tray.potted_on == potted_on
            and entry.tray_id in {None, tray.id}
            and (not named or f"{cell.row_number}-{cell.column_number}" in named)
        ]

    def _fill(self, entry: LogEntry, state: CellState, *, potted_on: bool) -> None:
        empty = [cell for cell in self._of(entry, potted_on=potted_on) if cell.state is CellState.EMPTY]
        for cell in empty[: entry.count]:
            cell.state = state

    def _sow(self, entry: LogEntry) -> None:
        self._fill(entry, CellState.SOWN, potted_on=False)

    def _pot_on(self, entry: LogEntry) -> None:
        self._turn(CellState.POTTED_ON, potted_on=False)
        self._fill(entry, CellState.UP, potted_on=True)

    def _see(self, entry: LogEntry) -> None:
        """Mark cells that came up, where it is known which: they were ticked, or all did."""
        sown = [cell for cell in self._of(entry, potted_on=False) if cell.state is not CellState.EMPTY]
        if entry.cells or entry.count >= len(sown):
            for cell in sown:
                cell.state = CellState.UP

    def _lose(self, entry: LogEntry) -> None:
        if entry.cells:
            for potted_on in (False, True):
                for cell in self._of(entry, potted_on=potted_on):
                    cell.state = CellState.LOST

    def _turn(self, after: CellState, *, potted_on: bool) -> None:
        """Let all cells in which anything grows be in another state."""
        for cell, tray in self._contents:
            if tray.potted_on == potted_on and cell.state in {CellState.SOWN, CellState.UP}:
                cell.state = after
