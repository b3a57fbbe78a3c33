"""What an entry may say: no more up than sown, nothing before it was sown, nothing that has not happened yet."""

from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY
from app.core.log.entries import (
    HANDED_OUT,
    KINDS,
    LOST,
    NO_CAUSE,
    NO_LOT,
    PLANTED_OUT,
    POTTED_ON,
    SOWN,
    THINNED,
    UP,
    Log,
)

Ints = NDArray[np.int64]

# What is done with plants that came up.
AFTER_UP = (THINNED, POTTED_ON, HANDED_OUT, PLANTED_OUT)


class Rule(StrEnum):
    """What an entry breaks."""

    NOT_YET = "not yet"
    FAR_BEFORE = "far before"
    NOT_SOWN = "not sown"
    BEFORE_SOWN = "before sown"
    BEFORE_UP = "before up"
    MORE_CELLS_THAN_TRAY = "more cells than tray"
    MORE_UP_THAN_SOWN = "more up than sown"
    MORE_THINNED = "more thinned"
    MORE_POTTED_THAN_UP = "more potted than up"
    MORE_LOST = "more lost"
    MORE_LEFT = "more left"
    NOTHING_COUNTED = "nothing counted"


class LogRuleError(Exception):
    """An entry says what cannot be.

    Attributes:
        rule: The rule that it breaks.
        limit: The largest count, or the day number, that would be right; None where there is none.
    """

    def __init__(self, rule: Rule, limit: int | None = None) -> None:
        """Keep the rule and the limit."""
        super().__init__(rule if limit is None else f"{rule}: {limit}")
        self.rule = rule
        self.limit = limit


@dataclass(frozen=True, kw_only=True)
class OfSowing:
    """What is known of a sowing beside its log.

    Attributes:
        seeds_per_cell: Seeds in each cell by the card. [1]
        plants_per_cell: Plants that a cell is to hold. [1]
        cells_in_tray: Cells that the entry's tray has for it; None for an entry of the whole sowing. [1]
        filled_on: The day on which its trays were filled; 0 where that stands in the log alone. [day number]
        filled_cells: Cells of it that were filled so. [1]
    """

    seeds_per_cell: int
    plants_per_cell: int
    cells_in_tray: int | None = None
    filled_on: int = NO_DAY
    filled_cells: int = 0


def check_entry(log: Log, number: int, of: OfSowing, *, today: int, season_begins: int) -> None:
    """Refuse an entry that says what cannot be, beside the others of its sowing.

    Whatever it supersedes no longer counts beside it.

    Args:
        log: The entries of one sowing, of index 0, the new one among them.
        number: Index of the new one.
        of: What is known of the sowing.
        today: The day that is taken for today. [day number]
        season_begins: No entry is of a day before it. [day number]

    Raises:
        LogRuleError: It cannot be.

    Source:
        Chosen here (docs/method.md); that plants do not come up before they are sown is not.
    """
    kind, day, count = int(log.kind[number]), int(log.day[number]), int(log.count[number])
    if day > today:
        raise LogRuleError(Rule.NOT_YET, today)
    if day < season_begins:
        raise LogRuleError(Rule.FAR_BEFORE, season_begins)
    if count == 0 and not log.supersedes[number]:
        raise LogRuleError(Rule.NOTHING_COUNTED)
    if kind == SOWN and of.cells_in_tray is not None and count > of.cells_in_tray:
        raise LogRuleError(Rule.MORE_CELLS_THAN_TRAY, of.cells_in_tray)
    _check_rest(log, of)


def _check_rest(log: Log, of: OfSowing) -> None:
    """Refuse entries that do not go together, day by day."""
    holds = np.flatnonzero(log.holds & (log.kind < len(KINDS)))
    columns = (log.day, log.kind, log.count, log.tray, log.seeds)
    rows = sorted(zip(*(column[holds].tolist() for column in columns), strict=True))
    later = [row for row in rows if row[1] != SOWN]
    sown_on = min((day for day, kind, *_ in rows if kind == SOWN), default=of.filled_on)
    if later and sown_on == NO_DAY:
        raise LogRuleError(Rule.NOT_SOWN)
    if later and later[0][0] < sown_on:
        raise LogRuleError(Rule.BEFORE_SOWN, sown_on)
    up_on = min((day for day, kind, *_ in rows if kind == UP), default=NO_DAY)
    if any(day < up_on and kind in AFTER_UP for day, kind, *_ in later):
        raise LogRuleError(Rule.BEFORE_UP, up_on)
    book = _Book(of)
    for _, entries in groupby(rows, key=lambda row: row[0]):
        book.add(list(entries))


class _Book:
    """What the entries of a sowing come to, up to a day: what was there, and what is gone of it.

    What somebody counted bounds what can go from then on. What went before a later count stood beside what was
    counted then, so it takes nothing off it.
    """

    def __init__(self, of: OfSowing) -> None:
        self._of = of
        self._most = max(of.seeds_per_cell, of.plants_per_cell)
        self._counts = dict.fromkeys(range(len(KINDS)), 0)
        self._more_seeds = 0  # than the card has, where they were counted
        self._up_whole, self._up_trays = 0, dict[int, int]()
        self._lost_plants = 0
        self._gone_before_pots = self._gone_before_count = 0

    @property
    def _sown(self) -> int:
        return max(self._counts[SOWN], self._of.filled_cells)

    @property
    def _up(self) -> int:
        return max(self._up_whole, sum(self._up_trays.values()))

    @property
    def _left(self) -> int:
        return max(self._counts[HANDED_OUT], self._counts[PLANTED_OUT])

    @property
    def _plants(self) -> int:
        """Plants that there can have been in all, as far as cells were sown and counted."""
        ever = self._plants_in(self._sown)
        return min(ever, self._plants_in(self._up) + self._gone_before_count) if self._up else ever

    def _plants_in(self, cells: int) -> int:
        return cells * self._most + self._more_seeds

    def add(self, entries: list[tuple[int, ...]]) -> None:
        """Add the entries of a day, the next one in order; raise LogRuleError where they cannot be."""
        is_first_count, gone_before = not self._up, self._lost_plants + self._left
        is_first_potting = not self._counts[POTTED_ON]
        # Of what was lost on the day of the first count nobody knows whether it was cells or plants.
        was_counted = not is_first_count or not is_first_potting
        for _, kind, count, tray, seeds in entries:
            self._counts[kind] += count
            self._more_seeds += max(0, seeds - count * self._most)
            if kind == UP and tray:
                self._up_trays[tray] = max(self._up_trays.get(tray, 0), count)
            elif kind == UP:
                self._up_whole = max(self._up_whole, count)
        if self._up > self._sown:
            raise LogRuleError(Rule.MORE_UP_THAN_SOWN, self._sown)
        kinds = {kind for _, kind, *_ in entries}
        if was_counted:
            self._lost_plants += sum(count for _, kind, count, *_ in entries if kind == LOST)
        if UP in kinds and not is_first_count:
            # On the day of a count nobody knows what went before it; pots are no longer in the cells either.
            self._gone_before_count = self._lost_plants + self._left + self._counts[POTTED_ON]
        if POTTED_ON in kinds and is_first_potting:
            self._gone_before_pots = gone_before
        self._check_plants(entries, was_counted=was_counted)

    def _check_plants(self, entries: list[tuple[int, ...]], *, was_counted: bool) -> None:
        plants = self._plants
        if any(kind == THINNED and count > plants for _, kind, count, *_ in entries):
            raise LogRuleError(Rule.MORE_THINNED, plants)
        potted = plants - self._gone_before_pots
        if self._counts[POTTED_ON] > potted:
            raise LogRuleError(Rule.MORE_POTTED_THAN_UP, potted)
        lost, there = (self._lost_plants, plants) if was_counted else (self._counts[LOST], self._sown)
        if not was_counted and (self._up or self._counts[POTTED_ON]):
            there = max(self._sown, plants)
        if lost > there:
            raise LogRuleError(Rule.MORE_LOST, there)
        if self._left + self._lost_plants > plants:
            raise LogRuleError(Rule.MORE_LEFT, max(0, plants - self._lost_plants))


def with_entry(log: Log, **columns: int) -> tuple[Log, int]:
    """Return a log with one entry more, and its index; it is number 0, as nothing in the database is.

    Args:
        log: The entries.
        columns: A value for each column of `Log` but `ids`, and those that may be left out.
    """
    given = {"ids": 0, "made_at": 0.0, "cause": NO_CAUSE, "seed_lot": NO_LOT} | columns
    more = {name: np.append(getattr(log, name), value) for name, value in given.items()}
    return replace(log, **more), len(log)
