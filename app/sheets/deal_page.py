"""A deal in words, before it is accepted: what it comes to, and tray by tray what it changes."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import chain, groupby

import numpy as np

from app.core.calendar import iso_week
from app.core.dealing.placing import PlaceUse
from app.core.dealing.positions import Position
from app.core.dealing.redeal import (
    Changes,
    Part,
    StayOfTray,
    come_and_go,
    list_changes,
    parts_of_trays,
    stays_of_deal,
    stays_of_dealt,
)
from app.core.space.dealt import NOT_DEALT
from app.core.words import PLACES
from app.language import N_, _, nouns, pgettext
from app.services.deal import Proposal
from app.sheets.contents import CropInTray, crops_in
from app.sheets.names import name_words
from app.sheets.tray_words import place_words, position_short
from app.sheets.words import count_words, day_short, day_words, number_words, range_words
from app.sheets.words import iso_week as week_number_words

NEW, OTHER, MOVED, EMPTIED = "new", "other", "moved", "emptied"
FILLED_ON = {False: N_("sown"), True: N_("filled with pots")}


@dataclass(frozen=True, kw_only=True)
class StayLine:
    """Where a tray stands, from which day, or that it waits there for a position."""

    day: str
    place: str
    position: str
    waits: bool


@dataclass(frozen=True, kw_only=True)
class Shift:
    """One thing about a tray that is another than before: what, how it was, how it will be."""

    what: str
    was: str
    will_be: str


@dataclass(frozen=True, kw_only=True)
class TrayOfDeal:
    """One tray that a deal changes.

    Attributes:
        number: Its number.
        is_stored: Whether it has been dealt before.
        container: Name of its container.
        used: Its cells that are taken, as `70 of 72 cells`.
        crops: What will be in it; of a tray that is emptied, what was.
        comes: What comes into it, and how many cells it gets.
        goes: What goes out of it.
        stays: Where it will stand.
        leaves: The day it leaves its last place; empty where it stands nowhere.
        shifts: Of a tray that only stands elsewhere or at other times: how.
    """

    number: int
    is_stored: bool
    container: str
    used: str
    crops: tuple[CropInTray, ...]
    comes: tuple[CropInTray, ...] = ()
    goes: tuple[CropInTray, ...] = ()
    stays: tuple[StayLine, ...] = ()
    leaves: str = ""
    shifts: tuple[Shift, ...] = ()


@dataclass(frozen=True, kw_only=True)
class DayOfDeal:
    """Trays of one day that change in the same way.

    Attributes:
        day: The day on which they are filled.
        numbers: Their numbers in words.
        trays: The trays by number.
    """

    day: date
    numbers: str
    trays: tuple[TrayOfDeal, ...]


@dataclass(frozen=True, kw_only=True)
class Section:
    """All that changes in the same way.

    Attributes:
        kind: `other`, `moved`, `emptied` or `new`.
        count: Trays, on other pages of the list too. [1]
        days: The trays of this page, by day.
    """

    kind: str
    count: int
    days: tuple[DayOfDeal, ...]


@dataclass(frozen=True, kw_only=True)
class PlaceLine:
    """How a place is used over the season: its positions [1], and in words what that means."""

    name: str
    fullest: int
    used: int
    positions: int
    waiting: int
    words: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Waiting:
    """A tray without a position: where and when, and the week of the ledger in which that begins, with its number."""

    number: int
    is_stored: bool
    place: str
    days: str
    week: str
    week_number: str


@dataclass(frozen=True, kw_only=True)
class DealPage:
    """A deal that is not stored yet.

    Attributes:
        facts: The line of facts under the heading.
        summary: What changes, in one sentence; empty where nothing does.
        places: How each place is used.
        waiting: Trays without a position.
        sections: What changes.
        new_labels: Numbers of the trays that get their first label, in words.
        worn_labels: Numbers of those whose label will no longer hold, in words.
    """

    facts: tuple[tuple[str, str], ...]
    summary: str
    places: tuple[PlaceLine, ...]
    waiting: tuple[Waiting, ...]
    sections: tuple[Section, ...]
    new_labels: str
    worn_labels: str


class DealWords:
    """Says a deal in words, a page of its list at a time."""

    def __init__(self, proposal: Proposal) -> None:
        """Take the deal, and find out what it changes."""
        self.proposal = proposal
        self.plan = proposal.plan
        self.changes: Changes = list_changes(proposal.plan, proposal.stays, proposal.deal)
        dealt = self.plan.garden.dealt
        emptied = proposal.deal.emptied
        self._rows: dict[str, Sequence[int]] = {
            OTHER: self.changes.other,
            MOVED: self.changes.moved,
            EMPTIED: tuple(emptied[np.lexsort((dealt.number[emptied], dealt.filled[emptied]))].tolist()),
            NEW: self.changes.new,
        }

    @property
    def count(self) -> int:
        """Return how many trays change. [1]"""
        return sum(map(len, self._rows.values()))

    def page(self, rows: slice = slice(None)) -> DealPage:
        """Return the deal with some of the trays that change; counts are of all."""
        number = self.proposal.deal.number
        worn = [*self.changes.other, *self.changes.moved]
        return DealPage(
            facts=tuple(self._facts()),
            summary=self.summary(),
            places=tuple(place_line(use) for use in self.proposal.deal.places if use.positions or use.overlap),
            waiting=tuple(self._waiting()),
            sections=tuple(self._sections(rows)),
            new_labels=range_words(sorted(number[list(self.changes.new)].tolist())),
            worn_labels=range_words(sorted(number[worn].tolist())),
        )

    def numbers_of_labels(self) -> list[int]:
        """Return the numbers of the trays whose labels are to be made, or made anew."""
        rows = [*self.changes.new, *self.changes.other, *self.changes.moved]
        return sorted(self.proposal.deal.number[rows].tolist()) if rows else []

    def summary(self) -> str:
        """Return what changes in one sentence without its full stop; empty where nothing does."""
        changes = (
            (NEW, *nouns("new tray", "new trays")),
            (OTHER, *nouns("tray gets other contents", "trays get other contents")),
            (MOVED, *nouns("tray stands elsewhere or at other times", "trays stand elsewhere or at other times")),
            (EMPTIED, *nouns("tray is emptied", "trays are emptied")),
        )
        counts = {kind: len(rows) for kind, rows in self._rows.items()}
        return ", ".join(count_words(counts[kind], one, many) for kind, one, many in changes if counts[kind])

    def _facts(self) -> Iterator[tuple[str, str]]:
        deal, dealt = self.proposal.deal, self.plan.garden.dealt
        stored = deal.stored[deal.stored != NOT_DEALT]
        sown, pinned = int(dealt.is_filled[stored].sum()), int((dealt.is_pinned & ~dealt.is_filled)[stored].sum())
        boxes = np.array([box.cells_per_tray for box in self.plan.garden.containers], dtype=np.int64)
        used = int(self.plan.trays.part_cells[np.isin(self.plan.trays.part_tray, deal.tray)].sum())
        yield _("Trays"), _fewest_words(len(deal.tray), sown, pinned)
        all_cells = int(boxes[deal.container].sum())
        yield _("Cells"), _("%(part)s of %(all)s", part=number_words(used), all=number_words(all_cells))
        if sown:
            yield _("Sown already, not dealt anew"), count_words(sown, "tray", "trays")
        if pinned:
            yield pgettext("trays", "Pinned"), count_words(pinned, "tray", "trays")

    def _waiting(self) -> Iterator[Waiting]:
        deal = self.proposal.deal
        for stay in self.changes.waiting:
            tray = int(deal.stay_tray[stay])
            begin, end = (date.fromordinal(int(days[stay])) for days in (deal.stay_begin, deal.stay_end))
            yield Waiting(
                number=int(deal.number[tray]),
                is_stored=bool(deal.stored[tray] != NOT_DEALT),
                place=place_words(PLACES[deal.stay_place[stay]]),
                days=f"{day_words(begin)} – {day_words(end)}",
                week=iso_week(begin),
                week_number=week_number_words(begin),
            )

    def _sections(self, rows: slice) -> Iterator[Section]:
        listed = [(kind, row) for kind, found in self._rows.items() for row in found][rows]
        maker = _Maker(self, [row for kind, row in listed if kind != EMPTIED])
        for kind, group in groupby(listed, key=lambda one: one[0]):
            trays = [row for _, row in group]
            yield Section(kind=kind, count=len(self._rows[kind]), days=tuple(self._days(kind, trays, maker)))

    def _days(self, kind: str, rows: list[int], maker: "_Maker") -> Iterator[DayOfDeal]:
        make: Callable[[int], TrayOfDeal] = {
            NEW: maker.tray,
            OTHER: maker.tray,
            MOVED: maker.moved,
            EMPTIED: maker.emptied,
        }[kind]
        filled = self.plan.garden.dealt.filled if kind == EMPTIED else self.proposal.deal.filled
        for day, group in groupby(rows, key=lambda row: int(filled[row])):
            trays = tuple(sorted(map(make, group), key=lambda tray: tray.number))
            yield DayOfDeal(day=date.fromordinal(day), numbers=range_words(tray.number for tray in trays), trays=trays)


def _fewest_words(trays: int, sown: int, pinned: int) -> str:
    count = number_words(trays)
    if not trays:
        return pgettext("trays", "none")
    if sown and pinned:
        return _("%(count)s, the fewest around those that are sown or pinned", count=count)
    if sown:
        return _("%(count)s, the fewest around those that are sown", count=count)
    if pinned:
        return _("%(count)s, the fewest around those that are pinned", count=count)
    return _("%(count)s, the fewest", count=count)


class _Maker:
    """Makes the lines of trays; what it needs of many trays it looks up once."""

    def __init__(self, words: DealWords, rows: list[int]) -> None:
        self.plan, self.deal = words.plan, words.proposal.deal
        trays, dealt = self.plan.trays, self.plan.garden.dealt
        stored = self.deal.stored[rows] if rows else np.zeros(0, dtype=np.int64)
        self.parts = parts_of_trays(trays.part_tray, trays.part_lot, trays.part_cells, self.deal.tray[rows])
        before = np.append(stored[stored != NOT_DEALT], self.deal.emptied)
        self.parts_before = parts_of_trays(dealt.part_tray, dealt.part_lot, dealt.part_cells, before)
        self.stays, self.stays_before = stays_of_deal(self.deal), stays_of_dealt(words.proposal.stays)

    def tray(self, row: int) -> TrayOfDeal:
        """Return a tray that is new or gets other contents."""
        stored = int(self.deal.stored[row])
        comes, goes = come_and_go(self.parts_before.get(stored, ()), self._parts(row))
        is_stored = stored != NOT_DEALT
        return replace(self._line(row), comes=self._crops(comes) if is_stored else (), goes=self._crops(goes))

    def moved(self, row: int) -> TrayOfDeal:
        """Return a tray that stands elsewhere or at other times."""
        stored = int(self.deal.stored[row])
        return replace(self._line(row), shifts=tuple(self._shifts(row, stored)))

    def emptied(self, stored: int) -> TrayOfDeal:
        """Return a tray that nobody needs any more."""
        dealt = self.plan.garden.dealt
        parts = self.parts_before.get(stored, ())
        return TrayOfDeal(
            number=int(dealt.number[stored]),
            is_stored=True,
            container=self._box(int(dealt.container[stored])),
            used=self._used(int(dealt.container[stored]), parts),
            crops=self._crops(parts),
        )

    def _parts(self, row: int) -> tuple[Part, ...]:
        return self.parts.get(int(self.deal.tray[row]), ())

    def _line(self, row: int) -> TrayOfDeal:
        parts, stays, box = self._parts(row), self.stays.get(row, ()), int(self.deal.container[row])
        return TrayOfDeal(
            number=int(self.deal.number[row]),
            is_stored=bool(self.deal.stored[row] != NOT_DEALT),
            container=self._box(box),
            used=self._used(box, parts),
            crops=self._crops(parts),
            stays=tuple(
                StayLine(
                    day=day_short(date.fromordinal(stay.begin)),
                    place=_place_words(stay),
                    position=self._position(stay.position),
                    waits=stay.position is None,
                )
                for stay in stays
            ),
            leaves=day_short(date.fromordinal(stays[-1].end)) if stays else "",
        )

    def _shifts(self, row: int, stored: int) -> Iterator[Shift]:
        was, is_now = (int(days) for days in (self.plan.garden.dealt.filled[stored], self.deal.filled[row]))
        if was != is_now:
            what = _(FILLED_ON[bool(self.deal.is_potted_on[row])])
            yield Shift(what=what, was=_day(was), will_be=_day(is_now))
        before, after = self.stays_before.get(stored, ()), self.stays.get(row, ())
        for place in sorted({stay.place for stay in chain(before, after)}):
            old, new = (tuple(stay for stay in stays if stay.place == place) for stays in (before, after))
            if old != new:
                yield Shift(what=place_words(PLACES[place]), was=self._stays_words(old), will_be=self._stays_words(new))

    def _stays_words(self, stays: tuple[StayOfTray, ...]) -> str:
        return "; ".join(map(self._stay_words, stays)) or _("not there")

    def _stay_words(self, stay: StayOfTray) -> str:
        position = self._position(stay.position)
        if stay.is_pinned:
            position = _("%(position)s, pinned", position=position)
        first, last = (day_short(date.fromordinal(day)) for day in (stay.begin, stay.end))
        return f"{position}, {first} – {last}"

    def _position(self, position: Position | None) -> str:
        if position is None:
            return position_short(None, None, None)
        return position_short(self.plan.garden.shelves[position.shelf].name, position.level, position.slot)

    def _crops(self, parts: Iterable[Part]) -> tuple[CropInTray, ...]:
        return crops_in(self.plan, parts)

    def _box(self, container: int) -> str:
        return name_words(self.plan.garden.containers[container].name)

    def _used(self, container: int, parts: tuple[Part, ...]) -> str:
        cells = self.plan.garden.containers[container].cells_per_tray
        used = sum(count for _lot, count in parts)
        return _("%(part)s of %(all)s", part=used, all=count_words(cells, "cell", "cells"))


def _place_words(stay: StayOfTray) -> str:
    return place_words(PLACES[stay.place])


def _day(day: int) -> str:
    return day_words(date.fromordinal(day))


def place_line(use: PlaceUse) -> PlaceLine:
    """Return how a place is used, in words."""
    return PlaceLine(
        name=place_words(PLACES[use.place]).capitalize(),
        fullest=use.overlap,
        used=use.used,
        positions=use.positions,
        waiting=use.waiting,
        words=tuple(_use_words(use)),
    )


def _use_words(use: PlaceUse) -> Iterator[str]:
    if not use.is_fewest:
        yield _("It is not proven that fewer would not do.")
    elif use.waiting:
        yield _(
            "%(trays)s at some time, the fewest that must.",
            trays=count_words(use.waiting, "tray waits", "trays wait"),
        )
    elif use.used > use.overlap:
        yield _("The fewest that what stands and what is pinned allow.")
    elif use.used:
        yield _("The fewest: as many as trays on the fullest day.")
    else:
        yield _("Not used.")
    for number in use.costly_pins:
        if use.waiting:
            yield _("The pin of tray %(number)s costs one position or lets one tray more wait.", number=number)
        else:
            yield _("The pin of tray %(number)s costs one position.", number=number)


def days_to_deal(filled: Iterable[int], from_day: int) -> list[tuple[date, int]]:
    """Return the days on which trays are filled, from a day on, each with how many.

    Args:
        filled: The day of each tray. [day number]
        from_day: The first day that counts. [day number]
    """
    counts = Counter(day for day in filled if day >= from_day)
    return [(date.fromordinal(day), count) for day, count in sorted(counts.items())]
