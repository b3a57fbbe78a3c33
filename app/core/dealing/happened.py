"""The days of a sown tray's stays when it is dealt anew: what has happened stays as it is written down."""

from itertools import groupby
from typing import NamedTuple


class Planned(NamedTuple):
    """A stay of a dealt tray as the plan has it now, and as it was dealt; day numbers, ends are the day after."""

    tray: int
    begin: int
    end: int
    dealt_begin: int | None
    dealt_end: int | None


def days_of_stays(planned: list[Planned], today: int) -> list[tuple[int, int] | None]:
    """Return first day and the day after the last of each stay; None for one that does not come about any more.

    A stay has begun if it was to begin by today and the plan, which waits for what is written down, has it begun by
    now too. Places that the tray has left since keep their days, and the place in which it stands now keeps its
    first, and is not left on a day that is over. What comes after is as planned, but not before that; what should
    have come before is passed over.

    Args:
        planned: Stays of sown trays, by tray and planned day.
        today: The day that is taken for today. [day number]
    """
    found: list[tuple[int, int] | None] = []
    for _, rows in groupby(planned, key=lambda stay: stay.tray):
        found.extend(_of_tray(list(rows), today))
    return found


def _of_tray(stays: list[Planned], today: int) -> list[tuple[int, int] | None]:
    due = {at: stay.dealt_begin for at, stay in enumerate(stays) if _was_to_begin(stay, today)}
    # A tray that was never where the plan has it by now stands where it was dealt.
    begun = {at: begin for at, begin in due.items() if stays[at].begin <= today} or due
    if not begun:
        return [(stay.begin, stay.end) for stay in stays]
    present = max(begun, key=lambda at: begun[at] or 0)
    begin, end = _present(stays[present], today)
    found: list[tuple[int, int] | None] = []
    for at, stay in enumerate(stays):
        days: tuple[int, int] | None = (max(stay.begin, today, end), stay.end) if at > present else None
        if at == present:
            days = begin, end
        elif stay.dealt_begin is not None and stay.dealt_end is not None and at in begun:
            days = stay.dealt_begin, stay.dealt_end
        found.append(days if days and days[0] < days[1] else None)
    return found


def _was_to_begin(stay: Planned, today: int) -> bool:
    return stay.dealt_begin is not None and stay.dealt_begin <= today


def _present(stay: Planned, today: int) -> tuple[int, int]:
    """Return the days of the stay that began last: it ends as planned, but not on a day that is over."""
    begin, was_to_end = stay.dealt_begin or 0, stay.dealt_end or 0
    if was_to_end <= today:
        return begin, stay.end if stay.end > today else was_to_end
    return begin, max(stay.end, today, begin + 1)
