"""Days of a season's rows that would be far off in another season."""

from datetime import date
from typing import Any, NamedTuple

from sqlalchemy import func, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from app.core.limits import LOG_YEARS_BEFORE, SEASON_YEARS, SOWING_YEARS
from app.language import N_
from app.storage.models import (
    CareRound,
    LogEntry,
    Sowing,
    SpareGift,
    SpareOffer,
    SpareRequest,
    Stay,
    Ticked,
    Tray,
)

# What holds a day, whose day it is in words, and how many years it may lie before and after the growing year.
_DAYS: tuple[tuple[InstrumentedAttribute[Any], str, int, int], ...] = (
    (LogEntry.date, N_("an entry of the log"), LOG_YEARS_BEFORE, SEASON_YEARS),
    (Ticked.date, N_("a task that was ticked off"), SEASON_YEARS, SEASON_YEARS),
    (Sowing.plant_out, N_("a grower’s own date"), SOWING_YEARS, SOWING_YEARS),
    (Sowing.sow_on, N_("a day set for sowing"), SOWING_YEARS, SOWING_YEARS),
    (Tray.sow_on, N_("a tray’s sowing day"), SEASON_YEARS, SEASON_YEARS),
    (Stay.begin_on, N_("a tray’s place"), SEASON_YEARS, SEASON_YEARS),
    (Stay.end_on, N_("a tray’s place"), SEASON_YEARS, SEASON_YEARS),
    (CareRound.date, N_("a care round"), SEASON_YEARS, SEASON_YEARS),
    (CareRound.done_on, N_("a care round"), SEASON_YEARS, SEASON_YEARS),
    (SpareOffer.date, N_("an offer of spare plants"), SEASON_YEARS, SEASON_YEARS),
    (SpareRequest.date, N_("a request for spare plants"), SEASON_YEARS, SEASON_YEARS),
    (SpareGift.date, N_("spare plants handed out"), SEASON_YEARS, SEASON_YEARS),
)


class FarDay(NamedTuple):
    """A day that would be far off.

    Attributes:
        day: The day.
        of: Whose day it is, in words that are said by `_`.
    """

    day: date
    of: str


def find_far_day(session: Session, season: int) -> FarDay | None:
    """Return a day of the season's rows that no garden folder of another growing year may hold; None where all may."""
    for column, of, before, after in _DAYS:
        first, last = session.execute(select(func.min(column), func.max(column))).one()
        if first is not None and first.year < season - before:
            return FarDay(first, of)
        if last is not None and last.year > season + after:
            return FarDay(last, of)
    return None
