"""Ticking off the work of a week: what has a count becomes an entry of the log, the rest a tick."""

from collections.abc import Iterable
from datetime import date
from typing import TYPE_CHECKING

from app.core.words import LogKind, Tick
from app.core.work.week import Task
from app.core.work.work import work_of
from app.services.log import NewEntry, add_entries, take_back, tick, untick
from app.services.plan import get_plan
from app.services.sowings import SowingValues, add_sowing, values_of
from app.storage.queries.log import get_entries
from app.storage.queries.sowings import get_sowing
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from app.storage import Session
    from app.storage.models import Sowing

Pick = tuple[Task, int]

TICKS = {Task.LOOK: Tick.LOOK, Task.UNCOVER: Tick.UNCOVER, Task.HARDEN: Tick.HARDEN}
KINDS = {
    Task.SOW: LogKind.SOWN,
    Task.SOW_OUTSIDE: LogKind.SOWN,
    Task.THIN: LogKind.THINNED,
    Task.POT_ON: LogKind.POTTED_ON,
    Task.HAND_OUT: LogKind.HANDED_OUT,
}


class NotOpenError(Exception):
    """What is to be ticked off is not open any more, or what is to be taken back is not done."""

    def __init__(self, pick: Pick) -> None:
        """Keep the task and the row number of the sowing."""
        super().__init__(f"{pick[0]} of sowing {pick[1]}")
        self.pick = pick


def tick_off(
    session: "Session", picks: Iterable[Pick], day: date, *, today: date, account_id: int | None, grower_id: int | None
) -> int:
    """Tick off tasks as done on a day, all of them or none, and return how many.

    What is counted is logged with the count that the list shows.

    Args:
        session: Its transaction takes it all.
        picks: Task, and row number of the sowing.
        day: The day on which it was done.
        today: The latest day that can be given.
        account_id: Who ticks it off.
        grower_id: Who did it.

    Raises:
        NotOpenError: One is not open.
        LogRuleError: The log says what does not go with it, or the day has not come.
    """
    hold_writes(session)
    plan = get_plan(session)
    is_open = {(work.task, int(plan.garden.sowings.ids[work.sowing])): work for work in work_of(plan)
               if not work.is_done}  # fmt: skip
    entries, wanted = [], list(dict.fromkeys(picks))
    for pick in wanted:
        work = is_open.get(pick)
        if work is None:
            raise NotOpenError(pick)
        task, sowing_id = pick
        if task in TICKS:
            tick(session, sowing_id, TICKS[task], day, account_id)
            continue
        card = plan.garden.cards[int(plan.garden.sowings.crop[work.sowing])]
        entries.append(
            NewEntry(
                sowing_id=sowing_id,
                kind=KINDS[task],
                date=day,
                # A thinned cell keeps what it is to hold.
                count=work.amount * card.plants_per_cell if task is Task.THIN else work.amount,
                seeds=work.amount * card.seeds_per_cell if task is Task.SOW else None,
                grower_id=grower_id,
            )
        )
    add_entries(session, entries, today=today, account_id=account_id)
    return len(wanted)


def take_back_done(session: "Session", pick: Pick, day: date, *, today: date, account_id: int | None) -> None:
    """Take back that a task was done on a day: its tick goes, and an entry is superseded by one that says so.

    Raises:
        NotOpenError: It was not done on that day.
        LogRuleError: What was logged since would say what cannot be; that is to be taken back first.
    """
    hold_writes(session)
    task, sowing_id = pick
    get_sowing(session, sowing_id)
    if task in TICKS:
        untick(session, sowing_id, TICKS[task], day)
        return
    entries = get_entries(session, sowing_id)
    corrected = {entry.supersedes_id for entry in entries}
    kinds = {KINDS[task]} | ({LogKind.PLANTED_OUT} if task is Task.HAND_OUT else set())
    holding = [
        entry for entry in entries
        if entry.kind in kinds and entry.date == day and entry.count and entry.id not in corrected
    ]  # fmt: skip
    if not holding:
        raise NotOpenError(pick)
    for entry in reversed(holding):
        take_back(session, entry.id, today=today, account_id=account_id)


def sow_again(session: "Session", sowing_id: int, plants: int) -> "Sowing":
    """Add a sowing for the plants that are missing of another one: its wishes, without the days set for it.

    Args:
        session: Its transaction takes it.
        sowing_id: The one that failed.
        plants: Plants that are missing. [1]
    """
    values = vars(values_of(get_sowing(session, sowing_id)))
    return add_sowing(session, SowingValues(**values | {"plants": plants, "placed": None, "sow_on": None}))
