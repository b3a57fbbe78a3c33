"""What an entry may say: no more up than sown, nothing before it was sown, nothing that has not happened yet."""

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY
from app.core.log.entries import (
    HANDED_OUT,
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
from app.core.log.state import logged_of

Ints = NDArray[np.int64]

# Everything that comes after sowing, in the order of a plant's life.
AFTER_SOWING = (UP, THINNED, POTTED_ON, LOST, HANDED_OUT, PLANTED_OUT)


class Rule(StrEnum):
    """What an entry breaks."""

    NOT_YET = "not yet"
    FAR_BEFORE = "far before"
    NOT_SOWN = "not sown"
    BEFORE_SOWN = "before sown"
    BEFORE_UP = "before up"
    MORE_CELLS_THAN_TRAY = "more cells than tray"
    MORE_UP_THAN_SOWN = "more up than sown"
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
    if count == 0:
        if not log.supersedes[number]:
            raise LogRuleError(Rule.NOTHING_COUNTED)
        _check_rest(log, of)
        return
    if kind == SOWN and of.cells_in_tray is not None and count > of.cells_in_tray:
        raise LogRuleError(Rule.MORE_CELLS_THAN_TRAY, of.cells_in_tray)
    _check_rest(log, of)


def _check_rest(log: Log, of: OfSowing) -> None:
    """Refuse entries that do not go together."""
    logged = logged_of(log, 1)
    sown_on = int(logged.sown_on[0]) or of.filled_on
    sown = max(int(logged.sown[0]), of.filled_cells)
    holds = np.flatnonzero(log.holds & np.isin(log.kind, AFTER_SOWING))
    if len(holds) and sown_on == NO_DAY:
        raise LogRuleError(Rule.NOT_SOWN)
    if len(holds) and int(log.day[holds].min()) < sown_on:
        raise LogRuleError(Rule.BEFORE_SOWN, sown_on)
    up_on, up = int(logged.up_on[0]), int(logged.up[0])
    if up > sown:
        raise LogRuleError(Rule.MORE_UP_THAN_SOWN, sown)
    grown = holds[np.isin(log.kind[holds], (THINNED, POTTED_ON))]
    if up_on != NO_DAY and len(grown) and int(log.day[grown].min()) < up_on:
        raise LogRuleError(Rule.BEFORE_UP, up_on)
    potted = int(logged.potted[0])
    seedlings = (up if up_on != NO_DAY else sown) * max(of.seeds_per_cell, of.plants_per_cell)
    if potted > seedlings:
        raise LogRuleError(Rule.MORE_POTTED_THAN_UP, seedlings)
    is_counted = potted > 0 or up_on != NO_DAY
    there = potted or (up * of.plants_per_cell if is_counted else sown)
    lost = int((logged.lost_since if is_counted else logged.lost)[0])
    if lost > there:
        raise LogRuleError(Rule.MORE_LOST, there)
    # Without a word on what came up, each cell may have given all that it can.
    most = there if is_counted else seedlings
    if int(logged.left[0]) + lost > most:
        raise LogRuleError(Rule.MORE_LEFT, max(0, most - lost))


def with_entry(log: Log, **columns: int) -> tuple[Log, int]:
    """Return a log with one entry more, and its index; it is number 0, as nothing in the database is.

    Args:
        log: The entries.
        columns: A value for each column of `Log` but `ids`, and those that may be left out.
    """
    given = {"ids": 0, "made_at": 0.0, "cause": NO_CAUSE, "seed_lot": NO_LOT} | columns
    more = {name: np.append(getattr(log, name), value) for name, value in given.items()}
    return replace(log, **more), len(log)
