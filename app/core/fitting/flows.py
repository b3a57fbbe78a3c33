"""How much of each kind goes each way: a programme of shares of lots and trays that stays small with many lots."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.fixed import Fixed
from app.core.fitting.model import Frame, Model, Ways, begin, find_ways
from app.core.fitting.options import Options
from app.core.fitting.patterns import Patterns
from app.core.fitting.wishes import Stand, is_ever_potted

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Parts:
    """The plants of free lots in parts, along the lower hull of the cells and pots that they take.

    What a number of plants takes rises along its hull more and more, so the first parts of a lot come first by
    themselves, and no number of its plants takes less than the parts say.

    Attributes:
        lot: The lot of each part; those of a lot follow each other. Shape (n_parts,).
        plants: Its plants. Shape (n_parts,). [1]
        cells: Cells for each of these plants. Shape (n_parts,). [1]
        pots: Pots for each, where they are potted on. Shape (n_parts,). [1]
    """

    lot: Ints
    plants: Ints
    cells: Floats
    pots: Floats


@dataclass(frozen=True, kw_only=True)
class FlowModel(Model):
    """A programme with a column for the plants of each part of each lot, and for what of each kind goes each way.

    Attributes:
        parts: The parts of the lots.
        part_columns: The column of each part's plants. Shape (n_parts,).
        way_option: The option of each way. Shape (n_ways,).
        way_plants: The column of its plants. Shape (n_ways,).
        way_cells: The column of its cells. Shape (n_ways,).
        way_pots: The column of its pots, if it is potted on. Shape (n_ways,).
        in_used_rows: The rows in which nobody is in a pattern that is not used.
        maker_rows: The rows in which those are there who make a pattern what it is.
    """

    parts: Parts
    part_columns: Ints
    way_option: Ints
    way_plants: Ints
    way_cells: Ints
    way_pots: Ints
    in_used_rows: Ints
    maker_rows: Ints


def build_flows(
    options: Options,
    stand: Stand,
    patterns: Patterns,
    fixed: Fixed,
    *,
    whole_trays: bool = False,
    times: "Floats | float" = 1.0,
) -> FlowModel:
    """Return the programme of a levelling by kinds.

    A kind's plants, and the cells and pots that they take, are shared out to its ways, each between the fewest and the
    most for a plant that any part of the kind has. So whole lots are never better than what it comes to.

    Args:
        options: What each sowing may get.
        stand: The cells and pots of any number of plants of the lots.
        patterns: When the trays of each group may stand.
        fixed: What is not free.
        whole_trays: Whether trays are whole.
        times: How many lots like itself each lot stands for. Shape (n_lots,). [1]
    """
    frame = begin(options, patterns, fixed, whole_trays=whole_trays)
    ways, parts = find_ways(options, patterns), parts_of(options, stand)
    programme, n_kinds, n_ways = frame.programme, len(options.first) - 1, len(ways.kind)
    kind = options.kind[parts.lot]
    each_for = np.broadcast_to(times, len(options.lot))[parts.lot]
    columns = programme.add_columns(len(parts.lot), upper=parts.plants.astype(np.float64))
    plants, cells, pots = (programme.add_columns(n_ways) for _ in range(3))
    for shared, each in ((plants, np.ones(len(kind))), (cells, parts.cells), (pots, parts.pots)):
        taken = -each_for * each
        programme.add_rows([(ways.kind, shared, 1.0), (kind, columns, taken)], n=n_kinds, lower=0.0, upper=0.0)
    for shared, each in ((cells, parts.cells), (pots, parts.pots)):
        _keep_between(frame, ways, (shared, plants), kind, each)
    pattern = np.concatenate([ways.start, ways.pot])
    there = pattern >= 0
    pattern = pattern[there]
    its_kind, its_option, its_plants = (np.tile(some, 2)[there] for some in (ways.kind, ways.option, plants))
    tray_rows = frame.hold_cells(pattern, np.concatenate([cells, pots])[there], 1.0)
    wanted = np.bincount(kind, each_for * parts.plants, minlength=n_kinds)
    in_used_rows = frame.only_in_used(pattern, its_kind, its_plants, wanted)
    maker_rows = frame.wait_for_nobody(pattern, its_option, its_plants, 1.0)
    weight = 4 - options.plan.garden.sowings.priority[options.lot[parts.lot]]
    model = frame.with_goals(
        tray_rows, (parts.lot, columns, 1.0), (columns, each_for * weight), (plants, options.off[ways.option])
    )
    return FlowModel(
        **vars(model),
        parts=parts,
        part_columns=columns,
        way_option=ways.option,
        way_plants=plants,
        way_cells=cells,
        way_pots=pots,
        in_used_rows=in_used_rows,
        maker_rows=maker_rows,
    )


def _keep_between(frame: Frame, ways: Ways, columns: tuple[Ints, Ints], kind: Ints, each: Floats) -> None:
    """Have each way take no less and no more for a plant than some part of its kind."""
    shared, plants = columns
    n = len(frame.options.first) - 1
    fewest, most = np.full(n, np.inf), np.zeros(n)
    np.minimum.at(fewest, kind, each)
    np.maximum.at(most, kind, each)
    fewest = np.minimum(fewest, most)
    rows = np.arange(len(shared))
    frame.programme.add_rows([(rows, shared, 1.0), (rows, plants, -fewest[ways.kind])], n=len(rows), lower=0.0)
    frame.programme.add_rows([(rows, shared, 1.0), (rows, plants, -most[ways.kind])], n=len(rows), upper=0.0)


def parts_of(options: Options, stand: Stand) -> Parts:
    """Return the plants of free lots in parts."""
    wanted = options.plan.garden.sowings.plants[options.lot]
    free = np.flatnonzero(options.is_free)
    is_potted = is_ever_potted(options)
    key = np.column_stack([stand.row, wanted, is_potted])[free]
    found, like = np.unique(key, axis=0, return_inverse=True)
    tables = []
    for row, most, potted in found.tolist():
        plants = np.arange(most + 1)
        needs = stand.cells[row, : most + 1], stand.pots[row, : most + 1] if potted else np.zeros(most + 1)
        tables.append(_along_hulls(plants, *needs))
    lengths = np.array([len(table) for table in tables], dtype=np.int64)[like.ravel()]
    table = np.concatenate([np.zeros((0, 3)), *(tables[one] for one in like.ravel().tolist())])
    return Parts(lot=np.repeat(free, lengths), plants=table[:, 0].astype(np.int64), cells=table[:, 1], pots=table[:, 2])


def _along_hulls(plants: Ints, cells: "Ints | Floats", pots: "Ints | Floats") -> Floats:
    """Return the plants between corners of the lower hulls, and the cells and pots of each plant there."""
    corners = [_corners(plants, need) for need in (cells, pots)]
    ends = np.union1d(*corners)
    width = np.diff(ends)
    steps = [np.diff(np.interp(ends, at, need[at])) for at, need in zip(corners, (cells, pots), strict=True)]
    return np.column_stack([width, *(step / width for step in steps)])


def _corners(points: Ints, need: "Ints | Floats") -> Ints:
    """Return the corners of the lower hull of what numbers of plants need, by going along it."""
    hull: list[int] = []
    for point in points.tolist():
        while len(hull) > 1:
            a, b = hull[-2], hull[-1]
            if (need[b] - need[a]) * (point - a) < (need[point] - need[a]) * (b - a):
                break
            hull.pop()
        hull.append(point)
    return np.array(hull)
