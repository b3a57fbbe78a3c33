"""How far the log goes, as sheets say it."""

from datetime import UTC, date, datetime

from app.core.plan import Plan
from app.language import _
from app.sheets.words import day_year


def logged_until(plan: Plan, *, is_timed: bool = True) -> datetime | date | None:
    """Return when the last entry of the log was made; None where there is none.

    Args:
        plan: The garden's plan.
        is_timed: Whether the time is wanted. Where it is not, or not told, it is the last day that an entry is of.
    """
    log = plan.garden.log
    if not len(log):
        return None
    made_at = float(log.made_at.max())
    if is_timed and made_at:
        return datetime.fromtimestamp(made_at, UTC).astimezone()
    return date.fromordinal(int(log.day.max()))


def basis_words(printed: date, logged: datetime | date | None, *, is_dealt: bool = False) -> str:
    """Return what a sheet goes by, as `As logged until Sat 10 Apr 2027, 14:05, the rest as planned on Sun 11 Apr 2027.`

    Args:
        printed: The day of its making.
        logged: When the last entry of the log was made, or of which day it is; None where there is none.
        is_dealt: Whether it lists trays as they are dealt.
    """
    planned = day_year(printed)
    if logged is None:
        if is_dealt:
            return _("Trays as dealt, the rest as planned on %(day)s, nothing is logged yet.", day=planned)
        return _("As planned on %(day)s, nothing is logged yet.", day=planned)
    until = day_year(logged) + (f", {logged:%H:%M}" if isinstance(logged, datetime) else "")
    if is_dealt:
        words = _(
            "Trays as dealt, as logged until %(until)s, the rest as planned on %(day)s.", until=until, day=planned
        )
    else:
        words = _("As logged until %(until)s, the rest as planned on %(day)s.", until=until, day=planned)
    return words
