"""The hand-out sheet of a day: who collects what, with a box to tick and a line to sign."""

import unicodedata
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY, as_day
from app.core.plan import NO_CONTAINER, Plan
from app.sheets.cautions import SAVED_CUCURBITS, Caution
from app.sheets.words import count_words, day_long, day_year

BLANK_LINES = 6


@dataclass(frozen=True, kw_only=True)
class HandedCrop:
    """One sowing's plants.

    Attributes:
        sowing: Key of the sowing.
        crop: Name of the crop.
        variety: Its variety, empty where none is given.
        container: The container the plants are in.
        plants: How many are handed out. [1]
        doubtful: A cucurbit from saved or swapped seed.
    """

    sowing: str
    crop: str
    variety: str
    container: str
    plants: int
    doubtful: bool


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
    cautions: tuple[Caution, ...]
    blank_lines: int = BLANK_LINES


def hand_out_days(plan: Plan) -> tuple[date, ...]:
    """Return every day on which plants are handed out, in order."""
    days = np.unique(plan.timeline.plant_out[_is_handed_out(plan)])
    return tuple(date.fromordinal(day) for day in days.tolist())


def next_hand_out_day(plan: Plan, today: date) -> date | None:
    """Return the first hand-out day from today on, after the last one that one, None in a plan without any."""
    days = hand_out_days(plan)
    return next((day for day in days if day >= today), days[-1] if days else None)


def make_hand_out_sheet(plan: Plan, day: date, *, today: date, saved_cucurbits: Collection[int] = ()) -> HandOutSheet:
    """Return the sheet of a hand-out day; nobody is listed where nothing is handed out.

    Args:
        plan: The garden's plan.
        day: The hand-out day.
        today: The day that is printed as that of the making.
        saved_cucurbits: Row numbers of the sowings of cucurbits from saved or swapped seed.
    """
    indices = np.flatnonzero(_is_handed_out(plan) & (plan.timeline.plant_out == as_day(day))).tolist()
    of_grower: dict[int, list[int]] = {}
    for index in indices:
        of_grower.setdefault(int(plan.garden.sowings.grower[index]), []).append(index)
    collectors = [_collector(plan, grower, lots, saved_cucurbits) for grower, lots in of_grower.items()]
    growers = tuple(sorted(collectors, key=lambda collector: alphabetical(collector.name)))
    plants = sum(grower.plants for grower in growers)
    is_doubtful = any(crop.doubtful for grower in growers for crop in grower.crops)
    return HandOutSheet(
        garden=plan.garden.settings.name,
        day=day_long(day),
        iso=day.isoformat(),
        printed=day_year(today),
        growers=growers,
        plants=plants,
        sums=f"{count_words(plants, 'plant')} for {count_words(len(growers), 'grower')}",
        cautions=(SAVED_CUCURBITS,) if is_doubtful else (),
    )


def alphabetical(name: str) -> tuple[str, str]:
    """Return a key that sorts names as people look for them, accents and capitals aside."""
    plain = "".join(letter for letter in unicodedata.normalize("NFKD", name) if not unicodedata.combining(letter))
    return plain.casefold(), name


def _is_handed_out(plan: Plan) -> NDArray[np.bool_]:
    handed_out: NDArray[np.bool_] = (plan.timeline.plant_out != NO_DAY) & (plan.plants > 0)
    return handed_out


def _collector(plan: Plan, grower: int, indices: list[int], saved_cucurbits: Collection[int]) -> Collector:
    sowings, garden = plan.garden.sowings, plan.garden
    crops = [
        HandedCrop(
            sowing=sowings.names[index],
            crop=garden.cards[sowings.crop[index]].name,
            variety=sowings.varieties[index] or "",
            container=_container(plan, index),
            plants=int(plan.plants[index]),
            doubtful=int(sowings.ids[index]) in saved_cucurbits,
        )
        for index in indices
    ]
    card = garden.growers[grower]
    return Collector(
        name=card.name,
        plot=card.plot or "",
        crops=tuple(sorted(crops, key=lambda crop: (crop.crop, crop.variety, crop.sowing))),
        plants=sum(crop.plants for crop in crops),
    )


def _container(plan: Plan, index: int) -> str:
    """Return the container that a sowing ends in."""
    pot, start = int(plan.pot_container[index]), int(plan.container[index])
    return plan.garden.containers[start if pot == NO_CONTAINER else pot].name
