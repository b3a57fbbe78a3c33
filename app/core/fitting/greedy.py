"""First come, first served: each sowing in turn gets the best day on which all of it still fits."""

import numpy as np

from app.core.fitting.filling import Filling


def fill_in_order(filling: Filling) -> None:
    """Put all free lots on the shelves in the order of the sowings; what does not fit anywhere is left out whole."""
    options = filling.options
    wanted = options.plan.garden.sowings.plants[options.lot]
    for lot in np.flatnonzero(options.is_free).tolist():
        kind = int(options.kind[lot])
        for option in range(int(options.first[kind]), int(options.first[kind + 1])):
            if filling.put(lot, option, int(wanted[lot])):
                break
