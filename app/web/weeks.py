"""Weeks and addresses as pages use them."""

from collections.abc import Callable
from datetime import date, timedelta

from flask import abort, url_for

from app.core.calendar import iso_week, monday_of_iso_week, week_start
from app.core.errors import OutOfRangeError
from app.core.plan import Plan

# How many years before and after the season a week can be asked for: room for any today, not for mistyped years.
YEARS_AROUND = 20


def read_week(text: str | None, plan: Plan, today: date) -> date:
    """Return the Monday of a week in an address, of today's week where none is given, or answer that there is none."""
    if not text:
        return week_start(today)
    try:
        monday = monday_of_iso_week(text)
    except OutOfRangeError:
        abort(404)
    if abs(monday.year - plan.garden.settings.season) > YEARS_AROUND:
        abort(404)
    return monday


def week_name(day: date, weeks: int = 0) -> str:
    """Return the ISO week that lies so many weeks after the one of a day, as it stands in addresses."""
    return iso_week(day + timedelta(weeks=weeks))


def addresses(endpoint: str, key: str) -> Callable[[int], str]:
    """Return a function from ids to addresses, which is a hundred times cheaper than asking for each.

    Args:
        endpoint: The view.
        key: The name of the id in its address.
    """
    pattern = url_for(endpoint, _anchor=None, _method=None, _scheme=None, _external=None, **{key: 0})
    head, _, tail = pattern.rpartition("0")
    return lambda row_id: f"{head}{row_id}{tail}"
