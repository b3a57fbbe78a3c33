"""Where the ends of small bars and timelines lie, for pages and paper; drawn by whoever shows them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from app.sheets.words import month_short

BAR_WIDTH = 100.0
LINE_WIDTH = 240.0
NAME_WIDTH = 24.0


@dataclass(frozen=True, kw_only=True)
class UseBar:
    """Trays needed in a place against its positions, on a bar of width 100.

    Attributes:
        needed: Trays on the fullest day.
        positions: Room for trays.
        free: Positions left, 0 when over-full.
        over: Trays without a position.
        edge_x: Where the positions end. [0 to 100]
        bar_width: Width of what stands within the positions. [0 to 100]
        over_width: Width of what has no position, drawn from edge_x on. [0 to 100]
    """

    needed: int
    positions: int
    free: int
    over: int
    edge_x: float
    bar_width: float
    over_width: float


@dataclass(frozen=True, kw_only=True)
class SeasonLine:
    """One sowing through the season, on a line of width 240.

    Attributes:
        months: Where each first of a month lies, and its name, shortened to fit. [0 to 240]
        from_x: Start of the sowing window.
        window_width: Width of the sowing window, both its days included.
        sow_x: The sowing day.
        indoors_width: From the sowing day to planting out, 0 without one.
        emerges_x: Emergence; None where there is no such day, as for those below.
        pot_on_x: Potting on.
        harden_x: Start of hardening.
        hardening_width: From there to planting out, 0 without it.
        out_x: Planting out; None for a sowing outside.
    """

    months: tuple[tuple[float, str], ...]
    from_x: float
    window_width: float
    sow_x: float
    indoors_width: float
    emerges_x: float | None
    pot_on_x: float | None
    harden_x: float | None
    hardening_width: float
    out_x: float | None


@dataclass(frozen=True, kw_only=True)
class Steps:
    """The days between sowing and planting out; None where a sowing has no such day."""

    emerges: date | None = None
    pot_on: date | None = None
    harden: date | None = None


NO_STEPS = Steps()


def use_bar(needed: int, positions: int, most: int = 0) -> UseBar:
    """Return the bar of one place in one week.

    Args:
        needed: Trays on the fullest day of the week. [trays]
        positions: Positions of the place. [trays]
        most: The most trays or positions of this place in any week shown, so that the bars of one
            column share their scale and their edges stand below each other; 0 for a bar alone.
    """
    scale = BAR_WIDTH / max(needed, positions, most, 1)
    edge_x = round(positions * scale, 1)
    return UseBar(
        needed=needed,
        positions=positions,
        free=max(positions - needed, 0),
        over=max(needed - positions, 0),
        edge_x=edge_x,
        bar_width=round(min(needed, positions) * scale, 1),
        over_width=max(round(needed * scale - edge_x, 1), 0.0) if needed > positions else 0.0,
    )


def month_starts(first: date, last: date) -> tuple[date, ...]:
    """Return every first of a month from `first` to `last`, both included."""
    months = range(first.year * 12 + first.month - 1, last.year * 12 + last.month)
    starts = (date(month // 12, month % 12 + 1, 1) for month in months)
    return tuple(start for start in starts if first <= start <= last)


def month_mark(month: int, *, is_letter: bool = False) -> str:
    """Return how a month is marked on a picture, as `Jan`, or by its first letter where there is little room."""
    name = month_short(month).removesuffix(".")
    return name[0] if is_letter else name


def season_line(
    window: tuple[date, date],
    sow_on: date,
    plant_out: date | None,
    span: tuple[date, date],
    steps: Steps = NO_STEPS,
) -> SeasonLine:
    """Return the timeline of one sowing.

    Args:
        window: First and last day on which it may be sown.
        sow_on: The day on which it is to be sown.
        plant_out: The day on which it is planted out; None for a sowing outside.
        span: First and last day of the line; what lies outside is drawn at its ends.
        steps: The days between.
    """
    first, last = span
    days = max((last - first).days, 1)

    def at(day: date) -> float:
        return round(min(max((day - first).days, 0), days) / days * LINE_WIDTH, 1)

    def at_step(day: date | None) -> float | None:
        return None if day is None else at(day)

    from_x, to_x, sow_x = at(window[0]), at(window[1]), at(sow_on)
    return SeasonLine(
        months=_months(first, last, days),
        from_x=from_x,
        window_width=max(round(to_x - from_x, 1), 1.0),
        sow_x=sow_x,
        indoors_width=0.0 if plant_out is None else max(round(at(plant_out) - sow_x, 1), 0.0),
        emerges_x=at_step(steps.emerges),
        pot_on_x=at_step(steps.pot_on),
        harden_x=at_step(steps.harden),
        hardening_width=max(round(at(plant_out) - at(steps.harden), 1), 0.0) if plant_out and steps.harden else 0.0,
        out_x=at_step(plant_out),
    )


def span_of(days: Sequence[date]) -> tuple[date, date]:
    """Return the span of whole months that holds all the days.

    Raises:
        ValueError: There are no days.
    """
    first, last = min(days), max(days)
    after = last.year * 12 + last.month
    return first.replace(day=1), date(after // 12, after % 12 + 1, 1)


def _months(first: date, last: date, days: int) -> tuple[tuple[float, str], ...]:
    starts = month_starts(first, last)
    per_day = LINE_WIDTH / days
    has_room = 28 * per_day >= NAME_WIDTH  # the shortest month decides
    marks = [((start - first).days * per_day, month_mark(start.month, is_letter=not has_room)) for start in starts]
    return tuple((round(x, 1), name if x <= LINE_WIDTH - NAME_WIDTH else "") for x, name in marks)
