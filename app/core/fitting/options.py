"""The free choices of a levelling, gathered by kinds: sowings whose days, places and dates are the same."""

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import DAYS_IN_WEEK, NO_DAY, Days, next_weekday
from app.core.cards import Garden, Sowings
from app.core.dates.timeline import Timeline
from app.core.plan import NO_PLACE, Plan, make_plan
from app.core.space.dealt import Dealt, settle
from app.core.space.sharing import Trays
from app.core.words import LAMP, WINDOW, Light

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

_ALL = -1


@dataclass(frozen=True, kw_only=True)
class Options:
    """What each sowing that is started indoors may get.

    The lots are those sowings, without any that is too late. The options of a kind follow each other, best day first,
    and a lot that is not free is of a kind of its own with the one option that it has.

    Attributes:
        plan: The plan as it is.
        lot: Index of the sowing of each lot. Shape (n_lots,).
        kind: The kind of each lot. Shape (n_lots,).
        is_free: Whether the lot is neither sown nor in a pinned tray. Shape (n_lots,).
        first: Index of the first option of each kind, and last the number of options. Shape (n_kinds + 1,).
        day: The sowing day of each option. Shape (n_options,). [day number]
        sow_on: The day that is written for it; 0 where it comes about by itself. Shape (n_options,). [day number]
        light: Index of its light place. Shape (n_options,).
        off: Days between it and the best sowing day. Shape (n_options,). [d]
        times: The dates of each option; arrays of shape (n_options,).
        first_place: Index of the place until emergence. Shape (n_options,).
        start_group: Those of one number may share trays of cells; -1 where it has none. Shape (n_options,).
        pot_group: Those of one number may share trays of pots; -1 where not potted on. Shape (n_options,).
        capacity: Cells or pots of a tray of each group. Shape (n_groups,). [1]
    """

    plan: Plan
    lot: Ints
    kind: Ints
    is_free: Flags
    first: Ints
    day: Days
    sow_on: Days
    light: Ints
    off: Ints
    times: Timeline
    first_place: Ints
    start_group: Ints
    pot_group: Ints
    capacity: Ints

    @property
    def n_choices(self) -> int:
        """The options of all free lots together. [1]"""
        return int(np.diff(self.first)[self.kind[self.is_free]].sum())

    @property
    def n_groups(self) -> int:
        """The number of groups of cells and of pots."""
        return len(self.capacity)


def find_options(plan: Plan) -> Options:
    """Return what each sowing of a plan may get, from the day on that its garden takes for today."""
    garden = plan.garden
    lot = np.flatnonzero((plan.light_place != NO_PLACE) & ~plan.is_too_late)
    is_fixed = held_fast(garden)[lot]
    free = lot[~is_fixed]
    example, kind = _alike(plan, free)
    open_days = _open_days(plan, free[example])
    # Where no day is open, a sowing stays where it is: as what is fixed, it has an option of its own.
    is_open = np.bincount(open_days.kind, minlength=len(example)) > 0
    stays = is_fixed.copy()
    stays[~is_fixed] = ~is_open[kind]
    number = np.cumsum(is_open) - 1
    n_open = int(is_open.sum())
    kind_of = np.zeros(len(lot), dtype=np.int64)
    kind_of[~is_fixed] = number[kind]
    kind_of[stays] = n_open + np.arange(int(stays.sum()))
    own = lot[stays]
    sowing = np.concatenate([free[example][open_days.kind], own])
    drawn = _drawn(
        plan,
        sowing,
        np.concatenate([open_days.sow_on, garden.sowings.sow_on[own]]),
        np.concatenate([open_days.light, plan.light_place[own]]),
        np.concatenate([np.zeros(len(open_days.kind), dtype=bool), is_fixed[stays]]),
    )
    option_kind = np.concatenate([number[open_days.kind], kind_of[stays]])
    return _options(
        plan, lot, kind_of, ~is_fixed, np.searchsorted(option_kind, np.arange(n_open + len(own) + 1)), drawn
    )


def today_of(plan: Plan) -> int:
    """Return the day that is taken for today; 0 where days do not pass, as once all is planted out. [day number]"""
    out = plan.due.plant_out[plan.light_place != NO_PLACE]
    return NO_DAY if int(out.max(initial=NO_DAY)) < plan.garden.today else plan.garden.today


def held_fast(garden: Garden) -> Flags:
    """Return whether each sowing is sown or in a pinned tray, and stays as it is. Shape (n,)."""
    n = len(garden.sowings)
    fast = np.zeros(n, dtype=bool)
    fast[garden.log.sowing[garden.log.holds]] = True
    for potted_on in (False, True):
        _, kept = settle(garden.dealt, n, potted_on=potted_on)
        fast[kept.lot[kept.is_firm]] = True
    return fast


def _alike(plan: Plan, free: Ints) -> tuple[Ints, Ints]:
    """Return an example of each kind of sowings to which the same days and places are open, and the kind of each."""
    garden, sowings = plan.garden, plan.garden.sowings
    key = np.column_stack(
        [
            sowings.crop[free],
            sowings.plant_out[free],
            sowings.days_to_maturity[free],
            np.round(sowings.risk[free] * 1e6).astype(np.int64),
            np.where(_needs_lamp(garden)[sowings.crop[free]], plan.light_place[free], NO_PLACE),
        ]
    )
    _, example, kind = np.unique(key, axis=0, return_index=True, return_inverse=True)
    return example, kind.ravel().astype(np.int64)


def _needs_lamp(garden: Garden) -> Flags:
    return np.array([card.light is Light.LAMP for card in garden.cards], dtype=bool)


@dataclass(frozen=True)
class _OpenDays:
    """The days and places that are open to kinds of sowings, best day first.

    `sow_on` is what is to be written for it: no day where a sowing that is late waits for the next sowing day.
    """

    kind: Ints
    sow_on: Days
    light: Ints


def _open_days(plan: Plan, example: Ints) -> _OpenDays:
    """List what is open to each kind: in each light place the sowing days of its window, from today on.

    Where none is left, it is the next sowing day for as long as it still ripens.
    """
    garden = plan.garden
    kinds, light = np.repeat(np.arange(len(example)), 2), np.tile([WINDOW, LAMP], len(example))
    needs_lamp = _needs_lamp(garden)[garden.sowings.crop[example[kinds]]]
    keeps = ~needs_lamp | (plan.light_place[example[kinds]] == light)
    kinds, light = kinds[keeps], light[keeps]
    # The window of a sowing hangs on its bench, and so on its place.
    none = np.zeros(len(kinds), dtype=np.int64)
    windows = _drawn(plan, example[kinds], none, light, none.astype(bool)).timeline
    today, weekday = today_of(plan), garden.settings.sowing_weekday
    following = int(next_weekday(np.array([today]), weekday)[0])
    found: list[tuple[int, int, int, int]] = []
    for kind, place, begin, end, best, last in zip(
        kinds.tolist(),
        light.tolist(),
        windows.sow_from.tolist(),
        windows.sow_by.tolist(),
        windows.sow_best.tolist(),
        windows.last_chance.tolist(),
        strict=False,
    ):
        days = [day for day in range(begin, end + 1) if (day - 1) % DAYS_IN_WEEK == weekday] or [best]
        days = [day for day in days if day >= today]
        found.extend((kind, abs(day - best), day, place) for day in days)
        if not days and following <= last:
            found.append((kind, abs(following - best), NO_DAY, place))
    columns = np.array(sorted(found), dtype=np.int64).reshape(-1, 4)
    return _OpenDays(columns[:, 0], columns[:, 2], columns[:, 3])


def _drawn(plan: Plan, sowing: Ints, sow_on: Days, light: Ints, is_fixed: Flags) -> Plan:
    """Return the plan of a garden with one sowing for each option; what is fixed is as it was, in its trays.

    Last come the sowings that are too late, so that its season ends when that of the garden does.
    """
    garden, old = plan.garden, plan.garden.sowings
    late = np.flatnonzero(plan.is_too_late)
    sowing = np.concatenate([sowing, late])
    is_fixed = np.concatenate([is_fixed, np.zeros(len(late), dtype=bool)])
    number = np.arange(len(sowing))
    placed = np.where(is_fixed, old.placed[sowing], _ALL)
    placed[len(sowing) - len(late) :] = 0
    sowings = Sowings(
        ids=number,
        names=("",) * len(number),
        varieties=(None,) * len(number),
        grower=old.grower[sowing],
        crop=old.crop[sowing],
        plants=old.plants[sowing],
        placed=placed,
        days_to_maturity=old.days_to_maturity[sowing],
        germination=old.germination[sowing],
        priority=old.priority[sowing],
        plant_out=old.plant_out[sowing],
        sow_on=np.concatenate([sow_on, old.sow_on[late]]),
        risk=old.risk[sowing],
        light=np.concatenate([light, old.light[late]]),
    )
    new_of = np.full(len(old), -1, dtype=np.int64)
    new_of[sowing[is_fixed]] = number[is_fixed]
    return make_plan(
        replace(garden, sowings=sowings, dealt=_of_fixed(garden.dealt, new_of), log=garden.log.moved(new_of))
    )


def _of_fixed(dealt: Dealt, new_of: Ints) -> Dealt:
    lot = new_of[dealt.part_lot]
    stays = lot >= 0
    return replace(
        dealt,
        part_tray=dealt.part_tray[stays],
        part_lot=lot[stays],
        part_cells=dealt.part_cells[stays],
        part_filled=dealt.part_filled[stays],
    )


def _options(plan: Plan, lot: Ints, kind: Ints, is_free: Flags, first: Ints, drawn: Plan) -> Options:
    n = int(first[-1])
    start_group, pot_group = groups_of(drawn.trays, n)
    n_groups = int(drawn.trays.group.max(initial=-1)) + 1
    cells_of = np.array([box.cells_per_tray for box in plan.garden.containers], dtype=np.int64)
    capacity = np.zeros(n_groups, dtype=np.int64)
    capacity[drawn.trays.group] = cells_of[drawn.trays.container]
    times = Timeline(**{field.name: getattr(drawn.timeline, field.name)[:n] for field in fields(Timeline)})
    return Options(
        plan=plan,
        lot=lot,
        kind=kind,
        is_free=is_free,
        first=first,
        day=times.sow_on,
        sow_on=drawn.garden.sowings.sow_on[:n],
        light=drawn.light_place[:n],
        off=np.abs(times.sow_on - times.sow_best),
        times=times,
        first_place=drawn.first_place[:n],
        start_group=start_group,
        pot_group=pot_group,
        capacity=capacity,
    )


def groups_of(trays: Trays, n_lots: int) -> tuple[Ints, Ints]:
    """Return the groups of the trays of cells and of pots of each lot; -1 for none. Each of shape (n_lots,)."""
    found = []
    for potted_on in (False, True):
        mine = trays.is_potted_on[trays.part_tray] == potted_on
        group = np.full(n_lots, -1, dtype=np.int64)
        group[trays.part_lot[mine]] = trays.group[trays.part_tray[mine]]
        found.append(group)
    return found[0], found[1]
