"""The drawings of the frost record: the years as dots, and the chance of a freeze from day to day."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from statistics import NormalDist, median
from typing import NamedTuple

from app.core.calendar import date_of_season_day, season_day
from app.core.dates.frost import EmpiricalCurve, Frost, FrostCurve
from app.core.dates.record import Freezes, Half
from app.core.dates.trend import Trend
from app.core.words import Side
from app.sheets.words import NO_BREAK_SPACE, day_short, month_short

# The chart of the years, in units of its picture.
YEARS_WIDTH, YEARS_HEIGHT = 400.0, 300.0
YEARS_LEFT, YEARS_RIGHT, YEARS_TOP, YEARS_BOTTOM = 34.0, 46.0, 16.0, 34.0
LARGEST_DOT, SMALLEST_DOT = 3.4, 1.2
DOT_OF_A_YEAR = 0.4
DAYS_AROUND = 4
# The chart of the chances.
CURVE_WIDTH, CURVE_HEIGHT = 300.0, 190.0
CURVE_LEFT, CURVE_RIGHT, CURVE_TOP, CURVE_BOTTOM = 38.0, 8.0, 20.0, 22.0
CHANCES = (0.0, 0.25, 0.5, 0.75, 1.0)
END_DEVIATE = NormalDist().inv_cdf(0.99)
HALF_MONTH, MONTH = 14, 28  # the shortest
MID_MONTH = 15
LABEL_ROOM = 40.0
LABEL_HEIGHT = 14.0
FEWEST_TICK_YEARS = 25
DECADE, LUSTRUM = 10, 5


class Mark(NamedTuple):
    """A place on an axis and the words that stand there."""

    at: float
    words: str


class Dot(NamedTuple):
    """The middle of a mark."""

    x: float
    y: float


@dataclass(frozen=True, kw_only=True)
class YearsChart:
    """Last and first freezes over the years, on a picture of 400 by 300; later days stand higher.

    Attributes:
        months: Height and name of each first of a month.
        years: Place and number of each labelled year.
        spring: Last freezes.
        autumn: First freezes.
        spring_none: Springs without a freeze, below the others.
        autumn_none: Autumns without a freeze, above the others.
        radius: Half the width of a dot.
        spring_line: Height and words of the spring date at the garden's risk; None where there is none.
        autumn_line: The same in autumn.
        trends: The two ends of the line through each half's years.
        left: Where the picture begins.
        right: Where it ends.
        top: Its upper edge.
        base: Its lower edge.
    """

    months: tuple[Mark, ...]
    years: tuple[Mark, ...]
    spring: tuple[Dot, ...]
    autumn: tuple[Dot, ...]
    spring_none: tuple[Dot, ...]
    autumn_none: tuple[Dot, ...]
    radius: float
    spring_line: Mark | None
    autumn_line: Mark | None
    trends: tuple[tuple[Dot, Dot], ...]
    left: float
    right: float
    top: float
    base: float


class Curve(NamedTuple):
    """The line of one law.

    Attributes:
        name: The law.
        path: The line, as a path of SVG.
        is_chosen: Whether the garden goes by it.
    """

    name: str
    path: str
    is_chosen: bool


class RiskMark(NamedTuple):
    """A risk on the chart: across to the curve, and down to its day.

    Attributes:
        x: The day at the risk.
        y: The risk.
        words: The day; empty where those of another mark stand.
        is_tried: Whether it is one that is tried and not saved.
        anchor: On which side of x the words find room: `start` or `end`.
    """

    x: float
    y: float
    words: str
    is_tried: bool
    anchor: str


@dataclass(frozen=True, kw_only=True)
class CurveChart:
    """The chance of a freeze on each day or later, in autumn or earlier, on a picture of 300 by 190.

    Attributes:
        days: Place and words of each labelled day.
        chances: Height and words of each labelled chance.
        curves: The laws, the garden's own last, so that it is drawn on top.
        risks: The garden's risk, and one that is tried.
        left: Where the picture begins.
        right: Where it ends.
        top: Its upper edge.
        base: Its lower edge.
    """

    days: tuple[Mark, ...]
    chances: tuple[Mark, ...]
    curves: tuple[Curve, ...]
    risks: tuple[RiskMark, ...]
    left: float
    right: float
    top: float
    base: float


def draw_years(
    freezes: Freezes, frost: Frost, at_risk: tuple[date | None, date | None], trends: tuple[Trend | None, Trend | None]
) -> YearsChart | None:
    """Return the chart of a record's years; None where no usable year has a freeze.

    Args:
        freezes: The record's freezes.
        frost: The garden's frost, which gives the growing year.
        at_risk: Spring and autumn date at the garden's risks.
        trends: Trend of last and first freezes.
    """
    spring, autumn, season = freezes.spring, freezes.autumn, frost.season
    numbers: list[int] = [*spring.days.tolist(), *autumn.days.tolist()]
    lines = [None if day is None else season_day(day, season) for day in at_risk]
    if not numbers:
        return None
    numbers += [number for number in lines if number is not None]
    low, high = min(numbers) - DAYS_AROUND, max(numbers) + DAYS_AROUND
    first, last = int(spring.years[0]), int(spring.years[-1])
    base, top = YEARS_HEIGHT - YEARS_BOTTOM, YEARS_TOP
    per_day = (base - top) / (high - low)
    per_year = (YEARS_WIDTH - YEARS_LEFT - YEARS_RIGHT) / (last - first + 1)
    radius = round(min(max(per_year * DOT_OF_A_YEAR, SMALLEST_DOT), LARGEST_DOT), 1)

    def x_of(year: float) -> float:
        return round(YEARS_LEFT + (year - first + 0.5) * per_year, 1)

    def y_of(number: float) -> float:
        return round(base - (number - low) * per_day, 1)

    def line(number: int | None, day: date | None) -> Mark | None:
        return None if number is None or day is None else Mark(y_of(number), day_short(day))

    ends = (_trend_line(half, trend, x_of, y_of) for half, trend in zip((spring, autumn), trends, strict=True))
    return YearsChart(
        months=tuple(
            Mark(y_of(number), month_short(date_of_season_day(number, season).month))
            for number in range(low, high + 1)
            if date_of_season_day(number, season).day == 1
        ),
        years=tuple(Mark(x_of(year), str(year)) for year in _year_ticks(first, last)),
        spring=tuple(map(Dot, map(x_of, spring.days_years.tolist()), map(y_of, spring.days.tolist()))),
        autumn=tuple(map(Dot, map(x_of, autumn.days_years.tolist()), map(y_of, autumn.days.tolist()))),
        spring_none=tuple(Dot(x_of(year), round(base + 7, 1)) for year in _without(spring)),
        autumn_none=tuple(Dot(x_of(year), round(top - 7, 1)) for year in _without(autumn)),
        radius=radius,
        spring_line=line(lines[0], at_risk[0]),
        autumn_line=line(lines[1], at_risk[1]),
        trends=tuple(end for end in ends if end is not None),
        left=YEARS_LEFT,
        right=YEARS_WIDTH - YEARS_RIGHT,
        top=top,
        base=base,
    )


def draw_curve(
    side: Side, laws: Iterable[tuple[str, Frost, bool]], risks: Iterable[tuple[float, date | None, bool]]
) -> CurveChart | None:
    """Return the chart of chances on a side; None where no law has a chance to draw.

    Args:
        side: Spring or autumn.
        laws: Name and frost of each law, and whether the garden goes by it.
        risks: Each risk [fraction] with its date, and whether it is only tried.
    """
    drawn = [(name, frost, is_own) for name, frost, is_own in laws if _curve(frost, side).share > 0]
    if not drawn:
        return None
    season = drawn[0][1].season
    ends = [_curve(frost, side).day_at(z) for _, frost, _ in drawn for z in (-END_DEVIATE, END_DEVIATE)]
    dated = [(risk, day, is_tried) for risk, day, is_tried in risks if day is not None]
    numbers = [*ends, *(season_day(day, season) for _, day, _ in dated)]
    low, high = int(min(numbers)) - 1, int(max(numbers)) + 2
    base, per_day = CURVE_HEIGHT - CURVE_BOTTOM, (CURVE_WIDTH - CURVE_LEFT - CURVE_RIGHT) / (high - low)

    def x_of(number: float) -> float:
        return round(CURVE_LEFT + (number - low) * per_day, 1)

    def y_of(chance: float) -> float:
        return round(base - chance * (base - CURVE_TOP), 1)

    def path(frost: Frost) -> str:
        days = ((number, date_of_season_day(number, season)) for number in range(low, high + 1))
        points = (f"{x_of(number)} {y_of(chance_on(frost, side, day))}" for number, day in days)
        return "M" + "L".join(points)

    return CurveChart(
        days=tuple(_day_ticks(low, high, season, x_of)),
        chances=tuple(Mark(y_of(chance), f"{chance * 100:g}{NO_BREAK_SPACE}%") for chance in CHANCES),
        curves=tuple(sorted((Curve(name, path(frost), own) for name, frost, own in drawn), key=lambda c: c.is_chosen)),
        risks=_risk_marks(
            side, [(x_of(season_day(day, season)), y_of(risk), day, tried) for risk, day, tried in dated]
        ),
        left=CURVE_LEFT,
        right=CURVE_WIDTH - CURVE_RIGHT,
        top=CURVE_TOP,
        base=base,
    )


def _risk_marks(side: Side, places: list[tuple[float, float, date, bool]]) -> tuple[RiskMark, ...]:
    """Return the marks of risks, their words on the side of the curve that is free, one of two close ones without."""
    marks: list[RiskMark] = []
    for x, y, day, is_tried in sorted(places, key=lambda place: not place[3]):
        is_near = any(abs(x - mark.x) < LABEL_ROOM and abs(y - mark.y) < LABEL_HEIGHT for mark in marks)
        if side is Side.SPRING:
            anchor = "start" if x < CURVE_WIDTH - CURVE_RIGHT - LABEL_ROOM else "end"
        else:
            anchor = "end" if x > CURVE_LEFT + LABEL_ROOM else "start"
        marks.append(RiskMark(x=x, y=y, words="" if is_near else day_short(day), is_tried=is_tried, anchor=anchor))
    return tuple(marks[::-1])


def chance_on(frost: Frost, side: Side, day: date) -> float:
    """Return the chance of a freeze on a day or later in spring, on a day or before in autumn. [fraction]"""
    return frost.chance_on_or_after(day) if side is Side.SPRING else frost.chance_on_or_before(day)


def _curve(frost: Frost, side: Side) -> FrostCurve | EmpiricalCurve:
    return frost.spring if side is Side.SPRING else frost.autumn


def _without(half: Half) -> list[int]:
    """Return the usable years without a freeze."""
    years: list[int] = half.years[half.is_usable & ~half.freezes].tolist()
    return years


def _year_ticks(first: int, last: int) -> list[int]:
    step = DECADE if last - first >= FEWEST_TICK_YEARS else LUSTRUM if last - first >= LUSTRUM else 1
    return [year for year in range(first, last + 1) if year % step == 0]


def _day_ticks(low: int, high: int, season: int, x_of: Callable[[float], float]) -> Iterable[Mark]:
    """Yield firsts of months, and their middles where there is room; short words where there is little."""
    per_day = x_of(low + 1) - x_of(low)
    wanted = {1, MID_MONTH} if HALF_MONTH * per_day >= LABEL_ROOM else {1}
    for number in range(low, high + 1):
        day = date_of_season_day(number, season)
        if day.day in wanted:
            fits = CURVE_LEFT + LABEL_ROOM / 4 <= x_of(number) <= CURVE_WIDTH - LABEL_ROOM / 2
            words = day_short(day) if MONTH * per_day >= LABEL_ROOM else month_short(day.month)
            yield Mark(x_of(number), words if fits else "")


def _trend_line(
    half: Half, trend: Trend | None, x_of: Callable[[float], float], y_of: Callable[[float], float]
) -> tuple[Dot, Dot] | None:
    """Return the ends of the line of a trend, laid through the middle of its years."""
    if trend is None:
        return None
    pairs = zip(half.days_years.tolist(), half.days.tolist(), strict=True)
    at_year_zero = median(day - trend.slope * year for year, day in pairs)
    first, last = (
        Dot(x_of(year), y_of(at_year_zero + trend.slope * year)) for year in half.days_years[[0, -1]].tolist()
    )
    return first, last
