"""Whether this computer's clock has gone back behind what was written down already, so that no date can be trusted."""

from datetime import date, datetime
from typing import TYPE_CHECKING

from app.storage.queries.newest import find_newest_label_day, find_newest_moment

if TYPE_CHECKING:
    from app.storage import Session

# Servers of one database, and a clock that is being set right, differ by less. [s]
SLACK_S = 15 * 60


def find_clock_fault(session: "Session", now: float, today: date | None = None) -> datetime | None:
    """Return the moment of the newest entry if it lies in the future; None if the clock can be right.

    Args:
        session: Where the entries are.
        now: What the clock says. [s since 1970]
        today: The day that the program takes for today; None where it is not the clock's, so that it tells nothing.

    Returns:
        That moment in this computer's time zone; for a label its day at noon.
    """
    newest = find_newest_moment(session)
    if newest is not None and newest > now + SLACK_S:
        return datetime.fromtimestamp(newest).astimezone()
    made_on = None if today is None else find_newest_label_day(session)
    if made_on is not None and today is not None and made_on > today:
        return datetime(made_on.year, made_on.month, made_on.day, 12).astimezone()
    return None
