"""Stays in the gaps between pinned ones: an integer programme over kinds of stays and kinds of gaps."""

from collections.abc import Sequence
from dataclasses import dataclass

import highspy

from app.core.solver import whole_best

Span = tuple[int, int]  # first day, and the day after the last

SECONDS = 10.0
# Beyond this, hundreds of pins spread over hundreds of different stays, there is no proof to be had in time.
MOST_CELLS = 20_000


@dataclass(frozen=True, kw_only=True)
class InGaps:
    """Who goes where.

    Attributes:
        in_gaps: (kind of gap, kind of stay), to how many go there. [1]
        waiting: How many of each kind of stay go nowhere. [1]
        is_proven: Whether it is proven that this is the best.
    """

    in_gaps: dict[tuple[int, int], int]
    waiting: list[int]
    is_proven: bool


def fewest_in_gaps(
    stays: Sequence[Span], counts: Sequence[int], gaps: Sequence[Span], gap_counts: Sequence[int], n_fresh: int
) -> InGaps:
    """Return who goes into gaps so that the fewest wait, and the rest take the fewest fresh positions.

    As many stays as there are gaps of a kind may overlap in them; stays of equal days are not told apart, nor are
    gaps of equal days. One column for each kind of stay in each kind of gap that holds it, one for those that
    wait, and one for the fresh positions.

    Args:
        stays: First day of each kind of stay, and the day after its last. [day numbers]
        counts: How many there are of each. [1]
        gaps: The same for each kind of gap. [day numbers]
        gap_counts: How many there are of each. [1]
        n_fresh: Positions without any pin. [1]
    """
    cells = [
        (gap, kind)
        for gap, (first, last) in enumerate(gaps)
        for kind, (begin, end) in enumerate(stays)
        if first <= begin and end <= last
    ]
    n, fresh = len(cells), len(cells) + len(stays)
    if n > MOST_CELLS:
        return InGaps(in_gaps={}, waiting=list(counts), is_proven=False)
    of_gap: list[list[tuple[int, int]]] = [[] for _ in gaps]  # (column, kind) of each gap, and of each kind
    of_kind: list[list[int]] = [[] for _ in stays]
    for column, (gap, kind) in enumerate(cells):
        of_gap[gap].append((column, kind))
        of_kind[kind].append(column)
    no_end = highspy.kHighsInf
    rows: list[tuple[float, float, dict[int, float]]] = [  # at least, at most, columns
        (-no_end, float(count), dict.fromkeys([*of_kind[kind], n + kind], 1.0)) for kind, count in enumerate(counts)
    ]
    # As many overlap on some day as on the first day of one of them.
    for day in sorted({begin for begin, _ in stays}):
        active = {kind for kind, (begin, end) in enumerate(stays) if begin <= day < end}
        placed = [column for kind in active for column in of_kind[kind]]
        asked = float(sum(counts[kind] for kind in active))
        rows.append((asked, no_end, dict.fromkeys([*placed, *(n + kind for kind in active), fresh], 1.0)))
        for columns, count in zip(of_gap, gap_counts, strict=True):
            there = [column for column, kind in columns if kind in active]
            if there:
                rows.append((-no_end, float(count), dict.fromkeys(there, 1.0)))
    upper = [float(min(counts[kind], gap_counts[gap])) for gap, kind in cells]
    values, is_proven = whole_best(
        _programme(
            cost=[0.0] * n + [float(n_fresh + 1)] * len(stays) + [1.0],
            upper=[*upper, *map(float, counts), float(n_fresh)],
            rows=rows,
        ),
        SECONDS,
    )
    return InGaps(
        in_gaps={cell: value for cell, value in zip(cells, values[:n], strict=True) if value},
        waiting=values[n:fresh],
        is_proven=is_proven,
    )


def _programme(
    *, cost: list[float], upper: list[float], rows: list[tuple[float, float, dict[int, float]]]
) -> highspy.HighsLp:
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(cost), len(rows)
    lp.col_cost_, lp.col_lower_, lp.col_upper_ = cost, [0.0] * len(cost), upper
    lp.row_lower_, lp.row_upper_ = [row[0] for row in rows], [row[1] for row in rows]
    starts = [0]
    for _, _, columns in rows:
        starts.append(starts[-1] + len(columns))
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = starts
    lp.a_matrix_.index_ = [column for _, _, columns in rows for column in columns]
    lp.a_matrix_.value_ = [value for _, _, columns in rows for value in columns.values()]
    lp.integrality_ = [highspy.HighsVarType.kInteger] * len(cost)
    return lp
