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
    by_class: dict[int, list[int]] = {}
    for choice in np.flatnonzero(share > NONE).tolist():
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
            cells = float(wishes.stand.cells[wishes.stand.row[lot], plants[lot]])
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
