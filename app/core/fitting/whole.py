"""From shares of lots back to whole ones, and onto the shelves."""

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.clock import Clock
from app.core.fitting.filling import NOTHING, Filling
from app.core.fitting.flows import FlowModel
from app.core.fitting.options import Options
from app.core.fitting.wishes import Stand

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

HALF = 0.5
# Cells up to this are none but for rounding. [1]
NONE = 1e-6
# So many lots are asked for plants that another is short of.
MOST_ASKED = 12


def whole_lots(options: Options, stand: Stand, model: FlowModel, values: Floats) -> tuple[Ints, Ints]:
    """Return an option and a number of plants for each lot, near to what a programme gave to kinds.

    Args:
        options: What each sowing may get.
        stand: The cells of any number of plants of the lots.
        model: The programme.
        values: The values of its columns.

    Returns:
        Option, -1 for none, and plants of each lot. Each of shape (n_lots,).
    """
    plants = _plants(options, model, values)
    lot = np.arange(len(plants))
    option = np.full(len(lot), NOTHING, dtype=np.int64)
    cells = stand.cells_of(lot, plants)
    # What each option, and each group of trays, is still to get. [1]
    owed = np.bincount(model.way_option, values[model.way_cells], minlength=len(options.day)).tolist()
    is_given = [cells_given > NONE for cells_given in owed]
    of_groups = np.zeros(options.n_groups + 1)
    for groups_of, columns in ((options.start_group, model.way_cells), (options.pot_group, model.way_pots)):
        np.add.at(of_groups, groups_of[model.way_option], values[columns])
    of_groups[-1] = np.inf  # where nothing is potted on
    left, starts, pots = of_groups.tolist(), options.start_group.tolist(), options.pot_group.tolist()
    first, kinds = options.first.tolist(), options.kind.tolist()
    placed = np.flatnonzero(options.is_free & (plants > 0))
    # The largest first, each to where most is owed: the small ones then even out what the large ones left.
    placed = placed[np.argsort(-cells[placed], kind="stable")]
    needs = zip(placed.tolist(), cells[placed].tolist(), stand.pots_of(placed, plants[placed]).tolist(), strict=True)
    for one, of_cells, of_pots in needs:
        best, most = first[kinds[one]], -np.inf
        for other in range(best, first[kinds[one] + 1]):
            more = owed[other] + min(left[starts[other]] - of_cells, left[pots[other]] - of_pots)
            if is_given[other] and more > most:
                best, most = other, more
        option[one] = best
        owed[best] -= of_cells
        left[starts[best]] -= of_cells
        left[pots[best]] -= of_pots
    return option, plants


def _plants(options: Options, model: FlowModel, values: Floats) -> Ints:
    """Return the plants of each lot as whole numbers, with which no grower has fewer than before by more than one."""
    n = len(options.lot)
    plants = np.bincount(model.parts.lot, values[model.part_columns], minlength=n)
    order = np.argsort(options.plan.garden.sowings.grower[options.lot], kind="stable")
    whole = np.zeros(n, dtype=np.int64)
    whole[order] = np.diff(np.floor(np.append(0.0, np.cumsum(plants[order])) + HALF)).astype(np.int64)
    return whole


def put_all(filling: Filling, option: Ints, plants: Ints) -> None:
    """Put lots on the shelves with their options, group by group; of what does not fit, as many plants as do."""
    options = filling.options
    there = np.flatnonzero(options.is_free & (plants > 0))
    group = options.start_group[option[there]]
    late: list[int] = []
    for number in np.unique(group).tolist():
        lots = there[group == number]
        # The largest first, and the room that they leave in their trays to the groups that follow.
        late += [
            lot
            for lot in lots[np.argsort(-plants[lots], kind="stable")].tolist()
            if not filling.put(lot, int(option[lot]), int(plants[lot]))
        ]
        filling.close_up(number)
    for number in np.unique(options.pot_group[options.pot_group >= 0]).tolist():
        filling.close_up(number)
    late = [lot for lot in late if not filling.put(lot, int(option[lot]), int(plants[lot]))]
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
    placed = -1
    while clock.left and placed < (placed := int(filling.plants.sum())):
        share = np.bincount(grower, filling.plants) / np.maximum(1, np.bincount(grower, wanted))
        short = np.flatnonzero(options.is_free & (filling.plants < wanted))
        for lot in short[np.lexsort((-weight[short], np.round(share[grower[short]], 3)))].tolist():
            if not clock.left:
                break
            give_more(filling, lot, int(wanted[lot]))


def give_more(filling: Filling, lot: int, plants: int) -> None:
    """Give a lot so many plants, or as many more than it has as there is room for."""
    choices, had = _choices_of(filling.options, lot), int(filling.option[lot])
    if had == NOTHING:
        put_most(filling, lot, choices, plants, close_up=True)
        return
    choices = [had, *(choice for choice in choices if choice != had)]
    step = plants - int(filling.plants[lot])
    while step:
        if step > plants - filling.plants[lot] or not filling.move(
            lot, choices, int(filling.plants[lot]) + step, close_up=True
        ):
            step //= 2


def lift(filling: Filling, clock: Clock) -> None:
    """Raise the smallest share, as long as others in the same trays have more to give."""
    options = filling.options
    sowings = options.plan.garden.sowings
    grower, wanted = sowings.grower[options.lot], sowings.plants[options.lot]
    asked = np.bincount(grower, wanted)
    asking = np.flatnonzero(asked)
    while clock.left and len(asking):
        placed = np.bincount(grower, filling.plants, minlength=len(asked))
        least = int(asking[(placed[asking] / asked[asking]).argmin()])
        # Whoever gives keeps a larger share than who gets had.
        spare = placed - np.floor(placed[least] * asked / asked[least]).astype(np.int64) - 1
        short = np.flatnonzero(options.is_free & (grower == least) & (filling.plants < wanted))
        spare_of = np.where(options.is_free, spare[grower], 0)
        if not any(_take_over(filling, lot, spare_of) for lot in short.tolist()):
            break


def _take_over(filling: Filling, lot: int, spare: Ints) -> bool:
    """Give a lot one plant more, where others in its trays have some to give; say whether any has.

    Args:
        filling: The shelves.
        lot: Index of the lot.
        spare: Plants that each lot can do without. Shape (n_lots,). [1]
    """
    had, cells = int(filling.option[lot]), filling.stand.cells
    row, now = int(filling.stand.row[lot]), int(filling.plants[lot])
    need = int(cells[row, now + 1]) - int(cells[row, now])
    for option in sorted(_choices_of(filling.options, lot), key=lambda option: option != had):
        others = [other for other in filling.beside(option, lot) if other != lot and spare[other] > 0]
        for other in others[:MOST_ASKED]:
            its_row, plants = int(filling.stand.row[other]), int(filling.plants[other])
            fewest = max(1, plants - int(spare[other]))
            left = int(np.searchsorted(cells[its_row], int(cells[its_row, plants]) - need, side="right")) - 1
            if left < fewest:
                continue
            its_option = [int(filling.option[other])]
            filling.move(other, its_option, left)
            if had == NOTHING:
                is_done = filling.put(lot, option, 1)
            else:
                is_done = filling.move(lot, [option], now + 1, close_up=True)
            if is_done:
                return True
            filling.move(other, its_option, plants)
    return False


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
