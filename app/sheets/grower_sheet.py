"""A grower's sheet: what to do next, day by day, and the deadlines of each sowing."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

import numpy as np

from app.core.calendar import NO_DAY, as_date, as_day
from app.core.errors import NoFrostDateError
from app.core.folded import fold
from app.core.plan import NO_CONTAINER, Plan
from app.core.words import Units
from app.core.work.week import Due, Task
from app.core.work.work import work_of
from app.language import N_, _, pgettext
from app.sheets.cautions import COVERS, MIX_DUST, SAVED_CUCURBITS, Caution
from app.sheets.grower_trays import CellsInTray, cells_in_trays, not_dealt_words
from app.sheets.logged import basis_words, logged_until
from app.sheets.names import name_words
from app.sheets.units import sow_depth_words, temperature_words, volume_words
from app.sheets.warnings import warnings_of
from app.sheets.words import count_words, day_short, day_words, day_year, risk_words
from app.storage.queries.trays import CellRow, StayRow

BLANK_LINES = 4
NOTHING = "–"
TASKS = {
    Task.SOW: N_("Sow"),
    Task.SOW_OUTSIDE: N_("Sow outside"),
    Task.LOOK: N_("Look for seedlings"),
    Task.UNCOVER: N_("Take the cover off"),
    Task.THIN: N_("Thin"),
    Task.POT_ON: N_("Pot on"),
    Task.HARDEN: N_("Put out to harden"),
    Task.HAND_OUT: N_("Collect and plant out"),
}


@dataclass(frozen=True, kw_only=True)
class Job:
    """One task on one crop.

    Attributes:
        crop: Name of the crop.
        variety: Its variety, empty where none is given.
        how: How many, and how, as `12 cells, 2 seeds each, 6 mm deep`.
    """

    crop: str
    variety: str
    how: str


@dataclass(frozen=True, kw_only=True)
class DayTask:
    """A task on a day, and the crops it is for."""

    day: str
    task: str
    jobs: tuple[Job, ...]


@dataclass(frozen=True, kw_only=True)
class Deadline:
    """The dates and counts of one sowing, in words; `–` where it has none. `index` is that of the sowing."""

    index: int
    sowing: str
    crop: str
    variety: str
    plants: str
    cells: str
    seeds: str
    container: str
    window: str
    best: str
    sow_on: str
    last_chance: str
    emerges: str
    pot_on: str
    harden: str
    plant_out: str
    warnings: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class ContainerNeed:
    """Cells of a container that a grower fills.

    Attributes:
        name: Name of the container.
        cells: Cells or pots. [1]
        cell: Volume of mix in each, in words.
        per_tray: How many stand in one tray. [1]
    """

    name: str
    cells: int
    cell: str
    per_tray: int


@dataclass(frozen=True, kw_only=True)
class GrowerSheet:
    """The sheet of one grower.

    Attributes:
        garden: Name of the garden.
        season: Growing year.
        grower: The grower's name.
        plot: The grower's plot, empty where none is given.
        sums: Sowings and plants, in words.
        risk: The frost risk behind the dates, in words.
        printed: The day it was made, in words.
        basis: What the sheet goes by, in a sentence.
        tasks: What to do from that day on.
        deadlines: Each sowing, by crop and variety.
        containers: What is to be filled with mix.
        trays: Where the cells are that are dealt.
        not_dealt: Which sowings have no cells yet; empty where all have.
        cautions: What to mind.
        blank_lines: Empty rows after the tasks. [1]
    """

    garden: str
    season: int
    grower: str
    plot: str
    sums: str
    risk: str
    printed: str
    basis: str
    tasks: tuple[DayTask, ...]
    deadlines: tuple[Deadline, ...]
    containers: tuple[ContainerNeed, ...]
    trays: tuple[CellsInTray, ...]
    not_dealt: str
    cautions: tuple[Caution, ...]
    blank_lines: int = BLANK_LINES


@dataclass(frozen=True, kw_only=True)
class SheetFacts:
    """What a grower's sheet says beside the plan.

    Attributes:
        units: In which quantities are said.
        today: The day of the making, from which tasks are listed.
        saved_cucurbits: Row numbers of the sowings of cucurbits from saved or swapped seed.
        cells: The grower's cells in dealt trays, by tray, row and column.
        stays: Where these trays stand, by day.
        is_timed: Whether the time of the last entry of the log is said, and not only its day.
    """

    units: Units
    today: date
    saved_cucurbits: Collection[int]
    cells: Sequence[CellRow] = ()
    stays: Sequence[StayRow] = ()
    is_timed: bool = True


def make_grower_sheet(plan: Plan, grower: int, facts: SheetFacts) -> GrowerSheet:
    """Return the sheet of a grower.

    Args:
        plan: The garden's plan.
        grower: Index of the grower.
        facts: What it says beside the plan.
    """
    garden, sowings = plan.garden, plan.garden.sowings
    indices = sorted(
        np.flatnonzero(sowings.grower == grower).tolist(),
        key=lambda index: (
            fold(name_words(garden.cards[sowings.crop[index]].name)),
            sowings.varieties[index] or "",
            index,
        ),
    )
    plants = int(plan.plants[indices].sum()) if indices else 0
    return GrowerSheet(
        garden=garden.settings.name,
        season=garden.settings.season,
        grower=garden.growers[grower].name,
        plot=garden.growers[grower].plot or "",
        sums=f"{count_words(len(indices), 'sowing', 'sowings')}, {count_words(plants, 'plant', 'plants')}",
        risk=_risk(plan),
        printed=day_year(facts.today),
        basis=basis_words(facts.today, logged_until(plan, is_timed=facts.is_timed)),
        tasks=_tasks(plan, grower, facts),
        deadlines=tuple(_deadline(plan, index) for index in indices),
        containers=_containers(plan, indices, facts.units),
        trays=cells_in_trays(plan, facts.cells, facts.stays, facts.today),
        not_dealt=not_dealt_words(plan, grower),
        cautions=_cautions(plan, indices, facts),
    )


def _risk(plan: Plan) -> str:
    risk = plan.garden.settings.risk
    try:
        day = day_short(plan.garden.frost.spring_on(risk))
    except NoFrostDateError:
        return ""
    return _(
        "A freeze after %(day)s comes in %(risk)s; an average date is no safe date. Watch the forecast.",
        day=day,
        risk=risk_words(risk),
    )


def _tasks(plan: Plan, grower: int, facts: SheetFacts) -> tuple[DayTask, ...]:
    """Return what is open, by day; what was due before and is not confirmed comes first."""
    today = as_day(facts.today)
    dues = [due for due in work_of(plan, grower=grower) if not due.is_done and (due.waited_days or due.day >= today)]
    return tuple(
        DayTask(
            day=_("since %(day)s", day=day_words(date.fromordinal(day)))
            if day < today
            else day_words(date.fromordinal(day)),
            task=_("%(task)s, not confirmed", task=_(TASKS[task]))
            if any(due.is_not_confirmed for due in same)
            else _(TASKS[task]),
            jobs=tuple(_job(plan, due, facts) for due in same),
        )
        for (day, task), alike in groupby(dues, key=lambda due: (due.day, due.task))
        for same in [list(alike)]
    )


def _job(plan: Plan, due: Due, facts: SheetFacts) -> Job:
    sowings = plan.garden.sowings
    return Job(
        crop=name_words(plan.garden.cards[sowings.crop[due.sowing]].name),
        variety=sowings.varieties[due.sowing] or "",
        how=_how(plan, due, facts),
    )


def _how(plan: Plan, due: Due, facts: SheetFacts) -> str:
    """Return how many, and how, as it is done at the bench."""
    card = plan.garden.cards[plan.garden.sowings.crop[due.sowing]]
    depth_mm = card.sow_depth_mm
    own_seed = [_("bring your own seed")] if plan.garden.sowings.brings_seed[due.sowing] else []
    at_depth = [] if depth_mm is None else [sow_depth_words(depth_mm, facts.units)]
    match due.task:
        case Task.SOW:
            container = name_words(plan.garden.containers[plan.container[due.sowing]].name)
            warm = (
                []
                if card.germ_temp_c is None
                else [_("mix at %(temperature)s", temperature=temperature_words(card.germ_temp_c, facts.units))]
            )
            seeds = _(
                "%(cells)s of %(container)s, %(seeds)s each",
                cells=count_words(due.amount, "cell", "cells"),
                container=container,
                seeds=count_words(card.seeds_per_cell, "seed", "seeds"),
            )
            return ", ".join([seeds, *at_depth, *warm, *own_seed])
        case Task.SOW_OUTSIDE:
            last = _("too long here")
            if due.last_day >= due.day:
                last = _("until %(day)s", day=day_words(date.fromordinal(due.last_day)))
            plants = _("for %(plants)s", plants=count_words(due.amount, "plant", "plants"))
            return ", ".join([plants, *at_depth, last, *own_seed])
        case Task.THIN:
            return _("%(cells)s, the strongest of each stays", cells=count_words(due.amount, "cell", "cells"))
        case Task.POT_ON:
            pot = name_words(plan.garden.containers[plan.pot_container[due.sowing]].name)
            return f"{count_words(due.amount, 'pot', 'pots')}, {pot}"
        case Task.UNCOVER | Task.LOOK:
            return count_words(due.amount, "cell", "cells")
        case _:
            return count_words(due.amount, "plant", "plants")


def _deadline(plan: Plan, index: int) -> Deadline:
    sowings, times, garden = plan.garden.sowings, plan.timeline, plan.garden
    start, pot = int(plan.container[index]), int(plan.pot_container[index])
    pot_on = _short(times.pot_on[index])
    if pot != NO_CONTAINER:
        pot_on = _("%(day)s into %(pot)s", day=pot_on, pot=name_words(garden.containers[pot].name))
    best = int(times.sow_best[index]) if times.sow_on[index] != NO_DAY else NO_DAY
    return Deadline(
        index=index,
        sowing=sowings.names[index],
        crop=name_words(garden.cards[sowings.crop[index]].name),
        variety=sowings.varieties[index] or "",
        plants=str(plan.plants[index]),
        cells=NOTHING if start == NO_CONTAINER else str(plan.cells[index]),
        seeds=NOTHING if start == NO_CONTAINER else str(plan.seeds[index]),
        container=_("sown outside") if start == NO_CONTAINER else name_words(garden.containers[start].name),
        window=_window(int(times.sow_from[index]), int(times.sow_by[index])),
        best=_short(best),
        sow_on=_sow_on(plan, index),
        last_chance=_short(times.last_chance[index]),
        emerges=_up(_short(times.emerges[index]), plan.progress.up_on[index]),
        pot_on=_done(pot_on, plan.progress.potted_on[index]),
        harden=_done(_short(times.harden[index]), plan.progress.hardened_on[index]),
        plant_out=_done(_day(times.plant_out[index]), plan.progress.over_on[index]),
        warnings=tuple(warnings_of(plan, index)),
    )


def _done(said: str, day: int) -> str:
    """Return a step with a mark where a day of it is logged, and not only foreseen."""
    return said if day == NO_DAY else _("%(step)s, done", step=said)


def _up(said: str, day: int) -> str:
    """Return the day of coming up, with a mark where it is logged."""
    return said if day == NO_DAY else _("%(day)s, up", day=said)


def _sow_on(plan: Plan, index: int) -> str:
    """Return the day of sowing, and whether it is over."""
    if plan.is_too_late[index]:
        return _("too late")
    day = _day(plan.timeline.sow_on[index])
    return day if plan.progress.sown_on[index] == NO_DAY else _("%(day)s, sown", day=day)


def _window(first: int, last: int) -> str:
    """Return the days of a sowing window; one that ends before it begins is none."""
    return f"{_short(first)} – {_short(last)}" if first <= last else pgettext("a window for sowing", "none")


def _short(day: int) -> str:
    found = as_date(day)
    return NOTHING if found is None else day_short(found)


def _day(day: int) -> str:
    found = as_date(day)
    return NOTHING if found is None else day_words(found)


def _containers(plan: Plan, indices: list[int], units: Units) -> tuple[ContainerNeed, ...]:
    """Return what is to be filled, start containers and pots together, in the garden's order."""
    cells = np.zeros(len(plan.garden.containers) + 1, dtype=np.int64)  # the last one is that of no container
    np.add.at(cells, plan.container[indices], plan.cells[indices])
    np.add.at(cells, plan.pot_container[indices], plan.pots[indices])
    return tuple(
        ContainerNeed(
            name=name_words(box.name),
            cells=int(count),
            cell=volume_words(box.cell_volume_ml, units),
            per_tray=box.cells_per_tray,
        )
        for box, count in zip(plan.garden.containers, cells[:-1], strict=True)
        if count
    )


def _cautions(plan: Plan, indices: list[int], facts: SheetFacts) -> tuple[Caution, ...]:
    """Return what to mind: dust and covers where something is sown in mix, saved cucurbits where there are any."""
    found = [MIX_DUST.said, COVERS.said] if any(plan.cells[index] for index in indices) else []
    if any(int(plan.garden.sowings.ids[index]) in facts.saved_cucurbits for index in indices):
        found.append(SAVED_CUCURBITS.said)
    return tuple(found)
