"""From shares of lots back to whole ones, and onto the shelves."""

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.clock import Clock
from app.core.fitting.filling import NOTHING, Filling
from app.core.fitting.model import Model
from app.core.fitting.options import Options
from app.core.fitting.wishes import Wishes

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

# Shares up to this are none but for rounding. [lots]
NONE = 1e-9


def whole_lots(options: Options, wishes: Wishes, model: Model, values: Floats) -> tuple[Ints, Ints]:
    """Return an option and a number of plants for each lot, near to what a programme gave to classes of lots.

    Args:
        options: What each sowing may get.
        wishes: The classes.
        model: The programme.
        values: The values of its columns.

    Returns:
        Option, -1 for none, and plants of each lot. Each of shape (n_lots,).
    """
    share = values[model.choices]
    option = np.full(len(options.lot), NOTHING, dtype=np.int64)
    plants = _plants(options, wishes, model, values)
    cells = wishes.level_cells[model.choice_level] * share
    wanted: dict[int, dict[int, float]] = {}
    for choice in np.flatnonzero(share > NONE).tolist():
        its_options = wanted.setdefault(int(wishes.kind[model.choice_class[choice]]), {})
        its_option = int(model.choice_option[choice])
        its_options[its_option] = its_options.get(its_option, 0.0) + float(cells[choice])
    lots_of: dict[int, list[int]] = {}
    for lot in np.flatnonzero(options.is_free & (plants > 0)).tolist():
        lots_of.setdefault(int(options.kind[lot]), []).append(lot)
    for kind, lots in lots_of.items():
        for its_option, some in _split(lots, wishes.stand.cells_of(np.array(lots), plants[lots]), wanted.get(kind, {})):
            option[some] = its_option
    plants[option == NOTHING] = np.where(options.is_free, 0, plants)[option == NOTHING]
    return option, plants


def _split(lots: list[int], cells: Ints, wanted: dict[int, float]) -> list[tuple[int, list[int]]]:
    """Return lots for each option, whose cells are as near as can be to those wanted in it."""
    left = dict(zip(lots, cells.tolist(), strict=True))
    scale = float(cells.sum()) / max(sum(wanted.values()), NONE)
    found = []
    for number, its_option in enumerate(sorted(wanted, key=lambda one: wanted[one])):
        is_last = number == len(wanted) - 1
        some = list(left) if is_last else _of_sum(left, round(wanted[its_option] * scale))
        found.append((its_option, some))
        left = {lot: size for lot, size in left.items() if lot not in set(some)}
    return found


def _of_sum(sizes: dict[int, int], wanted: int) -> list[int]:
    """Return names whose sizes come as near as can be to a sum; of two the smaller."""
    # The bits of a number say which sums the first few reach.
    reached = [1]
    for size in sizes.values():
        reached.append(reached[-1] | reached[-1] << size)
    total = min(range(sum(sizes.values()) + 1), key=lambda some: (not reached[-1] >> some & 1, abs(some - wanted)))
    found = []
    for (name, size), before in zip(reversed(sizes.items()), reversed(reached[:-1]), strict=True):
        if not before >> total & 1:
            found.append(name)
            total -= size
    return found


def _plants(options: Options, wishes: Wishes, model: Model, values: Floats) -> Ints:
    """Return the plants of each lot: all or none of them, but for one lot of each grower and class at most."""
    plants = np.zeros(len(options.lot), dtype=np.int64)
    grower = options.plan.garden.sowings.grower[options.lot]
    granted = {
        (int(one), int(other)): float(values[column])
        for one, other, column in zip(model.granted_grower, model.granted_class, model.granted, strict=True)
    }
    placed = np.bincount(
        model.choice_class,
        wishes.level_plants[model.choice_level] * values[model.choices],
        minlength=len(wishes.kind),
    )
    left = {}
    for lot in np.flatnonzero(options.is_free).tolist():
        its_class = int(wishes.of_lot[lot])
        key = (int(grower[lot]), its_class)
        if key not in left:
            left[key] = round(granted.get(key, placed[its_class]))
        plants[lot] = min(int(wishes.plants[its_class]), left[key])
        left[key] -= int(plants[lot])
    return plants


def put_all(filling: Filling, option: Ints, plants: Ints, clock: Clock) -> None:
    """Put lots on the shelves with their options, the largest first; of what does not fit, as many plants as do."""
    group = np.where(option == NOTHING, NOTHING, filling.options.start_group[option])
    order = np.lexsort((-plants, group))
    wanted = order[filling.options.is_free[order] & (plants[order] > 0)].tolist()
    late = [lot for lot in wanted if not (clock.left and filling.put(lot, int(option[lot]), int(plants[lot])))]
    for lot in late:
        put_most(filling, lot, [int(option[lot])], int(plants[lot]), close_up=False)


def put_most(filling: Filling, lot: int, choices: list[int], plants: int, *, least: int = 1, close_up: bool) -> bool:
    """Put all plants of a lot on the shelves in the first option with room for them, else as many as fit anywhere.

    Args:
        filling: The shelves.
        lot: Index of one that has no option yet.
        choices: Indices of its options, the best first.
        plants: Its plants. [1]
        least: With fewer it stays off the shelves. [1]
        close_up: Whether trays may be packed anew for all its plants.

    Returns:
        Whether any are there now.
    """
    for option in choices:
        if filling.put(lot, option, plants, close_up=close_up):
            return True
    rooms = sorted(((-min(plants - 1, filling.room_for(lot, option)), at) for at, option in enumerate(choices)))
    return any(filling.put(lot, choices[at], -number, close_up=False) for number, at in rooms if -number >= least)


def fill_up(filling: Filling, clock: Clock) -> None:
    """Give room that is left to lots without all their plants, those of growers with the smallest shares first."""
    options = filling.options
    sowings = options.plan.garden.sowings
    grower, wanted, weight = (column[options.lot] for column in (sowings.grower, sowings.plants, 4 - sowings.priority))
    share = np.bincount(grower, filling.plants) / np.maximum(1, np.bincount(grower, wanted))
    short = np.flatnonzero(options.is_free & (filling.plants < wanted))
    for lot in short[np.lexsort((-weight[short], np.round(share[grower[short]], 3)))].tolist():
        if not clock.left:
            break
        choices = _choices_of(options, lot)
        had = int(filling.option[lot])
        if had == NOTHING:
            put_most(filling, lot, choices, int(wanted[lot]), close_up=True)
        else:
            choices = [had, *(choice for choice in choices if choice != had)]
            _give_more(filling, lot, choices, int(wanted[lot]))


def _give_more(filling: Filling, lot: int, choices: list[int], plants: int) -> None:
    """Give a lot that has some of its plants all of them, else one more as long as that is possible."""
    if not filling.move(lot, choices, plants):
        while filling.plants[lot] < plants - 1 and filling.move(lot, choices, int(filling.plants[lot]) + 1):
            pass


def come_nearer(filling: Filling, clock: Clock) -> None:
    """Move lots nearer to their best days, the farthest first, as long as that is possible with all they have."""
    options = filling.options
    while clock.left:
        there = np.flatnonzero(options.is_free & (filling.option != NOTHING))
        gain = filling.plants[there] * (
            options.off[filling.option[there]] - options.off[options.first[options.kind[there]]]
        )
        order = there[np.argsort(-gain, kind="stable")][: int((gain > 0).sum())]
        moved = 0
        for lot in order.tolist():
            if not clock.left:
                break
            now = options.off[filling.option[lot]]
            better = [choice for choice in _choices_of(options, lot) if options.off[choice] < now]
            moved += filling.move(lot, better, int(filling.plants[lot]))
        if not moved:
            break


def _choices_of(options: Options, lot: int) -> list[int]:
    kind = int(options.kind[lot])
    return list(range(int(options.first[kind]), int(options.first[kind + 1])))
