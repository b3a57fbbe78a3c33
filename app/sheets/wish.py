"""A wish in words before it is saved: what it means for whoever wishes, and for the shelves."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from app.core.calendar import NO_DAY
from app.core.dealing.one_move import over_full_changes
from app.core.needs.supplies import seeds_of_sowings
from app.core.plan import NO_CONTAINER, NO_PLACE, Plan
from app.core.space.ledger import over_same_weeks
from app.language import N_, _
from app.services.sowings import Preview
from app.sheets.names import name_words
from app.sheets.sowing_day import Effect, effects_of
from app.sheets.warnings import warnings_of
from app.sheets.words import count_words, day_words, percent_words

OUTSIDE = N_("outside, at the plot")


@dataclass(frozen=True, kw_only=True)
class WishPage:
    """What a wish means.

    Attributes:
        lines: What, and what of it, in the order of the season.
        warnings: What is to be watched.
        effects: What becomes of over-full weeks.
        takes_room: Whether it takes room on the shelves.
    """

    lines: tuple[tuple[str, str], ...]
    warnings: tuple[str, ...]
    effects: tuple[Effect, ...]
    takes_room: bool


def make_wish_page(preview: Preview, *, brings_seed: bool) -> WishPage:
    """Return what a wish means, in words.

    Args:
        preview: The plan before and after it.
        brings_seed: Its grower brings the seed.
    """
    plan, index = preview.after, preview.sowing
    before, after = over_same_weeks(preview.before.ledger, plan.ledger)
    return WishPage(
        lines=tuple(_lines(plan, index, brings_seed=brings_seed)),
        warnings=tuple(f"{words[:1].upper()}{words[1:]}." for words in _warnings(plan, index)),
        effects=tuple(effects_of(over_full_changes(before, after))),
        takes_room=int(plan.light_place[index]) != NO_PLACE and not plan.is_too_late[index],
    )


def _warnings(plan: Plan, index: int) -> Iterator[str]:
    if plan.is_too_late[index]:
        yield _("it is too late to sow this in this season, so it takes no room")
    yield from warnings_of(plan, index)


def _lines(plan: Plan, index: int, *, brings_seed: bool) -> Iterator[tuple[str, str]]:
    times, is_outside = plan.timeline, int(plan.container[index]) == NO_CONTAINER
    is_too_late = bool(plan.is_too_late[index])
    first, last = (_day(int(days[index])) for days in (times.sow_from, times.sow_by))
    if is_outside:
        yield _("Sow"), f"{_(OUTSIDE)}, {first} – {last}"
    else:
        if not is_too_late:
            yield _("Sow on"), _day(int(times.sow_on[index]))
        yield _("Sow by"), _("%(last)s, from %(first)s", last=last, first=first)
    if int(times.plant_out[index]) != NO_DAY:
        yield _("Plants handed out"), _day(int(times.plant_out[index]))
    if int(times.last_chance[index]) != NO_DAY:
        yield _("Last chance to sow"), _day(int(times.last_chance[index]))
    if is_too_late:
        return
    if not is_outside:
        box = name_words(plan.garden.containers[int(plan.container[index])].name)
        yield _("Cells"), f"{count_words(int(plan.cells[index]), 'cell', 'cells')} ({box})"
    seeds = count_words(int(seeds_of_sowings(plan)[index]), "seed", "seeds")
    rate = percent_words(round(float(plan.germination[index]), 2))
    said = (
        _("%(seeds)s, which its grower brings; %(rate)s are reckoned to come up", seeds=seeds, rate=rate)
        if brings_seed
        else _("%(seeds)s, of the garden; %(rate)s are reckoned to come up", seeds=seeds, rate=rate)
    )
    yield _("Seed"), said


def _day(number: int) -> str:
    return day_words(date.fromordinal(number)) if number != NO_DAY else "–"
