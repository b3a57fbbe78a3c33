"""The trays as a table: in which cells, in which places, since when and where."""

from dataclasses import dataclass
from datetime import date
from itertools import groupby
from operator import itemgetter
from typing import TYPE_CHECKING

import numpy as np

from app.core.dealt import NOT_DEALT
from app.core.placing import DealtStays
from app.core.plan import Plan
from app.core.positions import Position
from app.core.words import PLACES
from app.services.deal import Proposal
from app.sheets.tables import Cell, Joined, Table
from app.sheets.tray_words import position_words

if TYPE_CHECKING:
    from collections.abc import Iterable

COLUMNS = ("tray", "container", "sow_on", "places", "position", "cells_used", "cells", "sowings", "dealt")
WAITS = "waits"

# Place, position, first day and the day after the last.
_Stay = tuple[int, Position | None, int, int]


@dataclass(frozen=True)
class _Tray:
    """A tray of the table; `parts` are indices of sowings and their cells, `filled` a day number."""

    number: int
    container: int
    filled: int
    parts: tuple[tuple[int, int], ...]
    stays: tuple[_Stay, ...]
    is_dealt: bool


def tray_rows(proposal: Proposal, days: tuple[date, date] | None = None) -> Table:
    """Return the trays of a deal by number, those too that would be empty after it or are so already.

    Args:
        proposal: The deal, stored or not.
        days: First and last day; trays without sowings count if they are of these days, all where none are given.
    """
    plan = proposal.plan
    trays = sorted([*_dealt(proposal), *_without_sowings(proposal, days)], key=lambda tray: tray.number)
    return Table(COLUMNS, [_row(plan, tray) for tray in trays])


def _dealt(proposal: Proposal) -> "Iterable[_Tray]":
    """Yield the trays of the deal; one counts as dealt when it is stored just so."""
    deal, before = proposal.deal, proposal.plan.garden.dealt
    parts, stays = _parts_of_trays(proposal.plan), _stays_of_deal(proposal)
    stored_stays = _stays_of_dealt(proposal.stays)
    for row, tray in enumerate(deal.tray.tolist()):
        stored = int(deal.stored[row])
        is_same = (
            stored != NOT_DEALT
            and not deal.is_changed[row]
            and before.filled[stored] == deal.filled[row]
            and stored_stays.get(stored, ()) == stays.get(row, ())
        )
        yield _Tray(
            number=int(deal.number[row]),
            container=int(deal.container[row]),
            filled=int(deal.filled[row]),
            parts=parts[tray],
            stays=stays.get(row, ()),
            is_dealt=is_same,
        )


def _without_sowings(proposal: Proposal, days: tuple[date, date] | None) -> "Iterable[_Tray]":
    deal, dealt = proposal.deal, proposal.plan.garden.dealt
    is_empty = np.ones(len(dealt), dtype=bool)
    is_empty[dealt.part_tray] = False
    if days is not None:
        first, last = (day.toordinal() for day in days)
        is_empty &= (dealt.filled >= first) & (dealt.filled <= last)
    emptied = set(deal.emptied.tolist())
    for stored in sorted(emptied | set(np.flatnonzero(is_empty).tolist())):
        yield _Tray(
            number=int(dealt.number[stored]),
            container=int(dealt.container[stored]),
            filled=int(dealt.filled[stored]),
            parts=(),
            stays=(),
            is_dealt=stored not in emptied,
        )


def _parts_of_trays(plan: Plan) -> dict[int, tuple[tuple[int, int], ...]]:
    trays = plan.trays
    rows = sorted(zip(trays.part_tray.tolist(), trays.part_lot.tolist(), trays.part_cells.tolist(), strict=True))
    return {tray: tuple((lot, cells) for _, lot, cells in parts) for tray, parts in groupby(rows, key=itemgetter(0))}


def _stays_of_deal(proposal: Proposal) -> dict[int, tuple[_Stay, ...]]:
    deal = proposal.deal
    columns = (column.tolist() for column in (deal.stay_tray, deal.stay_place, deal.stay_begin, deal.stay_end))
    rows = [
        (tray, (place, position, begin, end))
        for tray, place, begin, end, position in zip(*columns, deal.stay_position, strict=True)
    ]
    return _by_tray(rows)


def _stays_of_dealt(stays: DealtStays) -> dict[int, tuple[_Stay, ...]]:
    columns = (stays.tray, stays.place, stays.shelf, stays.level, stays.slot, stays.begin, stays.end)
    rows = [
        (tray, (place, None if shelf < 0 else Position(shelf, level, slot), begin, end))
        for tray, place, shelf, level, slot, begin, end in zip(*(column.tolist() for column in columns), strict=True)
    ]
    return _by_tray(rows)


def _by_tray(rows: list[tuple[int, _Stay]]) -> dict[int, tuple[_Stay, ...]]:
    found: dict[int, list[_Stay]] = {}
    for tray, stay in rows:
        found.setdefault(tray, []).append(stay)
    return {tray: tuple(sorted(stays, key=itemgetter(2))) for tray, stays in found.items()}


def _row(plan: Plan, tray: _Tray) -> tuple[Cell, ...]:
    box, names = plan.garden.containers[tray.container], plan.garden.sowings.names
    places = [
        {"place": PLACES[place].value, "from": date.fromordinal(begin), "to": date.fromordinal(end)}
        for place, _, begin, end in tray.stays
    ]
    positions = [_position(plan, position) for _, position, _, _ in tray.stays]
    sowings = [{"sowing": names[lot], "cells": cells} for lot, cells in tray.parts]
    return (
        tray.number,
        box.name,
        date.fromordinal(tray.filled),
        Joined(places, "; ".join("{place} {from} to {to}".format(**place) for place in places)),
        Joined(positions, "; ".join(WAITS if position is None else position for position in positions)),
        sum(cells for _, cells in tray.parts),
        box.cells_per_tray,
        Joined(sowings, "; ".join("{sowing} {cells}".format(**part) for part in sowings)),
        "yes" if tray.is_dealt else "no",
    )


def _position(plan: Plan, position: Position | None) -> str | None:
    if position is None:
        return None
    return position_words(plan.garden.shelves[position.shelf].name, position.level, position.slot)
