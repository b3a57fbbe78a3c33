"""Sowings that are late or have failed, in words, with what can still be done."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from app.core.calendar import NO_DAY
from app.core.plan import Plan
from app.core.work.failing import Failing, Trouble, troubles_of
from app.core.work.week import Task
from app.core.work.work import work_of
from app.sheets.words import count_words, day_short, day_words, list_words

HEADS = {
    Trouble.LATE: "Late",
    Trouble.TOO_LATE: "Too late to sow",
    Trouble.NOTHING_UP: "Nothing is up",
    Trouble.TOO_FEW: "Too few plants",
}


@dataclass(frozen=True, kw_only=True)
class FailingLine:
    """A sowing that is late or has failed.

    Attributes:
        sowing_id: Its row number.
        sowing: Its key.
        grower_id: Row number of the grower.
        grower: Their name.
        crop: Name of the crop.
        variety: Its variety, empty where none is given.
        head: What is wrong, in a few words.
        said: The same in a sentence.
        ways: What can still be done, each a sentence.
        again: The words of the button that sows it again; empty where it cannot be, or is already.
        plants: Plants that are missing. [1]
        spare: Plants of the crop that others give away. [1]
        is_only_late: Whether nothing is lost so far.
    """

    sowing_id: int
    sowing: str
    grower_id: int
    grower: str
    crop: str
    variety: str
    head: str
    said: str
    ways: tuple[str, ...]
    again: str
    plants: int
    spare: int
    is_only_late: bool


def failing_line(plan: Plan, failing: Failing, spares: Mapping[int, int]) -> FailingLine:
    """Return a sowing that is late or has failed, in words.

    Args:
        plan: The garden's plan.
        failing: What is wrong with it, and what can be done.
        spares: Plants that are given away, by the row number of the crop card.
    """
    amiss, sowings = failing.amiss, plan.garden.sowings
    index = amiss.sowing
    grower = plan.garden.growers[sowings.grower[index]]
    card = plan.garden.cards[sowings.crop[index]]
    coming = sum(int(plan.plants[other]) for other in failing.others)
    is_again = bool(failing.others) and coming >= amiss.missing
    return FailingLine(
        sowing_id=int(sowings.ids[index]),
        sowing=sowings.names[index],
        grower_id=grower.id,
        grower=grower.name,
        crop=card.name,
        variety=sowings.varieties[index] or "",
        head=HEADS[amiss.trouble],
        said=_said(plan, failing),
        ways=tuple(_ways(plan, failing)),
        again=(
            f"Sow {count_words(amiss.missing, 'plant', 'plants')} again"
            if amiss.trouble is not Trouble.LATE and failing.again_on != NO_DAY and not is_again
            else ""
        ),
        plants=amiss.missing,
        spare=0 if amiss.trouble is Trouble.LATE else spares.get(card.id, 0),
        is_only_late=amiss.trouble is Trouble.LATE,
    )


def _day(number: int) -> str:
    return day_words(date.fromordinal(number))


def _short(number: int) -> str:
    return day_short(date.fromordinal(number))


def _said(plan: Plan, failing: Failing) -> str:
    """Return what is wrong, in a sentence."""
    amiss = failing.amiss
    missing = count_words(amiss.missing, "plant", "plants")
    match amiss.trouble:
        case Trouble.LATE:
            return (
                f"It was to be sown on {_day(amiss.since)} and is not logged as sown. "
                f"It is now planned for {_day(failing.again_on)}."
            )
        case Trouble.TOO_LATE:
            return (
                f"It was to be sown on {_day(amiss.since)}, its last chance was {_day(failing.last_chance)}, and it "
                f"is not logged as sown. It takes no room any more."
            )
        case Trouble.NOTHING_UP:
            return f"No seedling is logged by {_day(amiss.since)}: {missing} will be missing, unless they are up."
        case _:
            return f"{missing.capitalize()} of the {int(plan.plants[amiss.sowing])} wanted will be missing."


def _ways(plan: Plan, failing: Failing) -> list[str]:
    """Return what can still be done, each a sentence."""
    if failing.amiss.trouble is Trouble.LATE:
        return [f"Sow it by {_day(failing.last_chance)} at the latest, or it does not ripen."]
    found = []
    if failing.again_on != NO_DAY:
        found.append(
            f"Sow again on {_day(failing.again_on)}, {count_words(failing.again_cells, 'cell', 'cells')}; its last chance is "
            f"{_day(failing.last_chance)}."
        )
    elif failing.amiss.trouble is not Trouble.TOO_LATE:
        found.append(f"Its last chance to be sown was {_day(failing.last_chance)}.")
    if failing.others:
        names = [
            f"{plan.garden.sowings.names[other]} ({_short(int(plan.timeline.sow_on[other]))}, "
            f"{count_words(int(plan.plants[other]), 'plant', 'plants')})"
            for other in failing.others
        ]
        found.append(f"The same crop is sown after it: {list_words(names)}.")
    if failing.variety_days:
        found.append(f"A variety that takes {failing.variety_days} days to maturity or fewer still ripens.")
    if failing.cards:
        names = [
            f"{plan.garden.cards[one.card].name} ({one.days} days{', sown outside' if one.is_outside else ''}, "
            f"until {_short(one.last_sowing)})"
            for one in failing.cards
        ]
        found.append(f"Quicker crops that still ripen: {list_words(names)}.")
    return found


def state_words(plan: Plan, *, sowings: Sequence[int] | None = None) -> dict[int, str]:
    """Return what is amiss with sowings by the log, in a few words, by their indices: late, failed, not confirmed.

    Args:
        plan: The garden's plan.
        sowings: Indices of the only sowings that count; None for all.
    """
    found: dict[int, str] = {}
    today, times = plan.garden.today, plan.timeline
    wanted = range(len(plan.plants)) if sowings is None else frozenset(sowings)
    for due in work_of(plan, begin=today, end=today):
        if due.sowing in wanted and due.is_not_confirmed and due.task is not Task.SOW_OUTSIDE:
            found.setdefault(due.sowing, f"{due.task}: due since {_day(due.day)}, not confirmed")
    for one in troubles_of(plan, sowings=None if sowings is None else np.array(sowings, dtype=np.int64)):
        match one.trouble:
            case Trouble.LATE:
                words = f"late: was to be sown on {_day(one.since)}, now {_day(int(times.sow_on[one.sowing]))}"
            case Trouble.TOO_LATE:
                words = f"too late to sow: its last chance was {_day(int(times.last_chance[one.sowing]))}"
            case Trouble.NOTHING_UP:
                words = f"nothing is logged as up by {_day(one.since)}"
            case _:
                words = f"too few: {count_words(one.missing, 'plant', 'plants')} will be missing"
        found[one.sowing] = words
    return found
