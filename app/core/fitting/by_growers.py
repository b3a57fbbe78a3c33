"""An answer grower by grower: baskets first, then whole trays for them."""

from fractions import Fraction
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.answer import Goal, Phase
from app.core.fitting.baskets import find_allowed
from app.core.fitting.clock import Clock
from app.core.fitting.filling import NOTHING
from app.core.fitting.fixed import Fixed
from app.core.fitting.market import Market, Setting, Settled
from app.core.fitting.options import Options
from app.core.fitting.patterns import Patterns
from app.core.fitting.programme import INFINITE
from app.core.fitting.sample import Sample
from app.core.fitting.shedding import Shedding
from app.core.fitting.wishes import Stand

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# So many plants are given up for days nearer to the best: the last ones of all cost tens of days each. [fraction]
PLAY = 0.0015
# How often rows are looked for that say which lots do not fit into trays together.
ROUNDS = 2
# A sample is looked at once, and then all as often once it is nearly settled.
ROUNDS_OF_SAMPLE = 1
SOON = 3
# So fine a share is asked for.
FINEST = 100_000


class Dealt(NamedTuple):
    """What each lot gets, all of which fits.

    Attributes:
        option: Its option; -1 for none. Shape (n_lots,).
        plants: Its plants. Shape (n_lots,). [1]
        settled: What positions and plants are worth before trays are whole.
    """

    option: Ints
    plants: Ints
    settled: Settled


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
    setting: Setting,
    share: float,
    sample: Sample | None = None,
) -> Dealt | None:
    """Return an option and a number of plants for each lot, all of which fit; None without any in the time.

    Args:
        options: What each sowing may get.
        stand: The cells and pots of any number of plants of the lots.
        patterns: When the trays of each group may stand.
        fixed: What is not free.
        clock: When to stop.
        setting: Which patterns are used.
        share: The smallest share that each grower is to get, before whole trays are made of it. [fraction]
        sample: Some growers for whom prices are found first, where there are many.

    Returns:
        An option and a number of plants of each lot.
    """
    ways, least = setting.ways, Fraction(round(share * FINEST), FINEST)
    allowed = find_allowed(options, stand, ways, fixed, least)
    market_of = partial(Market, options, patterns, fixed, setting, clock=clock)
    if sample is None:
        market = market_of(allowed)
        is_settled = _settle(market, clock, ROUNDS, ROUNDS)
    else:
        few = market_of(
            find_allowed(sample.options, sample.stand, ways, fixed, least), times=float(sample.times.max(initial=1.0))
        )
        if not _settle(few, clock, ROUNDS_OF_SAMPLE, ROUNDS_OF_SAMPLE):
            return None
        market = market_of(allowed, like=few)
        is_settled = _settle(market, clock, 0, ROUNDS_OF_SAMPLE, soon=SOON)
    if not is_settled:
        return None
    settled = market.settled()
    plants, way = market.taken()
    plants = Shedding(options, stand, patterns, fixed, setting.is_used, ways, allowed).give_up(plants, way)
    option, placed = (np.full(len(options.lot), empty, dtype=np.int64) for empty in (NOTHING, 0))
    there = plants > 0
    option[allowed.lot[there]] = ways.option[way[there]]
    placed[allowed.lot] = plants
    return Dealt(option, placed, settled)


def _settle(
    market: Market, clock: Clock, rounds_of_plants: int, rounds_of_days: int, *, soon: float = INFINITE
) -> bool:
    """Find the fewest days with nearly the most plants; say whether there is an answer that fits."""
    if not market.is_possible:
        return False
    clock.enter(Phase.PLANTS)
    market.aim(Goal.PLANTS, -INFINITE)
    most = _tightened(market, clock, rounds_of_plants)
    if most is None:
        return False
    clock.enter(Phase.DAYS)
    market.aim(Goal.DAYS, most * (1 - PLAY))
    return _tightened(market, clock, rounds_of_days, soon) is not None


def _tightened(market: Market, clock: Clock, rounds: int, soon: float = INFINITE) -> float | None:
    """Return what the goal comes to with rows for what whole lots leave empty; None without an answer that fits."""
    reached = market.settle(soon)
    for _ in range(rounds):
        if reached is None or not clock.left or not market.tighten():
            break
        reached = market.settle()
    return reached
