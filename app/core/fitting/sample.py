"""Some growers who stand for all of them: prices and patterns are soon found for these, and hold for the others too."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.options import Options
from app.core.fitting.wishes import Stand

Floats = NDArray[np.float64]


class Sample(NamedTuple):
    """The lots of some growers, and what is not free of whoever has nothing else.

    Attributes:
        options: What their lots may get; kinds and options are those of all lots.
        stand: The cells and pots of any number of plants of these lots.
        times: How many lots like itself each of them stands for. Shape (n_lots,).
    """

    options: Options
    stand: Stand
    times: Floats


def take_sample(options: Options, stand: Stand, growers: int) -> Sample:
    """Return a sample of so many growers with free lots, evenly from those who want few plants to those who want many.

    Args:
        options: What each sowing may get.
        stand: The cells and pots of any number of plants of the lots.
        growers: How many are taken, if there are more. [1]
    """
    sowings = options.plan.garden.sowings
    grower = sowings.grower[options.lot]
    free = options.is_free
    n = int(grower.max(initial=-1)) + 1
    wanted = np.bincount(grower[free], sowings.plants[options.lot[free]], minlength=n)
    owners = np.unique(grower[free])
    by_size = owners[np.argsort(wanted[owners], kind="stable")]
    n_taken = min(growers, len(owners))
    middles = (np.arange(n_taken) + 0.5) * len(owners) / max(1, n_taken)
    is_left = np.isin(np.arange(n), owners)
    is_left[by_size[middles.astype(np.int64)]] = False
    lots = np.flatnonzero(~is_left[grower])
    return Sample(
        options=replace(options, lot=options.lot[lots], kind=options.kind[lots], is_free=free[lots]),
        stand=replace(stand, row=stand.row[lots]),
        times=np.where(free[lots], len(owners) / max(1, n_taken), 1.0),
    )
