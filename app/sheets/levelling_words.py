"""Why levelling changes a sowing, and what else would do, in words for pages and commands alike."""

from collections.abc import Iterable, Sequence
from datetime import date

from app.core.calendar import monday_of
from app.core.fitting.explain import Alternative, Change, FullWeeks, LeftOut, Why
from app.core.needs.shelf_use import stretches_of
from app.core.plan import Plan
from app.core.words import PLACES
from app.language import _, ngettext
from app.sheets.tray_words import PLACE_WORDS
from app.sheets.words import chance_words, count_words, day_words, number_words, weeks_words


def stretches_words(weeks: Iterable[int]) -> str:
    """Return running numbers of weeks as stretches, as `26 Apr – 13 Jun (W17 – W23), 21 – 27 Jun (W25)`."""
    return ", ".join(weeks_words(monday_of(first), monday_of(last)) for first, last in stretches_of(set(weeks)))


def full_words(full: Sequence[FullWeeks], *, is_over: bool = False) -> str:
    """Return places and weeks, as `lamps over-full 10 – 30 May (W19 – W21); hardening over-full 31 May – 6 Jun (W22)`.

    Args:
        full: Places and weeks.
        is_over: They are over-full, not only full; a place with some positions free, but too few, is almost full.
    """
    return "; ".join(_full_words(one, is_over=is_over) for one in full)


def _full_words(full: FullWeeks, *, is_over: bool) -> str:
    place, weeks = _(PLACE_WORDS[PLACES[full.place]]), stretches_words(full.weeks)
    if full.over < 0:
        return _("%(place)s almost full %(weeks)s", place=place, weeks=weeks)
    if is_over:
        return _("%(place)s over-full %(weeks)s", place=place, weeks=weeks)
    return _("%(place)s full %(weeks)s", place=place, weeks=weeks)


def why_words(change: Change) -> str:
    """Return why a sowing is changed, without a full stop."""
    match change.why:
        case Why.FULL:
            return full_words(change.full, is_over=True)
        case Why.ROOM:
            return _("makes room for others: %(full)s", full=full_words(change.full))
        case Why.MORE:
            return _("there is room for more of it")
        case Why.NEARER:
            return _nearer_words(*map(abs, change.off))
        case Why.TRAYS:
            full = full_words(change.full, is_over=True)
            return (
                _("shares trays, so that fewer stand, %(full)s", full=full)
                if full
                else _("shares trays, so that fewer stand")
            )
        case Why.SAME:
            return _("stays as it is; only what is set for it by hand changes")


def _nearer_words(before: int, after: int) -> str:
    if after:
        return _(
            "nearer to its best day: %(after)s off it, not %(before)s",
            after=count_words(after, "day", "days"),
            before=number_words(before),
        )
    return ngettext(
        "nearer to its best day: on it, not %(num)s",
        "nearer to its best day: on it, not %(num)s",
        before,
        num=number_words(before),
    )


def left_out_words(left_out: LeftOut) -> str:
    """Return which place has no room for what is left out and when, without a full stop."""
    return full_words(left_out.full) or _("there is room for it at its own dates")


def alternative_words(alternative: Alternative | None, plan: Plan) -> str:
    """Return the nearest alternative, or that there is none, without a full stop."""
    if alternative is None:
        return _("none: there is room for it in no other week in which it would still ripen")
    if not alternative.weeks:
        return _("look again and give it more time")
    sow_on, plant_out = (date.fromordinal(day) for day in (alternative.sow_on, alternative.plant_out))
    weeks, days = count_words(abs(alternative.weeks), "week", "weeks"), (day_words(sow_on), day_words(plant_out))
    said = (
        _("%(weeks)s later: sow %(sow)s, plant out %(out)s", weeks=weeks, sow=days[0], out=days[1])
        if alternative.weeks > 0
        else _("%(weeks)s earlier: sow %(sow)s, plant out %(out)s", weeks=weeks, sow=days[0], out=days[1])
    )
    if not alternative.is_early:
        return said
    chance = chance_words(plan.garden.frost.chance_on_or_after(plant_out))
    return _("%(move)s, when the chance of a freeze then or later is %(chance)s", move=said, chance=chance)
