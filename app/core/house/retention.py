"""Which backups are kept: the last of each day, week and month that has any."""

from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass
from datetime import datetime

from app.core.limits import Bounds

# How many may be asked for; chosen.
KEEP_DAYS = Bounds(1, 366)
KEEP_WEEKS = Bounds(0, 520)
KEEP_MONTHS = Bounds(0, 240)


@dataclass(frozen=True, kw_only=True)
class Keeping:
    """How many backups are kept.

    Attributes:
        days: The last one of each of so many days. [at least 1]
        weeks: The last one of each of so many ISO weeks.
        months: The last one of each of so many months.
    """

    days: int = 7
    weeks: int = 4
    months: int = 12


def choose_kept(taken: Iterable[datetime], now: datetime, keeping: Keeping) -> frozenset[datetime]:
    """Return the backups that are kept; all others may go.

    Days, weeks and months are counted back from the last backup over those that have one, not over the calendar: a
    garden that rests in winter keeps what it had before. What seems to be of the future was taken while the clock
    was ahead, or is newer than a clock that was set back says: it is kept, and does not count.

    The numbers are the garden's choice; 7, 4 and 12 are common practice.

    Args:
        taken: When each backup was taken, in one time zone.
        now: The present moment, in the same time zone.
        keeping: How many are kept.
    """
    moments = set(taken)
    past = sorted((moment for moment in moments if moment <= now), reverse=True)
    kept = {moment for moment in moments if moment > now}
    for number, period in ((keeping.days, _day), (keeping.weeks, _week), (keeping.months, _month)):
        kept |= _last_of_each(past, number, period)
    return frozenset(kept | set(past[:1]))


def _last_of_each(newest_first: list[datetime], number: int, period: Callable[[datetime], Hashable]) -> set[datetime]:
    last: dict[Hashable, datetime] = {}
    for moment in newest_first:
        last.setdefault(period(moment), moment)
    return set(list(last.values())[:number])


def _day(moment: datetime) -> Hashable:
    return moment.date()


def _week(moment: datetime) -> Hashable:
    return moment.isocalendar()[:2]


def _month(moment: datetime) -> Hashable:
    return moment.year, moment.month
