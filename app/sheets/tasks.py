"""The tasks of a week in words: by day and task, or along the shelves, a row for each sowing."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from operator import attrgetter
from typing import NamedTuple

from app.core.calendar import DAYS_IN_WEEK, NO_DAY, as_date, as_day
from app.core.plan import NO_CONTAINER, Plan
from app.core.words import HARDENING, PLACES
from app.core.work.week import Due, Task
from app.core.work.work import next_work_day, work_of
from app.language import N_, _, nouns
from app.sheets.fixed_words import say
from app.sheets.names import name_words
from app.sheets.tray_words import position_short
from app.sheets.words import count_words, day_short, day_words
from app.storage.queries.trays import StayRow

# The tasks, as they are said by `say`.
SAID = (
    N_("sow"), N_("sow outside"), N_("look for seedlings"), N_("uncover"), N_("thin"), N_("pot on"), N_("harden"),
    N_("hand out"),
)  # fmt: skip
CELLS, POTS, PLANTS = nouns("cell", "cells"), nouns("pot", "pots"), nouns("plant", "plants")
UNITS_OF = {
    Task.SOW: CELLS,
    Task.SOW_OUTSIDE: PLANTS,
    Task.LOOK: CELLS,
    Task.UNCOVER: CELLS,
    Task.THIN: CELLS,
    Task.POT_ON: POTS,
    Task.HARDEN: PLANTS,
    Task.HAND_OUT: PLANTS,
}
SPOTS_SAID = 2
HANDLES_MIX = frozenset({Task.SOW, Task.POT_ON})


class TaskRow(NamedTuple):
    """One task of one sowing.

    Attributes:
        pick: What stands for it in a form, as `thin.12`.
        task: What is to be done.
        grower_id: Row number of the grower.
        grower: Their name.
        crop: Name of the crop.
        variety: Its variety, empty where none is given.
        amount: How much, as `19 cells`.
        more: What else belongs to it, as `38 seeds`; empty where nothing does.
        container: What it is in, or goes into; empty outside.
        place: Where it stands, or goes.
        trays: Its trays and where they stand, as `tray 12: Lamp rack, 2·3`; empty where none is dealt.
        day: The day in words: since when it is due, or when it was done.
        done_on: The day on which it was done, as `2027-04-10`; empty where it is open.
        is_waiting: Whether it was due before today and is not confirmed.
        is_not_confirmed: Whether it was due a week ago or more.
        sowing_id: Row number of the sowing, where what is up is to be logged; 0 else.
    """

    pick: str
    task: Task
    grower_id: int
    grower: str
    crop: str
    variety: str
    amount: str
    more: str
    container: str
    place: str
    trays: str
    day: str
    done_on: str
    is_waiting: bool
    is_not_confirmed: bool
    sowing_id: int

    @property
    def of_whom(self) -> str:
        """What follows the task where its button is read out: crop and grower."""
        return f", {self.crop}, {self.grower}"


@dataclass(frozen=True, kw_only=True)
class TaskGroup:
    """Rows under a head of their own.

    Attributes:
        task: What is to be done for all of them; None where each row has a task of its own.
        head: The head; empty where the section's says it all.
        sub: For how many sowings, how much of it, and how many are done.
        rows: The rows on this page.
    """

    task: Task | None
    head: str
    sub: str
    rows: tuple[TaskRow, ...]


@dataclass(frozen=True, kw_only=True)
class Section:
    """A part of the list: what is overdue, a day, or a level of a shelf.

    Attributes:
        anchor: What it is called in addresses.
        head: The same in words.
        day: The day; None for one that is no day.
        is_overdue: Whether it holds what was due before and is not confirmed.
        groups: What is to be done.
    """

    anchor: str
    head: str
    day: date | None
    is_overdue: bool
    groups: tuple[TaskGroup, ...]


class Spot(NamedTuple):
    """A tray and where it stands, in the order of a walk; a tray that waits comes last."""

    place: int
    waits: bool
    shelf: str
    level: int
    slot: int
    tray: int


@dataclass(frozen=True, kw_only=True)
class WeekOfTasks:
    """The tasks of a week.

    Attributes:
        monday: First day of the week.
        today: The day that is taken for today.
        overdue: What was due before today and is not confirmed; none unless today lies in the week.
        due: What is open or was done on each day of the week.
        spots: Where the trays of a sowing stand on a day.
    """

    monday: date
    today: date
    overdue: tuple[Due, ...]
    due: tuple[Due, ...]
    spots: "Spots"

    @property
    def all(self) -> tuple[Due, ...]:
        """All of it, what is overdue first."""
        return self.overdue + self.due


class Spots:
    """Where dealt trays stand on the days of some weeks."""

    def __init__(self, plan: Plan, stays: Iterable[StayRow]) -> None:
        """Sort the stays by sowing."""
        dealt = plan.garden.dealt
        of_tray: dict[int, list[StayRow]] = {}
        for stay in stays:
            of_tray.setdefault(stay.tray_id, []).append(stay)
        self._of_lot: dict[int, list[tuple[bool, StayRow]]] = {}
        for tray, lot in zip(dealt.part_tray.tolist(), dealt.part_lot.tolist(), strict=True):
            is_pots = bool(dealt.is_potted_on[tray])
            self._of_lot.setdefault(lot, []).extend((is_pots, stay) for stay in of_tray.get(int(dealt.ids[tray]), ()))

    def of(self, work: Due, today: date) -> list[Spot]:
        """Return where a sowing stands for a task: on the evening before, or where it goes if it is only sown then."""
        stays = self._of_lot.get(work.sowing)
        if not stays or work.is_done or work.task is Task.SOW_OUTSIDE:
            return []
        day = max(date.fromordinal(work.day), today) if work.waited_days else date.fromordinal(work.day)
        for at in (day - timedelta(days=1), day):
            here = {
                Spot(
                    PLACES.index(stay.place),
                    stay.shelf is None,
                    stay.shelf or "",
                    stay.level or 0,
                    stay.slot or 0,
                    stay.tray,
                )
                for is_pots, stay in stays
                if stay.begin_on <= at < stay.end_on and not (is_pots and work.task is Task.POT_ON)
            }
            if here:
                return sorted(here)
        return []


def tasks_of_week(
    plan: Plan, work: Iterable[Due], monday: date, today: date, stays: Iterable[StayRow] = ()
) -> WeekOfTasks:
    """Return the tasks of a week.

    Args:
        plan: The garden's plan.
        work: All work, by day, task and grower.
        monday: The first day of the week.
        today: The day that is taken for today.
        stays: Where dealt trays stand from the day before the week, or before today, to its end.
    """
    begin, now = as_day(monday), as_day(today)
    end = begin + DAYS_IN_WEEK
    is_now = begin <= now < end
    overdue, due = [], []
    for one in work:
        if is_now and one.waited_days and one.day < now:
            overdue.append(one)
        elif begin <= one.day < end:
            due.append(one)
    return WeekOfTasks(monday=monday, today=today, overdue=tuple(overdue), due=tuple(due), spots=Spots(plan, stays))


def sections_by_day(plan: Plan, week: WeekOfTasks, rows: slice = slice(None)) -> tuple[Section, ...]:
    """Return tasks in words: what is overdue by task, then each day by task.

    Args:
        plan: The garden's plan.
        week: The tasks.
        rows: Which of them become rows; counts are of all.
    """
    order = {task: number for number, task in enumerate(Task)}
    overdue = sorted(week.overdue, key=lambda work: order[work.task])
    listed = [(True, one) for one in overdue] + [(False, one) for one in week.due]
    alike: dict[tuple[int, Task], list[Due]] = {}
    for is_overdue, one in listed:
        alike.setdefault((0 if is_overdue else one.day, one.task), []).append(one)

    def group(day: int, works: Iterable[tuple[bool, Due]]) -> Iterator[TaskGroup]:
        for task, same in groupby((one for _is_overdue, one in works), key=attrgetter("task")):
            yield TaskGroup(
                task=task,
                head=say(task).capitalize(),
                sub=_sums(task, alike[day, task]),
                rows=tuple(task_row(plan, one, week) for one in same),
            )

    sections = []
    for day, works in groupby(listed[rows], key=lambda pair: 0 if pair[0] else pair[1].day):
        found = date.fromordinal(day) if day else None
        sections.append(
            Section(
                anchor=found.isoformat() if found else "overdue",
                head=day_words(found) if found else _("Due before, not confirmed"),
                day=found,
                is_overdue=not day,
                groups=tuple(group(day, works)),
            )
        )
    return tuple(sections)


def sections_by_shelf(plan: Plan, week: WeekOfTasks, rows: slice = slice(None)) -> tuple[Section, ...]:
    """Return tasks in the order of a walk: by place, shelf and level, on each by position.

    What is done is left out, and what is in no tray comes last.

    Args:
        plan: The garden's plan.
        week: The tasks.
        rows: Which of them become rows.
    """
    found = [(week.spots.of(work, week.today), work) for work in week.all if not work.is_done]
    nowhere = Spot(len(PLACES), waits=True, shelf="", level=0, slot=0, tray=0)
    walk = sorted(((spots[0] if spots else nowhere, work) for spots, work in found), key=lambda pair: pair[0])

    def head(spot: Spot) -> str:
        if spot == nowhere:
            return _("Not in a tray yet, or outside")
        if spot.waits:
            return _("Waiting for a position")
        return _("%(shelf)s, level %(level)s", shelf=spot.shelf, level=spot.level)

    sections = []
    for number, ((_place, words), pairs) in enumerate(
        groupby(
            walk[rows], key=lambda pair: ((pair[0].place, pair[0].waits, pair[0].shelf, pair[0].level), head(pair[0]))
        )
    ):
        works = [work for _, work in pairs]
        group = TaskGroup(
            task=None,
            head="",
            sub=count_words(len(works), "task", "tasks"),
            rows=tuple(task_row(plan, work, week) for work in works),
        )
        sections.append(Section(anchor=f"shelf-{number}", head=words, day=None, is_overdue=False, groups=(group,)))
    return tuple(sections)


def _sums(task: Task, works: list[Due]) -> str:
    """Return for how many sowings a task is, how much of it, and how many are done."""
    done = sum(work.is_done for work in works)
    amount = count_words(sum(work.amount for work in works), *UNITS_OF[task])
    words = f"{count_words(len(works), 'sowing', 'sowings')}, {amount}"
    if not done:
        return words
    return (
        _("%(work)s, all done", work=words)
        if done == len(works)
        else _("%(work)s, %(done)s done", work=words, done=done)
    )


def totals_of(works: Iterable[Due]) -> list[tuple[Task, int]]:
    """Return each task that is open, in the order of a sowing's life, and for how many sowings."""
    counts = Counter(one.task for one in works if not one.is_done)
    return [(task, counts[task]) for task in Task if counts[task]]


def over_in_week(plan: Plan, monday: date) -> tuple[str, ...]:
    """Return each place that is over-full in a week, as `lamp, 7 over`."""
    row = (as_day(monday) - 1) // DAYS_IN_WEEK - plan.ledger.first_week
    if not 0 <= row < len(plan.ledger.needed):
        return ()
    free = plan.ledger.free[row].tolist()
    return tuple(
        _("%(place)s, %(count)s over", place=say(place), count=-left)
        for place, left in zip(PLACES, free, strict=True)
        if left < 0
    )


def next_work(plan: Plan, day: date, *, grower: int | None = None) -> Due | None:
    """Return the first open task on or after a day, or None after the last.

    Args:
        plan: The garden's plan.
        day: From when on to look.
        grower: Index of the only grower whose sowings count; None for all.
    """
    first = next_work_day(plan, as_day(day), grower=grower)
    works = work_of(plan, grower=grower, begin=first, end=first + 1)
    return next((one for one in works if one.day == first and not one.is_done), None)


def next_sowing_day(plan: Plan, day: date) -> date | None:
    """Return the first day on or after a day on which something is sown in trays, or None after the last."""
    ahead = plan.timeline.sow_on[(plan.timeline.sow_on >= as_day(day)) & (plan.cells > 0)]
    return as_date(int(ahead.min())) if ahead.size else None


def task_row(plan: Plan, work: Due, week: WeekOfTasks | None = None) -> TaskRow:
    """Return one task in words."""
    sowings, index = plan.garden.sowings, work.sowing
    grower = plan.garden.growers[sowings.grower[index]]
    day = date.fromordinal(work.day)
    spots = [] if week is None else week.spots.of(work, week.today)
    said = [
        _(
            "tray %(number)s: %(position)s",
            number=spot.tray,
            position=position_short(spot.shelf or None, spot.level, spot.slot),
        )
        for spot in spots
    ]
    trays = ", ".join(said[:SPOTS_SAID])
    if len(said) > SPOTS_SAID:
        more = count_words(len(said) - SPOTS_SAID, "more tray", "more trays")
        trays = _("%(trays)s and %(more)s", trays=trays, more=more)
    return TaskRow(
        pick=f"{work.task.name.lower()}.{int(sowings.ids[index])}",
        task=work.task,
        grower_id=grower.id,
        grower=grower.name,
        crop=name_words(plan.garden.cards[sowings.crop[index]].name),
        variety=sowings.varieties[index] or "",
        amount=count_words(work.amount, *UNITS_OF[work.task]),
        more=_more(plan, work),
        container=_container(plan, work),
        place=_place(plan, work),
        trays=trays,
        day=day_words(day),
        done_on=day.isoformat() if work.is_done else "",
        is_waiting=work.waited_days > 0,
        is_not_confirmed=work.is_not_confirmed,
        sowing_id=int(sowings.ids[index]) if work.task is Task.LOOK and not work.is_done else 0,
    )


def _more(plan: Plan, work: Due) -> str:
    """Return what else belongs to a task; empty where nothing does."""
    if work.is_done:
        return ""
    if work.task is Task.SOW:
        per_cell = plan.garden.cards[plan.garden.sowings.crop[work.sowing]].seeds_per_cell
        return _joined(count_words(work.amount * per_cell, "seed", "seeds"), own_seed_words(plan, work))
    if work.task is Task.SOW_OUTSIDE:
        is_too_long = work.last_day < work.day
        by = _("too long here") if is_too_long else _("by %(day)s", day=day_short(date.fromordinal(work.last_day)))
        return _joined(by, own_seed_words(plan, work))
    if work.task is Task.UNCOVER and work.waited_days:
        return _("mould risk") if plan.progress.up_on[work.sowing] != NO_DAY else _("mould risk if any are up")
    return ""


def own_seed_words(plan: Plan, work: Due) -> str:
    """Return that the grower brings the seed, where something is sown and they do; else nothing."""
    is_sown = work.task in {Task.SOW, Task.SOW_OUTSIDE}
    return _("the grower’s own seed") if is_sown and plan.garden.sowings.brings_seed[work.sowing] else ""


def _joined(*parts: str) -> str:
    return ", ".join(part for part in parts if part)


def work_words(plan: Plan, work: Due) -> str:
    """Return one task in a sentence without its grower, as `Sat 10 Apr: sow tomato, 19 cells`."""
    sowings = plan.garden.sowings
    variety = sowings.varieties[work.sowing]
    crop = name_words(plan.garden.cards[sowings.crop[work.sowing]].name) + (f", {variety}" if variety else "")
    amount = count_words(work.amount, *UNITS_OF[work.task])
    return _(
        "%(day)s: %(task)s %(crop)s, %(amount)s",
        day=day_words(date.fromordinal(work.day)),
        task=say(work.task),
        crop=crop,
        amount=amount,
    )


def _container(plan: Plan, work: Due) -> str:
    """Return the container that a sowing is in after a task, empty where there is none."""
    potted = int(plan.pot_container[work.sowing])
    is_potted = work.task in {Task.POT_ON, Task.HARDEN, Task.HAND_OUT} and potted != NO_CONTAINER
    index = potted if is_potted else int(plan.container[work.sowing])
    return "" if index == NO_CONTAINER else name_words(plan.garden.containers[index].name)


def _place(plan: Plan, work: Due) -> str:
    """Return where a sowing stands after a task."""
    if work.task is Task.SOW_OUTSIDE:
        return _("at the plot")
    if work.task is Task.HAND_OUT:
        return _("to the grower")
    if work.task is Task.HARDEN:
        return say(PLACES[HARDENING])
    first, light = int(plan.first_place[work.sowing]), int(plan.light_place[work.sowing])
    if work.task in {Task.SOW, Task.LOOK}:
        return say(PLACES[first])
    place = say(PLACES[light])
    return _("to %(place)s", place=place) if work.task is Task.UNCOVER and first != light else place
