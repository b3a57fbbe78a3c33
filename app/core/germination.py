"""The germination that each sowing is reckoned with: what was seen of its seed lot before what is printed on it."""

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY
from app.core.cards import GERMINATION, Garden
from app.core.log.learning import Germination, Observed, learn
from app.core.log.state import Logged

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# Stragglers come up within so many days of the first; chosen here.
ALL_UP_AFTER_DAYS = 7


def germination_of(garden: Garden, logged: Logged) -> Floats:
    """Return the share of seeds that come up: seen of the seed lot, else stated, else the legal minimum, else usual.

    Shape (n_sowings,). [fraction]
    """
    usual = np.array([card.legal_germination or GERMINATION for card in garden.cards])
    sowings = garden.sowings
    found = np.where(sowings.germination > 0, sowings.germination, usual[sowings.crop])
    if len(sowings.seed_lot) and garden.lots:
        learnt = np.array([0.0 if one is None else one.mean for one in germination_of_lots(garden, logged)] + [0.0])
        seen = learnt[sowings.seed_lot]
        found = np.where(seen > 0, seen, found)
    return found


def stated_of(garden: Garden, lot: int) -> float:
    """Return what a seed lot is reckoned with while nothing is seen of it: stated, else the legal minimum, else usual.

    [fraction]
    """
    card = garden.lots[lot]
    return card.stated or garden.cards[card.crop].legal_germination or GERMINATION


def germination_of_lots(garden: Garden, logged: Logged) -> tuple[Germination | None, ...]:
    """Return what was seen of each seed lot; None where nothing was."""
    per_lot: dict[int, list[Observed]] = {}
    for index, seen in observed_sowings(garden, logged).items():
        if garden.sowings.seed_lot[index] >= 0:
            per_lot.setdefault(int(garden.sowings.seed_lot[index]), []).append(seen)
    found = []
    for number, lot in enumerate(garden.lots):
        observed = [*lot.tests, *per_lot.get(number, [])]
        found.append(learn(stated_of(garden, number), observed) if observed else None)
    return tuple(found)


def observed_sowings(garden: Garden, logged: Logged) -> dict[int, Observed]:
    """Return what came up of each sowing of which all that comes up is counted, by its index."""
    cards, crop = garden.cards, garden.sowings.crop
    found = {}
    for index in np.flatnonzero(is_counted(logged, garden.today)).tolist():
        n_sown, n_seeds = int(logged.sown[index]), int(logged.seeds[index])
        per_cell = n_seeds / n_sown if n_seeds else cards[int(crop[index])].seeds_per_cell
        found[index] = Observed(n_sown, min(int(logged.up[index]), n_sown), per_cell)
    return found


def is_counted(logged: Logged, today: int) -> Flags:
    """Return whether all that comes up of a sowing has been counted: a week after the first, or once more was done.

    Shape (n_sowings,).
    """
    went_on = (logged.thinned_on != NO_DAY) | (logged.potted_on != NO_DAY) | (logged.left > 0)
    waited = (today != NO_DAY) & (today >= logged.up_on + ALL_UP_AFTER_DAYS)
    counted: Flags = (logged.sown > 0) & (logged.up > 0) & (went_on | waited)
    return counted
