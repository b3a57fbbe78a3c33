"""Why levelling changes a sowing, and what else would do, in words for pages and commands alike."""

from collections.abc import Iterable, Sequence
from datetime import date

from app.core.calendar import monday_of
from app.core.fitting.explain import Alternative, Change, FullWeeks, LeftOut, Why
from app.core.needs.shelf_use import stretches_of
from app.core.plan import Plan
from app.core.words import PLACES
from app.sheets.tray_words import PLACE_WORDS
from app.sheets.words import chance_words, count_words, day_words, number_words, weeks_words


def stretches_words(weeks: Iterable[int]) -> str:
    """Return running numbers of weeks as stretches, as `26 Apr – 13 Jun (W17 – W23), 21 – 27 Jun (W25)`."""
    return ", ".join(weeks_words(monday_of(first), monday_of(last)) for first, last in stretches_of(set(weeks)))


def full_words(full: Sequence[FullWeeks], state: str) -> str:
    """Return places and weeks, as `lamps over-full 10 – 30 May (W19 – W21); hardening over-full 31 May – 6 Jun (W22)`.

    Args:
        full: Places and weeks.
        state: What the places are then; one with some positions free, but too few, is said to be that.
    """
    return "; ".join(
        f"{PLACE_WORDS[PLACES[one.place]]} {state if one.over >= 0 else 'almost full'} {stretches_words(one.weeks)}"
        for one in full
    )


def why_words(change: Change) -> str:
    """Return why a sowing is changed, without a full stop."""
    match change.why:
        case Why.FULL:
            return full_words(change.full, "over-full")
        case Why.ROOM:
            return f"makes room for others: {full_words(change.full, 'full')}"
        case Why.MORE:
            return "there is room for more of it"
        case Why.NEARER:
            before, after = (abs(off) for off in change.off)
            off = f"{count_words(after, 'day', 'days')} off it" if after else "on it"
            return f"nearer to its best day: {off}, not {number_words(before)}"
        case Why.TRAYS:
            full = f", {full_words(change.full, 'over-full')}" if change.full else ""
            return f"shares trays, so that fewer stand{full}"
        case Why.SAME:
            return "stays as it is; only what is set for it by hand changes"


def left_out_words(left_out: LeftOut) -> str:
    """Return which place has no room for what is left out and when, without a full stop."""
    return full_words(left_out.full, "full") or "there is room for it at its own dates"


def alternative_words(alternative: Alternative | None, plan: Plan) -> str:
    """Return the nearest alternative, or that there is none, without a full stop."""
    if alternative is None:
        return "none: there is room for it in no other week in which it would still ripen"
    if not alternative.weeks:
        return "look again and give it more time"
    sow_on, plant_out = (date.fromordinal(day) for day in (alternative.sow_on, alternative.plant_out))
    moved = f"{count_words(abs(alternative.weeks), 'week', 'weeks')} {'later' if alternative.weeks > 0 else 'earlier'}"
    said = f"{moved}: sow {day_words(sow_on)}, plant out {day_words(plant_out)}"
    if alternative.is_early:
        chance = plan.garden.frost.chance_on_or_after(plant_out)
        said += f", when the chance of a freeze then or later is {chance_words(chance)}"
    return said
