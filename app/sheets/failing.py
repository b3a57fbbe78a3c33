"""Sowings that are late or have failed, in words, with what can still be done."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from app.core.calendar import NO_DAY
from app.core.plan import Plan
from app.core.work.failing import Failing, QuickCard, Trouble, troubles_of
from app.core.work.week import Task
from app.core.work.work import work_of
from app.language import N_, _, ngettext
from app.sheets.fixed_words import say
from app.sheets.names import name_words
from app.sheets.words import count_words, day_short, day_words, list_words, number_words

HEADS = {
    Trouble.LATE: N_("Late"),
    Trouble.TOO_LATE: N_("Too late to sow"),
    Trouble.NOTHING_UP: N_("Nothing is up"),
    Trouble.TOO_FEW: N_("Too few plants"),
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
    missing = number_words(amiss.missing)
    is_again = bool(failing.others) and coming >= amiss.missing
    return FailingLine(
        sowing_id=int(sowings.ids[index]),
        sowing=sowings.names[index],
        grower_id=grower.id,
        grower=grower.name,
        crop=name_words(card.name),
        variety=sowings.varieties[index] or "",
        head=_(HEADS[amiss.trouble]),
        said=_said(plan, failing),
        ways=tuple(_ways(plan, failing)),
        again=(
            ngettext("Sow %(num)s plant again", "Sow %(num)s plants again", amiss.missing, num=missing)
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
            return _(
                "It was to be sown on %(day)s and is not logged as sown. It is now planned for %(now)s.",
                day=_day(amiss.since),
                now=_day(failing.again_on),
            )
        case Trouble.TOO_LATE:
            return _(
                "It was to be sown on %(day)s, its last chance was %(last)s, and it is not logged as sown. It takes no "
                "room any more.",
                day=_day(amiss.since),
                last=_day(failing.last_chance),
            )
        case Trouble.NOTHING_UP:
            return _(
                "No seedling is logged by %(day)s: %(plants)s will be missing, unless they are up.",
                day=_day(amiss.since),
                plants=missing,
            )
        case Trouble.TOO_FEW:
            return ngettext(
                "%(num)s plant of the %(wanted)s wanted will be missing.",
                "%(num)s plants of the %(wanted)s wanted will be missing.",
                amiss.missing,
                num=number_words(amiss.missing),
                wanted=int(plan.plants[amiss.sowing]),
            )


def _ways(plan: Plan, failing: Failing) -> list[str]:
    """Return what can still be done, each a sentence."""
    if failing.amiss.trouble is Trouble.LATE:
        last = _day(failing.last_chance)
        return [_("Sow it by %(day)s at the latest, or it does not ripen.", day=last)]
    found = []
    if failing.again_on != NO_DAY:
        found.append(
            _(
                "Sow again on %(day)s, %(cells)s; its last chance is %(last)s.",
                day=_day(failing.again_on),
                cells=count_words(failing.again_cells, "cell", "cells"),
                last=_day(failing.last_chance),
            )
        )
    elif failing.amiss.trouble is not Trouble.TOO_LATE:
        found.append(_("Its last chance to be sown was %(day)s.", day=_day(failing.last_chance)))
    if failing.others:
        names = [
            f"{plan.garden.sowings.names[other]} ({_short(int(plan.timeline.sow_on[other]))}, "
            f"{count_words(int(plan.plants[other]), 'plant', 'plants')})"
            for other in failing.others
        ]
        found.append(_("The same crop is sown after it: %(sowings)s.", sowings=list_words(names)))
    if failing.variety_days:
        days = failing.variety_days
        found.append(_("A variety that takes %(days)s days to maturity or fewer still ripens.", days=days))
    if failing.cards:
        names = [_quicker(plan, one) for one in failing.cards]
        found.append(_("Quicker crops that still ripen: %(crops)s.", crops=list_words(names)))
    return found


def _quicker(plan: Plan, card: QuickCard) -> str:
    """Return a quicker crop with its days to maturity and how long it can be sown."""
    name, last = name_words(plan.garden.cards[card.card].name), _short(card.last_sowing)
    if card.is_outside:
        return _("%(crop)s (%(days)s days, sown outside, until %(last)s)", crop=name, days=card.days, last=last)
    return _("%(crop)s (%(days)s days, until %(last)s)", crop=name, days=card.days, last=last)


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
            words = _("%(task)s: due since %(day)s, not confirmed", task=say(due.task), day=_day(due.day))
            found.setdefault(due.sowing, words)
    for one in troubles_of(plan, sowings=None if sowings is None else np.array(sowings, dtype=np.int64)):
        match one.trouble:
            case Trouble.LATE:
                now = _day(int(times.sow_on[one.sowing]))
                words = _("late: was to be sown on %(day)s, now %(now)s", day=_day(one.since), now=now)
            case Trouble.TOO_LATE:
                last = _day(int(times.last_chance[one.sowing]))
                words = _("too late to sow: its last chance was %(day)s", day=last)
            case Trouble.NOTHING_UP:
                words = _("nothing is logged as up by %(day)s", day=_day(one.since))
            case Trouble.TOO_FEW:
                missing = count_words(one.missing, "plant", "plants")
                words = _("too few: %(plants)s will be missing", plants=missing)
        found[one.sowing] = words
    return found
