"""The shelf ledger in words and bars: weeks by places, what is over-full when, a chart of each place."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import reduce
from itertools import groupby
from typing import NamedTuple

from app.core.calendar import DAYS_IN_WEEK, as_day, iso_week, monday_of
from app.core.plan import Plan
from app.core.space.ledger import Ledger
from app.core.words import PLACES
from app.language import _, ngettext
from app.sheets.bars import UseBar, month_mark, month_starts, use_bar
from app.sheets.fixed_words import say
from app.sheets.words import count_words, day_short, day_words, week_words

# The chart of a place, in units of its picture.
CHART_WIDTH = 300.0
CHART_HEIGHT = 126.0
RIGHT = 34.0  # room for the number of positions, right of its line
TOP = 18.0  # room for the number of trays above the highest bar
BOTTOM = 16.0  # room for the months
GAP = 1.0
MONTH_ROOM = 26.0
FIGURE_HEIGHT = 14.0


class WeekLine(NamedTuple):
    """One week of the ledger.

    Attributes:
        monday: Its first day.
        name: The week as it stands in addresses and files, `2027-W12`.
        is_over: Whether some place is over-full.
        bars: Needed against positions, in the order of the places.
    """

    monday: date
    name: str
    is_over: bool
    bars: tuple[UseBar, ...]


class Box(NamedTuple):
    """A rectangle of a chart."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, kw_only=True)
class PlaceChart:
    """Trays in a place week by week against its positions, on a picture of 300 by 126.

    Attributes:
        place: Name of the place.
        positions: Its positions.
        words: What the picture says, for those who cannot see it.
        bars: Trays within the positions, a box for each week.
        over: Trays without a position, on top of those.
        edge_y: Height of the line of the positions.
        right: Where the line ends.
        peak: The most trays, and where the figure stands.
        months: Each first of a month, and its name where there is room.
        before: Outline of the trays of another ledger, as the commands of a path; empty without one.
    """

    place: str
    positions: int
    words: str
    bars: tuple[Box, ...]
    over: tuple[Box, ...]
    edge_y: float
    right: float
    peak: tuple[int, float, float]
    months: tuple[tuple[float, str], ...]
    before: str = ""


@dataclass(frozen=True, kw_only=True)
class LedgerPage:
    """The whole ledger.

    Attributes:
        weeks: Its lines.
        facts: The line of facts under the heading.
        over: In one sentence, what is over-full when; empty where nothing is.
        charts: A chart of each place, in the order of the places.
    """

    weeks: tuple[WeekLine, ...]
    facts: tuple[tuple[str, str], ...]
    over: str
    charts: tuple[PlaceChart, ...]


def make_ledger_page(plan: Plan) -> LedgerPage:
    """Return the ledger of a plan, without weeks where nothing stands on the shelves."""
    ledger = plan.ledger
    return LedgerPage(
        weeks=tuple(_weeks(ledger)),
        facts=tuple(_facts(plan)),
        over=over_words(ledger),
        charts=tuple(place_chart(ledger, place) for place in range(len(PLACES))) if len(ledger.needed) else (),
    )


def over_words(ledger: Ledger) -> str:
    """Return in one sentence which places are over-full when and by how much, empty where none is."""
    parts: list[str] = []
    for place in range(len(PLACES)):
        free = ledger.free[:, place].tolist()
        stretches = []
        for is_over, rows in groupby(range(len(free)), key=lambda row: free[row] < 0):
            if is_over:
                weeks = list(rows)
                most = -min(free[row] for row in weeks)
                first, last = monday_of(ledger.weeks[weeks[0]]), _sunday(ledger.weeks[weeks[-1]])
                stretches.append(
                    _(
                        "from %(first)s to %(last)s, by up to %(trays)s",
                        first=day_words(first),
                        last=day_words(last),
                        trays=count_words(most, "tray", "trays"),
                    )
                )
        if stretches:
            when = reduce(lambda one, other: _("%(one)s, and %(other)s", one=one, other=other), stretches)
            parts.append(
                _("the %(place)s shelves %(when)s", place=say(PLACES[place]), when=when)
                if parts
                else _("the %(place)s shelves are over-full %(when)s", place=say(PLACES[place]), when=when)
            )
    said = "; ".join(parts)
    return f"{said[0].upper()}{said[1:]}." if said else ""


def _sunday(week: int) -> date:
    return monday_of(week) + timedelta(days=DAYS_IN_WEEK - 1)


def _weeks(ledger: Ledger) -> Iterator[WeekLine]:
    positions = ledger.positions.tolist()
    most = ledger.needed.max(axis=0, initial=0).tolist()
    for week, needed in zip(ledger.weeks, ledger.needed.tolist(), strict=True):
        bars = tuple(map(use_bar, needed, positions, most))
        monday = monday_of(week)
        yield WeekLine(monday, iso_week(monday), any(bar.over for bar in bars), bars)


def _facts(plan: Plan) -> Iterator[tuple[str, str]]:
    ledger = plan.ledger
    if len(ledger.needed):
        over = int((ledger.free < 0).any(axis=1).sum())
        yield _("Over-full"), count_words(over, "week", "weeks") if over else _("no week")
        used = [place for place in range(len(PLACES)) if ledger.needed[:, place].any()]
        left, tightest = min((int(ledger.free[:, place].min()), place) for place in used)
        room = (
            ngettext("%(num)s over", "%(num)s over", -left)
            if left < 0
            else ngettext("%(num)s free", "%(num)s free", left)
        )
        yield _("Tightest place"), f"{say(PLACES[tightest]).capitalize()}, {room}"
        yield _("Fullest week"), week_words(monday_of(ledger.weeks[int(ledger.needed.sum(axis=1).argmax())]))
    yield _("Plants wanted"), count_words(int(plan.garden.sowings.plants.sum()), "plant", "plants")


def place_chart(ledger: Ledger, place: int, before: Ledger | None = None) -> PlaceChart:
    """Return the chart of a place.

    Args:
        ledger: A ledger that has weeks.
        place: Index of the place.
        before: A ledger of the same weeks that is drawn as an outline.
    """
    needed, positions = ledger.needed[:, place].tolist(), int(ledger.positions[place])
    others = [] if before is None else before.needed[:, place].tolist()
    most = max(needed)
    per_tray = (CHART_HEIGHT - TOP - BOTTOM) / max(most, positions, *others, 1)
    base, right = CHART_HEIGHT - BOTTOM, CHART_WIDTH - RIGHT
    per_week = right / len(needed)
    width = round(max(per_week - GAP, per_week / 2), 2)

    def box(row: int, low: int, high: int) -> Box:
        return Box(round(row * per_week, 2), round(base - high * per_tray, 2), width, round((high - low) * per_tray, 2))

    peak, edge_y, peak_y = needed.index(most), base - positions * per_tray, base - most * per_tray
    if edge_y <= peak_y < edge_y + FIGURE_HEIGHT:
        peak_y = edge_y  # the figure stands above the line, not across it
    first_day = as_day(monday_of(ledger.first_week))
    per_day = per_week / DAYS_IN_WEEK
    starts = month_starts(monday_of(ledger.first_week), _sunday(ledger.weeks[-1]))
    has_room = 28 * per_day >= MONTH_ROOM  # the shortest month decides
    ticks = [
        (round((as_day(day) - first_day) * per_day, 2), month_mark(day.month, is_letter=not has_room)) for day in starts
    ]
    return PlaceChart(
        place=say(PLACES[place]).capitalize(),
        positions=positions,
        words=_chart_words(ledger, place),
        bars=tuple(box(row, 0, min(count, positions)) for row, count in enumerate(needed) if min(count, positions)),
        over=tuple(box(row, positions, count) for row, count in enumerate(needed) if count > positions),
        edge_y=round(edge_y, 2),
        right=right,
        peak=(most, round((peak + 0.5) * per_week, 2), round(peak_y - 4, 2)),
        months=tuple((x, name if x <= right - MONTH_ROOM else "") for x, name in ticks),
        before=_steps([round(base - count * per_tray, 2) for count in others], per_week),
    )


def _steps(heights: list[float], width: float) -> str:
    """Return the path of steps of one width at the heights."""
    steps = "".join(f"V{height}H{round(row * width, 2)}" for row, height in enumerate(heights, start=1))
    return f"M0 {heights[0]}{steps}" if heights else ""


def _chart_words(ledger: Ledger, place: int) -> str:
    needed, positions = ledger.needed[:, place].tolist(), int(ledger.positions[place])
    name, most, room = say(PLACES[place]).capitalize(), max(needed), count_words(positions, "position", "positions")
    if not most:
        return _("%(place)s: no tray in any week, %(positions)s.", place=name, positions=room)
    day = day_short(monday_of(ledger.weeks[needed.index(most)]))
    over = sum(count > positions for count in needed)
    trays = count_words(most, "tray", "trays")
    if not over:
        return _(
            "%(place)s: %(trays)s in the fullest week, from %(day)s, against %(positions)s; never over-full. "
            "The table has every week.",
            place=name,
            trays=trays,
            day=day,
            positions=room,
        )
    return _(
        "%(place)s: %(trays)s in the fullest week, from %(day)s, against %(positions)s; over-full in %(weeks)s. "
        "The table has every week.",
        place=name,
        trays=trays,
        day=day,
        positions=room,
        weeks=count_words(over, "week", "weeks"),
    )
