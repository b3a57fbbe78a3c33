"""How many cells and seeds it takes to get the plants that are wanted."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from app.core.errors import OutOfRangeError

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

# Where the chance equals the confidence exactly, floating error must not cost one more cell.
TOLERANCE = 1e-10
# One block of the recursion holds wishes of like size, so that small wishes don't wait for large ones.
_BLOCK_ENDS = (16, 64, 256, 1024)
# Fewer cases than this in a block are halved one by one, which is quicker than the block's table.
_FEW_CASES = 12
# Below this chance a plant would cost thousands of seeds: the wish is a mistake, not a stand.
MIN_CHANCE = 0.01


def trials_needed(successes: Ints, chance: Floats, confidence: float) -> Ints:
    """Return the smallest n with P(Binomial(n, chance) >= successes) >= confidence.

    Args:
        successes: The successes wanted, one per case; 0 needs no trial. Shape (n_cases,). [1]
        chance: The chance of a success in one trial. Shape (n_cases,). [fraction, 0.01 to 1]
        confidence: The wanted probability. [fraction, above 0 and below 1]

    Returns:
        Trials for each case. Shape (n_cases,). [1]

    Raises:
        OutOfRangeError: A chance or the confidence lies outside its range.

    Source:
        Definition of the binomial law; computed by S(n+1, k) = (1-p) S(n, k) + p S(n, k-1),
        where S(n, k) is the chance of k or more in n; where cases are few, and beyond 1,024 successes, by its terms.
    """
    if not 0 < confidence < 1:
        raise OutOfRangeError("confidence", confidence, "above 0 and below 1")
    wrong = chance[~((chance >= MIN_CHANCE) & (chance <= 1))]
    if len(wrong):
        raise OutOfRangeError("chance", wrong[0], f"from {MIN_CHANCE} to 1")
    trials = np.zeros(len(successes), dtype=np.int64)
    begin = 0
    for end in _BLOCK_ENDS:
        in_block = np.flatnonzero((successes > begin) & (successes <= end))
        if begin and len(in_block) < _FEW_CASES:
            _halve(trials, in_block, successes, chance, confidence)
        elif len(in_block):
            chances, row = np.unique(chance[in_block], return_inverse=True)
            table = _trials_table(tuple(chances.tolist()), int(successes[in_block].max()), confidence)
            trials[in_block] = table[row, successes[in_block]]
        begin = end
    _halve(trials, np.flatnonzero(successes > begin), successes, chance, confidence)
    return trials


# The same rates are asked for again after most changes of a garden.
@lru_cache(maxsize=16)
def _trials_table(chances: tuple[float, ...], most: int, confidence: float) -> Ints:
    """Return the trials needed for each chance (row) and 0 to `most` successes (column)."""
    # A row for each success while it is made, so that every step goes over memory in one piece.
    success = np.tile(np.array(chances), (most, 1))
    failure = 1 - success
    at_least = np.zeros((most + 1, len(chances)))
    at_least[0] = 1
    these, fewer, reached = at_least[1:], at_least[:-1], np.empty_like(success)
    short = np.zeros(at_least.shape, dtype=np.int64)
    goal = confidence - TOLERANCE
    while at_least[-1].min() < goal:
        short += at_least < goal
        np.multiply(success, fewer, out=reached)
        these *= failure
        these += reached
    return short.T


def _halve(trials: Ints, cases: Ints, successes: Ints, chance: Floats, confidence: float) -> None:
    for case in cases.tolist():
        trials[case] = _trials_of_many(int(successes[case]), float(chance[case]), confidence)


@lru_cache(maxsize=1024)
def _trials_of_many(successes: int, chance: float, confidence: float) -> int:
    """Return the trials needed for many successes, or for one case alone: halve what lies between."""
    if chance == 1:
        return successes
    low, high = successes - 1, successes
    while _chance_of_fewer(successes, high, chance) > 1 - confidence + TOLERANCE:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        if _chance_of_fewer(successes, middle, chance) > 1 - confidence + TOLERANCE:
            low = middle
        else:
            high = middle
    return high


def _chance_of_fewer(successes: int, trials: int, chance: float) -> float:
    """Return P(Binomial(trials, chance) < successes), each term from the one before it, in logarithms."""
    j = np.arange(1, successes)
    steps = np.log(trials - j + 1) - np.log(j) + np.log(chance / (1 - chance))
    first = trials * np.log1p(-chance)
    return float(np.exp(first + np.concatenate([[0.0], np.cumsum(steps)])).sum())


def cells_needed(
    *,
    plants: Ints,
    germination: Floats,
    seeds_per_cell: Ints,
    plants_per_cell: Ints,
    survival: float,
    confidence: float,
) -> Ints:
    """Return the cells to sow so that the plants wanted stand with the confidence given.

    Args:
        plants: Plants wanted. Shape (n_sowings,). [1]
        germination: Share of seeds that come up. Shape (n_sowings,). [fraction, above 0 to 1]
        seeds_per_cell: Seeds put in a cell. Shape (n_sowings,). [1]
        plants_per_cell: Plants that stay in a cell; above 1 for clumps. Shape (n_sowings,). [1]
        survival: Share of seedlings that live to planting out. [fraction, above 0 to 1]
        confidence: The wanted probability of enough plants. [fraction, above 0 and below 1]

    Returns:
        Cells; seeds are cells times `seeds_per_cell`. Shape (n_sowings,). [1]

    Source:
        The binomial law. A couple of seeds a cell thinned to one, and clumps, are common practice.
    """
    single = plants_per_cell == 1
    cell_gives = (1 - (1 - germination) ** seeds_per_cell) * survival
    chance = np.where(single, cell_gives, germination * survival)
    trials = trials_needed(plants, chance, confidence)
    in_clumps = np.maximum(-(-plants // plants_per_cell), -(-trials // seeds_per_cell))
    return np.where(single, trials, in_clumps)


def spare_of(plants: Ints, spare: float) -> Ints:
    """Return the plants that are kept on potting on beyond those wanted.

    Args:
        plants: Plants wanted. Shape (n,). [1]
        spare: Share of them kept more. [fraction]

    Returns:
        Whole plants. Shape (n,). [1]
    """
    kept: Ints = np.ceil(spare * plants - 1e-9).astype(np.int64)
    return kept
