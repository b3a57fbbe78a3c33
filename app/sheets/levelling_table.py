"""An answer of levelling as tables and as JSON: what changes, who is left out, and what it would take."""

import json
from collections.abc import Iterator
from typing import Any

from app.core.calendar import as_date
from app.core.fitting.answer import Answer
from app.core.fitting.explain import Alternative, Change, Explained, LeftOut
from app.core.words import PLACES
from app.sheets.levelling_words import alternative_words, left_out_words, why_words
from app.sheets.tables import Cell, Table, csv_text, plain_text

MOVED = ("sowing", "grower", "crop", "from", "to", "from_place", "to_place", "why")
LEFT_OUT = ("sowing", "grower", "crop", "plants", "placed", "why", "alternative")
DECIMALS = 4  # of goals in tables; JSON has them whole
BOTH = ("what", *MOVED[:-1], *LEFT_OUT[3:])


def levelling_json(answer: Answer, explained: Explained) -> str:
    """Return an answer as one JSON object; the gap is a fraction, days are ISO days.

    Extra positions are null where the search was over before they were known.
    """
    extra = answer.extra
    found = {
        "goals": [_goal(row) for row in _goals(answer)],
        "gap": answer.gap,
        "moved": [dict(zip(MOVED, row, strict=True)) for row in _moved(answer, explained)],
        "left_out": [
            dict(zip(LEFT_OUT, (*row[:-1], _alternative(one.alternative)), strict=True))
            for row, one in zip(_left_out(answer, explained), explained.left_out, strict=True)
        ],
        "extra_positions": None
        if extra is None
        else {place.value: count for place, count in zip(PLACES, extra.positions, strict=True)},
    }
    return json.dumps(found, default=lambda day: day.isoformat(), ensure_ascii=False, indent=1) + "\n"


def levelling_csv(answer: Answer, explained: Explained) -> str:
    """Return what moves and who is left out as one CSV table, a row for each."""
    rows: list[tuple[Cell, ...]] = [
        ("moved", *row[:-1], None, None, row[-1], None) for row in _moved(answer, explained)
    ]
    rows += [("left out", *row[:3], *[None] * 4, *row[3:]) for row in _left_out(answer, explained)]
    return csv_text(Table(BOTH, rows))


def levelling_text(answer: Answer, explained: Explained) -> str:
    """Return an answer as tables one below the other, those without rows left away."""
    extra = answer.extra
    positions: list[tuple[Cell, ...]] = []
    if extra is not None:
        positions = [(place.value, count) for place, count in zip(PLACES, extra.positions, strict=True)]
    tables = (
        Table(("goal", "value", "bound", "gap"), [_rounded(row) for row in _goals(answer)]),
        Table(MOVED, list(_moved(answer, explained))),
        Table(LEFT_OUT, list(_left_out(answer, explained))),
        Table(("place", "extra_positions"), positions),
    )
    return "\n".join(plain_text(table) for table in tables if table.rows)


def _goals(answer: Answer) -> list[tuple[Cell, ...]]:
    return [(reached.goal.value, reached.value, reached.bound, reached.gap) for reached in answer.reached]


def _rounded(row: tuple[Cell, ...]) -> tuple[Cell, ...]:
    return tuple(round(cell, DECIMALS) if isinstance(cell, float) else cell for cell in row)


def _goal(row: tuple[Cell, ...]) -> dict[str, Cell]:
    return dict(zip(("name", "value", "bound", "gap"), row, strict=True))


def _moved(answer: Answer, explained: Explained) -> Iterator[tuple[Cell, ...]]:
    """Give a row for each sowing that comes to another day or place, or gets more than before."""
    for change in explained.changes:
        if change.placed[1] and (_is_elsewhere(change) or change.placed[1] > change.placed[0]):
            days = (as_date(day) for day in change.day)
            places = (PLACES[light].value if light >= 0 else None for light in change.light)
            yield *_names(answer, change.sowing), *days, *places, why_words(change)


def _is_elsewhere(change: Change) -> bool:
    return change.day[0] != change.day[1] or change.light[0] != change.light[1]


def _left_out(answer: Answer, explained: Explained) -> Iterator[tuple[Cell, ...]]:
    for one in explained.left_out:
        names = _names(answer, one.sowing)
        yield *names, one.wanted, one.placed, left_out_words(one), _alternative_words(answer, one)


def _alternative_words(answer: Answer, one: LeftOut) -> str:
    return alternative_words(one.alternative, answer.before)


def _alternative(one: Alternative | None) -> dict[str, Any] | None:
    if one is None:
        return None
    return {"weeks": one.weeks, "sow_on": as_date(one.sow_on), "plant_out": as_date(one.plant_out)}


def _names(answer: Answer, sowing: int) -> tuple[str, str, str]:
    garden, sowings = answer.garden, answer.garden.sowings
    grower, crop = garden.growers[sowings.grower[sowing]], garden.cards[sowings.crop[sowing]]
    return sowings.names[sowing], grower.name, crop.name
