"""The germination that each sowing is reckoned with: what was seen of its seed lot before what is printed on it."""

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY
from app.core.cards import GERMINATION, Garden
from app.core.log.entries import NO_LOT, SOWN
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
    lots = lots_sown(garden)
    if len(lots) and garden.lots:
        seen = germination_of_lots(garden, logged)
        rates = [stated_of(garden, at) if one is None else one.mean for at, one in enumerate(seen)]
        found = np.where(lots == NO_LOT, found, np.array(rates)[lots])
    return found


def lots_sown(garden: Garden) -> Ints:
    """Return the seed lot of each sowing: what the log says was sown, else its own; -1 for none, or several.

    Shape (n_sowings,).
    """
    log, own = garden.log, garden.sowings.seed_lot
    sown = log.of(SOWN)
    if not (log.seed_lot[sown] != NO_LOT).any():
        return own
    sowing = log.sowing[sown]
    crop_of = np.array([lot.crop for lot in garden.lots], dtype=np.int64)
    said = log.seed_lot[sown]
    # A lot of what was another crop then says nothing of this one.
    is_said = (said != NO_LOT) & (crop_of[said] == garden.sowings.crop[sowing])
    taken = np.where(is_said, said, own[sowing])
    least, most = own.copy(), own.copy()
    least[sowing], most[sowing] = len(garden.lots), NO_LOT
    np.minimum.at(least, sowing, taken)
    np.maximum.at(most, sowing, taken)
    return np.where(least == most, least, NO_LOT)


def stated_of(garden: Garden, lot: int) -> float:
    """Return what a seed lot is reckoned with while nothing is seen of it: stated, else the legal minimum, else usual.

    [fraction]
    """
    card = garden.lots[lot]
    return card.stated or garden.cards[card.crop].legal_germination or GERMINATION


def germination_of_lots(garden: Garden, logged: Logged) -> tuple[Germination | None, ...]:
    """Return what was seen of each seed lot; None where nothing was."""
    per_lot: dict[int, list[Observed]] = {}
    lots = lots_sown(garden)
    for index, seen in observed_sowings(garden, logged).items():
        if lots[index] != NO_LOT:
            per_lot.setdefault(int(lots[index]), []).append(seen)
    found = []
    for number, lot in enumerate(garden.lots):
        observed = [*lot.tests, *per_lot.get(number, [])]
        found.append(learn(stated_of(garden, number), observed) if observed else None)
    return tuple(found)


def observed_sowings(garden: Garden, logged: Logged) -> dict[int, Observed]:
    """Return what came up of each sowing of which all that comes up is counted, by its index.

    Cells that were lost before, to a cause that says nothing of the seed, are not among those that were tried.

    Args:
        garden: The garden.
        logged: What its log comes to.
    """
    cards, crop = garden.cards, garden.sowings.crop
    tried = np.maximum(logged.sown - logged.spoiled, np.minimum(logged.up, logged.sown))
    is_seen = is_counted(logged, garden.today) | is_nothing_up(logged)
    found = {}
    for index in np.flatnonzero(is_seen & (tried > 0)).tolist():
        n_sown, n_seeds, n_tried = int(logged.sown[index]), int(logged.seeds[index]), int(tried[index])
        per_cell = n_seeds / n_sown if n_seeds else cards[int(crop[index])].seeds_per_cell
        found[index] = Observed(n_tried, min(int(logged.up[index]), n_tried), per_cell)
    return found


def is_counted(logged: Logged, today: int) -> Flags:
    """Return whether all that comes up of a sowing has been counted: a week after the first, or once more was done.

    Shape (n_sowings,).
    """
    went_on = (logged.thinned_on != NO_DAY) | (logged.potted_on != NO_DAY) | (logged.left > 0)
    waited = (today != NO_DAY) & (today >= logged.up_on + ALL_UP_AFTER_DAYS)
    counted: Flags = (logged.sown > 0) & (logged.up > 0) & (went_on | waited)
    return counted


def is_nothing_up(logged: Logged) -> Flags:
    """Return whether nothing of a sowing came up, nor will: all its cells were given up.

    That nobody wrote anything down says nothing: it may have come up all the same. Shape (n_sowings,).
    """
    days = (logged.up_on, logged.thinned_on, logged.potted_on, logged.hardened_on)
    came_up = np.any([day != NO_DAY for day in days], axis=0) | (logged.left > 0)
    nothing_up: Flags = (logged.sown > 0) & ~came_up & (logged.lost >= logged.sown)
    return nothing_up
