"""The weekly shelf sheet: what stands in each place, what comes and goes, and room to write it down."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import chain, groupby

from app.core.calendar import DAYS_IN_WEEK, as_day, iso_week
from app.core.plan import Plan
from app.core.week import StandingTray, trays_between
from app.core.words import HARDENING, HEAT, LAMP, PLACES, Units
from app.sheets.bars import UseBar, use_bar
from app.sheets.cautions import COVERS, ELECTRICITY, MIX_DUST, Caution
from app.sheets.contents import CropInTray, crops_in
from app.sheets.units import temperature_words, volume_words
from app.sheets.words import count_words, day_words, day_year, range_words, week_words
from app.sheets.words import iso_week as week_number_words

BLANK_LINES = 3
SOWN, POTTED_ON = "sown", "potted on"
HANDED_OUT, OUT_TO_HARDEN = "handed out", "out to harden"


@dataclass(frozen=True, kw_only=True)
class TrayLine:
    """One tray on the sheet, or several that differ in nothing but their cells.

    Attributes:
        rows: Its number on this sheet, as `7`, or `7 – 9` for three trays.
        trays: How many trays. [1]
        container: Name of the container.
        cell: Volume of a cell, in words.
        cells: Cells in use, as `70 of 72` or `128 + 72 of 128`.
        since: The day it comes here, in words.
        until: The day it goes, in words.
        comes: It comes in this week.
        goes: It goes out this week.
        crops: What stands in it.
    """

    rows: str
    trays: int
    container: str
    cell: str
    cells: str
    since: str
    until: str
    comes: bool
    goes: bool
    crops: tuple[CropInTray, ...]


@dataclass(frozen=True, kw_only=True)
class Move:
    """Trays that come into a place or leave it on a day of the week.

    Attributes:
        day: The day, in words.
        comes: They come in; else they go out.
        how: As `sown`, `from heat`, `potted on`, `to lamp` or `handed out`.
        trays: How many. [1]
        rows: Their numbers on this sheet, as `1 – 4, 9`.
    """

    day: str
    comes: bool
    how: str
    trays: int
    rows: str


@dataclass(frozen=True, kw_only=True)
class PlaceOnSheet:
    """One place in the week.

    Attributes:
        name: The place.
        bar: Needed on the fullest day, positions, free and over.
        use: The same in words.
        fullest: The first day on which so many trays stand here, in words; empty where none does.
        shelves: Each shelf with its positions, in words.
        trays: Trays that stand here at some time in the week. [1]
        moves: What comes in and goes out, by day.
        lines: The trays, by the day they come.
        cautions: What to mind here.
    """

    name: str
    bar: UseBar
    use: str
    fullest: str
    shelves: tuple[str, ...]
    trays: int
    moves: tuple[Move, ...]
    lines: tuple[TrayLine, ...]
    cautions: tuple[Caution, ...]


@dataclass(frozen=True, kw_only=True)
class WeeklySheet:
    """The shelf sheet of one week.

    Attributes:
        garden: Name of the garden.
        week: The days of the week, as `5 – 11 Apr`.
        number: The ISO week after them, as `W14`.
        iso: The same with its year, as `2027-W14`.
        year: The year of the week's Monday.
        printed: The day it was made, in words.
        places: The four places, in the order of the ledger.
        trays: Rows for trays on the sheet. [1]
        blank_lines: Empty rows after each place's trays. [1]
    """

    garden: str
    week: str
    number: str
    iso: str
    year: int
    printed: str
    places: tuple[PlaceOnSheet, ...]
    trays: int
    blank_lines: int = BLANK_LINES


def make_weekly_sheet(plan: Plan, monday: date, *, units: Units, today: date) -> WeeklySheet:
    """Return the shelf sheet of a week.

    Args:
        plan: The garden's plan.
        monday: The first day of the week.
        units: In which quantities are said.
        today: The day that is printed as that of the making.
    """
    begin = as_day(monday)
    # From the day before, so that a tray that goes on the Monday is there to be carried.
    standing = trays_between(plan, begin - 1, begin + DAYS_IN_WEEK)
    maker = _Maker(plan, begin, units)
    places = tuple(
        maker.place(place, [(row, tray) for row, tray in enumerate(standing, start=1) if tray.place == place])
        for place in range(len(PLACES))
    )
    return WeeklySheet(
        garden=plan.garden.settings.name,
        week=week_words(monday),
        number=week_number_words(monday),
        iso=iso_week(monday),
        year=monday.year,
        printed=day_year(today),
        places=places,
        trays=len(standing),
    )


@dataclass(frozen=True)
class _Maker:
    """Puts the parts of a sheet together.

    Attributes:
        plan: The garden's plan.
        begin: First day of the week. [day number]
        units: In which quantities are said.
    """

    plan: Plan
    begin: int
    units: Units

    def place(self, place: int, rows: list[tuple[int, StandingTray]]) -> PlaceOnSheet:
        """Return one place with its numbered trays."""
        needed, fullest = self.fullest(rows)
        bar = use_bar(needed, int(self.plan.ledger.positions[place]))
        moves = self.moves(rows)
        return PlaceOnSheet(
            name=PLACES[place].value.capitalize(),
            bar=bar,
            use=f"{bar.needed} of {bar.positions}, {f'{bar.over} over' if bar.over else f'{bar.free} free'}",
            fullest=fullest,
            shelves=tuple(self.shelves(place)),
            trays=len(rows),
            moves=moves,
            lines=tuple(self.lines(rows)),
            cautions=_cautions(place, moves),
        )

    def fullest(self, rows: list[tuple[int, StandingTray]]) -> tuple[int, str]:
        """Return the most trays that stand on one day, and the first such day in words."""
        days = range(self.begin, self.begin + DAYS_IN_WEEK)
        counts = [sum(tray.begin <= day < tray.end for _, tray in rows) for day in days]
        most = max(counts)
        return most, day_words(date.fromordinal(days[counts.index(most)])) if most else ""

    def shelves(self, place: int) -> Iterable[str]:
        """Yield each shelf of a place with its positions and the temperature of its bench."""
        for shelf in self.plan.garden.shelves:
            if PLACES.index(shelf.place) == place:
                words = f"{shelf.name}: {count_words(shelf.positions, 'position')}"
                warm = shelf.bench_temp_c
                yield words if warm is None else f"{words}, {temperature_words(warm, self.units)}"

    def lines(self, rows: list[tuple[int, StandingTray]]) -> Iterable[TrayLine]:
        """Yield the trays; neighbours that differ in nothing but their cells become one line."""
        for _, alike in groupby(rows, key=_likeness):
            numbers, trays = zip(*alike, strict=True)
            first = trays[0]
            box = self.plan.garden.containers[first.container]
            used = " + ".join(str(tray.cells_used) for tray in trays)
            yield TrayLine(
                rows=range_words(numbers),
                trays=len(trays),
                container=box.name,
                cell=volume_words(box.cell_volume_ml, self.units),
                cells=f"{used} of {first.capacity}",
                since=day_words(date.fromordinal(first.begin)),
                until=day_words(date.fromordinal(first.end)),
                comes=self.is_in_week(first.begin),
                goes=self.is_in_week(first.end),
                crops=crops_in(self.plan, chain.from_iterable(tray.parts for tray in trays)),
            )

    def moves(self, rows: list[tuple[int, StandingTray]]) -> tuple[Move, ...]:
        """Return what comes in and goes out this week, by day, what comes in first."""
        found: dict[tuple[int, bool, str], list[int]] = {}
        for number, tray in rows:
            if self.is_in_week(tray.begin):
                found.setdefault((tray.begin, False, self.origin(tray)), []).append(number)
            if self.is_in_week(tray.end):
                found.setdefault((tray.end, True, self.goal(tray)), []).append(number)
        return tuple(
            Move(
                day=day_words(date.fromordinal(day)),
                comes=not goes,
                how=how,
                trays=len(numbers),
                rows=range_words(numbers),
            )
            for (day, goes, how), numbers in sorted(found.items())
        )

    def is_in_week(self, day: int) -> bool:
        """Tell whether a day number falls in the week."""
        return self.begin <= day < self.begin + DAYS_IN_WEEK

    def origin(self, tray: StandingTray) -> str:
        """Return where a tray comes from."""
        before = self.neighbour(tray, ends=True)
        if before is not None:
            return f"from {PLACES[before].value}"
        return POTTED_ON if self.plan.trays.is_potted_on[tray.tray] else SOWN

    def goal(self, tray: StandingTray) -> str:
        """Return where a tray goes."""
        after = self.neighbour(tray, ends=False)
        if after is not None:
            return f"to {PLACES[after].value}"
        is_potted_on = self.plan.trays.is_potted_on[tray.tray]
        if not is_potted_on and self.plan.timeline.pot_on[tray.parts[0][0]]:
            return POTTED_ON
        return HANDED_OUT if tray.place == HARDENING else OUT_TO_HARDEN

    def neighbour(self, tray: StandingTray, *, ends: bool) -> int | None:
        """Return the place where the tray's group stands until it comes here, or from when it goes."""
        stays, group = self.plan.stays, self.plan.trays.group[tray.tray]
        meets = stays.end == tray.begin if ends else stays.begin == tray.end
        places = stays.place[(stays.group == group) & meets & (stays.place != tray.place)]
        return int(places[0]) if len(places) else None


def _likeness(row: tuple[int, StandingTray]) -> tuple[int, ...]:
    """Return what trays on one line have in common: place, container, dates, and the one sowing they hold."""
    number, tray = row
    alone = tray.parts[0][0] if len(tray.parts) == 1 else -number
    return tray.container, tray.begin, tray.end, alone


def _cautions(place: int, moves: tuple[Move, ...]) -> tuple[Caution, ...]:
    """Return what to mind in a place: current beside water, covers over seeds, dust where mix is handled."""
    found = [ELECTRICITY] if place in {HEAT, LAMP} else []
    if place != HARDENING:
        found.append(COVERS)
    if any(move.how in {SOWN, POTTED_ON} for move in moves):
        found.append(MIX_DUST)
    return tuple(found)
