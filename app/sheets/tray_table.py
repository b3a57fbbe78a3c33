"""The trays as a table: in which cells, in which places, since when and where."""

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from app.core.dealing.positions import Position
from app.core.dealing.redeal import Part, StayOfTray, list_changes, parts_of_trays, stays_of_deal
from app.core.plan import Plan
from app.core.words import PLACES
from app.language import _
from app.services.deal import Proposal
from app.sheets.fixed_words import say
from app.sheets.tables import Cell, Joined, Table
from app.sheets.tray_words import position_words

if TYPE_CHECKING:
    from collections.abc import Iterable

COLUMNS = ("tray", "container", "sow_on", "places", "position", "cells_used", "cells", "sowings", "dealt")


@dataclass(frozen=True)
class _Tray:
    """A tray of the table; `parts` are indices of sowings and their cells, `filled` a day number."""

    number: int
    container: int
    filled: int
    parts: tuple[Part, ...]
    stays: tuple[StayOfTray, ...]
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
    deal, trays = proposal.deal, proposal.plan.trays
    parts = parts_of_trays(trays.part_tray, trays.part_lot, trays.part_cells, deal.tray)
    stays = stays_of_deal(deal)
    same = set(list_changes(proposal.plan, proposal.stays, deal).same)
    for row, tray in enumerate(deal.tray.tolist()):
        yield _Tray(
            number=int(deal.number[row]),
            container=int(deal.container[row]),
            filled=int(deal.filled[row]),
            parts=parts[tray],
            stays=stays.get(row, ()),
            is_dealt=row in same,
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


def _row(plan: Plan, tray: _Tray) -> tuple[Cell, ...]:
    box, names = plan.garden.containers[tray.container], plan.garden.sowings.names
    places = [
        {"place": PLACES[stay.place].value, "from": date.fromordinal(stay.begin), "to": date.fromordinal(stay.end)}
        for stay in tray.stays
    ]
    positions = [_position(plan, stay.position) for stay in tray.stays]
    sowings = [{"sowing": names[lot], "cells": cells} for lot, cells in tray.parts]
    return (
        tray.number,
        box.name,
        date.fromordinal(tray.filled),
        Joined(places, "; ".join(map(_stay_words, tray.stays))),
        Joined(positions, "; ".join(_("waits") if position is None else position for position in positions)),
        sum(cells for _, cells in tray.parts),
        box.cells_per_tray,
        Joined(sowings, "; ".join("{sowing} {cells}".format(**part) for part in sowings)),
        _("yes") if tray.is_dealt else _("no"),
    )


def _stay_words(stay: StayOfTray) -> str:
    return _(
        "%(place)s %(first)s to %(last)s",
        place=say(PLACES[stay.place]),
        first=date.fromordinal(stay.begin),
        last=date.fromordinal(stay.end),
    )


def _position(plan: Plan, position: Position | None) -> str | None:
    if position is None:
        return None
    return position_words(plan.garden.shelves[position.shelf].name, position.level, position.slot)
