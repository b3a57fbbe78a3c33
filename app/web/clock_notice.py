"""What coordinators are told on their first page where the clock cannot be right."""

import time

from flask import current_app

from app.extensions import db
from app.language import _
from app.services.clock_fault import find_clock_fault
from app.sheets.backup_words import moment_words
from app.web.access import is_coordinator
from app.web.context import current_day, current_settings

SEEN = "clock_notice"
LOOK_EVERY_S = 60.0


def clock_notice() -> str:
    """Return that the clock has gone back; nothing where it has not, or to those who cannot help it.

    The database is asked once a minute, by whichever request comes then.
    """
    if not is_coordinator():
        return ""
    seen: tuple[float, float, float | None] | None = current_app.extensions.get(SEEN)
    if seen is None or not 0 <= time.monotonic() - seen[0] < LOOK_EVERY_S:
        seen = current_app.extensions[SEEN] = (time.monotonic(), *_look())
    _seen_at, now, newest = seen
    if newest is None:
        return ""
    return _(
        "This computer’s clock says %(now)s, but something was written down on %(newest)s already.",
        now=moment_words(now),
        newest=moment_words(newest),
    )


def _look() -> tuple[float, float | None]:
    """Return what the clock says, and the moment of the newest entry if that lies after it. [s since 1970]"""
    now = time.time()
    newest = find_clock_fault(db.session, now, None if current_settings().today is not None else current_day())
    return now, None if newest is None else newest.timestamp()
