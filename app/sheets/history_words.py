"""The history in words: what was changed, from what to what, by whom and by which way."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any, Protocol

from app.core.words import Via
from app.sheets.backup_words import moment_words
from app.sheets.tables import Table, csv_text
from app.sheets.words import day_year, month_day_words, number_words, percent_words, range_words
from app.storage.history import SECRET
from app.storage.queries.history import HistoryRow

NOTHING = "nothing"
GONE = "somebody who has left, or had not signed in"
WHO = {Via.COMMAND: "a command at the server", Via.PROGRAM: "the program itself"}
# Columns whose own name does not say what they are; `_` and units are put into words anyway.
COLUMNS = {
    "grower_id": "grower",
    "done_by_id": "done by",
    "is_offered": "offered",
    "is_swapped": "handed over by hand",
    "crop_id": "crop",
    "sowing_id": "sowing",
    "offer_id": "offer",
    "request_id": "request",
    "seed_lot_id": "seed lot",
    "container_id": "container",
    "start_container_id": "container to start in",
    "pot_on_container_id": "container to pot on into",
    "pot_on_after_days": "days until potting on",
    "plant_out": "own plant-out date",
    "sow_on": "day of sowing",
    "placed": "plants granted",
    "plants": "plants wanted",
    "risk": "spring risk",
    "days": "days they can come",
    "contact": "how to reach them",
    "potted_on": "holds pots",
    "light": "light",
    "direct_sow_weeks": "weeks to sow outside",
    "plant_out_weeks": "weeks to plant out",
    "indoor_weeks_min": "weeks indoors, fewest",
    "indoor_weeks_max": "weeks indoors, most",
    "germ_temp_c": "temperature to germinate (°C)",
    "bench_temp_c": "bench temperature (°C)",
    "heat_sum_cd": "heat sum (°C d)",
    "heat_base_c": "base of the heat sum (°C)",
    "threshold_c": "counts as freezing (°C)",
    "dli_target": "light needed (mol/m² d)",
    "ppfd": "light of the lamps (µmol/m² s)",
    "emergence_row": "emergence figures",
    "wishes_close": "wishes close",
    "chance_percent": "chance (%)",
    "month_day": "date",
    "name": "name",
    "is_demo": "of the demo garden",
    "open_to_visitors": "open to visitors",
    "keep_days": "days of backups kept",
    "keep_weeks": "weeks of backups kept",
    "keep_months": "months of backups kept",
    "wifi_name": "name of the Wi-Fi",
    "wifi_passphrase": "passphrase of the Wi-Fi",
    "pin": "PIN",
    "pinned": "keeps who is in it",
    "numbers": "trays",
    "tried": "seeds tried",
    "up": "seeds up",
    "brings_seed": "brings the seed",
    "got": "plants got",
    "first_day": "first day",
    "last_day": "last day",
}
# The same where another noun means something else by it.
COLUMNS_OF = {
    ("offer of spare plants", "plants"): "plants offered",
    ("request for spare plants", "plants"): "plants asked for",
    ("gift of spare plants", "plants"): "plants given",
    ("gift of spare plants", "grower_id"): "to whom",
}
UNITS = {"_mm": "mm", "_cm": "cm", "_ml": "ml", "_c": "°C", "_m": "m", "_percent": "%"}
DATES = frozenset({"plant_out", "sow_on", "day", "first_day", "last_day", "done_on", "date"})
MONTH_DAYS = frozenset({"wishes_close", "month_day"})
SHARES = frozenset({"risk", "autumn_risk", "confidence", "survival", "spare", "germination"})
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
        who=row.who or WHO.get(row.via, GONE),
        way="at the bench tablet" if row.via is Via.BENCH else "",
        noun=row.noun,
        subject=row.subject,
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
    said = COLUMNS_OF.get((noun, column)) or column_words(column)
    if column in SECRET:
        return ChangeLine(column=said, before="", after="changed; what it is stays secret")
    return ChangeLine(
        column=said,
        before=value_words(column, before, names),
        after=value_words(column, after, names),
    )


def column_words(column: str) -> str:
    """Return what a column holds, in words."""
    if column in COLUMNS:
        return COLUMNS[column]
    for ending, unit in UNITS.items():
        if column.endswith(ending):
            return f"{column.removesuffix(ending).replace('_', ' ')} ({unit})"
    return column.replace("_", " ")


def value_words(column: str, value: object, names: Names) -> str:
    """Return a value as it stood in a column, in words."""
    if value is None or value == "":
        return NOTHING
    if column in REFERENCES and isinstance(value, int):
        return names.get((REFERENCES[column], value), f"no. {value}, which is gone")
    if isinstance(value, bool):
        return "yes" if value else "no"
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
        return f"{value:g}"
    if isinstance(value, int) and column not in {"season", "year", "number", "tray"}:
        return number_words(value)
    return str(value)


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
