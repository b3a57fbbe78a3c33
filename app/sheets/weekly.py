"""The weekly shelf sheet: what stands in each place, what comes and goes, and room to write it down."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import chain, groupby

from app.core.calendar import DAYS_IN_WEEK, as_day, iso_week
from app.core.plan import Plan
from app.core.words import HARDENING, HEAT, LAMP, PLACES, Units
from app.language import N_, _, ngettext
from app.sheets.bars import UseBar, use_bar
from app.sheets.cautions import COVERS, ELECTRICITY, MIX_DUST, Caution
from app.sheets.contents import CropInTray, crops_in
from app.sheets.fixed_words import say
from app.sheets.logged import basis_words, logged_until
from app.sheets.names import name_words
from app.sheets.standing import Standing, dealt_trays, planned_trays
from app.sheets.tray_words import how_filled_words
from app.sheets.units import temperature_words, volume_words
from app.sheets.words import count_words, day_words, day_year, number_words, range_words, week_words
from app.sheets.words import iso_week as week_number_words
from app.storage.queries.trays import StayRow

BLANK_LINES = 3
WAITING, NOT_DEALT = N_("Waiting for a position"), N_("Not dealt yet")


@dataclass(frozen=True, kw_only=True)
class TrayLine:
    """One tray on the sheet, or several that differ in nothing but their cells.

    Attributes:
        rows: Numbers of the trays, as `7` or `7 – 9`; of trays that are not dealt, those of rows on this sheet.
        shelf: Shelf and level on which it stands; that it waits, or is not dealt; empty where nothing is dealt.
        slot: Position on the level; empty where it has none.
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
    shelf: str
    slot: str
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
        rows: Their numbers, as `1 – 4, 9`; of trays that are not dealt, those of rows on this sheet.
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
        key: The place, as it stands in addresses.
        name: The place, in words.
        bar: Needed on the fullest day, positions, free and over.
        use: The same in words.
        without: How many trays have no position on the fullest day, in a sentence; empty where all have one.
        fullest: The first day on which so many trays stand here, in words; empty where none does.
        shelves: Each shelf with its positions, in words.
        trays: Trays that stand here at some time in the week. [1]
        moves: What comes in and goes out, by day.
        lines: The trays: in the order of a walk along the shelves where they are dealt, else by the day they come.
        cautions: What to mind here.
    """

    key: str
    name: str
    bar: UseBar
    use: str
    without: str
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
        is_dealt: Whether trays are listed by their numbers, where they stand.
        basis: What the sheet goes by, in a sentence.
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
    is_dealt: bool
    basis: str
    blank_lines: int = BLANK_LINES


def make_weekly_sheet(
    plan: Plan,
    monday: date,
    *,
    units: Units,
    today: date,
    stays: Sequence[StayRow] = (),
    is_timed: bool = True,
) -> WeeklySheet:
    """Return the shelf sheet of a week.

    Args:
        plan: The garden's plan.
        monday: The first day of the week.
        units: In which quantities are said.
        today: The day that is printed as that of the making.
        stays: Where dealt trays stand from the day before the week to its end; without any, all trays are listed
            where the plan has them, those that are dealt under their numbers.
        is_timed: Whether the time of the last entry of the log is said, and not only its day.
    """
    begin = as_day(monday)
    # From the day before, so that a tray that goes on the Monday is there to be carried.
    planned = planned_trays(plan, begin - 1, begin + DAYS_IN_WEEK, is_any=not stays)
    standing = [*dealt_trays(plan, stays), *planned]
    rows = iter(range(1, len(standing) + 1))
    is_dealt = any(tray.number for tray in standing)
    maker = _Maker(plan, begin, units, is_dealt=is_dealt, is_walk=bool(stays))
    numbered = [(tray.number or next(rows), tray) for tray in standing]
    places = tuple(
        maker.place(place, [(row, tray) for row, tray in numbered if tray.place == place])
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
        is_dealt=is_dealt,
        basis=basis_words(today, logged_until(plan, is_timed=is_timed), is_dealt=is_dealt),
    )


# A tray and its number, or else that of its row.
_Row = tuple[int, Standing]


@dataclass(frozen=True)
class _Maker:
    """Puts the parts of a sheet together.

    Attributes:
        plan: The garden's plan.
        begin: First day of the week. [day number]
        units: In which quantities are said.
        is_dealt: Whether any tray has a number of its own.
        is_walk: Whether dealt trays stand under the heads of their shelves.
    """

    plan: Plan
    begin: int
    units: Units
    is_dealt: bool
    is_walk: bool

    def place(self, place: int, rows: list[_Row]) -> PlaceOnSheet:
        """Return one place with its numbered trays."""
        needed, fullest = self.fullest(rows)
        bar = use_bar(needed, int(self.plan.ledger.positions[place]))
        moves = self.moves(rows)
        return PlaceOnSheet(
            key=PLACES[place].value,
            name=say(PLACES[place]).capitalize(),
            bar=bar,
            use=(
                _("%(needed)s of %(positions)s, %(over)s over", needed=needed, positions=bar.positions, over=bar.over)
                if bar.over
                else _(
                    "%(needed)s of %(positions)s, %(free)s free", needed=needed, positions=bar.positions, free=bar.free
                )
            ),
            without=_without_position(bar.over, fullest) if bar.over else "",
            fullest=fullest,
            shelves=tuple(self.shelves(place)),
            trays=len(rows),
            moves=moves,
            lines=tuple(self.lines(rows)),
            cautions=_cautions(place, moves),
        )

    def fullest(self, rows: list[_Row]) -> tuple[int, str]:
        """Return the most trays that stand on one day, and the first such day in words."""
        days = range(self.begin, self.begin + DAYS_IN_WEEK)
        counts = [sum(tray.begin <= day < tray.end for _number, tray in rows) for day in days]
        most = max(counts)
        return most, day_words(date.fromordinal(days[counts.index(most)])) if most else ""

    def shelves(self, place: int) -> Iterable[str]:
        """Yield each shelf of a place with its positions and the temperature of its bench."""
        for shelf in self.plan.garden.shelves:
            if PLACES.index(shelf.place) == place:
                positions = count_words(shelf.positions, "position", "positions")
                words = _("%(shelf)s: %(positions)s", shelf=shelf.name, positions=positions)
                warm = shelf.bench_temp_c
                yield words if warm is None else f"{words}, {temperature_words(warm, self.units)}"

    def lines(self, rows: list[_Row]) -> Iterable[TrayLine]:
        """Yield the trays; neighbours that differ in nothing but their cells become one line."""
        for _likely, alike in groupby(rows, key=_likeness):
            same = list(alike)
            trays = [tray for _number, tray in same]
            first = trays[0]
            box = self.plan.garden.containers[first.container]
            used = " + ".join(str(sum(cells for _lot, cells in tray.parts)) for tray in trays)
            yield TrayLine(
                rows=self.labels(same),
                shelf=self.shelf(first),
                slot=str(first.slot or ""),
                trays=len(trays),
                container=name_words(box.name),
                cell=volume_words(box.cell_volume_ml, self.units),
                cells=_("%(used)s of %(all)s", used=used, all=first.capacity),
                since=day_words(date.fromordinal(first.begin)),
                until=day_words(date.fromordinal(first.end)),
                comes=self.is_in_week(first.begin),
                goes=self.is_in_week(first.end),
                crops=crops_in(self.plan, chain.from_iterable(tray.parts for tray in trays)),
            )

    def shelf(self, tray: Standing) -> str:
        """Return the head under which a tray is listed."""
        if not self.is_walk:
            return ""
        if tray.number is None:
            return _(NOT_DEALT)
        if not tray.shelf:
            return _(WAITING)
        return _("%(shelf)s, level %(level)s", shelf=tray.shelf, level=tray.level)

    def moves(self, rows: list[_Row]) -> tuple[Move, ...]:
        """Return what comes in and goes out this week, by day, what comes in first."""
        found: dict[tuple[int, bool, str], list[_Row]] = {}
        for number, tray in rows:
            if self.is_in_week(tray.begin):
                found.setdefault((tray.begin, False, tray.came), []).append((number, tray))
            if self.is_in_week(tray.end):
                found.setdefault((tray.end, True, tray.goes), []).append((number, tray))
        return tuple(
            Move(
                day=day_words(date.fromordinal(day)),
                comes=not goes,
                how=how,
                trays=len(trays),
                rows=self.labels(trays),
            )
            for (day, goes, how), trays in sorted(found.items(), key=lambda pair: pair[0])
        )

    def labels(self, rows: list[_Row]) -> str:
        """Return the numbers of trays, and after them the rows of those that have none."""
        dealt = sorted(number for number, tray in rows if tray.number is not None)
        others = [number for number, tray in rows if tray.number is None]
        if not self.is_dealt:
            return range_words(others)
        more = [ngettext("row %(rows)s", "rows %(rows)s", len(others), rows=range_words(others))] if others else []
        return ", ".join([*([range_words(dealt)] if dealt else []), *more])

    def is_in_week(self, day: int) -> bool:
        """Tell whether a day number falls in the week."""
        return self.begin <= day < self.begin + DAYS_IN_WEEK


def _likeness(row: _Row) -> tuple[object, ...]:
    """Return what trays on one line have in common: place, container, dates, and the one sowing they hold."""
    number, tray = row
    alone = tray.parts[0][0] if len(tray.parts) == 1 and not tray.shelf else -number
    return tray.number is None, tray.container, tray.begin, tray.end, alone


def _without_position(trays: int, day: str) -> str:
    return ngettext(
        "%(num)s tray has no position here on %(day)s.",
        "%(num)s trays have no position here on %(day)s.",
        trays,
        num=number_words(trays),
        day=day,
    )


def _cautions(place: int, moves: tuple[Move, ...]) -> tuple[Caution, ...]:
    """Return what to mind in a place: current beside water, covers over seeds, dust where mix is handled."""
    found = [ELECTRICITY.said] if place in {HEAT, LAMP} else []
    if place != HARDENING:
        found.append(COVERS.said)
    if any(move.how in {how_filled_words(is_pots=False), how_filled_words(is_pots=True)} for move in moves):
        found.append(MIX_DUST.said)
    return tuple(found)
