"""What a levelling changes, with those sowings together that change alike."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby
from typing import NamedTuple

from app.core.calendar import as_date
from app.core.fitting.explain import Change
from app.core.folded import fold
from app.core.plan import Plan
from app.core.words import PLACES, Place
from app.language import _
from app.services.levelling import ChangeRow
from app.sheets.levelling_words import why_words
from app.sheets.names import name_words
from app.sheets.tray_words import PLACE_WORDS
from app.sheets.words import count_words, day_words, number_words


@dataclass(frozen=True, kw_only=True)
class ChangedSowing:
    """A sowing that changes: its id and key, whose it is, and how many plants it gets where that changes."""

    id: int
    name: str
    grower_id: int
    grower: str
    plants: str


@dataclass(frozen=True, kw_only=True)
class ChangeGroup:
    """Sowings of a crop that change in the same way, for the same reason.

    Attributes:
        crop: Name of the crop.
        was: The day, and where the place changes that too, before.
        will_be: The same after; where neither changes, that there are other plants or none.
        why: Why; empty where that is not known any more.
        sowings: Which sowings, by grower.
    """

    crop: str
    was: str
    will_be: str
    why: str
    sowings: tuple[ChangedSowing, ...]


class _Alike(NamedTuple):
    """What sowings that change alike have in common, in the order in which they are listed."""

    day: date
    crop: str
    was: str
    will_be: str
    why: str


def groups_of_changes(plan: Plan, changes: Iterable[Change]) -> tuple[ChangeGroup, ...]:
    """Return the changes of an answer, by day before and crop.

    Args:
        plan: The plan as it was.
        changes: Its changes, explained.
    """
    garden, sowings = plan.garden, plan.garden.sowings

    def read(change: Change) -> tuple[_Alike, ChangedSowing]:
        grower = garden.growers[sowings.grower[change.sowing]]
        why = why_words(change)
        alike = _alike(
            name_words(garden.cards[sowings.crop[change.sowing]].name),
            (as_date(change.day[0]), as_date(change.day[1])),
            (_place(change.light[0]), _place(change.light[1])),
            change.placed,
            f"{why[:1].upper()}{why[1:]}",
        )
        sowing = ChangedSowing(
            id=int(sowings.ids[change.sowing]),
            name=sowings.names[change.sowing],
            grower_id=grower.id,
            grower=grower.name,
            plants=_plants_words(*change.placed),
        )
        return alike, sowing

    return _groups(map(read, changes))


def groups_of_rows(rows: Iterable[ChangeRow]) -> tuple[ChangeGroup, ...]:
    """Return changes as they are stored, by day before and crop, without the reason."""

    def read(row: ChangeRow) -> tuple[_Alike, ChangedSowing]:
        days, places = (row.day_before, row.day_after), (row.place_before, row.place_after)
        plants = row.plants_before, row.plants_after
        sowing = ChangedSowing(
            id=row.sowing_id,
            name=row.sowing,
            grower_id=row.grower_id,
            grower=row.grower,
            plants=_plants_words(*plants),
        )
        return _alike(row.crop, days, places, plants, ""), sowing

    return _groups(map(read, rows))


def some_of_groups(groups: Iterable[ChangeGroup], first: int, last: int) -> tuple[ChangeGroup, ...]:
    """Return the groups with only those of their sowings that stand on a page.

    Args:
        groups: All of them.
        first: Number of the first sowing on the page, counted through all groups from 0.
        last: Number of the first one after it.
    """
    kept, at = [], 0
    for group in groups:
        sowings = group.sowings[max(0, first - at) : max(0, last - at)]
        at += len(group.sowings)
        if sowings:
            kept.append(replace(group, sowings=sowings))
    return tuple(kept)


def _groups(found: Iterable[tuple[_Alike, ChangedSowing]]) -> tuple[ChangeGroup, ...]:
    listed = sorted(found, key=lambda one: (one[0].day, fold(one[0].crop), one[0], one[1].grower, one[1].name))
    return tuple(
        ChangeGroup(
            crop=alike.crop,
            was=alike.was,
            will_be=alike.will_be,
            why=alike.why,
            sowings=tuple(sowing for _, sowing in group),
        )
        for alike, group in groupby(listed, key=lambda one: one[0])
    )


def _alike(
    crop: str,
    days: tuple[date | None, date | None],
    places: tuple[Place | None, Place | None],
    plants: tuple[int, int],
    why: str,
) -> _Alike:
    was, will_be = ("–" if day is None else day_words(day) for day in days)
    if not plants[1] and plants[0]:
        will_be = _("left out")
    elif places[0] != places[1]:
        was, will_be = f"{was}, {_place_words(places[0])}", f"{will_be}, {_place_words(places[1])}"
    elif was == will_be:
        will_be = (
            _("the same day")
            if plants[0] == plants[1]
            else _("fewer plants")
            if plants[1] < plants[0]
            else _("more plants")
        )
    return _Alike(days[0] or date.max, crop, was, will_be, why)


def _place(index: int) -> Place | None:
    return PLACES[index] if index >= 0 else None


def _place_words(place: Place | None) -> str:
    return _("nowhere") if place is None else _(PLACE_WORDS[place])


def _plants_words(before: int, after: int) -> str:
    """Return what a sowing gets, empty where that stays as it is."""
    if before == after:
        return ""
    if not after:
        return count_words(before, "plant", "plants")
    return _("%(plants)s, not %(before)s", plants=count_words(after, "plant", "plants"), before=number_words(before))
