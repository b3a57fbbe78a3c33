"""The log in words: what each entry says, and why one cannot be so."""

from datetime import date
from typing import TYPE_CHECKING

from app.core.log.rules import Rule
from app.core.space.grid import Cell
from app.core.words import LogKind
from app.sheets.tables import Table
from app.sheets.tray_words import cells_words
from app.sheets.words import count_words, day_long, day_words, number_words

if TYPE_CHECKING:
    from collections.abc import Iterable

    from app.storage.queries.log import EntryRow

KIND_WORDS = {
    LogKind.SOWN: "Sown",
    LogKind.UP: "Up",
    LogKind.THINNED: "Thinned",
    LogKind.POTTED_ON: "Potted on",
    LogKind.LOST: "Lost",
    LogKind.HANDED_OUT: "Handed out",
    LogKind.PLANTED_OUT: "Planted out",
}
# What is counted, one and several, and the question for how many.
NOUNS = dict.fromkeys(LogKind, ("plant", "plants")) | {
    LogKind.SOWN: ("cell", "cells"),
    LogKind.UP: ("cell", "cells"),
}
QUESTIONS = {
    LogKind.SOWN: "Cells sown",
    LogKind.UP: "Cells with a seedling",
    LogKind.THINNED: "Plants left after thinning",
    LogKind.POTTED_ON: "Plants potted on",
    LogKind.LOST: "Plants lost",
    LogKind.HANDED_OUT: "Plants handed out",
    LogKind.PLANTED_OUT: "Plants planted out",
}
DAY_RULES = frozenset({Rule.NOT_YET, Rule.FAR_BEFORE, Rule.BEFORE_SOWN, Rule.BEFORE_UP})
COLUMNS = (
    "entry", "date", "kind", "count", "seeds", "sowing", "crop", "variety", "grower", "tray", "cells", "cause", "note",
    "done_by", "typed_by", "corrects", "corrected_by",
)  # fmt: skip


def rule_words(rule: Rule, limit: int | None) -> str:
    """Return why an entry cannot be so, and what would be right.

    Args:
        rule: The rule that it breaks.
        limit: The largest count, or the day number, that would be right; None where there is none.
    """
    day = day_long(date.fromordinal(limit)) if limit and rule in DAY_RULES else ""
    most = number_words(limit or 0)
    words = {
        Rule.NOT_YET: f"This day has not come yet. The last that can be given is today, {day}.",
        Rule.FAR_BEFORE: f"This day is long before the season. The first that can be given is {day}.",
        Rule.NOT_SOWN: "It is not written down as sown yet. Log that first, then this.",
        Rule.BEFORE_SOWN: f"It was sown on {day}. This can be of that day or a later one.",
        Rule.BEFORE_UP: f"It came up on {day}. It is thinned, potted on or handed out on that day or later.",
        Rule.MORE_CELLS_THAN_TRAY: f"It has {most} cells in this tray; no more can be sown there.",
        Rule.MORE_UP_THAN_SOWN: f"{most} cells were sown, so no more can be up.",
        Rule.MORE_THINNED: f"There are {most} seedlings at most, so no more can be left after thinning.",
        Rule.MORE_POTTED_THAN_UP: f"There are {most} seedlings at most, so no more can be potted on.",
        Rule.MORE_LOST: f"There are {most}, so no more in all can be lost.",
        Rule.MORE_LEFT: f"There are {most}, so no more can leave the shelves.",
        Rule.NOTHING_COUNTED: "Enter how many, from 1 on.",
    }
    return words[rule]


def is_of_day(rule: Rule) -> bool:
    """Return whether a rule is about the day of an entry, and not about its count."""
    return rule in DAY_RULES


def amount_words(kind: LogKind, count: int) -> str:
    """Return how much an entry is of: 24 cells, 1 plant."""
    return count_words(count, *NOUNS[kind])


def said_words(kind: LogKind, count: int, day: date, about: str) -> str:
    """Return what was written down, for whoever has just done so: tray 3, up: 20 cells, Sat 10 Apr."""
    return f"Logged: {about}, {KIND_WORDS[kind].lower()}, {amount_words(kind, count)}, {day_words(day)}"


def entry_words(entry: "EntryRow") -> str:
    """Return what an entry says, without its day: 24 cells sown, 48 seeds."""
    if not entry.number:
        return f"{KIND_WORDS[entry.kind]}: taken back"
    parts = [f"{amount_words(entry.kind, entry.number)} {KIND_WORDS[entry.kind].lower()}"]
    if entry.seeds:
        parts.append(count_words(entry.seeds, "seed", "seeds"))
    if entry.cause:
        parts.append(f"by {entry.cause}" if entry.cause != "unknown" else "nobody knows why")
    return ", ".join(parts)


def where_words(entry: "EntryRow") -> str:
    """Return the tray and the cells that an entry is of: tray 3, cells A1–A6; empty for a whole sowing."""
    if entry.tray is None:
        return ""
    cells = [Cell(*map(int, text.split("-"))) for text in (entry.cells or "").split()]
    return f"tray {entry.tray}{f', {cells_words(cells)}' if cells else ''}"


def log_table(entries: "Iterable[EntryRow]", names: dict[int, str]) -> Table:
    """Return entries as a table that leaves as a file.

    Args:
        entries: The entries.
        names: The name of each entry by its row number.
    """
    return Table(
        COLUMNS,
        [
            (
                one.name, one.date, one.kind.value, one.number, one.seeds, one.sowing, one.crop, one.variety, one.whose,
                one.tray, one.cells, one.cause, one.note, one.grower, one.typed_by,
                names.get(one.supersedes_id or 0), names.get(one.superseded_by or 0),
            )
            for one in entries
        ],
    )  # fmt: skip
