"""The log in words: what each entry says, and why one cannot be so."""

from datetime import date
from typing import TYPE_CHECKING

from app.core.log.rules import Rule
from app.core.space.grid import Cell
from app.core.words import Cause, LogKind
from app.language import N_, _, ngettext, nouns
from app.sheets.fixed_words import say
from app.sheets.tables import Table
from app.sheets.tray_words import cells_words
from app.sheets.words import count_words, day_long, day_words, number_words

if TYPE_CHECKING:
    from collections.abc import Iterable

    from app.storage.queries.log import EntryRow

KIND_WORDS = {
    LogKind.SOWN: N_("Sown"),
    LogKind.UP: N_("Up"),
    LogKind.THINNED: N_("Thinned"),
    LogKind.POTTED_ON: N_("Potted on"),
    LogKind.LOST: N_("Lost"),
    LogKind.HANDED_OUT: N_("Handed out"),
    LogKind.PLANTED_OUT: N_("Planted out"),
}
# What is counted, one and several, and the question for how many.
NOUNS = dict.fromkeys(LogKind, nouns("plant", "plants")) | {
    LogKind.SOWN: nouns("cell", "cells"),
    LogKind.UP: nouns("cell", "cells"),
}
COUNTED = {
    LogKind.SOWN: nouns("%(num)s cell sown", "%(num)s cells sown"),
    LogKind.UP: nouns("%(num)s cell up", "%(num)s cells up"),
    LogKind.THINNED: nouns("%(num)s plant thinned", "%(num)s plants thinned"),
    LogKind.POTTED_ON: nouns("%(num)s plant potted on", "%(num)s plants potted on"),
    LogKind.LOST: nouns("%(num)s plant lost", "%(num)s plants lost"),
    LogKind.HANDED_OUT: nouns("%(num)s plant handed out", "%(num)s plants handed out"),
    LogKind.PLANTED_OUT: nouns("%(num)s plant planted out", "%(num)s plants planted out"),
}
QUESTIONS = {
    LogKind.SOWN: N_("Cells sown"),
    LogKind.UP: N_("Cells with a seedling"),
    LogKind.THINNED: N_("Plants left after thinning"),
    LogKind.POTTED_ON: N_("Plants potted on"),
    LogKind.LOST: N_("Plants lost"),
    LogKind.HANDED_OUT: N_("Plants handed out"),
    LogKind.PLANTED_OUT: N_("Plants planted out"),
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
        Rule.NOT_YET: _("This day has not come yet. The last that can be given is today, %(day)s.", day=day),
        Rule.FAR_BEFORE: _("This day is long before the season. The first that can be given is %(day)s.", day=day),
        Rule.NOT_SOWN: _("It is not written down as sown yet. Log that first, then this."),
        Rule.BEFORE_SOWN: _("It was sown on %(day)s. This can be of that day or a later one.", day=day),
        Rule.BEFORE_UP: _(
            "It came up on %(day)s. It is thinned, potted on or handed out on that day or later.", day=day
        ),
        Rule.MORE_CELLS_THAN_TRAY: _("It has %(most)s cells in this tray; no more can be sown there.", most=most),
        Rule.MORE_UP_THAN_SOWN: _("%(most)s cells were sown, so no more can be up.", most=most),
        Rule.MORE_THINNED: _("There are %(most)s seedlings at most, so no more can be left after thinning.", most=most),
        Rule.MORE_POTTED_THAN_UP: _("There are %(most)s seedlings at most, so no more can be potted on.", most=most),
        Rule.MORE_LOST: _("There are %(most)s, so no more in all can be lost.", most=most),
        Rule.MORE_LEFT: _("There are %(most)s, so no more can leave the shelves.", most=most),
        Rule.NOTHING_COUNTED: _("Enter how many, from 1 on."),
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
    return _(
        "Logged: %(about)s, %(kind)s, %(amount)s, %(day)s",
        about=about,
        kind=say(kind),
        amount=amount_words(kind, count),
        day=day_words(day),
    )


def entry_words(entry: "EntryRow") -> str:
    """Return what an entry says, without its day: 24 cells sown, 48 seeds."""
    if not entry.number:
        return _("%(kind)s: taken back", kind=_(KIND_WORDS[entry.kind]))
    parts = [ngettext(*COUNTED[entry.kind], entry.number, num=number_words(entry.number))]
    if entry.seeds:
        parts.append(count_words(entry.seeds, "seed", "seeds"))
    if entry.cause:
        is_known = entry.cause is not Cause.UNKNOWN
        parts.append(_("by %(cause)s", cause=say(entry.cause)) if is_known else _("nobody knows why"))
    return ", ".join(parts)


def where_words(entry: "EntryRow") -> str:
    """Return the tray and the cells that an entry is of: tray 3, cells A1–A6; empty for a whole sowing."""
    if entry.tray is None:
        return ""
    cells = [Cell(*map(int, text.split("-"))) for text in (entry.cells or "").split()]
    tray = _("tray %(number)s", number=entry.tray)
    return f"{tray}, {cells_words(cells)}" if cells else tray


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
                one.name, one.date, say(one.kind), one.number, one.seeds, one.sowing, one.crop, one.variety, one.whose,
                one.tray, one.cells, say(one.cause) if one.cause else None, one.note, one.grower, one.typed_by,
                names.get(one.supersedes_id or 0), names.get(one.superseded_by or 0),
            )
            for one in entries
        ],
    )  # fmt: skip
