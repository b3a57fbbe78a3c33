"""The hand-out sheet of a day: who collects what, with a box to tick and a line to sign."""

import unicodedata
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY, as_day
from app.core.folded import fold
from app.core.plan import NO_CONTAINER, Plan
from app.core.space.grid import Cell
from app.core.work.work import to_hand_out
from app.language import _
from app.sheets.cautions import SAVED_CUCURBITS, Caution
from app.sheets.logged import basis_words, logged_until
from app.sheets.names import name_words
from app.sheets.tray_words import cells_words, position_short
from app.sheets.words import count_words, day_long, day_words, day_year
from app.storage.queries.trays import CellRow, StayRow

BLANK_LINES = 6


@dataclass(frozen=True, kw_only=True)
class HandedCrop:
    """One sowing's plants.

    Attributes:
        sowing: Key of the sowing.
        crop: Name of the crop.
        variety: Its variety, empty where none is given.
        container: The container the plants are in.
        plants: How many are to be handed out. [1]
        doubtful: A cucurbit from saved or swapped seed.
        trays: Each tray that they are in, their cells in it, and where it stands; empty where none is dealt.
        collected: How many were logged as collected already. [1]
        due: The day they were due on, in words, where that is over; empty else.
    """

    sowing: str
    crop: str
    variety: str
    container: str
    plants: int
    doubtful: bool
    trays: tuple[str, ...]
    collected: int = 0
    due: str = ""


@dataclass(frozen=True, kw_only=True)
class Collector:
    """A grower and what they collect, by crop and variety.

    Attributes:
        name: The grower's name.
        plot: The grower's plot, empty where none is given.
        crops: What they collect.
        plants: All of it together. [1]
    """

    name: str
    plot: str
    crops: tuple[HandedCrop, ...]
    plants: int


@dataclass(frozen=True, kw_only=True)
class HandOutSheet:
    """The sheet of one hand-out day.

    Attributes:
        garden: Name of the garden.
        day: The day, in words.
        iso: The same as `2027-06-12`.
        printed: The day it was made, in words.
        growers: Who collects, in alphabetical order.
        plants: Plants of all of them. [1]
        sums: The same in words.
        basis: What the sheet goes by, in a sentence.
        waiting: Who has not collected what was due on a day before, likewise.
        cautions: What to say with the plants.
        blank_lines: Empty rows at the end, for people not listed. [1]
    """

    garden: str
    day: str
    iso: str
    printed: str
    growers: tuple[Collector, ...]
    plants: int
    sums: str
    basis: str
    waiting: tuple[Collector, ...]
    cautions: tuple[Caution, ...]
    blank_lines: int = BLANK_LINES


def hand_out_days(plan: Plan) -> tuple[date, ...]:
    """Return every day on which plants are handed out, in order."""
    days = np.unique(plan.due.plant_out[_is_handed_out(plan)])
    return tuple(date.fromordinal(day) for day in days.tolist())


def next_hand_out_day(plan: Plan, today: date) -> date | None:
    """Return the first hand-out day from today on, after the last one that one, None in a plan without any."""
    days = hand_out_days(plan)
    return next((day for day in days if day >= today), days[-1] if days else None)


@dataclass(frozen=True, kw_only=True)
class HandOutFacts:
    """What a hand-out sheet says beside the plan.

    Attributes:
        today: The day that is printed as that of the making.
        saved_cucurbits: Row numbers of the sowings of cucurbits from saved or swapped seed.
        cells: All cells of the sowings that are handed out, by tray, row and column.
        stays: Where their trays stand on the day before.
        is_timed: Whether the time of the last entry of the log is said, and not only its day.
    """

    today: date
    saved_cucurbits: Collection[int] = ()
    cells: Sequence[CellRow] = ()
    stays: Sequence[StayRow] = ()
    is_timed: bool = True


def sowings_handed_out(plan: Plan, day: date) -> list[int]:
    """Return the indices of the sowings that are handed out on a day."""
    handed_out: list[int] = np.flatnonzero(_is_handed_out(plan) & (plan.due.plant_out == as_day(day))).tolist()
    return handed_out


def sowings_not_collected(plan: Plan, day: date, today: date) -> list[int]:
    """Return the indices of the sowings that were due before a day and are not logged as collected."""
    is_sown = plan.progress.sown_on != NO_DAY
    was_due = (plan.due.plant_out < as_day(day)) & (plan.due.plant_out <= as_day(today))
    waiting: list[int] = np.flatnonzero(is_sown & was_due & (to_hand_out(plan) > 0)).tolist()
    return waiting


def make_hand_out_sheet(plan: Plan, day: date, facts: HandOutFacts) -> HandOutSheet:
    """Return the sheet of a hand-out day; nobody is listed where nothing is handed out.

    Args:
        plan: The garden's plan.
        day: The hand-out day.
        facts: What it says beside the plan.
    """
    growers = _collectors(plan, sowings_handed_out(plan, day), facts, is_over=False)
    waiting = _collectors(plan, sowings_not_collected(plan, day, facts.today), facts, is_over=True)
    plants = sum(grower.plants for grower in growers)
    is_doubtful = any(crop.doubtful for grower in growers + waiting for crop in grower.crops)
    return HandOutSheet(
        garden=plan.garden.settings.name,
        day=day_long(day),
        iso=day.isoformat(),
        printed=day_year(facts.today),
        growers=growers,
        plants=plants,
        sums=_(
            "%(plants)s for %(growers)s",
            plants=count_words(plants, "plant", "plants"),
            growers=count_words(len(growers), "grower", "growers"),
        ),
        basis=basis_words(facts.today, logged_until(plan, is_timed=facts.is_timed)),
        waiting=waiting,
        cautions=(SAVED_CUCURBITS.said,) if is_doubtful else (),
    )


def _collectors(plan: Plan, indices: list[int], facts: HandOutFacts, *, is_over: bool) -> tuple[Collector, ...]:
    """Return the growers of some sowings in alphabetical order, each with what they collect."""
    of_grower: dict[int, list[int]] = {}
    for index in indices:
        of_grower.setdefault(int(plan.garden.sowings.grower[index]), []).append(index)
    trays, left = _trays_of_sowings(plan, facts), to_hand_out(plan)
    collectors = [
        _collector(plan, grower, lots, facts, trays, left, is_over=is_over) for grower, lots in of_grower.items()
    ]
    return tuple(sorted(collectors, key=lambda collector: alphabetical(collector.name)))


def alphabetical(name: str) -> tuple[str, str]:
    """Return a key that sorts names as people look for them, accents and capitals aside."""
    plain = "".join(letter for letter in unicodedata.normalize("NFKD", name) if not unicodedata.combining(letter))
    return plain.casefold(), name


def _is_handed_out(plan: Plan) -> NDArray[np.bool_]:
    there = (to_hand_out(plan) > 0) | (plan.logged.left > 0)
    handed_out: NDArray[np.bool_] = (plan.due.plant_out != NO_DAY) & (plan.plants > 0) & there
    return handed_out


def _lot(cell: CellRow) -> tuple[int, int]:
    return cell.tray_id, cell.sowing_id


def _trays_of_sowings(plan: Plan, facts: HandOutFacts) -> dict[int, tuple[str, ...]]:
    """Return the trays in which each sowing ends, by its id: in pots where it is potted on."""
    dealt = plan.garden.dealt
    trays = zip(dealt.ids.tolist(), dealt.number.tolist(), dealt.is_potted_on.tolist(), strict=True)
    known = {row: (number, is_pots) for row, number, is_pots in trays}
    at = {stay.tray_id: f" ({position_short(stay.shelf, stay.level, stay.slot)})" for stay in facts.stays if stay.shelf}
    found: dict[int, list[str]] = {}
    for (tray, sowing), cells in groupby(sorted(facts.cells, key=_lot), key=_lot):
        number, is_pots = known[tray]
        if is_pots == bool(plan.pot_container[plan.index_of[sowing]] != NO_CONTAINER):
            words = cells_words(Cell(cell.row, cell.column) for cell in cells)
            found.setdefault(sowing, []).append(
                _("tray %(number)s: %(cells)s", number=number, cells=words) + at.get(tray, "")
            )
    return {sowing: tuple(words) for sowing, words in found.items()}


def _collector(
    plan: Plan,
    grower: int,
    indices: list[int],
    facts: HandOutFacts,
    trays: dict[int, tuple[str, ...]],
    left: NDArray[np.int64],
    *,
    is_over: bool,
) -> Collector:
    sowings, garden = plan.garden.sowings, plan.garden
    crops = [
        HandedCrop(
            sowing=sowings.names[index],
            crop=name_words(garden.cards[sowings.crop[index]].name),
            variety=sowings.varieties[index] or "",
            container=_container(plan, index),
            plants=int(left[index]),
            doubtful=int(sowings.ids[index]) in facts.saved_cucurbits,
            trays=trays.get(int(sowings.ids[index]), ()),
            collected=int(plan.logged.left[index]),
            due=day_words(date.fromordinal(int(plan.due.plant_out[index]))) if is_over else "",
        )
        for index in indices
    ]
    card = garden.growers[grower]
    return Collector(
        name=card.name,
        plot=card.plot or "",
        crops=tuple(sorted(crops, key=lambda crop: (fold(crop.crop), crop.variety, crop.sowing))),
        plants=sum(crop.plants for crop in crops),
    )


def _container(plan: Plan, index: int) -> str:
    """Return the container that a sowing ends in."""
    pot, start = int(plan.pot_container[index]), int(plan.container[index])
    return name_words(plan.garden.containers[start if pot == NO_CONTAINER else pot].name)
