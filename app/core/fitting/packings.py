"""Rows that say what any packing of lots into trays must keep to, beyond their cells."""

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.programme import INFINITE, Programme
from app.core.solver import QuietSolver

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

# No tray holds more than so many lots of more than one part less of it; more rows than these help little.
MOST_STEPS = 5
# Lots of less than such a part of a tray don't count, those that leave less room than that need one alone. [fraction]
LEAST_PARTS = (0.1, 0.2, 0.3, 0.4)
# By so much more than one a tray may count by rounding.
ENOUGH = 1e-7


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


def fewest_in_parts(sizes: Ints, demand: Floats, capacity: int) -> tuple[float, Floats]:
    """Return the fewest trays for lots of which some may be there in part, and what one of each size counts in them.

    Args:
        sizes: Cells of lots. Shape (n,). [1, from 1 to `capacity`]
        demand: How many there are of each size. Shape (n,). [1]
        capacity: Cells of a tray. [1]

    Returns:
        Trays, and counts of sizes: no full tray has more than one, and by them the lots come to so many trays. [1]

    Source:
        P. Gilmore, R. Gomory, Operations Research 9, 1961: patterns of a tray are made as they are asked for.
    """
    solver = QuietSolver()  # type: ignore[no-untyped-call]  # the library has no types here
    solver.setOptionValue("threads", 1)
    rows = np.arange(len(sizes), dtype=np.int32)
    for number in demand.tolist():
        solver.addRow(number, INFINITE, 0, np.zeros(0, dtype=np.int32), np.zeros(0))
    for row, number in zip(rows.tolist(), (capacity // sizes).tolist(), strict=True):
        solver.addCol(1.0, 0.0, INFINITE, 1, rows[row : row + 1], np.array([float(number)]))
    while True:
        solver.run()
        worth = np.maximum(0.0, np.array(solver.getSolution().row_dual))
        most, tray = _fullest(sizes, worth, capacity)
        if most <= 1 + ENOUGH:
            worth = worth / max(1.0, most)
            return float(worth @ demand), worth
        inside = np.flatnonzero(tray)
        solver.addCol(1.0, 0.0, INFINITE, len(inside), rows[inside], tray[inside].astype(np.float64))


def _fullest(sizes: Ints, worth: Floats, capacity: int) -> tuple[float, Ints]:
    """Return the most that the lots of one tray count, and how many of each size are in it."""
    best, last = [0.0] * (capacity + 1), [-1] * (capacity + 1)
    pairs = [(size, count, at) for at, (size, count) in enumerate(zip(sizes.tolist(), worth.tolist(), strict=True))]
    for cells in range(1, capacity + 1):
        best[cells] = best[cells - 1]
        for size, count, at in pairs:
            if size <= cells and best[cells - size] + count > best[cells]:
                best[cells], last[cells] = best[cells - size] + count, at
    tray, left = np.zeros(len(sizes), dtype=np.int64), capacity
    while left > 0:
        if last[left] < 0:
            left -= 1
            continue
        tray[last[left]] += 1
        left -= int(sizes[last[left]])
    return best[capacity], tray


def in_steps_of(sizes: Ints, counts: Floats, capacity: int, most: int) -> Floats:
    """Return what any number of cells counts where only some sizes are given: as much as the largest that it holds.

    A tray has no more of that than one, since the sizes that its lots hold fit it as well. Whole trays count one each.

    Args:
        sizes: Some sizes, rising. Shape (n,). [1, from 1 to `capacity`]
        counts: What each counts. Shape (n,).
        capacity: Cells of a tray. [1]
        most: The most cells that are asked for. [1]
    """
    steps = np.zeros(capacity)
    for size, count in zip(sizes.tolist(), counts.tolist(), strict=True):
        steps[size:] = np.maximum(steps[size:], count)
    whole, rest = np.divmod(np.arange(most + 1), capacity)
    found: Floats = whole + steps[rest]
    return found
