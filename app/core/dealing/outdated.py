"""Whether the plan has a dealt tray otherwise by now."""

from collections.abc import Sequence
from enum import StrEnum

import numpy as np

from app.core.dealing.deal import filled_on
from app.core.dealing.happened import Planned, days_of_stays
from app.core.plan import Plan

# Index of the place, first day, and the day after the last.
Span = tuple[int, int, int]


class Outdated(StrEnum):
    """What of a dealt tray the plan has otherwise by now."""

    UNUSED = "unused"
    CONTENTS = "contents"
    DAYS = "days"


def find_outdated(plan: Plan, stored: int, stays: Sequence[Span], *, today: int) -> tuple[Outdated, ...]:
    """Return what the plan has otherwise of one dealt tray; which position it would get takes a deal to know.

    Args:
        plan: The plan.
        stored: Index of the dealt tray.
        stays: Where it stands, by day. [day number]
        today: What has happened by today stays as it is. [day number]
    """
    trays, dealt = plan.trays, plan.garden.dealt
    own = np.flatnonzero(dealt.part_tray == stored)
    planned = np.flatnonzero(trays.stored == stored)
    if not len(planned):
        return (Outdated.UNUSED,) if len(own) else ()
    tray = int(planned[0])
    parts = np.flatnonzero(trays.part_tray == tray)
    now = set(zip(trays.part_lot[parts].tolist(), trays.part_cells[parts].tolist(), strict=True))
    there = set(zip(dealt.part_lot[own].tolist(), dealt.part_cells[own].tolist(), strict=True))
    differs = []
    if now != there:
        differs.append(Outdated.CONTENTS)
    is_filled = bool(dealt.is_filled[stored])
    is_other_day = int(filled_on(plan)[tray]) != int(dealt.filled[stored])
    if is_other_day or _spans(plan, tray, stays if is_filled else (), today) != sorted(stays, key=lambda stay: stay[1]):
        differs.append(Outdated.DAYS)
    return tuple(differs)


def _spans(plan: Plan, tray: int, happened: Sequence[Span], today: int) -> list[Span]:
    """Return where a tray of the plan stands by day; what has happened to a sown one stays as it is."""
    stays = plan.stays
    mine = np.flatnonzero(stays.group == plan.trays.group[tray])
    mine = mine[np.argsort(stays.begin[mine], kind="stable")]
    days_of = {place: (begin, end) for place, begin, end in happened}
    columns = (column[mine].tolist() for column in (stays.place, stays.begin, stays.end))
    spans: list[Span] = list(zip(*columns, strict=True))
    if not happened:
        return spans
    planned = [Planned(tray, begin, end, *days_of.get(place, (None, None))) for place, begin, end in spans]
    found = days_of_stays(planned, today)
    return [(span[0], *days) for span, days in zip(spans, found, strict=True) if days is not None]
