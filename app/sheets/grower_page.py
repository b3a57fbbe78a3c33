"""What a grower's page shows beside the sheet: each sowing through the season, and what stands on the shelves."""

from datetime import date
from typing import NamedTuple

import numpy as np

from app.core.calendar import NO_DAY, as_date, as_day
from app.core.errors import NoFrostDateError
from app.core.plan import Plan
from app.core.words import Weekday
from app.language import _
from app.sheets.bars import SeasonLine, Steps, season_line, span_of
from app.sheets.words import day_short, day_words, risk_words, weekday_name


class OnShelves(NamedTuple):
    """Cells of a grower that stand in a place on a day, and the trays they are in. [1]"""

    cells: int
    trays: int


class LineOfSowing(NamedTuple):
    """One sowing through the season, drawn and in words."""

    line: SeasonLine
    words: str


def cells_on_shelves(plan: Plan, grower: int, day: date) -> OnShelves:
    """Return what of a grower stands on the shelves on a day.

    Args:
        plan: The garden's plan.
        grower: Index of the grower.
        day: The day.
    """
    stays, trays = plan.stays, plan.trays
    groups = stays.group[(stays.begin <= as_day(day)) & (stays.end > as_day(day))]
    own = plan.garden.sowings.grower[trays.part_lot] == grower
    here = own & np.isin(trays.group[trays.part_tray], groups)
    return OnShelves(int(trays.part_cells[here].sum()), len(np.unique(trays.part_tray[here])))


def lines_of_sowings(plan: Plan, indices: list[int]) -> list[LineOfSowing]:
    """Return sowings through the season, all on the same span of whole months."""
    days = [day for index in indices for day in _days(plan, index) if day is not None]
    if not days:
        return []
    span = span_of(days)
    return [_line(plan, index, span) for index in indices]


def own_risk_words(plan: Plan, index: int) -> str:
    """Return what a grower's own frost risk for a sowing means, empty where they set none."""
    risk = float(plan.garden.sowings.risk[index])
    if not risk:
        return ""
    try:
        day = plan.garden.frost.spring_on(risk)
    except NoFrostDateError:
        return _("own frost risk: %(risk)s", risk=risk_words(risk))
    return _("own frost risk: a freeze after %(day)s comes in %(risk)s", day=day_short(day), risk=risk_words(risk))


def weekdays_of(days: str) -> list[str]:
    """Return the names of weekdays that are kept as `monday friday`."""
    return [weekday_name(list(Weekday).index(Weekday(day))) for day in days.split()]


def _days(plan: Plan, index: int) -> tuple[date | None, ...]:
    times = plan.timeline
    last = max(int(times.sow_by[index]), int(times.sow_from[index]))
    columns = (times.sow_on, times.emerges, times.pot_on, times.harden, times.plant_out)
    return (as_date(int(times.sow_from[index])), as_date(last), *(as_date(int(days[index])) for days in columns))


def _line(plan: Plan, index: int, span: tuple[date, date]) -> LineOfSowing:
    first, last, sow_on, emerges, pot_on, harden, plant_out = _days(plan, index)
    if first is None or last is None:  # never: every sowing has a window
        raise ValueError(f"sowing {index} has no window")
    line = season_line(
        (first, last), sow_on or first, plant_out, span, Steps(emerges=emerges, pot_on=pot_on, harden=harden)
    )
    days = {"first": day_short(first), "last": day_short(last)}
    steps = [
        _("Sow outside from %(first)s to %(last)s", **days)
        if int(plan.timeline.sow_on[index]) == NO_DAY
        else _("Sow from %(first)s to %(last)s", **days)
    ]
    if sow_on:
        steps.append(_("sow %(day)s", day=day_words(sow_on)))
    if emerges:
        steps.append(_("emerges %(day)s", day=day_words(emerges)))
    if pot_on:
        steps.append(_("pot on %(day)s", day=day_words(pot_on)))
    if harden:
        steps.append(_("harden %(day)s", day=day_words(harden)))
    if plant_out:
        steps.append(_("plants out %(day)s", day=day_words(plant_out)))
    return LineOfSowing(line, "; ".join(steps))
