"""The tasks of a week in words: by day, then by task, a row for each sowing."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from operator import attrgetter
from typing import NamedTuple

from app.core.calendar import DAYS_IN_WEEK, NO_DAY, as_date, as_day
from app.core.plan import NO_CONTAINER, Plan
from app.core.week import Due, Task, due_between
from app.core.words import HARDENING, PLACES
from app.sheets.words import count_words, day_short, day_words

AT_THE_PLOT = "at the plot"
UNITS_OF = {
    Task.SOW: "cell",
    Task.SOW_OUTSIDE: "plant",
    Task.UNCOVER: "cell",
    Task.THIN: "cell",
    Task.POT_ON: "pot",
    Task.HARDEN: "plant",
    Task.HAND_OUT: "plant",
}
HANDLES_MIX = frozenset({Task.SOW, Task.POT_ON})


class TaskRow(NamedTuple):
    """One task of one sowing.

    Attributes:
        grower_id: Row number of the grower.
        grower: Their name.
        crop: Name of the crop.
        variety: Its variety, empty where none is given.
        amount: How much, as `19 cells`.
        more: What else belongs to it, as `38 seeds`; empty where nothing does.
        container: What it is in, or goes into; empty outside.
        place: Where it stands, or goes.
    """

    grower_id: int
    grower: str
    crop: str
    variety: str
    amount: str
    more: str
    container: str
    place: str


@dataclass(frozen=True, kw_only=True)
class TaskOfDay:
    """One task on one day.

    Attributes:
        task: What is to be done.
        sowings: For how many sowings.
        total: How much of it all together, as `412 cells`.
        rows: The sowings on this page, by grower.
    """

    task: Task
    sowings: int
    total: str
    rows: tuple[TaskRow, ...]


@dataclass(frozen=True, kw_only=True)
class DayOfWeek:
    """One day that has tasks."""

    day: date
    tasks: tuple[TaskOfDay, ...]


def due_in_week(plan: Plan, monday: date, *, grower: int | None = None) -> list[Due]:
    """Return what is due in a week, by day, task and grower.

    Args:
        plan: The garden's plan.
        monday: The first day of the week.
        grower: Index of the only grower whose tasks are wanted; None for all.
    """
    begin = as_day(monday)
    return due_between(plan, begin, begin + DAYS_IN_WEEK, grower=grower)


def days_of(plan: Plan, due: list[Due], rows: slice = slice(None)) -> tuple[DayOfWeek, ...]:
    """Return tasks by day in words.

    Args:
        plan: The garden's plan.
        due: The tasks, by day and task.
        rows: Which of them become rows; counts are of all.
    """
    counts: dict[tuple[int, Task], tuple[int, int]] = {}
    for one in due:
        sowings, amount = counts.get((one.day, one.task), (0, 0))
        counts[one.day, one.task] = (sowings + 1, amount + one.count)

    def of_day(dues: Iterator[Due]) -> Iterator[TaskOfDay]:
        for (day, task), same in groupby(dues, key=attrgetter("day", "task")):
            sowings, amount = counts[day, task]
            total = count_words(amount, UNITS_OF[task])
            yield TaskOfDay(task=task, sowings=sowings, total=total, rows=tuple(task_row(plan, one) for one in same))

    return tuple(
        DayOfWeek(day=date.fromordinal(day), tasks=tuple(of_day(dues)))
        for day, dues in groupby(due[rows], key=attrgetter("day"))
    )


def totals_of(due: list[Due]) -> list[tuple[Task, int]]:
    """Return each task that there is, in the order of a sowing's life, and for how many sowings."""
    counts = Counter(one.task for one in due)
    return [(task, counts[task]) for task in Task if counts[task]]


def over_in_week(plan: Plan, monday: date) -> tuple[str, ...]:
    """Return each place that is over-full in a week, as `lamp, 7 over`."""
    row = (as_day(monday) - 1) // DAYS_IN_WEEK - plan.ledger.first_week
    if not 0 <= row < len(plan.ledger.needed):
        return ()
    free = plan.ledger.free[row].tolist()
    return tuple(f"{place}, {-left} over" for place, left in zip(PLACES, free, strict=True) if left < 0)


def next_due(plan: Plan, day: date, *, grower: int | None = None) -> Due | None:
    """Return the first task on or after a day, or None after the last.

    Args:
        plan: The garden's plan.
        day: From when on to look.
        grower: Index of the only grower whose tasks count; None for all.
    """
    times, of_grower = plan.timeline, plan.garden.sowings.grower
    first = as_day(day)
    outside = (times.sow_on == NO_DAY) * times.sow_from
    days = [times.sow_on, outside, times.emerges, times.thin, times.pot_on, times.harden, times.plant_out]
    wanted = slice(None) if grower is None else of_grower == grower
    ahead = [found.min() for column in days if (found := column[wanted][column[wanted] >= first]).size]
    for begin in sorted(set(map(int, ahead))):
        if found_due := due_between(plan, begin, begin + 1, grower=grower):
            return found_due[0]
    return None


def next_sowing_day(plan: Plan, day: date) -> date | None:
    """Return the first day on or after a day on which something is sown in trays, or None after the last."""
    ahead = plan.timeline.sow_on[(plan.timeline.sow_on >= as_day(day)) & (plan.cells > 0)]
    return as_date(int(ahead.min())) if ahead.size else None


def task_row(plan: Plan, due: Due) -> TaskRow:
    """Return one task in words."""
    sowings, index = plan.garden.sowings, due.sowing
    grower = plan.garden.growers[sowings.grower[index]]
    more = ""
    if due.task is Task.SOW:
        more = count_words(int(plan.seeds[index]), "seed")
    elif due.task is Task.SOW_OUTSIDE:
        more = f"by {day_short(date.fromordinal(due.last_day))}" if due.last_day >= due.day else "too long here"
    return TaskRow(
        grower_id=grower.id,
        grower=grower.name,
        crop=plan.garden.cards[sowings.crop[index]].name,
        variety=sowings.varieties[index] or "",
        amount=count_words(due.count, UNITS_OF[due.task]),
        more=more,
        container=_container(plan, due),
        place=_place(plan, due),
    )


def due_words(plan: Plan, due: Due) -> str:
    """Return one task in a sentence without its grower, as `Sat 10 Apr: sow tomato, 19 cells`."""
    row = task_row(plan, due)
    crop = f"{row.crop}, {row.variety}" if row.variety else row.crop
    return f"{day_words(date.fromordinal(due.day))}: {due.task} {crop}, {row.amount}"


def _container(plan: Plan, due: Due) -> str:
    """Return the container that a sowing is in after a task, empty where there is none."""
    potted = int(plan.pot_container[due.sowing])
    is_potted = due.task in {Task.POT_ON, Task.HARDEN, Task.HAND_OUT} and potted != NO_CONTAINER
    index = potted if is_potted else int(plan.container[due.sowing])
    return "" if index == NO_CONTAINER else plan.garden.containers[index].name


def _place(plan: Plan, due: Due) -> str:
    """Return where a sowing stands after a task."""
    if due.task is Task.SOW_OUTSIDE:
        return AT_THE_PLOT
    if due.task is Task.HAND_OUT:
        return "to the grower"
    if due.task is Task.HARDEN:
        return PLACES[HARDENING].value
    first, light = int(plan.first_place[due.sowing]), int(plan.light_place[due.sowing])
    if due.task is Task.SOW:
        return PLACES[first].value
    return f"to {PLACES[light]}" if due.task is Task.UNCOVER and first != light else PLACES[light].value
