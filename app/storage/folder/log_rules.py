"""What must hold for the log and what hangs on it: what is refused on the pages is a fault in a folder too."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from app.core.calendar import NO_DAY
from app.core.limits import LOG_YEARS_BEFORE, PLANTS_PER_CELL, SEASON_YEARS, SEEDS_PER_CELL
from app.core.log.entries import KINDS, SOWN, Log
from app.core.log.rules import LogRuleError, OfSowing, Rule, check_entry
from app.core.words import CellState
from app.storage.folder.columns import WRONG, Values
from app.storage.folder.faults import Faults
from app.storage.folder.layout import CELLS_FILE, LOG_FILE, TRAYS_FILE
from app.storage.folder.rules import check_days, given, report

_COLUMNS = ("kind", "date", "count", "tray", "supersedes")
_DAYS = {
    "ticks.csv": ("date",),
    "rounds.csv": ("date", "done_on"),
    "spare_offers.csv": ("date",),
    "spare_requests.csv": ("date",),
    "spare_gifts.csv": ("date",),
}
# The column that a broken rule is told of, and what would be right.
_SAID = {
    Rule.NOT_SOWN: ("kind", "nothing of this sowing was sown; give an entry of kind sown too, or take this one out"),
    Rule.BEFORE_SOWN: ("date", "give a day from {day} on: this was sown then"),
    Rule.BEFORE_UP: ("date", "give a day from {day} on: it came up then"),
    Rule.FAR_BEFORE: ("date", "give a day from {day} on, a year before the season"),
    Rule.NOT_YET: ("date", "give a day up to {day}"),
    Rule.MORE_CELLS_THAN_TRAY: ("count", "give at most {limit}: so many cells of the tray are this sowing's"),
    Rule.MORE_UP_THAN_SOWN: ("count", "more cells came up than the {limit} that were sown"),
    Rule.MORE_THINNED: ("count", "more plants are left after thinning than there can be, which is {limit}"),
    Rule.MORE_POTTED_THAN_UP: ("count", "more plants were potted on than there can be, which is {limit}"),
    Rule.MORE_LOST: ("count", "more was lost than there was, which is {limit}"),
    Rule.MORE_LEFT: ("count", "more plants left than there were, which is {limit}"),
    Rule.NOTHING_COUNTED: ("count", "an entry of 0 takes back another one; give that in supersedes, or give a count"),
}


@dataclass(frozen=True)
class _Entry:
    """An entry of one sowing: where it stands in the file, and its values."""

    index: int
    kind: Any
    date: Any
    count: Any
    tray: Any
    supersedes: Any


def check_log(values: Mapping[str, Values], season: int | None, faults: Faults) -> None:
    """Report what cannot be in log.csv, and in the files of ticks, tests, rounds and spare plants.

    Args:
        values: The values of each file of a folder.
        season: The growing year, if it can be known.
        faults: Takes the faults.
    """
    if season is not None:
        for file, columns in _DAYS.items():
            if file in values:
                check_days(values[file], columns, season, SEASON_YEARS, faults)
    if "seed_tests.csv" in values:
        _check_tests(values["seed_tests.csv"], faults)
    if LOG_FILE not in values:
        return
    log = values[LOG_FILE]
    before = faults.total
    if season is not None:
        check_days(log, ("date",), season, SEASON_YEARS, faults)
    _check_corrections(log, faults)
    # Beside an entry that is wrong in itself nothing can be said of the others.
    if faults.total == before and not any(WRONG in log.columns[name] for name in ("sowing", *_COLUMNS)):
        _check_sowings(values, season, faults)


def _check_tests(tests: Values, faults: Faults) -> None:
    for index, (tried, up) in enumerate(zip(tests.columns["tried"], tests.columns["up"], strict=True)):
        if given(tried, up) and up > tried:
            report(tests, faults, index, "up", f"give at most the {tried} that were tried")


def _check_corrections(log: Values, faults: Faults) -> None:
    """Report corrections of another sowing or kind, second ones, and those that go round in a circle."""
    corrects = log.columns["supersedes"]
    first: dict[int, int] = {}
    for index, entry in enumerate(corrects):
        if not given(entry) or index in log.sheet.broken:
            continue
        row = first.setdefault(entry, log.sheet.row_numbers[index])
        if row != log.sheet.row_numbers[index]:
            right = f"row {row} corrects this entry already; correct that one"
            report(log, faults, index, "supersedes", right)
        elif _comes_back(corrects, index):
            report(log, faults, index, "supersedes", "an entry corrects an earlier one; these correct each other")
        else:
            for name in ("sowing", "kind"):
                mine, other = log.columns[name][index], log.columns[name][entry - 1]
                if given(mine, other) and mine != other:
                    right = f"it corrects row {log.sheet.row_numbers[entry - 1]}, which is of another {name}"
                    report(log, faults, index, name, f"{right}; give the same")


def _comes_back(corrects: list[Any], start: int) -> bool:
    at, seen = start, {start}
    while given(corrects[at]):
        at = corrects[at] - 1
        if at == start:
            return True
        if at in seen:
            return False
        seen.add(at)
    return False


def _check_sowings(values: Mapping[str, Values], season: int | None, faults: Faults) -> None:
    """Report entries that do not go with the others of their sowing, whatever its card says by now.

    A card may have been changed after they were written, so each cell may have held as much as on any card.
    """
    log = values[LOG_FILE]
    entries: dict[int, list[_Entry]] = {}
    rows = zip(*(log.columns[name] for name in ("sowing", *_COLUMNS)), strict=True)
    for index, (sowing, *row) in enumerate(rows):
        entries.setdefault(sowing, []).append(_Entry(index, *row))
    filled, cells = _filled(values), _cells_in_trays(values)
    if filled is None or cells is None:
        return
    begins = NO_DAY if season is None else date(season - LOG_YEARS_BEFORE, 1, 1).toordinal()
    for sowing, its in entries.items():
        was_sown = any(KINDS.index(one.kind) == SOWN for one in its)
        on, count = (NO_DAY, 0) if was_sown else filled.get(sowing, (NO_DAY, 0))
        known = OfSowing(
            seeds_per_cell=int(SEEDS_PER_CELL.high),
            plants_per_cell=int(PLANTS_PER_CELL.high),
            filled_on=on,
            filled_cells=count,
        )
        for number, error in _broken(its, known, cells.get(sowing, {}), begins):
            column, right = _SAID[error.rule]
            limit = 0 if error.limit is None else error.limit
            day = date.fromordinal(limit) if column == "date" else ""
            report(log, faults, number, column, right.format(limit=f"{limit:,}", day=day))


def _filled(values: Mapping[str, Values]) -> dict[int, tuple[int, int]] | None:
    """Return the day and the cells of each sowing whose trays are filled; None where that cannot be known."""
    cells, trays = values.get(CELLS_FILE), values.get(TRAYS_FILE)
    if cells is None or trays is None:
        return {}
    found: dict[int, tuple[int, int]] = {}
    for tray, sowing, state in zip(*(cells.columns[name] for name in ("tray", "sowing", "state")), strict=True):
        if WRONG in (tray, sowing, state):
            return None
        if sowing is None or state is CellState.EMPTY:
            continue
        day, is_potted = (trays.columns[name][tray - 1] for name in ("sow_on", "potted_on"))
        if WRONG in (day, is_potted):
            return None
        if not is_potted:
            on, count = found.get(sowing, (day.toordinal(), 0))
            found[sowing] = min(on, day.toordinal()), count + 1
    return found


def _cells_in_trays(values: Mapping[str, Values]) -> dict[int, dict[int, int]] | None:
    """Return how many cells each sowing has in each tray; None where that cannot be known."""
    found: dict[int, dict[int, int]] = {}
    if CELLS_FILE in values:
        for tray, sowing in zip(*(values[CELLS_FILE].columns[name] for name in ("tray", "sowing")), strict=True):
            if WRONG in (tray, sowing):
                return None
            if sowing is not None:
                of_sowing = found.setdefault(sowing, {})
                of_sowing[tray] = of_sowing.get(tray, 0) + 1
    return found


def _broken(
    entries: list[_Entry], known: OfSowing, in_tray: Mapping[int, int], begins: int
) -> Iterator[tuple[int, LogRuleError]]:
    """Give each entry that breaks a rule: by itself, or else beside those that come before it in the season."""
    corrected = {one.supersedes for one in entries}
    holding = [one for one in entries if one.count and one.index + 1 not in corrected]
    alone = [(one.index, error) for one in entries if (error := _error_alone(one, in_tray, begins))]
    alone = [(index, error) for index, error in alone if index + 1 not in corrected]
    yield from alone
    if alone or _error(holding, known, begins) is None:
        return
    kept: list[_Entry] = []
    for one in sorted(holding, key=lambda one: (one.date, KINDS.index(one.kind), one.index)):
        error = _error([*kept, one], known, begins)
        if error is None:
            kept.append(one)
        else:
            yield one.index, error


def _error_alone(one: _Entry, in_tray: Mapping[int, int], begins: int) -> LogRuleError | None:
    """Return the rule that an entry breaks whatever the others say."""
    if one.count == 0:
        return LogRuleError(Rule.NOTHING_COUNTED) if one.supersedes is None else None
    if one.date.toordinal() < begins:
        return LogRuleError(Rule.FAR_BEFORE, begins)
    most = in_tray.get(one.tray, 0)
    if one.tray is not None and KINDS.index(one.kind) == SOWN and one.count > most:
        return LogRuleError(Rule.MORE_CELLS_THAN_TRAY, most)
    return None


def _error(entries: list[_Entry], known: OfSowing, begins: int) -> LogRuleError | None:
    """Return the rule that entries break together."""
    if not entries:
        return None
    n = len(entries)
    log = Log(
        ids=np.arange(1, n + 1),
        sowing=np.zeros(n, dtype=np.int64),
        kind=np.array([KINDS.index(one.kind) for one in entries]),
        day=np.array([one.date.toordinal() for one in entries]),
        count=np.array([one.count for one in entries]),
        seeds=np.zeros(n, dtype=np.int64),
        tray=np.array([one.tray or 0 for one in entries]),
        supersedes=np.zeros(n, dtype=np.int64),
    )
    try:
        check_entry(log, n - 1, known, today=int(log.day.max()), season_begins=begins)
    except LogRuleError as error:
        return error
    return None
