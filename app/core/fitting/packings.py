"""Rows that say what any packing of lots into trays must keep to, beyond their cells."""

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.programme import Programme

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

# No tray holds more than so many lots of more than one part less of it; more rows than these help little.
MOST_STEPS = 5
# Lots of less than such a part of a tray don't count, those that leave less room than that need one alone. [fraction]
LEAST_PARTS = (0.1, 0.2, 0.3, 0.4)


def add_packing_rows(
    programme: Programme, columns: Ints, pattern: Ints, need: Ints, capacity: Ints, trays: Ints, rows_of: Ints
) -> None:
    """Add rows: whatever a lot counts in a tray, by a count of which no full tray has more than one, trays are enough.

    Args:
        programme: Of whole lots.
        columns: The column of each choice. Shape (n,).
        pattern: The pattern that it is in. Shape (n,).
        need: Its cells or pots. Shape (n,). [1]
        capacity: Cells of a tray of each pattern. Shape (n_patterns,). [1]
        trays: The column of each pattern's trays. Shape (n_patterns,).
        rows_of: The patterns that get such rows: those with nothing fixed in them.

    Source:
        The functions u(k) and U(e) of S. Fekete, J. Schepers, Mathematical Programming 91, 2001, section 3.
        From memory.
    """
    row_of = np.full(len(trays), -1)
    row_of[rows_of] = np.arange(len(rows_of))
    inside = row_of[pattern] >= 0
    columns, row, need, size = columns[inside], row_of[pattern[inside]], need[inside], capacity[pattern[inside]]
    whole, rest = np.divmod(need, size)
    counts = [_in_steps(rest, size, steps) for steps in range(1, MOST_STEPS + 1)]
    counts += [_without_small(rest, size, least) for least in LEAST_PARTS]
    for count in counts:
        programme.add_rows(
            [(row, columns, -(whole + count)), (np.arange(len(rows_of)), trays[rows_of], 1.0)],
            n=len(rows_of),
            lower=0.0,
        )


def _in_steps(rest: Ints, size: Ints, steps: int) -> Floats:
    part, over = np.divmod((steps + 1) * rest, size)
    return np.where(over == 0, rest / size, part / steps)


def _without_small(rest: Ints, size: Ints, least: float) -> Floats:
    share = rest / size
    return np.where(share > 1 - least, 1.0, np.where(share < least, 0.0, share))
