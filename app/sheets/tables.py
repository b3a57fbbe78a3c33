"""The tables that leave as files: deadlines, ledger and frost dates, the same for pages and commands."""

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from app.core.calendar import Days, as_date, iso_week, monday_of
from app.core.errors import NoFrostDateError
from app.core.plan import NO_CONTAINER, Ints, Plan
from app.core.words import PLACES
from app.sheets.failing import state_words
from app.sheets.fixed_words import say
from app.sheets.warnings import warnings_of
from app.storage.folder.cells import number_to_cell, text_to_cell


@dataclass(frozen=True)
class Joined:
    """Several things in one cell: a list in JSON, their words elsewhere."""

    items: Sequence[object]
    text: str


Cell = str | int | float | date | Joined | None

FROST_RISKS = (0.9, 0.5, 0.2, 0.1)
CHANCE_DECIMALS = 4
DEADLINE_COLUMNS = (
    "sowing",
    "grower",
    "crop",
    "variety",
    "plants",
    "cells",
    "seeds",
    "container",
    "sow_from",
    "sow_best",
    "sow_by",
    "sow_on",
    "last_chance",
    "emerges",
    "pot_on",
    "harden",
    "plant_out",
    "warning",
)


class Table(NamedTuple):
    """Rows under columns, ready to be written in any form."""

    columns: tuple[str, ...]
    rows: list[tuple[Cell, ...]]


@dataclass(frozen=True)
class _Dates:
    """Turns day numbers into dates, each different one once."""

    known: dict[int, date | None]

    def column(self, days: Days) -> list[date | None]:
        numbers = days.tolist()
        for number in set(numbers) - self.known.keys():
            self.known[number] = as_date(number)
        return [self.known[number] for number in numbers]


def deadline_rows(plan: Plan) -> Table:
    """Return the deadlines of every sowing; what a sowing does not have is None.

    Plants, cells and seeds are those that are given room. Several warnings are joined by a semicolon.
    """
    sowings, line, dates = plan.garden.sowings, plan.timeline, _Dates({})
    growers = [grower.name for grower in plan.garden.growers]
    crops = [card.name for card in plan.garden.cards]
    containers = {index: box.name for index, box in enumerate(plan.garden.containers)}
    columns: list[Sequence[Cell]] = [
        sowings.names,
        [growers[index] for index in sowings.grower.tolist()],
        [crops[index] for index in sowings.crop.tolist()],
        sowings.varieties,
        plan.plants.tolist(),
        _where(plan, plan.cells),
        _where(plan, plan.seeds),
        [containers.get(index) for index in plan.container.tolist()],
    ]
    days = (line.sow_from, line.sow_best, line.sow_by, line.sow_on, line.last_chance)
    columns += [dates.column(column) for column in (*days, line.emerges, line.pot_on, line.harden, line.plant_out)]
    states = state_words(plan)
    columns.append(
        [
            "; ".join([*([states[index]] if index in states else []), *(warnings_of(plan, index) if said else [])])
            or None
            for index, said in enumerate(plan.warned.tolist())
        ]
    )
    return Table(DEADLINE_COLUMNS, list(zip(*columns, strict=True)))


def _where(plan: Plan, counts: Ints) -> list[int | None]:
    """Return counts of what is started in containers, None for sowings made outside."""
    pairs = zip(counts.tolist(), plan.container.tolist(), strict=True)
    return [None if container == NO_CONTAINER else count for count, container in pairs]


def ledger_rows(plan: Plan) -> Table:
    """Return positions needed and there are, for each week and place; free is negative when over-full."""
    ledger = plan.ledger
    positions = ledger.positions.tolist()
    rows: list[tuple[Cell, ...]] = []
    for week, needed in zip(ledger.weeks, ledger.needed.tolist(), strict=True):
        name = iso_week(monday_of(week))
        rows += [
            (name, say(place), there, count, there - count)
            for place, there, count in zip(PLACES, positions, needed, strict=True)
        ]
    return Table(("week", "place", "positions", "needed", "free"), rows)


def frost_rows(plan: Plan) -> Table:
    """Return the frost dates at the usual risks and at the garden's own, the likeliest first.

    Returns:
        The risk, the dates at it, and the days from the one to the other; None where freezes are too
        rare to date.
    """
    frost, rows = plan.garden.frost, list[tuple[Cell, ...]]()
    for risk in sorted({*FROST_RISKS, plan.garden.settings.risk}, reverse=True):
        spring, autumn = date_at(frost.spring_on, risk), date_at(frost.autumn_on, risk)
        rows.append((risk, spring, autumn, (autumn - spring).days if spring and autumn else None))
    return Table(("risk", "spring", "autumn", "days"), rows)


def season_rows(plan: Plan) -> Table:
    """Return the season's verdict on each crop card, days to spare (negative when short) and the chance to ripen."""
    rows: list[tuple[Cell, ...]] = [
        (card.name, fit.verdict.value, fit.days_outdoors, fit.days_indoors, round(fit.chance_ripe, CHANCE_DECIMALS))
        for card, fit in zip(plan.garden.cards, plan.fits, strict=True)
    ]
    return Table(("crop", "verdict", "days_outdoors", "days_indoors", "chance_ripe"), rows)


def date_at(date_on: Callable[[float], date], risk: float) -> date | None:
    """Return the date at a risk [fraction], None where freezes come too rarely for one."""
    try:
        return date_on(risk)
    except NoFrostDateError:
        return None


def csv_text(table: Table) -> str:
    """Return a table as CSV: ISO dates, decimal points, texts that look like formulas with a quote in front."""
    lines = [",".join(table.columns)]
    lines += [",".join(_quoted(cell) for cell in row) for row in table.rows]
    return "\n".join(lines) + "\n"


def json_text(table: Table) -> str:
    """Return a table as JSON: a list with an object for each row, null for what is not there."""
    rows = [dict(zip(table.columns, row, strict=True)) for row in table.rows]
    return json.dumps(rows, default=_as_json, ensure_ascii=False, indent=1) + "\n"


def _as_json(value: date | Joined) -> object:
    return value.items if isinstance(value, Joined) else value.isoformat()


def plain_text(table: Table) -> str:
    """Return a table in columns of even width, numbers to the right."""
    cells = [[_text(cell) for cell in row] for row in table.rows]
    widths = [max(map(len, column)) for column in zip(table.columns, *cells, strict=True)]
    is_number = [any(isinstance(cell, int | float) for cell in column) for column in zip(*table.rows, strict=True)] or [
        False
    ] * len(widths)
    lines = [
        "  ".join(
            text.rjust(width) if right else text.ljust(width)
            for text, width, right in zip(line, widths, is_number, strict=True)
        ).rstrip()
        for line in (table.columns, *cells)
    ]
    return "\n".join(lines) + "\n"


def _text(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, float):
        return number_to_cell(cell)
    cell = cell.text if isinstance(cell, Joined) else cell
    return " ".join(cell.split()) if isinstance(cell, str) else str(cell)


def _quoted(cell: Cell) -> str:
    words = cell.text if isinstance(cell, Joined) else cell
    text = text_to_cell(words) if isinstance(words, str) else _text(words)
    if any(character in text for character in ',"\r\n'):
        return '"' + text.replace('"', '""') + '"'
    return text
