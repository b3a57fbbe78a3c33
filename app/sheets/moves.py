"""The moves of a week as a walking list: by day and shelf, what is carried where and why."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np

from app.core.calendar import NO_DAY, iso_week
from app.core.dealing.redeal import Part, parts_of_trays
from app.core.folded import fold
from app.core.words import PLACES, Place
from app.language import N_, _, nouns, pgettext
from app.services.moves import Move
from app.sheets.cautions import ELECTRICITY, Caution
from app.sheets.names import name_words
from app.sheets.tray_words import leaving_words, place_words, position_short
from app.sheets.words import count_words, day_words, day_year, week_words
from app.sheets.words import iso_week as week_number_words

if TYPE_CHECKING:
    from app.core.plan import Plan
    from app.storage.queries.trays import StayRow

CURRENT = frozenset({Place.HEAT, Place.LAMP})
BY_HAND = N_("moved by hand")  # said by `_`


@dataclass(frozen=True, kw_only=True)
class MoveLine:
    """A tray that is carried.

    Attributes:
        tray: Its number.
        crops: What is in it.
        here: Level and position where it stands, as `2·3`; `new` for a tray that is only filled.
        stood: The same with the name of the shelf.
        there: Where it goes; `leaves` for one that leaves its last place.
        why: The reason.
        waits: There is no position where it should go.
        is_new: It is filled on this day.
        leaves: It leaves its last place.
    """

    tray: int
    crops: str
    here: str
    stood: str
    there: str
    why: str
    waits: bool
    is_new: bool
    leaves: bool


@dataclass(frozen=True, kw_only=True)
class ShelfOfMoves:
    """The moves that begin at one shelf on a day, in the order of a walk along it."""

    head: str
    lines: tuple[MoveLine, ...]


@dataclass(frozen=True, kw_only=True)
class DayOfMoves:
    """The moves of a day.

    Attributes:
        iso: The day as it stands in addresses.
        day: The day in words.
        moves: How many on this day, on other pages of the list too. [1]
        shelves: Those of this page, by shelf.
    """

    iso: str
    day: str
    moves: int
    shelves: tuple[ShelfOfMoves, ...]


@dataclass(frozen=True, kw_only=True)
class WaitingLine:
    """A tray without a position: where it should stand from when to when, and where it stood before."""

    tray: int
    crops: str
    place: str
    since: str
    until: str
    stood: str


@dataclass(frozen=True, kw_only=True)
class MovesSheet:
    """The moves of one week.

    Attributes:
        garden: Name of the garden.
        week: The days of the week, as `5 – 11 Apr`.
        number: The ISO week after them, as `W14`.
        iso: The same with its year, as `2027-W14`.
        year: The year of the week's Monday.
        printed: The day it was made, in words.
        sums: What there is to do, in words; empty where nothing is.
        waiting: Trays that have no position at some time of the week.
        days: The moves by day.
        moved_on: Trays that the plan has otherwise by now, in words; empty where none is.
        cautions: What to mind.
    """

    garden: str
    week: str
    number: str
    iso: str
    year: int
    printed: str
    sums: str
    waiting: tuple[WaitingLine, ...]
    days: tuple[DayOfMoves, ...]
    moved_on: str
    cautions: tuple[Caution, ...]


@dataclass(frozen=True, kw_only=True)
class WeekOfMoves:
    """What a week's sheet is made from.

    Attributes:
        monday: First day of the week.
        today: The day that is printed as that of the making.
        moves: The moves of the week, by day.
        waiting: Stays without a position that share a day with it.
        outdated: Trays that the plan has otherwise by now. [1]
    """

    monday: date
    today: date
    moves: list[Move]
    waiting: "list[StayRow]"
    outdated: int


def make_moves_sheet(plan: "Plan", of: WeekOfMoves, rows: slice = slice(None)) -> MovesSheet:
    """Return the moves of a week in words.

    Args:
        plan: The garden's plan.
        of: The week.
        rows: Which of the moves stand on this page; counts are of all.
    """
    words = TrayWords(plan, {stay.tray_id for stay in [*(move.here for move in of.moves), *of.waiting]})
    places = {stay.place for move in of.moves for stay in (move.before, move.after) if stay is not None}
    return MovesSheet(
        garden=plan.garden.settings.name,
        week=week_words(of.monday),
        number=week_number_words(of.monday),
        iso=iso_week(of.monday),
        year=of.monday.year,
        printed=day_year(of.today),
        sums=sums_words(of.moves),
        waiting=tuple(_waiting(words, of)),
        days=tuple(_days(words, of.moves, rows)),
        moved_on=count_words(of.outdated, "tray", "trays") if of.outdated else "",
        cautions=(ELECTRICITY.said,) if places & CURRENT else (),
    )


def sums_words(moves: list[Move]) -> str:
    """Return how many trays are carried, in words; empty where none is."""
    new = sum(move.before is None for move in moves)
    gone = sum(move.after is None for move in moves)
    moved = len(moves) - new - gone
    parts = (
        (gone, *nouns("tray leaves", "trays leave")),
        (moved, *nouns("tray changes its place", "trays change their place")),
        (new, *nouns("new tray", "new trays")),
    )
    return ", ".join(count_words(count, one, many) for count, one, many in parts if count)


class TrayWords:
    """Says what is in dealt trays, and why they are carried."""

    def __init__(self, plan: "Plan", tray_ids: set[int]) -> None:
        """Look up what is in some trays, given by their ids."""
        dealt = plan.garden.dealt
        self._plan = plan
        self._index = {tray: index for index, tray in enumerate(dealt.ids.tolist()) if tray in tray_ids}
        wanted = np.fromiter(self._index.values(), dtype=np.int64, count=len(self._index))
        self._parts = parts_of_trays(dealt.part_tray, dealt.part_lot, dealt.part_cells, wanted)

    def parts(self, tray_id: int) -> tuple[Part, ...]:
        """Return the sowings in a tray, and their cells."""
        return self._parts.get(self._index.get(tray_id, -1), ())

    def crops(self, tray_id: int) -> str:
        """Return the names of the crops in a tray."""
        sowings, cards = self._plan.garden.sowings, self._plan.garden.cards
        names = {name_words(cards[sowings.crop[lot]].name) for lot, _ in self.parts(tray_id)}
        return ", ".join(sorted(names, key=fold))

    def why(self, move: Move) -> str:
        """Return why a tray is carried."""
        before, after, tray = move.before, move.after, self._index.get(move.here.tray_id)
        is_potted = tray is not None and bool(self._plan.garden.dealt.is_potted_on[tray])
        if after is None:
            pot_on = self._plan.timeline.pot_on
            is_next = not is_potted and any(pot_on[lot] != NO_DAY for lot, _ in self.parts(move.here.tray_id))
            return leaving_words(move.here.place, is_potted_next=is_next)
        if before is None:
            filled = None if tray is None else int(self._plan.garden.dealt.filled[tray])
            if after.pinned and filled != move.day.toordinal():
                return _(BY_HAND)
            return _("pots are filled") if is_potted else _("to sow")
        if after.place is Place.HARDENING:
            return _("to harden")
        if before.place is Place.HEAT:
            return _("has come up")
        return _("another place")

    def line(self, move: Move) -> MoveLine:
        """Return a move in words."""
        return MoveLine(
            tray=move.here.tray,
            crops=self.crops(move.here.tray_id),
            here=_here(move.before),
            stood=_new() if move.before is None else _at(move.before),
            there=pgettext("a tray", "leaves") if move.after is None else _at(move.after),
            why=self.why(move),
            waits=move.after is not None and move.after.shelf is None,
            is_new=move.before is None,
            leaves=move.after is None,
        )


def _new() -> str:
    return pgettext("a tray", "new")


def _here(stay: "StayRow | None") -> str:
    if stay is None:
        return _new()
    return _("waits") if stay.shelf is None else f"{stay.level}·{stay.slot}"


def _at(stay: "StayRow") -> str:
    if stay.shelf is None:
        return _("no position, %(place)s", place=place_words(stay.place))
    return position_short(stay.shelf, stay.level, stay.slot)


def _waiting(words: TrayWords, of: WeekOfMoves) -> Iterator[WaitingLine]:
    stood = {move.after.id: move.before for move in of.moves if move.after is not None and move.before is not None}
    for stay in of.waiting:
        before = stood.get(stay.id)
        yield WaitingLine(
            tray=stay.tray,
            crops=words.crops(stay.tray_id),
            place=place_words(stay.place),
            since=day_words(stay.begin_on),
            until=day_words(stay.end_on),
            stood="" if before is None else _at(before),
        )


def _days(words: TrayWords, moves: list[Move], rows: slice) -> Iterator[DayOfMoves]:
    counts = {day: len(list(group)) for day, group in groupby(moves, key=lambda move: move.day)}
    listed = sorted(moves, key=lambda move: (move.day, *_walk(move)))[rows]
    for day, of_day in groupby(listed, key=lambda move: move.day):
        yield DayOfMoves(
            iso=day.isoformat(),
            day=day_words(day),
            moves=counts[day],
            shelves=tuple(_shelves(words, of_day)),
        )


def _shelves(words: TrayWords, moves: Iterable[Move]) -> Iterator[ShelfOfMoves]:
    for head, group in groupby(moves, key=_head):
        yield ShelfOfMoves(head=head, lines=tuple(map(words.line, group)))


def _walk(move: Move) -> tuple[int, int, str, int, int, int]:
    """Return the order of a walk from the last place to the first, so that a position is free when its tray comes.

    New trays come last, by where they go.
    """
    stay, is_new = move.here, move.before is None
    place = PLACES.index(stay.place)
    return int(is_new), -place, stay.shelf or "", stay.level or 0, stay.slot or 0, stay.tray


def _head(move: Move) -> str:
    stay = move.here
    where = f"{stay.shelf}, {place_words(stay.place)}" if stay.shelf else _at(stay)
    return _("New trays: %(where)s", where=where) if move.before is None else where[:1].upper() + where[1:]
