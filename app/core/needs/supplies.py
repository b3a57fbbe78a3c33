"""What a season takes: seeds, trays, covers, mix and labels, week by week and for one order."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import DAYS_IN_WEEK, NO_DAY, Days, week_number
from app.core.plan import NO_CONTAINER, Plan
from app.core.space.ledger import count_by_day
from app.core.space.sharing import first_of, last_of

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# Mix that is spilled, settles or is pressed in: chosen here. The order follows it in proportion.
MIX_MORE = 1.10
ML_IN_LITRE = 1000
# Floating error must not add a seed.
TOLERANCE = 1e-9


@dataclass(frozen=True, kw_only=True)
class Peak:
    """The most of something on one day, and the running number of the week of the first such day.

    Attributes:
        count: How many. [1]
        week: The week; None where there is never any. Index of a running week.
    """

    count: int
    week: int | None


@dataclass(frozen=True, kw_only=True)
class ContainerUse:
    """Trays of one container in the season.

    Attributes:
        container: Index of the container.
        trays: Trays in use at once, so that one washed set serves. [1]
        cells: Cells in use at once. [1]
        trays_in_all: Trays filled in the season. [1]
        cells_in_all: Cells filled in the season. [1]
    """

    container: int
    trays: Peak
    cells: Peak
    trays_in_all: int
    cells_in_all: int


@dataclass(frozen=True, kw_only=True)
class Supplies:
    """What a season takes. Arrays over weeks begin with `first_week`.

    Attributes:
        first_week: Running number of the first week. Index of a running week.
        seeds_of: Seeds of each sowing, those sown outside included. Shape (n_sowings,). [1]
        containers: The use of each container that is used, in the garden's order.
        covers: Trays before emergence at once.
        covers_in_all: Trays that are covered in the season. [1]
        seeds: Seeds sown in each week. Shape (n_weeks,). [1]
        mix_litres: Mix filled in each week, with what is lost. Shape (n_weeks,). [l]
        trays: Trays filled in each week, which is also their labels. Shape (n_weeks,). [1]
        stakes: Lots potted on in each week, each with a stake. Shape (n_weeks,). [1]
        covered: Trays before emergence on the fullest day of each week. Shape (n_weeks,). [1]
    """

    first_week: int
    seeds_of: Ints
    containers: tuple[ContainerUse, ...]
    covers: Peak
    covers_in_all: int
    seeds: Ints
    mix_litres: Floats
    trays: Ints
    stakes: Ints
    covered: Ints

    @property
    def weeks(self) -> range:
        """The running numbers of the weeks."""
        return range(self.first_week, self.first_week + len(self.seeds))


@dataclass(frozen=True, kw_only=True)
class _Lives:
    """From when to when each tray is in use, and when its cover comes off; all of shape (n_trays,).

    Attributes:
        is_sown: It is sown; else it holds pots.
        begin: The day it is filled. [day number]
        up: The day the last of it has emerged. [day number]
        end: The day it is empty. [day number]
    """

    is_sown: Flags
    begin: Days
    up: Days
    end: Days


def supplies_of(plan: Plan) -> Supplies:
    """Return what the season of a plan takes.

    Source:
        docs/method.md, section 11; what has no source there is chosen here.
    """
    times, lives, seeds_of = plan.timeline, _lives(plan), seeds_of_sowings(plan)
    sown_on = np.where(times.sow_on == NO_DAY, times.sow_from, times.sow_on)
    weeks = _weeks(np.concatenate([lives.begin, np.maximum(lives.begin, lives.end - 1), sown_on[seeds_of > 0]]))
    potted = np.flatnonzero(plan.pots > 0)
    started = np.flatnonzero(plan.cells > 0)
    sown_trays = np.flatnonzero(lives.is_sown)
    zeros = np.zeros_like(sown_trays)
    first, covered = count_by_day(zeros, lives.begin[sown_trays], lives.up[sown_trays], zeros + 1, n_kinds=1)
    return Supplies(
        first_week=weeks.start,
        seeds_of=seeds_of,
        containers=_containers(plan, lives),
        covers=_peak(first, covered[0]),
        covers_in_all=len(sown_trays),
        seeds=_by_week(weeks, sown_on[seeds_of > 0], seeds_of[seeds_of > 0]).astype(np.int64),
        mix_litres=(
            _by_week(weeks, times.sow_on[started], _ml(plan, plan.container, plan.cells)[started])
            + _by_week(weeks, times.pot_on[potted], _ml(plan, plan.pot_container, plan.pots)[potted])
        )
        * MIX_MORE
        / ML_IN_LITRE,
        trays=_by_week(weeks, lives.begin, np.ones(len(lives.begin))).astype(np.int64),
        stakes=_by_week(weeks, times.pot_on[potted], np.ones(len(potted))).astype(np.int64),
        covered=in_weeks(weeks, first, covered[0].reshape(-1, DAYS_IN_WEEK).max(axis=1)).astype(np.int64),
    )


def seeds_of_sowings(plan: Plan) -> Ints:
    """Return the seeds of each sowing, started in cells or sown outside.

    Returns:
        For cells, those of the plan. Outside, as many as give the plants on average, and no fewer than the card's
        seeds at a spot for each spot. Shape (n_sowings,). [1]

    Source:
        Outside: chosen here, since a gap in a row is sown again.
    """
    garden, crop = plan.garden, plan.garden.sowings.crop
    at_spot, stay = (
        np.array([getattr(card, name) for card in garden.cards], dtype=np.int64)[crop]
        for name in ("seeds_per_cell", "plants_per_cell")
    )
    on_average = np.ceil(plan.plants / plan.germination - TOLERANCE).astype(np.int64)
    outside = np.maximum(on_average, -(-plan.plants // stay) * at_spot)
    return np.where(plan.container == NO_CONTAINER, outside, plan.seeds)


def in_weeks(weeks: range, first_week: int, values: Ints | Floats) -> Floats:
    """Return figures of some weeks among all weeks of a season, 0 elsewhere.

    Args:
        weeks: The running numbers of the season's weeks.
        first_week: Running number of the week of the first figure, an index.
        values: The figures, in whatever unit. Shape (n,). [any]

    Returns:
        The same figures in their unit. Shape (n_weeks,). [any]
    """
    found = np.zeros(len(weeks))
    if len(values):
        at = first_week - weeks.start
        found[at : at + len(values)] = values
    return found


def _lives(plan: Plan) -> _Lives:
    """A tray is in use until it is empty: until the last lot is potted on, or else is planted out."""
    trays, stays, times = plan.trays, plan.stays, plan.timeline
    n = int(trays.group.max(initial=-1)) + 1
    group, lot = trays.group[trays.part_tray], trays.part_lot
    # What is filled and emptied on one day stays nowhere, so stays do not tell when every tray comes.
    came = np.where(trays.is_potted_on[trays.part_tray], times.pot_on[lot], times.sow_on[lot])
    begin, left = first_of(group, n, came), last_of(stays.group, n, stays.end)
    is_sown = last_of(trays.group, n, trays.is_potted_on.astype(np.int64)) == 0
    is_emptied = is_sown & (last_of(group, n, times.pot_on[lot]) != NO_DAY)
    # Without hardening shelves the stays end before the trays are empty.
    end = np.where(is_emptied, left, np.maximum(left, last_of(group, n, times.plant_out[lot])))
    up = last_of(group, n, times.emerges[lot])
    return _Lives(is_sown=is_sown[trays.group], begin=begin[trays.group], up=up[trays.group], end=end[trays.group])


def _containers(plan: Plan, lives: _Lives) -> tuple[ContainerUse, ...]:
    trays, n = plan.trays, len(plan.garden.containers)
    box = trays.container
    first, by_day = count_by_day(box, lives.begin, lives.end, np.ones_like(box), n_kinds=n)
    part = trays.part_tray
    _, cells_by_day = count_by_day(box[part], lives.begin[part], lives.end[part], trays.part_cells, n_kinds=n)
    filled = np.bincount(box, minlength=n)
    cells = np.bincount(box[part], weights=trays.part_cells, minlength=n)
    return tuple(
        ContainerUse(
            container=index,
            trays=_peak(first, by_day[index]),
            cells=_peak(first, cells_by_day[index]),
            trays_in_all=int(filled[index]),
            cells_in_all=int(cells[index]),
        )
        for index in np.flatnonzero(filled).tolist()
    )


def _peak(first_week: int, by_day: Floats) -> Peak:
    if not by_day.any():
        return Peak(count=0, week=None)
    day = int(by_day.argmax())
    return Peak(count=int(by_day[day]), week=first_week + day // DAYS_IN_WEEK)


def _weeks(days: Days) -> range:
    """Return the running numbers of the weeks from the first to the last of these days."""
    if not len(days):
        return range(0)
    return range(int(week_number(days.min())), int(week_number(days.max())) + 1)


def _by_week(weeks: range, days: Days, amounts: Ints | Floats) -> Floats:
    """Return the sum of what falls on the days of each week. Shape (n_weeks,)."""
    found = np.zeros(len(weeks))
    np.add.at(found, week_number(days) - weeks.start, amounts)
    return found


def _ml(plan: Plan, container: Ints, count: Ints) -> Floats:
    """Return the mix that cells of each sowing take, nothing lost. Shape (n_sowings,). [ml]"""
    volume = np.array([box.cell_volume_ml for box in plan.garden.containers])
    return volume[container] * count if len(volume) else np.zeros(len(count))
