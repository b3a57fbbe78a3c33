"""From shares of lots back to whole ones, and onto the shelves."""

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.filling import NOTHING, Filling
from app.core.fitting.model import Model
from app.core.fitting.options import Options
from app.core.fitting.wishes import Wishes

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


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
    by_class: dict[int, list[int]] = {}
    for choice in np.flatnonzero(share > 1e-9).tolist():
        by_class.setdefault(int(model.choice_class[choice]), []).append(choice)
    option = np.full(len(options.lot), NOTHING, dtype=np.int64)
    plants = _plants(options, wishes, model, values)
    members: dict[int, list[int]] = {}
    for lot in np.flatnonzero(options.is_free).tolist():
        members.setdefault(int(wishes.of_lot[lot]), []).append(lot)
    # What earlier classes of a kind got too little of one option, its next classes get more of. [cells]
    owed: dict[int, float] = {}
    for its_class in sorted(by_class):
        lots = sorted((lot for lot in members[its_class] if plants[lot] > 0), key=lambda lot: -plants[lot])
        for choice in by_class[its_class]:
            chosen = int(model.choice_option[choice])
            cells = float(wishes.level_cells[model.choice_level[choice]])
            owed[chosen] = owed.get(chosen, 0.0) + cells * float(share[choice])
        choices = sorted({int(model.choice_option[choice]) for choice in by_class[its_class]})
        for lot in lots:
            cells = float(wishes.stand.cells_of(np.int64(lot), plants[lot]))  # type: ignore[arg-type]
            best = max(choices, key=lambda chosen: owed[chosen])
            option[lot] = best
            owed[best] -= cells
    return option, plants


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


def put_all(filling: Filling, option: Ints, plants: Ints) -> None:
    """Put lots on the shelves with their options, the largest first; of what does not fit, as many plants as do."""
    order = np.lexsort((-plants, option))
    late = []
    for lot in order.tolist():
        if filling.options.is_free[lot] and plants[lot] > 0 and not filling.put(lot, int(option[lot]), int(plants[lot])):
            late.append(lot)
    for lot in late:
        put_most(filling, lot, [int(option[lot])], int(plants[lot]))


def put_most(filling: Filling, lot: int, choices: list[int], plants: int, *, least: int = 1) -> bool:
    """Put as many plants of a lot on the shelves as fit, in the first option that takes most; say whether any do."""
    best = (least - 1, NOTHING)
    for option in choices:
        low, high = best[0], plants + 1
        while high - low > 1:
            middle = (low + high) // 2 if high <= plants else plants
            if filling.put(lot, option, middle):
                filling.take(lot)
                low, best = middle, (middle, option)
            else:
                high = middle
        if best[0] == plants:
            break
    return best[1] != NOTHING and filling.put(lot, best[1], best[0])


def fill_up(filling: Filling) -> None:
    """Give room that is left to lots without all their plants, those of growers with the smallest shares first."""
    options = filling.options
    sowings = options.plan.garden.sowings
    grower, wanted, weight = (
        column[options.lot] for column in (sowings.grower, sowings.plants, 4 - sowings.priority)
    )
    share = np.bincount(grower, filling.plants) / np.maximum(1, np.bincount(grower, wanted))
    short = np.flatnonzero(options.is_free & (filling.plants < wanted))
    order = short[np.lexsort((-weight[short], np.round(share[grower[short]], 3)))]
    for lot in order.tolist():
        kind = int(options.kind[lot])
        choices = list(range(int(options.first[kind]), int(options.first[kind + 1])))
        had = (NOTHING, 0)
        if filling.option[lot] != NOTHING:
            had = filling.take(lot)
            choices = [had[0], *(choice for choice in choices if choice != had[0])]
        if not put_most(filling, lot, choices, int(wanted[lot]), least=had[1] + 1) and had[0] != NOTHING:
            filling.put(lot, had[0], had[1])
