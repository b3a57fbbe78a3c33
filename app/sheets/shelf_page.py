"""A shelf as it stands on a day: level by level who stands where, what is free, what comes and goes."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, TypedDict

from app.core.calendar import DAYS_IN_WEEK, week_start
from app.core.dealing.positions import slots_of_levels
from app.core.needs.light import daily_light
from app.core.needs.shelf_use import days_to_next_fill
from app.core.words import Place, Units
from app.language import _, ngettext
from app.sheets.contents import CropInTray, crops_in
from app.sheets.moves import TrayWords
from app.sheets.tray_words import place_words, position_short
from app.sheets.units import depth_words, size_words, temperature_words
from app.sheets.words import count_words, day_words, decimal_sign, list_words, week_words

if TYPE_CHECKING:
    from app.core.cards import ShelfCard
    from app.core.plan import Plan
    from app.services.moves import Move
    from app.storage.queries.trays import StayRow

TOMORROW = timedelta(days=1)


@dataclass(frozen=True, kw_only=True)
class PositionLine:
    """A position on the day.

    Attributes:
        slot: Its number on the level.
        tray: Number of the tray that stands there; None where it is free.
        crops: What is in the tray.
        since: The day it came, in words.
        until: The day it goes, in words.
        is_pinned: It keeps this position.
        planned_for: The place that it was dealt to, where the shelf is for another now; empty otherwise.
        next: The day on which the next tray comes, in words; empty for none.
        next_tray: Number of the tray that comes next; None for none.
    """

    slot: int
    tray: int | None
    crops: tuple[CropInTray, ...] = ()
    since: str = ""
    until: str = ""
    is_pinned: bool = False
    planned_for: str = ""
    next: str = ""
    next_tray: int | None = None


class _Following(TypedDict):
    """Who comes next to a position, as `PositionLine` has it."""

    next: str
    next_tray: int | None


@dataclass(frozen=True, kw_only=True)
class Level:
    """A level of the shelf, how many of its positions are taken in words, and the positions."""

    number: int
    use: str
    positions: tuple[PositionLine, ...]


@dataclass(frozen=True, kw_only=True)
class GoneLine:
    """A tray on a position that the shelf has no longer."""

    tray: int
    where: str
    since: str
    until: str


@dataclass(frozen=True, kw_only=True)
class ShelfMove:
    """A tray that comes to the shelf or goes from it.

    Attributes:
        day: The day, in words.
        when: `this day` or `the day after`, empty for other days.
        comes: It comes; else it goes.
        tray: Its number.
        here: Level and position on this shelf.
        other: Where it comes from, or goes; empty for a tray that is filled here, and for one that leaves for good.
        why: The reason.
    """

    day: str
    when: str
    comes: bool
    tray: int
    here: str
    other: str
    why: str


@dataclass(frozen=True, kw_only=True)
class ShelfPage:
    """A shelf on a day.

    Attributes:
        place: The place that it is part of.
        facts: The line of facts under the heading.
        free: Which positions are free, in one sentence.
        levels: The levels, each with its positions.
        gone: Trays on positions that the shelf has no longer.
        week: The days of the week around the day, in words.
        moves: What comes and goes in this week and on the day after the day.
        settings: Size, warmth, light and water of the shelf.
        has_current: Whether it has lamps, heat or a fan.
    """

    place: str
    facts: tuple[tuple[str, str], ...]
    free: str
    levels: tuple[Level, ...]
    gone: tuple[GoneLine, ...]
    week: str
    moves: tuple[ShelfMove, ...]
    settings: tuple[tuple[str, str], ...]
    has_current: bool


@dataclass(frozen=True, kw_only=True)
class ShelfOnDay:
    """What a shelf's page is made from.

    Attributes:
        card: The shelf.
        has_fan: Whether a fan blows over it; None where that is not known.
        day: The day.
        stays: The stays on it from the day on, by day.
        moves: What comes and goes in the week, and on the day after the day, by day.
        units: In which quantities are said.
    """

    card: "ShelfCard"
    has_fan: bool | None
    day: date
    stays: "list[StayRow]"
    moves: "list[Move]"
    units: Units


def days_of_moves(day: date) -> tuple[date, date]:
    """Return the first day whose moves a page of a day shows, and the day after the last: its week, and tomorrow."""
    monday = week_start(day)
    return monday, max(monday + timedelta(days=DAYS_IN_WEEK), day + 2 * TOMORROW)


def make_shelf_page(plan: "Plan", of: ShelfOnDay) -> ShelfPage:
    """Return a shelf on a day in words."""
    card = of.card
    trays = {stay.tray_id for stay in of.stays} | {move.here.tray_id for move in of.moves}
    words = TrayWords(plan, trays)
    slots = slots_of_levels(card.positions, card.levels)
    there = {(stay.level, stay.slot): stay for stay in of.stays if stay.begin_on <= of.day < stay.end_on}
    levels = tuple(_levels(plan, of, words, slots))
    taken = sum(line.tray is not None for level in levels for line in level.positions)
    gone = [stay for (level, slot), stay in there.items() if not _is_there(slots, level, slot)]
    moves = tuple(_moves(words, of))
    counts = Counter(move.comes for move in moves)
    return ShelfPage(
        place=place_words(card.place),
        facts=(
            (_("Trays"), str(taken + len(gone))),
            (_("Free"), count_words(card.positions - taken, "position", "positions")),
            (_("Come in the week"), str(counts[True])),
            (_("Go in the week"), str(counts[False])),
        ),
        free=_free_words(levels),
        levels=levels,
        gone=tuple(_gone(gone)),
        week=week_words(of.day),
        moves=moves,
        settings=tuple(_settings(of)),
        has_current=bool(card.place in {Place.HEAT, Place.LAMP} or card.watts or of.has_fan),
    )


def _is_there(slots: tuple[int, ...], level: int | None, slot: int | None) -> bool:
    return level is not None and slot is not None and level <= len(slots) and slot <= slots[level - 1]


def _levels(plan: "Plan", of: ShelfOnDay, words: TrayWords, slots: tuple[int, ...]) -> Iterator[Level]:
    at: dict[tuple[int | None, int | None], list[StayRow]] = {}
    for stay in of.stays:
        at.setdefault((stay.level, stay.slot), []).append(stay)
    for level, count in enumerate(slots, start=1):
        lines = tuple(_position(plan, of, words, slot, at.get((level, slot), [])) for slot in range(1, count + 1))
        taken = sum(line.tray is not None for line in lines)
        use = _("%(trays)s, %(free)s free", trays=count_words(taken, "tray", "trays"), free=count - taken)
        yield Level(number=level, use=use, positions=lines)


def _position(plan: "Plan", of: ShelfOnDay, words: TrayWords, slot: int, stays: "list[StayRow]") -> PositionLine:
    here = next((stay for stay in stays if stay.begin_on <= of.day < stay.end_on), None)
    coming = next((stay for stay in stays if stay.begin_on > of.day), None)
    following: _Following = {
        "next": "" if coming is None else day_words(coming.begin_on),
        "next_tray": None if coming is None else coming.tray,
    }
    if here is None:
        return PositionLine(slot=slot, tray=None, **following)
    return PositionLine(
        slot=slot,
        tray=here.tray,
        crops=crops_in(plan, words.parts(here.tray_id)),
        since=day_words(here.begin_on),
        until=day_words(here.end_on),
        is_pinned=here.pinned,
        planned_for="" if here.place is of.card.place else place_words(here.place),
        **following,
    )


def _free_words(levels: tuple[Level, ...]) -> str:
    """Return which positions are free: on level 1 position 3, on level 2 positions 1, 2 and 4."""
    parts = []
    for level in levels:
        free = [str(line.slot) for line in level.positions if line.tray is None]
        if len(free) == len(level.positions) > 0:
            parts.append(_("all of level %(level)s", level=level.number))
        elif free:
            parts.append(
                ngettext(
                    "on level %(level)s position %(slots)s",
                    "on level %(level)s positions %(slots)s",
                    len(free),
                    level=level.number,
                    slots=list_words(free),
                )
            )
    if parts and all(line.tray is None for level in levels for line in level.positions):
        return _("Every position is free.")
    return _("Free: %(positions)s.", positions="; ".join(parts)) if parts else _("No position is free.")


def _gone(stays: "Iterable[StayRow]") -> Iterator[GoneLine]:
    for stay in stays:
        yield GoneLine(
            tray=stay.tray,
            where=_("level %(level)s, position %(slot)s", level=stay.level, slot=stay.slot),
            since=day_words(stay.begin_on),
            until=day_words(stay.end_on),
        )


def _moves(words: TrayWords, of: ShelfOnDay) -> Iterator[ShelfMove]:
    when = {of.day: _("this day"), of.day + TOMORROW: _("the day after")}
    for move in of.moves:
        for stay, other, comes in ((move.before, move.after, False), (move.after, move.before, True)):
            if stay is not None and stay.shelf_id == of.card.id:
                yield ShelfMove(
                    day=day_words(move.day),
                    when=when.get(move.day, ""),
                    comes=comes,
                    tray=stay.tray,
                    here=f"{stay.level}·{stay.slot}",
                    other="" if other is None else position_short(other.shelf, other.level, other.slot),
                    why=words.why(move),
                )


def _settings(of: ShelfOnDay) -> Iterator[tuple[str, str]]:
    card = of.card
    levels = count_words(card.levels, "level", "levels")
    size = size_words(card.width_cm, card.depth_cm, of.units)
    yield _("Size"), _("%(levels)s, %(size)s each", levels=levels, size=size)
    yield _("Positions"), str(card.positions)
    if card.bench_temp_c is not None:
        yield _("Mix"), temperature_words(card.bench_temp_c, of.units)
    if card.ppfd is not None:
        yield _("Light at leaf height"), f"{_figure(card.ppfd)} µmol/m²/s"
    if card.hours_per_day is not None:
        yield _("Lamps or heat on"), _("%(hours)s h a day", hours=_figure(card.hours_per_day))
    if card.ppfd is not None and card.hours_per_day is not None:
        light = f"{daily_light(card.ppfd, card.hours_per_day):.1f}".replace(".", decimal_sign())
        yield _("Light of a day (DLI)"), f"{light} mol/m²"
    if card.watts:
        yield _("Power"), f"{_figure(card.watts)} W"
    if card.pan_depth_mm:
        days = days_to_next_fill(card.pan_depth_mm)
        depth = depth_words(card.pan_depth_mm, of.units)
        yield (
            _("Wick pans"),
            ngettext(
                "%(depth)s deep, last about %(num)s days",
                "%(depth)s deep, last about %(num)s days",
                round(days),
                depth=depth,
            ),
        )
    if of.has_fan is not None:
        yield _("Fan"), _("yes") if of.has_fan else _("no")


def _figure(number: float) -> str:
    return f"{number:g}".replace(".", decimal_sign())
