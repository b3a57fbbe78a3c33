"""The history in words: what was changed, from what to what, by whom and by which way."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any, Protocol

from app.core.words import Via
from app.language import N_, _
from app.services.leaving import GONE as LEFT
from app.sheets import fixed_words
from app.sheets.backup_words import moment_words
from app.sheets.tables import Table, csv_text
from app.sheets.words import day_year, decimal_sign, month_day_words, number_words, percent_words, range_words
from app.storage.history import SECRET
from app.storage.queries.history import HistoryRow

NOTHING = N_("nothing")
GONE = N_("somebody who has left, or had not signed in")
WHO = {Via.COMMAND: N_("a command at the server"), Via.PROGRAM: N_("the program itself")}
# Columns whose own name does not say what they are; `_` and units are put into words anyway.
COLUMNS = {
    "grower_id": N_("grower"),
    "done_by_id": N_("done by"),
    "is_offered": N_("offered"),
    "is_swapped": N_("handed over by hand"),
    "crop_id": N_("crop"),
    "sowing_id": N_("sowing"),
    "offer_id": N_("offer"),
    "request_id": N_("request"),
    "seed_lot_id": N_("seed lot"),
    "container_id": N_("container"),
    "start_container_id": N_("container to start in"),
    "pot_on_container_id": N_("container to pot on into"),
    "pot_on_after_days": N_("days until potting on"),
    "plant_out": N_("own plant-out date"),
    "sow_on": N_("day of sowing"),
    "placed": N_("plants granted"),
    "plants": N_("plants wanted"),
    "risk": N_("spring risk"),
    "days": N_("days they can come"),
    "contact": N_("how to reach them"),
    "potted_on": N_("holds pots"),
    "light": N_("light"),
    "direct_sow_weeks": N_("weeks to sow outside"),
    "plant_out_weeks": N_("weeks to plant out"),
    "indoor_weeks_min": N_("weeks indoors, fewest"),
    "indoor_weeks_max": N_("weeks indoors, most"),
    "germ_temp_c": N_("temperature to germinate (°C)"),
    "bench_temp_c": N_("bench temperature (°C)"),
    "heat_sum_cd": N_("heat sum (°C d)"),
    "heat_base_c": N_("base of the heat sum (°C)"),
    "threshold_c": N_("counts as freezing (°C)"),
    "dli_target": N_("light needed (mol/m² d)"),
    "ppfd": N_("light of the lamps (µmol/m² s)"),
    "emergence_row": N_("emergence figures"),
    "wishes_close": N_("wishes close"),
    "chance_percent": N_("chance (%%)"),
    "month_day": N_("date"),
    "name": N_("name"),
    "is_demo": N_("of the demo garden"),
    "open_to_visitors": N_("open to visitors"),
    "keep_days": N_("days of backups kept"),
    "keep_weeks": N_("weeks of backups kept"),
    "keep_months": N_("months of backups kept"),
    "wifi_name": N_("name of the Wi-Fi"),
    "wifi_passphrase": N_("passphrase of the Wi-Fi"),
    "pin": N_("PIN"),
    "pinned": N_("keeps who is in it"),
    "numbers": N_("trays"),
    "tried": N_("seeds tried"),
    "up": N_("seeds up"),
    "brings_seed": N_("brings the seed"),
    "got": N_("plants got"),
    "first_day": N_("first day"),
    "last_day": N_("last day"),
}
# The same where another noun means something else by it.
COLUMNS_OF = {
    ("offer of spare plants", "plants"): N_("plants offered"),
    ("request for spare plants", "plants"): N_("plants asked for"),
    ("gift of spare plants", "plants"): N_("plants given"),
    ("gift of spare plants", "grower_id"): N_("to whom"),
}
# Columns whose own name says what they are, `_` and units left out, and what statements over many rows tell of.
PLAIN = (
    N_("address"), N_("autumn risk"), N_("backup"), N_("botanical"), N_("cell volume"), N_("cells per tray"),
    N_("columns"), N_("confidence"), N_("counted from"), N_("cut"), N_("date"), N_("day"), N_("days to emerge"),
    N_("days to maturity"), N_("depth"), N_("done on"), N_("elevation"), N_("email"), N_("entries of the log"),
    N_("fan"), N_("frost law"), N_("frost source"), N_("germination"), N_("germination kind"), N_("hand out day"),
    N_("hardening days"), N_("hardiness"), N_("harvest days"), N_("heat"), N_("heat method"), N_("holds demo"),
    N_("hours per day"), N_("label height"), N_("label width"), N_("language"), N_("latitude"), N_("left"),
    N_("levels"), N_("light to germinate"), N_("longitude"), N_("mail from"), N_("mail host"), N_("mail passphrase"),
    N_("mail port"), N_("mail security"), N_("mail user"), N_("note"), N_("number"), N_("origin"), N_("offset x"),
    N_("offset y"), N_("pan depth"), N_("paper"), N_("passphrase"), N_("pitch across"), N_("pitch down"), N_("place"),
    N_("plants per cell"), N_("plot"), N_("positions"), N_("priority"), N_("role"), N_("rounds"), N_("rows"),
    N_("scale"), N_("season"), N_("second folder"), N_("seed storage years"), N_("seeds per cell"),
    N_("seeds per gram"), N_("side"), N_("source"), N_("sowings"), N_("sow depth"), N_("sowing day"), N_("spare"),
    N_("steps hidden"), N_("survival"), N_("top"), N_("transplanting"), N_("tray"), N_("tray length"), N_("tray width"),
    N_("trays"), N_("turned"), N_("units"), N_("variety"), N_("watts"), N_("width"), N_("year"),
)  # fmt: skip
# What was done. "Accepted" and the like of levellings are sentences of their own.
ACTIONS = (
    N_("added"), N_("changed"), N_("removed"), N_("invitation slip made"), N_("reset slip made"), N_("first slip made"),
    N_("carried into the next season"), N_("loaded"), N_("loaded from a folder"), N_("restored"), N_("cleared"),
    N_("shared out"), N_("put into another tray"), N_("dealt"), N_("started"), N_("marked as not potted on"),
    N_("marked as not sown"), N_("undone"), N_("made"), N_("made to fit"), N_("put back as before it was made to fit"),
)  # fmt: skip
UNITS = {"_mm": "mm", "_cm": "cm", "_ml": "ml", "_c": "°C", "_m": "m", "_percent": "%"}
DATES = frozenset({"plant_out", "sow_on", "day", "first_day", "last_day", "done_on", "date"})
MONTH_DAYS = frozenset({"wishes_close", "month_day"})
SHARES = frozenset({"risk", "autumn_risk", "confidence", "survival", "spare", "germination"})
# Columns that hold fixed words of the method.
FIXED = frozenset({
    "hardiness", "place", "light", "transplanting", "origin", "units", "role", "counted_from", "frost_law",
    "frost_source", "side", "sowing_day", "hand_out_day", "heat_method", "mail_security",
})  # fmt: skip
REFERENCES = {
    "grower_id": "grower",
    "done_by_id": "grower",
    "crop_id": "crop card",
    "sowing_id": "sowing",
    "seed_lot_id": "seed lot",
    "container_id": "container",
    "start_container_id": "container",
    "pot_on_container_id": "container",
}
Names = Mapping[tuple[str, int], str]


class Written(Protocol):
    """An entry as it is stored."""

    at: float
    account_id: int | None
    noun: str
    subject: str
    action: str
    changes: list[Any]


@dataclass(frozen=True, kw_only=True)
class ChangeLine:
    """One column of a change in words.

    Attributes:
        column: Which.
        before: What stood there; empty where nothing is told of it.
        after: What stands there.
    """

    column: str
    before: str
    after: str


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One change in words.

    Attributes:
        when: The moment.
        who: Who made it, in words.
        way: By which way, where it was not a page; empty else.
        noun: What was changed.
        subject: What it is called.
        subject_id: Its row number; None for what has none.
        is_there: Whether it is there still.
        action: What was done.
        lines: What it changed, column by column.
    """

    when: str
    who: str
    way: str
    noun: str
    subject: str
    subject_id: int | None
    is_there: bool
    action: str
    lines: tuple[ChangeLine, ...]


def make_entry(row: HistoryRow, names: Names) -> Entry:
    """Return an entry of the history in words.

    Args:
        row: The entry.
        names: What rows are called now, by noun and row number, those of `references` at least.
    """
    key = (row.noun, row.subject_id or 0)
    return Entry(
        when=moment_words(row.at),
        who=row.who or _(WHO.get(row.via, GONE)),
        way=_("at the bench tablet") if row.via is Via.BENCH else "",
        noun=row.noun,
        subject=_(LEFT) if row.subject == LEFT else row.subject,
        subject_id=row.subject_id,
        is_there=key in names,
        action=row.action,
        lines=tuple(line_of(*change, names, row.noun) for change in row.changes),
    )


def references(rows: Iterable[HistoryRow]) -> dict[str, set[int]]:
    """Return the row numbers whose names an account of these entries needs, by noun."""
    wanted: dict[str, set[int]] = {}
    for row in rows:
        if row.subject_id is not None:
            wanted.setdefault(row.noun, set()).add(row.subject_id)
        for column, *values in row.changes:
            noun = REFERENCES.get(str(column))
            if noun is not None:
                wanted.setdefault(noun, set()).update(value for value in values if isinstance(value, int))
    return wanted


def line_of(column: str, before: object, after: object, names: Names, noun: str = "") -> ChangeLine:
    """Return one column of a change of a noun in words."""
    said = _(COLUMNS_OF[noun, column]) if (noun, column) in COLUMNS_OF else column_words(column)
    if column in SECRET:
        return ChangeLine(column=said, before="", after=_("changed; what it is stays secret"))
    return ChangeLine(
        column=said,
        before=value_words(column, before, names),
        after=value_words(column, after, names),
    )


def column_words(column: str) -> str:
    """Return what a column holds, in words."""
    if column in COLUMNS:
        return _(COLUMNS[column])
    for ending, unit in UNITS.items():
        if column.endswith(ending):
            return f"{_plain_words(column.removesuffix(ending))} ({unit})"
    return _plain_words(column)


def _plain_words(column: str) -> str:
    words = column.replace("_", " ")
    return _(words) if words in PLAIN else words


def action_words(action: str) -> str:
    """Return what was done, in words."""
    return _(action) if action in ACTIONS else action


def value_words(column: str, value: object, names: Names) -> str:
    """Return a value as it stood in a column, in words."""
    if value is None or value == "":
        return _(NOTHING)
    if column in REFERENCES and isinstance(value, int):
        return names.get((REFERENCES[column], value), _("no. %(number)s, which is gone", number=value))
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, list):
        return range_words(value)
    return _by_kind(column, value)


def _by_kind(column: str, value: Any) -> str:  # noqa: ANN401 - whatever JSON holds
    kinds: tuple[tuple[frozenset[str], Callable[[Any], str]], ...] = (
        (DATES, lambda text: day_year(date.fromisoformat(text))),
        (MONTH_DAYS, month_day_words),
        (SHARES, percent_words),
    )
    for columns, words in kinds:
        if column in columns:
            return words(value)
    if isinstance(value, float):
        return f"{value:g}".replace(".", decimal_sign())
    if isinstance(value, int) and column not in {"season", "year", "number", "tray"}:
        return number_words(value)
    return _(value) if column in FIXED and value in fixed_words.SAID else str(value)


def history_csv(rows: Sequence[Written], account_id: int) -> str:
    """Return entries as a table, a row for each column that was changed.

    Args:
        rows: The entries.
        account_id: Who gets it: only their own entries say by whom.
    """
    columns = ("at", "by_you", "what", "which", "action", "column", "before", "after")
    cells: list[tuple[Any, ...]] = []
    for row in rows:
        at = datetime.fromtimestamp(row.at, UTC).isoformat(timespec="seconds")
        head = (at, "yes" if row.account_id == account_id else "no", row.noun, row.subject, row.action)
        cells += [(*head, *(_cell(value) for value in change)) for change in row.changes or [(None, None, None)]]
    return csv_text(Table(columns, cells))


def _cell(value: Any) -> Any:  # noqa: ANN401 - whatever JSON holds
    return value if value is None or isinstance(value, int | float) else str(value)
