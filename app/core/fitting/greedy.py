"""First come, first served: each sowing in turn gets the best day on which all of it still fits."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.clock import Clock
from app.core.fitting.filling import Filling
from app.core.fitting.picked import Picked, smallest_share
from app.core.fitting.whole import come_nearer, fill_up

Ints = NDArray[np.int64]

# After so many turns another one seldom helps.
MOST_TURNS = 60
# Who was left short comes earlier the next time, and more so in a grower's name who gets hardly more than the least;
# what was long ago counts less. Chosen here.
FORGOTTEN = 0.1
FOR_THE_LEAST = 3.0
HARDLY_MORE = 0.1


def fill_in_order(filling: Filling, order: Ints) -> None:
    """Put free lots on the shelves; what does not fit anywhere is left out whole.

    Args:
        filling: Shelves with nothing on them that is free.
        order: Indices of the lots, the first served first.
    """
    options = filling.options
    wanted = options.plan.garden.sowings.plants[options.lot]
    for lot in order.tolist():
        kind = int(options.kind[lot])
        for option in range(int(options.first[kind]), int(options.first[kind + 1])):
            if filling.put(lot, option, int(wanted[lot]), close_up=False):
                break


def take_turns(shelves: Callable[[], Filling], clock: Clock, seconds: float) -> Picked:
    """Serve first come, first served again and again, each time first who was left short before; return the best.

    Args:
        shelves: Gives shelves with nothing on them that is free.
        clock: When to stop.
        seconds: How long to go on. [s]

    Source:
        "Squeaky wheel" optimisation: D. E. Joslin, D. P. Clements, Journal of Artificial Intelligence Research 10,
        353-373, 1999. From memory.
    """
    filling = shelves()
    options, sowings = filling.options, filling.options.plan.garden.sowings
    grower, wanted, weight = (column[options.lot] for column in (sowings.grower, sowings.plants, 4 - sowings.priority))
    of_grower = np.bincount(grower, wanted)
    free = np.flatnonzero(options.is_free)
    blame = np.zeros(len(options.lot))
    best, best_rank = filling, None
    end = clock.left - seconds
    for _ in range(MOST_TURNS):
        fill_in_order(filling, free[np.argsort(-blame[free], kind="stable")])
        fill_up(filling, clock)
        rank = (smallest_share(options, filling.plants), int((filling.plants * weight).sum()))
        if best_rank is None or rank > best_rank:
            best, best_rank = filling, rank
        share = np.bincount(grower, filling.plants) / np.maximum(1, of_grower)
        short = 1 - filling.plants / np.maximum(1, wanted)
        if not short[free].any() or clock.left <= end:
            break
        is_least = share[grower] < float(rank[0]) + HARDLY_MORE
        blame = blame * (1 - FORGOTTEN) + short * (1 + FOR_THE_LEAST * is_least)
        filling = shelves()
    come_nearer(best, clock)
    return Picked(best.option, best.plants)
