"""The work on each sowing: what is due from when on, what is done, and what was due and is not confirmed."""

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY, Days
from app.core.log.entries import HANDED_OUT, LOOKED, PLANTED_OUT, UNCOVERED
from app.core.plan import Plan
from app.core.work.week import Due, Task

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

# From so long before seedlings are foreseen one looks for them; chosen here, since seed may be quicker than its card.
LOOK_DAYS_BEFORE = 2
# Where a look found nothing, the next is due so long after it; chosen here.
LOOK_AGAIN_DAYS = 2
LAST_DAY = date.max.toordinal()
_TASKS = tuple(Task)
_ORDER = {task: number for number, task in enumerate(_TASKS)}


@dataclass(frozen=True, kw_only=True)
class _Column:
    """One task of all sowings; arrays of shape (n,).

    Attributes:
        task: The task.
        day: From when on it is due, 0 where a sowing has no such task. [day number]
        done_on: When it was done, 0 where it was not. [day number]
        is_passed: Whether what came after it is logged already, or there is nothing left to do it with.
        count: How much there is to do. [1]
        done: How much was done. [1]
    """

    task: Task
    day: Days
    done_on: Days
    is_passed: Flags
    count: Ints
    done: Ints


def work_of(plan: Plan, *, grower: int | None = None, begin: int = NO_DAY, end: int = LAST_DAY) -> list[Due]:
    """Return the work of the days [begin, end) and what waits since before today, by day, task, grower and sowing.

    Args:
        plan: The plan; its today tells what is over.
        grower: Index of the only grower whose sowings count; None for all.
        begin: First day. [day number]
        end: The day after the last. [day number]

    Source:
        docs/method.md, *Work of a week*; the days and the rules are chosen here.
    """
    today, growers = plan.garden.today, plan.garden.sowings.grower
    counts = np.ones(len(growers), dtype=bool) if grower is None else growers == grower
    # What was neither sown nor logged is moved on or given up as a whole; its single steps are not waited for.
    begun = plan.progress.sown_on != NO_DAY
    found: list[tuple[Ints | Flags, ...]] = []
    for column in _columns(plan):
        outside = column.task is Task.SOW_OUTSIDE
        is_done = counts & (column.done_on != NO_DAY) & (column.done > 0)
        is_done &= (column.done_on >= begin) & (column.done_on < end)
        found.append(_done(column.task, np.flatnonzero(is_done), column.done_on[is_done], column.done[is_done]))
        is_waiting = (begun | outside) & (column.day < today)
        is_open = counts & _is_open(column) & (is_waiting | ((column.day >= begin) & (column.day < end)))
        waits = (begun | outside) & (today != NO_DAY)
        waited = np.where(waits, np.maximum(0, today - column.day), 0)
        last = plan.timeline.sow_by if outside else column.day
        which = np.flatnonzero(is_open)
        no = np.zeros(len(which), dtype=bool)
        task = np.full(len(which), _ORDER[column.task])
        found.append((column.day[which], task, which, column.count[which], last[which], no, waited[which]))
    log = plan.garden.log
    looked = log.of(LOOKED)
    looked = looked[counts[log.sowing[looked]] & (log.day[looked] >= begin) & (log.day[looked] < end)]
    found.append(_done(Task.LOOK, log.sowing[looked], log.day[looked], plan.cells[log.sowing[looked]]))
    columns = [np.concatenate(parts) for parts in zip(*found, strict=True)]
    day, number, sowing, _, _, done, _ = columns
    order = np.lexsort((done, sowing, growers[sowing], number, day))
    days, numbers, *rest = (column[order].tolist() for column in columns)
    return list(map(Due._make, zip(days, map(_TASKS.__getitem__, numbers), *rest, strict=True)))


def _done(task: Task, sowing: Ints, day: Days, amount: Ints) -> tuple[Ints | Flags, ...]:
    """Return what was done of a task, in the order of the columns of `Due`, the task by its number."""
    number, yes = np.full(len(sowing), _ORDER[task]), np.ones(len(sowing), dtype=bool)
    return day, number, sowing, amount, day, yes, np.zeros_like(sowing)


def next_work_day(plan: Plan, since: int, *, grower: int | None = None) -> int:
    """Return the first day from one on that has work to do; 0 where none has. [day number]

    Args:
        plan: The plan.
        since: The first day that counts. [day number]
        grower: Index of the only grower whose sowings count; None for all.
    """
    growers = plan.garden.sowings.grower
    counts = np.ones(len(growers), dtype=bool) if grower is None else growers == grower
    days = [column.day[counts & _is_open(column) & (column.day >= since)] for column in _columns(plan)]
    found = np.concatenate(days)
    return int(found.min()) if len(found) else NO_DAY


def _is_open(column: _Column) -> Flags:
    """Return whether there is something to do, of which nothing later is logged."""
    is_open: Flags = (column.day != NO_DAY) & (column.count > 0) & ~column.is_passed
    return is_open


def to_hand_out(plan: Plan) -> Ints:
    """Return the plants of each sowing that its grower still has to collect. Shape (n,). [1]

    As many as are wanted, less those that left; where they were counted, no more than live.
    """
    logged = plan.logged
    left = np.maximum(0, plan.plants - logged.left)
    is_counted = (logged.up_on != NO_DAY) | (logged.potted_on != NO_DAY)
    is_over = (plan.progress.over_on != NO_DAY) | (plan.timeline.plant_out == NO_DAY) | plan.is_too_late
    found: Ints = np.where(is_over, 0, np.where(is_counted, np.minimum(left, plan.living), left))
    return found


def _columns(plan: Plan) -> list[_Column]:
    """Return the tasks in the order of a sowing's life."""
    times, progress, logged, today = plan.timeline, plan.progress, plan.logged, plan.garden.today
    is_outside = times.sow_on == NO_DAY
    is_over = progress.over_on != NO_DAY
    is_leaving = is_over | (logged.left > 0)
    is_hardened = is_leaving | (progress.hardened_on != NO_DAY)
    is_potted = is_hardened | (progress.potted_on != NO_DAY)
    is_up = is_potted | (progress.up_on != NO_DAY)
    nothing = np.zeros(len(is_outside), dtype=bool)

    def since(name: str) -> Days:
        """Return from when on a step is due: one that waits for today has been due since before."""
        now, due = getattr(times, name), getattr(plan.due, name)
        days: Days = np.where(now <= today, due, now) if today else now
        return np.where(is_outside, NO_DAY, days)

    # Of a sowing in several trays some may be sown before the others.
    is_part = (logged.sown > 0) & (logged.sown < plan.cells)
    to_sow = np.where(progress.sown_on == NO_DAY, plan.cells, np.where(is_part, plan.cells - logged.sown, 0))
    looked_on, uncovered_on = _last_of(plan, LOOKED), _last_of(plan, UNCOVERED)
    emerges = since("emerges")
    look = np.where(is_outside, NO_DAY, np.maximum(emerges - LOOK_DAYS_BEFORE, times.sow_on + 1))
    again = np.where(looked_on == NO_DAY, look, np.maximum(look, looked_on + LOOK_AGAIN_DAYS))
    up = np.where(logged.up > 0, logged.up, plan.cells)
    pots = np.where(times.pot_on != NO_DAY, plan.pots, plan.cells)
    collected = to_hand_out(plan)
    hardening = np.where(logged.up > 0, np.minimum(plan.living, plan.plants), np.minimum(pots, plan.plants))
    ended = today > np.maximum(times.sow_by, times.sow_from)
    outside_from = np.where(is_outside, times.sow_from, NO_DAY)
    outside_done = np.where(is_outside, logged.sown_on, NO_DAY)
    return [
        _Column(
            task=Task.SOW,
            day=times.sow_on,
            done_on=np.where(is_outside, NO_DAY, progress.sown_on),
            is_passed=is_up | is_over,
            count=to_sow,
            done=plan.cells - to_sow,
        ),
        _Column(
            task=Task.SOW_OUTSIDE,
            day=outside_from,
            done_on=outside_done,
            is_passed=(outside_done != NO_DAY) | ended,
            count=plan.plants,
            done=logged.sown,
        ),
        _Column(
            task=Task.LOOK,
            day=again,
            done_on=np.full_like(look, NO_DAY),
            is_passed=is_up | (uncovered_on != NO_DAY),
            count=plan.cells,
            done=np.zeros_like(look),
        ),
        _Column(
            task=Task.UNCOVER,
            day=emerges,
            done_on=uncovered_on,
            is_passed=is_potted | (uncovered_on != NO_DAY),
            count=plan.cells,
            done=plan.cells,
        ),
        _Column(
            task=Task.THIN,
            day=np.where(times.thin == NO_DAY, NO_DAY, since("thin")),
            done_on=logged.thinned_on,
            is_passed=is_potted | (logged.thinned_on != NO_DAY),
            count=up,
            done=up,
        ),
        _Column(
            task=Task.POT_ON,
            day=np.where(times.pot_on == NO_DAY, NO_DAY, since("pot_on")),
            done_on=progress.potted_on,
            is_passed=is_potted,
            count=pots,
            done=np.where(logged.potted > 0, logged.potted, pots),
        ),
        _Column(
            task=Task.HARDEN,
            day=since("harden"),
            done_on=progress.hardened_on,
            is_passed=is_hardened,
            count=hardening,
            done=hardening,
        ),
        _Column(
            task=Task.HAND_OUT,
            day=since("plant_out"),
            done_on=_last_of(plan, HANDED_OUT, PLANTED_OUT),
            is_passed=nothing,
            count=collected,
            done=logged.left,
        ),
    ]


def _last_of(plan: Plan, *kinds: int) -> Days:
    """Return the last day on which each sowing has an entry of some kinds that holds; 0 where it has none."""
    log = plan.garden.log
    last = np.full(len(plan.garden.sowings), NO_DAY, dtype=np.int64)
    for kind in kinds:
        np.maximum.at(last, log.sowing[log.of(kind)], log.day[log.of(kind)])
    return last
