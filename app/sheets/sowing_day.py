"""One sowing moved by hand, in words: the days to choose from, and what a move would do."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from app.core.calendar import NO_DAY
from app.core.dealing.one_move import Becomes, OverFull, SowingDays, over_full_changes
from app.core.plan import Plan
from app.core.space.ledger import over_same_weeks
from app.core.words import PLACES, Place
from app.language import N_, _
from app.services.sowing_day import Move
from app.sheets.ledger_compare import LedgerCompare, compare_ledgers
from app.sheets.levelling_words import stretches_words
from app.sheets.tray_words import place_words
from app.sheets.warnings import warnings_of
from app.sheets.words import count_words, day_words, number_words


class Line(NamedTuple):
    """Something of a sowing, before and after."""

    name: str
    before: str
    after: str


class Effect(NamedTuple):
    """What becomes of over-full weeks of a place, and whether that is for the better."""

    place: str
    words: str
    is_better: bool


@dataclass(frozen=True, kw_only=True)
class MovePage:
    """What a move would do.

    Attributes:
        lines: Dates, places and plants of the sowing, before and after.
        warnings: What is to be watched after it.
        over: Weeks in which some place is over-full, before and after. [1]
        effects: What becomes of over-full weeks.
        ledgers: The ledger before and after, in the weeks that change.
    """

    lines: tuple[Line, ...]
    warnings: list[str]
    over: tuple[int, int]
    effects: tuple[Effect, ...]
    ledgers: LedgerCompare


def day_choice(day: int, best: int, *, is_now: bool) -> str:
    """Return a sowing day with its distance from the best one, as `Sat 24 Apr, 7 days before its best day`."""
    off = day - best
    days = count_words(abs(off), "day", "days")
    if not off:
        words = _("%(day)s, its best day", day=_day(day))
    elif off < 0:
        words = _("%(day)s, %(days)s before its best day", day=_day(day), days=days)
    else:
        words = _("%(day)s, %(days)s after its best day", day=_day(day), days=days)
    return _("%(choice)s, as planned now", choice=words) if is_now else words


def light_words(place: int) -> str:
    """Return where a sowing stands for light."""
    return {Place.LAMP: _("under lamps"), Place.WINDOW: _("at a window")}[PLACES[place]]


def facts_of(plan: Plan, sowing: int, days: SowingDays) -> Iterator[tuple[str, str]]:
    """Yield the line of facts: how it is planned now."""
    wanted, placed = int(plan.garden.sowings.plants[sowing]), int(plan.plants[sowing])
    part = _("%(placed)s of %(wanted)s", placed=number_words(placed), wanted=number_words(wanted))
    yield _("Sow on"), _day(plan.timeline.sow_on[sowing])
    yield _("Stands"), _places_words(plan, sowing)
    yield _("Plants"), number_words(wanted) if placed == wanted else part
    yield _("Sow from – by"), f"{_day(days.first)} – {_day(days.last)}"
    yield _("Best day"), _day(days.best)


def make_move_page(move: Move) -> MovePage:
    """Return what a move would do, in words."""
    before, after = over_same_weeks(move.before.ledger, move.after.ledger)
    return MovePage(
        lines=tuple(_lines(move)),
        warnings=warnings_of(move.after, move.sowing),
        over=(int((before.free < 0).any(axis=1).sum()), int((after.free < 0).any(axis=1).sum())),
        effects=tuple(effects_of(over_full_changes(before, after))),
        ledgers=compare_ledgers(before, after, only_changes=True),
    )


def _lines(move: Move) -> Iterator[Line]:
    plans, sowing = (move.before, move.after), move.sowing
    for name, column in (
        (N_("Sow"), "sow_on"),
        (N_("Emerges"), "emerges"),
        (N_("Thin"), "thin"),
        (N_("Pot on"), "pot_on"),
        (N_("Harden from"), "harden"),
        (N_("Plant out"), "plant_out"),
    ):
        days = [int(getattr(plan.timeline, column)[sowing]) for plan in plans]
        if any(days):
            yield Line(_(name), *map(_day, days))
    yield Line(_("Stands"), *(_places_words(plan, sowing) for plan in plans))
    yield Line(_("Plants"), *(_plants_words(int(plan.plants[sowing])) for plan in plans))
    yield Line(_("To sow"), *(_stand_words(plan, sowing) for plan in plans))


def _plants_words(plants: int) -> str:
    return count_words(plants, "plant", "plants") if plants else _("none, left out")


def _stand_words(plan: Plan, sowing: int) -> str:
    if not plan.cells[sowing]:
        return _("nothing")
    cells = count_words(int(plan.cells[sowing]), "cell", "cells")
    return f"{cells}, {count_words(int(plan.seeds[sowing]), 'seed', 'seeds')}"


def _places_words(plan: Plan, sowing: int) -> str:
    first, light = (place_words(PLACES[int(place[sowing])]) for place in (plan.first_place, plan.light_place))
    return light if first == light else _("%(first)s, then %(second)s", first=first, second=light)


def effects_of(changes: Iterable[OverFull]) -> Iterator[Effect]:
    """Yield what becomes of over-full weeks, in words."""
    for one in changes:
        yield Effect(
            place=place_words(PLACES[one.place]).capitalize(),
            words=_effect_words(one),
            is_better=one.becomes in {Becomes.GONE, Becomes.LESS},
        )


def _effect_words(one: OverFull) -> str:
    weeks, (before, after) = stretches_words(one.weeks), one.over
    most = before if one.becomes is Becomes.GONE else after
    trays, had = count_words(most, "tray", "trays"), number_words(before)
    by = _("by up to %(trays)s", trays=trays) if len(one.weeks) > 1 else _("by %(trays)s", trays=trays)
    match one.becomes:
        case Becomes.GONE:
            return _("no longer over-full %(weeks)s, before %(by)s", weeks=weeks, by=by)
        case Becomes.LESS:
            return _("less over-full %(weeks)s, %(by)s in place of %(before)s", weeks=weeks, by=by, before=had)
        case Becomes.MORE:
            return _("more over-full %(weeks)s, %(by)s in place of %(before)s", weeks=weeks, by=by, before=had)
        case Becomes.NEW:
            return _("newly over-full %(weeks)s, %(by)s", weeks=weeks, by=by)


def _day(number: int) -> str:
    return day_words(date.fromordinal(int(number))) if number != NO_DAY else _("not")
