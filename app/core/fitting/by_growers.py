"""An answer grower by grower: baskets first, then whole trays for them."""

from fractions import Fraction
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.answer import Goal, Phase
from app.core.fitting.baskets import find_allowed
from app.core.fitting.clock import Clock
from app.core.fitting.filling import NOTHING
from app.core.fitting.fixed import Fixed
from app.core.fitting.market import Market, ways_in
from app.core.fitting.model import find_ways
from app.core.fitting.options import Options
from app.core.fitting.patterns import Patterns
from app.core.fitting.programme import INFINITE
from app.core.fitting.shedding import Shedding
from app.core.fitting.wishes import Stand

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# So many plants are given up for days nearer to the best: the last ones of all cost tens of days each. [fraction]
PLAY = 0.0015
# How often rows are looked for that say which lots do not fit into trays together.
ROUNDS = 2
# So fine a share is asked for.
FINEST = 100_000


class Hope(NamedTuple):
    """What is hoped for at the start.

    Attributes:
        less: So much less the smallest share is than shares of trays would allow. [fraction]
        room: So much of a tray every pattern that is used leaves empty. [trays]
    """

    less: float
    room: float


# In this order, as long as there is time: a larger share may find no room in whole trays, and then less comes of it.
_LESS = (0.0, 0.004, -0.003, 0.002, 0.008, 0.006, 0.012, -0.006, 0.016, 0.02)
_ROOMS = (0.2, 0.1, 0.3)
HOPES = tuple(
    Hope(less, _ROOMS[(at + turn) % len(_ROOMS)]) for turn in range(len(_ROOMS)) for at, less in enumerate(_LESS)
)


def deal_by_growers(
    options: Options,
    stand: Stand,
    patterns: Patterns,
    fixed: Fixed,
    clock: Clock,
    *,
    is_used: Flags,
    share: float,
    room: Floats,
) -> tuple[Ints, Ints] | None:
    """Return an option and a number of plants for each lot, all of which fit; None without any in the time.

    Args:
        options: What each sowing may get.
        stand: The cells and pots of any number of plants of the lots.
        patterns: When the trays of each group may stand.
        fixed: What is not free.
        clock: When to stop.
        is_used: Whether each pattern is used, one of each group. Shape (n_patterns,).
        share: The smallest share that each grower is to get, before whole trays are made of it. [fraction]
        room: What the trays of each pattern leave empty. Shape (n_patterns,). [trays]

    Returns:
        Options, -1 for none, and plants. Each of shape (n_lots,).
    """
    ways = ways_in(find_ways(options, patterns), is_used)
    allowed = find_allowed(options, stand, ways, fixed, Fraction(round(share * FINEST), FINEST))
    clock.enter(Phase.PLANTS)
    market = Market(options, patterns, fixed, ways, allowed, clock, is_used=is_used, room=room)
    if not market.is_possible:
        return None
    market.aim(Goal.PLANTS, -INFINITE)
    most = _tightened(market)
    if most is None:
        return None
    clock.enter(Phase.DAYS)
    market.aim(Goal.DAYS, most * (1 - PLAY))
    if _tightened(market) is None:
        return None
    plants, way = market.taken()
    plants = Shedding(options, stand, patterns, fixed, is_used, ways, allowed).give_up(plants, way)
    option, placed = (np.full(len(options.lot), empty, dtype=np.int64) for empty in (NOTHING, 0))
    there = plants > 0
    option[allowed.lot[there]] = ways.option[way[there]]
    placed[allowed.lot] = plants
    return option, placed


def _tightened(market: Market) -> float | None:
    """Return what the goal comes to with rows for what whole lots leave empty; None without an answer that fits."""
    reached = market.settle()
    for _ in range(ROUNDS):
        if reached is None or not market.tighten():
            break
        reached = market.settle()
    return reached
