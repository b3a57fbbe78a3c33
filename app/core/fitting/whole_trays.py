"""Rows that say that trays are whole, for bounds: a tray for a little of something is as much as one for more.

Where some kinds stand together in a pattern's trays, they need so many whole ones if all of them is there. Whatever is
not there makes it one tray less at the most, once enough of it is missing, and no faster than that.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.flows import FlowModel
from app.core.fitting.model import find_ways
from app.core.fitting.options import Options
from app.core.fitting.patterns import Patterns
from app.core.fitting.programme import INFINITE, Open
from app.core.fitting.wishes import Stand

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

# By so much a row has to be broken to be worth adding. [trays]
WORTH_A_ROW = 0.02
# Cells up to this are none but for rounding. [1]
NONE = 1e-6


@dataclass(frozen=True)
class WholeTrays:
    """What of each kind may be in the trays of each pattern.

    Attributes:
        model: The programme of kinds.
        pattern: A pattern, rising. Shape (n,).
        column: The column of the cells or pots of a kind in it. Shape (n,).
        most: All cells or pots that the kind may take. Shape (n,). [1]
    """

    model: FlowModel
    pattern: Ints
    column: Ints
    most: Floats

    def add_rows(self, programme: Open, values: Floats) -> int:
        """Add the rows that an answer breaks, one for a pattern at the most; return how many.

        Args:
            programme: The programme in the solver.
            values: The values of its columns.

        Source:
            Mixed integer rounding: G. Nemhauser, L. Wolsey, Mathematical Programming 46, 1990. From memory.
        """
        model, added = self.model, 0
        first = np.searchsorted(self.pattern, np.arange(len(model.trays) + 1))
        missing = np.maximum(0.0, self.most - values[self.column])
        for pattern, (begin, end) in enumerate(zip(first[:-1].tolist(), first[1:].tolist(), strict=True)):
            if begin == end:
                continue
            # Those of which least is missing first.
            mine = begin + np.argsort(missing[begin:end] / self.most[begin:end], kind="stable")
            capacity = float(model.capacity[pattern])
            held = float(model.held[pattern]) if model.is_used[pattern] < 0 else 0.0
            in_all = held + np.cumsum(self.most[mine])
            trays = np.ceil(in_all / capacity - NONE)
            last = in_all - (trays - 1) * capacity
            broken = trays - np.cumsum(missing[mine]) / last - values[model.trays[pattern]]
            best = int(broken.argmax())
            if broken[best] > WORTH_A_ROW:
                some = mine[: best + 1]
                programme.add_row(
                    np.concatenate([model.trays[[pattern]], self.column[some]]),
                    np.concatenate([[1.0], np.full(len(some), -1 / last[best])]),
                    float(trays[best] - self.most[some].sum() / last[best]),
                    INFINITE,
                )
                added += 1
        return added


def find_whole_trays(options: Options, stand: Stand, patterns: Patterns, model: FlowModel) -> WholeTrays:
    """Return what of each kind may be in the trays of each pattern, in a programme of kinds."""
    ways, n_kinds = find_ways(options, patterns), len(options.first) - 1
    free = np.flatnonzero(options.is_free)
    wanted = options.plan.garden.sowings.plants[options.lot[free]]
    kind = options.kind[free]
    cells, pots = (np.bincount(kind, need(free, wanted), minlength=n_kinds) for need in (stand.cells_of, stand.pots_of))
    pattern = np.concatenate([ways.start, ways.pot])
    column = np.concatenate([model.way_cells, model.way_pots])
    most = np.concatenate([cells[ways.kind], pots[ways.kind]]).astype(np.float64)
    there = np.flatnonzero((pattern >= 0) & (most > 0))
    there = there[np.argsort(pattern[there], kind="stable")]
    return WholeTrays(model=model, pattern=pattern[there], column=column[there], most=most[there])
