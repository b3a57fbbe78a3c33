"""Two ledgers side by side, in the weeks and places in which they differ."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import numpy as np

from app.core.calendar import iso_week, monday_of
from app.core.space.ledger import Ledger
from app.core.words import PLACES
from app.language import ngettext
from app.sheets.fixed_words import say
from app.sheets.ledger_page import PlaceChart, over_words, place_chart
from app.sheets.words import list_words, number_words


@dataclass(frozen=True, kw_only=True)
class Pair:
    """Trays in a place in a week, before and after, and how many of them have no position. [1]"""

    before: int
    before_over: int
    after: int
    after_over: int


@dataclass(frozen=True, kw_only=True)
class CompareWeek:
    """A week of both ledgers: its first day, its name in addresses, and a pair for each place that is shown."""

    monday: date
    name: str
    is_over: bool
    pairs: tuple[Pair, ...]


@dataclass(frozen=True, kw_only=True)
class LedgerCompare:
    """Two ledgers side by side.

    Attributes:
        over_before: In a sentence, what is over-full in the first; empty where nothing is.
        over_after: The same of the second.
        charts: Each place that differs, the second ledger with the outline of the first.
        weeks: The weeks in which they differ or a place is over-full.
        same_places: Which places are the same in both, in a sentence; empty where none is.
        same_weeks: Which weeks are left out, likewise.
    """

    over_before: str
    over_after: str
    charts: tuple[PlaceChart, ...]
    weeks: tuple[CompareWeek, ...]
    same_places: str
    same_weeks: str


def compare_ledgers(before: Ledger, after: Ledger, *, only_changes: bool = False) -> LedgerCompare:
    """Return two ledgers of the same weeks and positions side by side.

    Args:
        before: The first ledger.
        after: The second ledger.
        only_changes: Leave out weeks and places that are over-full, but alike in both.
    """
    differs = before.needed != after.needed
    is_over = ((before.free < 0) | (after.free < 0)) & (differs | (not only_changes))
    places = [place for place in range(len(PLACES)) if (differs | is_over)[:, place].any()]
    rows = np.flatnonzero((differs | is_over).any(axis=1)).tolist()
    return LedgerCompare(
        over_before=over_words(before),
        over_after=over_words(after),
        charts=tuple(place_chart(after, place, before) for place in places),
        weeks=tuple(_weeks(before, after, rows, places)),
        same_places=_same_places(before, places),
        same_weeks=_same_weeks(len(before.needed) - len(rows)) if rows else "",
    )


def _weeks(before: Ledger, after: Ledger, rows: list[int], places: list[int]) -> Iterator[CompareWeek]:
    needed = before.needed.tolist(), after.needed.tolist()
    over = (-before.free.clip(max=0)).tolist(), (-after.free.clip(max=0)).tolist()
    for row in rows:
        monday = monday_of(before.weeks[row])
        pairs = tuple(
            Pair(
                before=needed[0][row][place],
                before_over=over[0][row][place],
                after=needed[1][row][place],
                after_over=over[1][row][place],
            )
            for place in places
        )
        yield CompareWeek(
            monday=monday, name=iso_week(monday), is_over=any(pair.after_over for pair in pairs), pairs=pairs
        )


def _same_places(ledger: Ledger, shown: list[int]) -> str:
    there = ledger.needed.any(axis=0) | (ledger.positions > 0)
    same = [say(PLACES[place]) for place in range(len(PLACES)) if there[place] and place not in shown]
    if not same or not shown:
        return ""
    said = list_words(same)
    places = f"{said[0].upper()}{said[1:]}"
    return ngettext(
        "%(places)s stays as it is in every week.",
        "%(places)s stay as they are in every week.",
        len(same),
        places=places,
    )


def _same_weeks(count: int) -> str:
    if not count:
        return ""
    return ngettext(
        "%(num)s other week stays as it is.",
        "%(num)s other weeks stay as they are.",
        count,
        num=number_words(count),
    )
