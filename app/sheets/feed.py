"""The dates of a grower or of the garden as events of a calendar, and as a calendar file."""

import unicodedata
from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, timedelta
from itertools import groupby
from operator import attrgetter

from icalendar import Calendar, vText
from icalendar import Event as Component

from app.core.folded import fold
from app.core.plan import NO_CONTAINER, Plan
from app.core.work.week import Due, Task
from app.language import N_, _, ngettext
from app.services.feeds import Event, Told
from app.sheets.names import name_words
from app.sheets.tasks import CELLS, UNITS_OF, own_seed_words
from app.sheets.words import count_words, day_short
from app.storage.queries.feeds import RoundOfDay

PRODUCT = "-//Traymates//Dates of a garden//EN"
REFRESH = timedelta(hours=12)
MOST_LINES = 60  # of a day's list: some calendars cut long texts off
HEADS = {
    Task.SOW: N_("Sow"),
    Task.SOW_OUTSIDE: N_("Sow outside"),
    Task.LOOK: N_("Look for seedlings"),
    Task.UNCOVER: N_("Uncover"),
    Task.THIN: N_("Thin"),
    Task.POT_ON: N_("Pot on"),
    Task.HARDEN: N_("Harden off"),
    Task.HAND_OUT: N_("Collect"),
}
OF_GARDEN = HEADS | {Task.HAND_OUT: N_("Hand out")}


def own_events(
    plan: Plan, grower: int, work: Iterable[Due], rounds: Iterable[RoundOfDay], *, link: str | None = None
) -> list[Told]:
    """Return a grower's events, one for each step of a sowing and each of their rounds, by day.

    Args:
        plan: The garden's plan.
        grower: Index of the grower.
        work: Their work, open and done.
        rounds: Their rounds.
        link: Address of the grower's page; None without one that works from elsewhere.
    """
    steps = [due for due in work if not _is_past_look(due)]
    done = {(due.sowing, due.task) for due in steps if due.is_done}
    told = [_of_sowing(plan, due, link, is_rest=not due.is_done and (due.sowing, due.task) in done) for due in steps]
    season, owner = plan.garden.settings.season, plan.garden.growers[grower].id
    for one in rounds:
        key = f"{season}/g{owner}/round/{one.date.isoformat()}"
        told.append(Told(key=key, day=one.date, summary=_round(), description=one.note or "", link=link))
    return sorted(told, key=attrgetter("day"))


def garden_events(
    plan: Plan, work: Iterable[Due], rounds: Iterable[RoundOfDay], *, names: bool, link: str | None = None
) -> list[Told]:
    """Return the garden's events, one for each task of a day and each round, by day.

    Args:
        plan: The garden's plan.
        work: All work, open and done, by day and task.
        rounds: All rounds.
        names: Whether growers are named.
        link: Address of the page of the week; None without one that works from elsewhere.
    """
    scope = scope_of_garden(names=names)
    season, told = plan.garden.settings.season, []
    steps = (due for due in work if not _is_past_look(due))
    for (day, task), same in groupby(steps, key=attrgetter("day", "task")):
        dues = list(same)
        amount = count_words(sum(due.amount for due in dues), *UNITS_OF.get(task, CELLS))
        told.append(
            Told(
                key=f"{season}/{scope}/{task}/{date.fromordinal(day).isoformat()}",
                day=date.fromordinal(day),
                summary=_(
                    "%(task)s: %(sowings)s, %(amount)s",
                    task=_(OF_GARDEN[task]),
                    sowings=count_words(len(dues), "sowing", "sowings"),
                    amount=amount,
                ),
                description="\n".join(_lines(plan, dues, names=names)),
                link=link,
            )
        )
    for one in rounds:
        summary = _round(one.grower) if names and one.grower else _round()
        key = f"{season}/{scope}/round/{one.date.isoformat()}"
        told.append(Told(key=key, day=one.date, summary=summary, description=one.note or "", link=link))
    return sorted(told, key=attrgetter("day"))


def scope_of_grower(grower_id: int) -> str:
    """Return what a grower's events are kept under."""
    return f"g{grower_id}"


def scope_of_garden(*, names: bool) -> str:
    """Return what the garden's events are kept under, those with growers' names apart."""
    return "garden with names" if names else "garden"


def _round(grower: str = "") -> str:
    if grower:
        return _("Care round: water and air: %(grower)s", grower=grower)
    return _("Care round: water and air")


def step_words(plan: Plan, due: Due) -> str:
    """Return of what a step is and how much, as `Tomato, Tiny, 9 cells`."""
    sowings = plan.garden.sowings
    crop, variety = name_words(plan.garden.cards[sowings.crop[due.sowing]].name), sowings.varieties[due.sowing]
    amount = count_words(due.amount, *UNITS_OF.get(due.task, CELLS))
    return ", ".join(part for part in (crop, variety, amount) if part)


def more_words(plan: Plan, due: Due) -> str:
    """Return what else one needs to know of a step: seeds and container for sowing, pots, the last day outside."""
    parts = []
    if due.task is Task.SOW:
        parts = [
            count_words(int(plan.seeds[due.sowing]), "seed", "seeds"),
            _container(plan, int(plan.container[due.sowing])),
        ]
    elif due.task is Task.POT_ON:
        parts = [_container(plan, int(plan.pot_container[due.sowing]))]
    elif due.task is Task.SOW_OUTSIDE and due.last_day >= due.day:
        parts = [_("at the plot, by %(day)s", day=day_short(date.fromordinal(due.last_day)))]
    return ", ".join(part for part in [*parts, own_seed_words(plan, due)] if part)


def make_calendar(name: str, events: Sequence[Event]) -> bytes:
    """Return a calendar file: whole days that keep nobody busy, in UTF-8, its lines folded.

    Args:
        name: What the calendar is called.
        events: Its events.

    Source:
        RFC 5545; RFC 7986, 5.1 (NAME) and 5.7 (REFRESH-INTERVAL). X-WR-CALNAME and X-PUBLISHED-TTL say the same to
        calendars that know no newer words: common practice.
    """
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("name", vText(_clean(name)))
    calendar.add("x-wr-calname", vText(_clean(name)))
    calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", f"PT{REFRESH // timedelta(hours=1)}H")
    for event in events:
        calendar.add_component(_component(event))
    text: bytes = calendar.to_ical()
    return text


def _component(event: Event) -> Component:
    told, changed = event.told, datetime.fromtimestamp(int(event.changed_at), UTC)
    component = Component()
    for name, value in (
        ("uid", event.uid),
        ("dtstamp", changed),  # without a METHOD it says the same as LAST-MODIFIED (3.8.7.2)
        ("last-modified", changed),
        ("sequence", event.sequence),
        ("dtstart", told.day),
        ("dtend", told.day + timedelta(days=1)),  # the day after: an end is not part of the event (3.6.1)
        ("summary", _clean(told.summary)),
        ("status", "CANCELLED" if event.is_cancelled else "CONFIRMED"),
        ("transp", "TRANSPARENT"),
    ):
        component.add(name, value)
    if told.description:
        component.add("description", _clean(told.description))
    if told.link:
        component.add("url", told.link)
    return component


def _clean(text: str) -> str:
    """Return a text without what TEXT cannot hold: controls but for tabs and line breaks (RFC 5545, 3.3.11)."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    return "".join(letter for letter in lines if letter in "\n\t" or unicodedata.category(letter) not in {"Cc", "Cs"})


def _container(plan: Plan, index: int) -> str:
    return "" if index == NO_CONTAINER else name_words(plan.garden.containers[index].name)


def _is_past_look(due: Due) -> bool:
    """Tell whether it is a look that found nothing: there may be many, and the next one is what counts."""
    return due.is_done and due.task is Task.LOOK


def _of_sowing(plan: Plan, due: Due, link: str | None, *, is_rest: bool) -> Told:
    key = f"{plan.garden.settings.season}/{plan.garden.sowings.names[due.sowing]}/{due.task}"
    return Told(
        key=f"{key}/rest" if is_rest else key,
        day=date.fromordinal(due.day),
        summary=_("%(task)s: %(what)s", task=_(HEADS[due.task]), what=step_words(plan, due)),
        description=more_words(plan, due),
        link=link,
    )


def _lines(plan: Plan, dues: list[Due], *, names: bool) -> list[str]:
    """Return what a day's task is made of: each grower's sowings, or so much of each crop."""
    if names:
        sowings, growers = plan.garden.sowings, plan.garden.growers
        lines = [f"{growers[sowings.grower[due.sowing]].name}: {step_words(plan, due)}" for due in dues]
    else:
        amounts: Counter[str] = Counter()
        for due in dues:
            amounts[name_words(plan.garden.cards[plan.garden.sowings.crop[due.sowing]].name)] += due.amount
        unit = UNITS_OF.get(dues[0].task, CELLS)
        lines = [
            f"{crop}: {count_words(amount, *unit)}"
            for crop, amount in sorted(amounts.items(), key=lambda one: fold(one[0]))
        ]
    more = len(lines) - MOST_LINES
    if more <= 0:
        return lines
    return [*lines[:MOST_LINES], ngettext("and %(num)s line more", "and %(num)s lines more", more)]
