"""The free choices of a levelling, gathered by kinds: sowings whose days, places and dates are the same."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import DAYS_IN_WEEK, NO_DAY, Days
from app.core.cards import Garden, Sowings
from app.core.dealt import Dealt, settle
from app.core.plan import NO_PLACE, Plan, make_plan
from app.core.sharing import Trays
from app.core.timeline import Timeline
from app.core.words import LAMP, WINDOW, Light

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

_OF_THE_CARD = -1
_ALL = -1


@dataclass(frozen=True, kw_only=True)
class Options:
    """What each sowing that is started indoors may get.

    The lots are those sowings. The options of a kind follow each other, best day first, and a lot that is not free
    is of a kind of its own with the one option that it has.

    Attributes:
        plan: The plan as it is.
        lot: Index of the sowing of each lot. Shape (n_lots,).
        kind: The kind of each lot. Shape (n_lots,).
        is_free: Whether the lot is neither sown nor in a pinned tray. Shape (n_lots,).
        first: Index of the first option of each kind, and last the number of options. Shape (n_kinds + 1,).
        day: The sowing day of each option. Shape (n_options,). [day number]
        light: Index of its light place. Shape (n_options,).
        off: Days between it and the best sowing day. Shape (n_options,). [d]
        times: The dates of each option; arrays of shape (n_options,).
        first_place: Index of the place until emergence. Shape (n_options,).
        start_group: Those of one number may share trays of cells. Shape (n_options,).
        pot_group: Those of one number may share trays of pots; -1 where not potted on. Shape (n_options,).
        capacity: Cells or pots of a tray of each group. Shape (n_groups,). [1]
    """

    plan: Plan
    lot: Ints
    kind: Ints
    is_free: Flags
    first: Ints
    day: Days
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


def find_options(plan: Plan, today: int) -> Options:
    """Return what each sowing of a plan may get.

    Args:
        plan: The plan as it is.
        today: No sowing is moved to a day before it, unless the season is over. [day number]
    """
    garden = plan.garden
    lot = np.flatnonzero(plan.light_place >= 0)
    is_fixed = held_fast(garden)[lot] & (plan.cells[lot] > 0)
    times, sowings = plan.timeline, garden.sowings
    season_is_over = len(lot) > 0 and times.plant_out[lot].max() < today
    past = np.where((times.sow_on[lot] < today) & (not season_is_over), times.sow_on[lot], NO_DAY)
    needs_lamp = np.array([card.light is Light.LAMP for card in garden.cards], dtype=bool)[sowings.crop[lot]]
    only = np.where(needs_lamp, plan.light_place[lot], _ALL)
    # Once a window has begun, a sowing may have to stay where it is: where that is then makes a kind of its own.
    is_late = (past != NO_DAY) | ((times.sow_from[lot] < today) & (not season_is_over))
    key = np.column_stack(
        [
            np.where(is_fixed, lot + 1, 0),
            sowings.crop[lot],
            sowings.plant_out[lot],
            sowings.days_to_maturity[lot],
            np.round(sowings.risk[lot] * 1e6).astype(np.int64),
            np.where(is_late, times.sow_on[lot], NO_DAY),
            np.where(is_late, plan.light_place[lot], NO_PLACE),
            only,
        ]
    )
    _, example, kind = np.unique(key, axis=0, return_index=True, return_inverse=True)
    kind = kind.ravel().astype(np.int64)
    rows = _rows(
        plan, lot[example], is_fixed[example], past[example], only[example], today=today if not season_is_over else 0
    )
    drawn = _drawn(garden, lot[example][rows.kind], rows, is_fixed[example][rows.kind])
    return _options(plan, lot, kind, is_fixed, rows, make_plan(drawn))


def held_fast(garden: Garden) -> Flags:
    """Return whether each sowing is sown or in a pinned tray, and stays as it is. Shape (n,)."""
    n = len(garden.sowings)
    fast = np.zeros(n, dtype=bool)
    fast[garden.log.sowing[garden.log.holds]] = True
    for potted_on in (False, True):
        _, kept = settle(garden.dealt, n, potted_on=potted_on)
        fast[kept.lot[kept.is_firm]] = True
    return fast


@dataclass(frozen=True)
class _Rows:
    """Options by kind, day and light place, before they have dates."""

    kind: Ints
    day: Days
    light: Ints


def _rows(plan: Plan, example: Ints, is_fixed: Flags, past: Days, only: Ints, *, today: int) -> _Rows:
    """List the options of each kind: the sowing days of its window in each light place that is open to it."""
    garden = plan.garden
    kinds = np.repeat(np.arange(len(example)), 2)
    light = np.tile([WINDOW, LAMP], len(example))
    keeps = (only[kinds] == _ALL) | (only[kinds] == light)
    keeps &= ~is_fixed[kinds] | (plan.light_place[example[kinds]] == light)
    kinds, light = kinds[keeps], light[keeps]
    # The window of a sowing hangs on its bench, and so on its place.
    free_day = _Rows(kinds, np.zeros(len(kinds), dtype=np.int64), light)
    windows = make_plan(_drawn(garden, example[kinds], free_day, is_fixed[kinds])).timeline
    found: list[tuple[int, int, int, int]] = []
    weekday = garden.settings.sowing_weekday
    own = plan.timeline.sow_on[example]
    own_light = plan.light_place[example]
    for kind, place, begin, end, best in zip(
        kinds.tolist(),
        light.tolist(),
        windows.sow_from.tolist(),
        windows.sow_by.tolist(),
        windows.sow_best.tolist(),
        strict=True,
    ):
        if is_fixed[kind]:
            found.append((kind, 0, int(own[kind]), place))
            continue
        days = [day for day in range(begin, end + 1) if (day - 1) % DAYS_IN_WEEK == weekday] or [best]
        days = [day for day in days if day >= today]
        if past[kind] and place == own_light[kind]:
            days.append(int(past[kind]))
        found.extend((kind, abs(day - best), day, place) for day in days)
    # Where no day of the window is left, a sowing stays where it is.
    without = set(range(len(example))) - {kind for kind, *_ in found}
    found.extend((kind, 0, int(own[kind]), int(own_light[kind])) for kind in without)
    found.sort()
    columns = np.array(found, dtype=np.int64).reshape(-1, 4)
    return _Rows(columns[:, 0], columns[:, 2], columns[:, 3])


def _drawn(garden: Garden, example: Ints, rows: _Rows, is_fixed: Flags) -> Garden:
    """Return a garden with one sowing for each option; what is fixed is as it was, in its trays."""
    old = garden.sowings
    number = np.arange(len(rows.kind))
    sowings = Sowings(
        ids=number,
        names=("",) * len(number),
        varieties=(None,) * len(number),
        grower=old.grower[example],
        crop=old.crop[example],
        plants=old.plants[example],
        placed=np.where(is_fixed, old.placed[example], -1),
        days_to_maturity=old.days_to_maturity[example],
        germination=old.germination[example],
        priority=old.priority[example],
        plant_out=old.plant_out[example],
        sow_on=np.where(is_fixed, old.sow_on[example], rows.day),
        risk=old.risk[example],
        light=np.where(is_fixed, old.light[example], rows.light),
    )
    new_of = np.full(len(old), -1, dtype=np.int64)
    new_of[example[is_fixed]] = number[is_fixed]
    return replace(
        garden,
        sowings=sowings,
        dealt=_of_fixed(garden.dealt, new_of),
        log=garden.log.moved(new_of),
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


def _options(plan: Plan, lot: Ints, kind: Ints, is_fixed: Flags, rows: _Rows, drawn: Plan) -> Options:
    start_group, pot_group = groups_of(drawn.trays, len(rows.kind))
    n_groups = int(drawn.trays.group.max(initial=-1)) + 1
    cells_of = np.array([box.cells_per_tray for box in plan.garden.containers], dtype=np.int64)
    capacity = np.zeros(n_groups, dtype=np.int64)
    capacity[drawn.trays.group] = cells_of[drawn.trays.container]
    n_kinds = int(kind.max(initial=-1)) + 1
    times = drawn.timeline
    return Options(
        plan=plan,
        lot=lot,
        kind=kind,
        is_free=~is_fixed,
        first=np.searchsorted(rows.kind, np.arange(n_kinds + 1)),
        day=times.sow_on,
        light=drawn.light_place,
        off=np.abs(times.sow_on - times.sow_best),
        times=times,
        first_place=drawn.first_place,
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
