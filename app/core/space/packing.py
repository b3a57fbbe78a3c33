"""Putting lots into as few trays as possible, with a proof that fewer will not do.

Lots of more cells than a tray fill whole trays first; what remains of a lot is never split. What is
left is one-dimensional bin packing. Cheap lower bounds and two quick packings settle most cases;
where they disagree some bins are filled anew, and where that brings no proof an integer programme
over the fill levels of a tray decides.
"""

from bisect import bisect_right, insort
from collections import Counter
from collections.abc import Callable, Sequence
from itertools import pairwise
from random import Random

import highspy

from app.core.errors import OutOfRangeError
from app.core.solver import whole_optimum

Bins = list[list[int]]

# Beyond this the bound hardly rises: it then tells apart items of less than a thirtieth of a tray.
MOST_STEPS = 30
# Enough for nearly every group of trays that the quick packings leave one tray short of proof; what is
# left goes to the solver, so the numbers weigh on time alone.
REPACK_TRIES = 100
REPACK_BINS = 30


def pack(sizes: Sequence[int], capacity: int) -> Bins:
    """Return the fewest trays that hold the lots.

    Args:
        sizes: Cells of each lot. Shape (n_lots,). [1, 1 or more]
        capacity: Cells of a tray. [1, 1 or more]

    Returns:
        Trays, each a list of indices into `sizes`; a lot larger than a tray stands in several. The
        number of trays is the smallest possible. Equal input gives equal output.

    Raises:
        OutOfRangeError: A lot or the tray has no cells.

    Source:
        Bounds: see `lower_bound`. Arc flow: J. M. Valerio de
        Carvalho, Annals of Operations Research 86, 1999.
    """
    if capacity < 1:
        raise OutOfRangeError("capacity", capacity, "1 or more")
    if sizes and min(sizes) < 1:
        raise OutOfRangeError("sizes", min(sizes), "1 or more")
    whole: Bins = []
    rest: dict[int, list[int]] = {}
    for index, size in enumerate(sizes):
        full_trays, remainder = divmod(size, capacity)
        whole.extend([index] for _ in range(full_trays))
        if remainder:
            rest.setdefault(remainder, []).append(index)
    counts = {size: len(indices) for size, indices in rest.items()}
    for indices in rest.values():
        indices.reverse()
    return whole + [[rest[size].pop() for size in tray] for tray in _fewest(Counter(counts), capacity)]


def pack_into(sizes: Sequence[int], capacity: int, rooms: Sequence[int], *, proven: bool = True) -> tuple[Bins, Bins]:
    """Return what goes into trays that are there already, and into the fewest new ones beside them.

    Args:
        sizes: Cells of each lot; none is split. Shape (n_lots,). [1, 1 to `capacity`]
        capacity: Cells of a new tray. [1, 1 or more]
        rooms: Free cells of each tray that is there. Shape (n_rooms,). [1, 0 to `capacity`]
        proven: Whether to go on until the number is proven; else what quick packings come to is good enough.

    Returns:
        Indices into `sizes` for each room, and for each new tray. The number of new trays is the smallest
        possible, if it is to be proven. Equal input gives equal output.

    Raises:
        OutOfRangeError: A lot has no cells or more than a tray, or a room is out of range.

    Source:
        Arc flow as in `pack`; a tray that is there begins at the level to which it is full.
    """
    if sizes and not 1 <= min(sizes) <= max(sizes) <= capacity:
        raise OutOfRangeError("sizes", (min(sizes), max(sizes)), f"from 1 to {capacity}")
    if rooms and not 0 <= min(rooms) <= max(rooms) <= capacity:
        raise OutOfRangeError("rooms", (min(rooms), max(rooms)), f"from 0 to {capacity}")
    indices: dict[int, list[int]] = {}
    for index in reversed(range(len(sizes))):
        indices.setdefault(sizes[index], []).append(index)
    in_rooms, new = sizes_into(Counter(sizes), capacity, rooms, proven=proven)
    in_rooms, new = ([[indices[size].pop() for size in taken] for taken in bins] for bins in (in_rooms, new))
    return in_rooms, new


def sizes_into(counts: Counter[int], capacity: int, rooms: Sequence[int], *, proven: bool = True) -> tuple[Bins, Bins]:
    """Return the same as `pack_into`, as cells of the lots in each tray.

    Args:
        counts: How many lots there are of so many cells, 1 to `capacity`. [1]
        capacity: Cells of a new tray. [1, 1 or more]
        rooms: Free cells of each tray that is there. Shape (n_rooms,). [1, 0 to `capacity`]
        proven: Whether to go on until the number is proven.
    """
    fewest = _fewest if proven else _few
    in_rooms, new = _fill_rooms(counts, capacity, rooms, _greedy_companions, fewest)
    bound = max(0, -(-(sum(size * n for size, n in counts.items()) - sum(rooms)) // capacity))
    # With nothing there already, nothing else could come of it.
    if len(new) > bound and rooms:
        again = _fill_rooms(counts, capacity, rooms, _fullest_companions, fewest)
        in_rooms, new = min((in_rooms, new), again, key=lambda filled: len(filled[1]))
        if len(new) > bound and proven:
            in_rooms, new = _solve(counts, capacity, bound, (in_rooms, new), rooms)
    return in_rooms, new


def _fill_rooms(
    counts: Counter[int],
    capacity: int,
    rooms: Sequence[int],
    companions: Callable[[list[int], Counter[int], int], list[int]],
    fewest: Callable[[Counter[int], int], Bins],
) -> tuple[Bins, Bins]:
    """Fill the rooms, the smallest first, and put what is left into new trays."""
    left = Counter(counts)
    in_rooms: Bins = [[] for _ in rooms]
    for number in sorted(range(len(rooms)), key=lambda number: rooms[number]):
        in_rooms[number] = companions(sorted(left), left, rooms[number])
        left -= Counter(in_rooms[number])
    return in_rooms, fewest(left, capacity)


def _few(counts: Counter[int], capacity: int) -> Bins:
    """Return bins as lists of sizes, as few as quick packings come to."""
    best = _fill(counts, capacity, _greedy_companions)
    if len(best) > -(-sum(size * n for size, n in counts.items()) // capacity):
        best = min(best, _fill(counts, capacity, _fullest_companions), key=len)
    return best


def _fewest(counts: Counter[int], capacity: int) -> Bins:
    """Return the fewest bins as lists of sizes."""
    best = _fill(counts, capacity, _greedy_companions)
    bound = -(-sum(size * n for size, n in counts.items()) // capacity)
    if len(best) > bound:
        bound = lower_bound(counts, capacity)
    if len(best) > bound:
        best = min(best, _fill(counts, capacity, _fullest_companions), key=len)
    if len(best) > bound:
        best = _repack(best, capacity, bound)
    if len(best) > bound:
        best = _solve(counts, capacity, bound, ([], best), ())[1]
    return best


def lower_bound(counts: Counter[int], capacity: int) -> int:
    """Return a number of bins that no packing can beat.

    Args:
        counts: How many items there are of each size, 1 to `capacity`. [1]
        capacity: Size of a bin. [1]

    Source:
        Bound L2 of Martello and Toth, Knapsack Problems, 1990, section 8.3, and the functions u(k) of
        S. Fekete, J. Schepers, Mathematical Programming 91, 2001, section 3.
    """
    by_halves = (_bound_at(counts, capacity, least) for least in {0, *(s for s in counts if 2 * s <= capacity)})
    by_steps = (_bound_in_steps(counts, capacity, steps) for steps in range(1, min(capacity, MOST_STEPS)))
    return max(*by_halves, *by_steps, 0)


def _bound_at(counts: Counter[int], capacity: int, least: int) -> int:
    """Items above half a bin need one each; those of at least `least` must fit beside or after them."""
    alone = sum(n for s, n in counts.items() if s > capacity - least)
    large = [(s, n) for s, n in counts.items() if capacity < 2 * s <= 2 * (capacity - least)]
    n_large = sum(n for _, n in large)
    room = n_large * capacity - sum(s * n for s, n in large)
    small = sum(s * n for s, n in counts.items() if least <= s and 2 * s <= capacity)
    return alone + n_large + max(0, -(-(small - room) // capacity))


def _bound_in_steps(counts: Counter[int], capacity: int, steps: int) -> int:
    """No bin holds more than `steps` items of a size above 1/(steps + 1), so each counts as 1/steps at least."""
    total = 0
    for size, n in counts.items():
        whole, part = divmod((steps + 1) * size, capacity)
        total += n * (whole * capacity if part else steps * size)
    return -(-total // (steps * capacity))


def _fill(counts: Counter[int], capacity: int, companions: Callable[[list[int], Counter[int], int], list[int]]) -> Bins:
    """Fill bin after bin, each around the largest item left, and again in the same way while the items last."""
    left = Counter(counts)
    sizes = sorted(left)
    bins: Bins = []
    while sizes:
        largest = sizes[-1]
        left[largest] -= 1
        taken = [largest, *companions(sizes, left, capacity - largest)]
        left[largest] += 1
        used = Counter(taken)
        times = min(left[size] // n for size, n in used.items())
        bins.extend([taken] * times)
        for size, n in used.items():
            left[size] -= n * times
            if not left[size]:
                sizes.remove(size)
    return bins


def _greedy_companions(sizes: list[int], left: Counter[int], room: int) -> list[int]:
    """Take the largest that fits, again and again: bin by bin, this is first fit decreasing."""
    taken: list[int] = []
    end = bisect_right(sizes, room)
    while end:
        size = sizes[end - 1]
        n = min(left[size], room // size)
        taken += [size] * n
        room -= n * size
        end = min(end - 1, bisect_right(sizes, room))
    return taken


def _fullest_companions(sizes: list[int], left: Counter[int], room: int) -> list[int]:
    """Take a set that fills the bin as far as can be, of the largest sizes where several do."""
    last_of = {0: 0}  # a reachable sum, to the size by which it was first reached
    for size in reversed(sizes):
        for _ in range(min(left[size], room // size)):
            new = {total + size: size for total in last_of if total + size <= room and total + size not in last_of}
            if not new:
                break
            last_of |= new
        if room in last_of:
            break
    taken: list[int] = []
    total = max(last_of)
    while total:
        insort(taken, last_of[total])
        total -= last_of[total]
    return taken[::-1]


def _repack(bins: Bins, capacity: int, bound: int) -> Bins:
    """Empty some bins, drawn by lot, and fill them anew; stop at the bound or when the tries run out.

    Among packings of as many bins the more uneven one is kept: its emptiest bins are the next to go.
    The draw is the same every time.
    """
    draw = Random(1)  # noqa: S311 - no secret hangs on it
    for _ in range(REPACK_TRIES):
        if len(bins) <= bound:
            break
        draw.shuffle(bins)
        bins.sort(key=lambda taken: sum(taken) == capacity)
        n_loose = sum(sum(taken) < capacity for taken in bins)
        loose, full = draw.randint(2, REPACK_BINS), draw.randint(1, REPACK_BINS)
        pool = bins[:n_loose][:loose] + bins[n_loose:][:full]
        kept = bins[:n_loose][loose:] + bins[n_loose:][full:]
        counts = Counter(size for taken in pool for size in taken)
        fills = (_fill(counts, capacity, _fullest_companions), _fill(counts, capacity, _greedy_companions))
        new = min(fills, key=lambda filled: (len(filled), -_unevenness(filled)))
        if (len(new), -_unevenness(new)) <= (len(pool), -_unevenness(pool)):
            bins = kept + new
    return bins


def _unevenness(bins: Bins) -> int:
    return sum(sum(taken) ** 2 for taken in bins)


def _solve(
    counts: Counter[int], capacity: int, bound: int, best: tuple[Bins, Bins], rooms: Sequence[int]
) -> tuple[Bins, Bins]:
    """Return a packing into rooms and new bins that an integer programme proves to be the smallest.

    One column for each step through the fill levels, and a last one for the new bins; a row for
    each level (what flows in flows out) and for each size (all its items are packed).
    """
    begins = Counter(capacity - room for room in rooms if room)
    arcs = _arcs(counts, capacity, set(begins))
    levels = {level: row for row, level in enumerate(sorted({at for at, _, _ in arcs} | {capacity}))}
    size_rows = {size: len(levels) + row for row, size in enumerate(counts)}
    starts: list[int] = []
    rows: list[int] = []
    values: list[float] = []
    for at, to, size in arcs:
        starts.append(len(rows))
        rows += [levels[at], levels[to]]
        values += [1.0, -1.0]
        if size:
            rows.append(size_rows[size])
            values.append(1.0)
    starts += [len(rows), len(rows) + 2]
    rows += [levels[0], levels[capacity]]
    values += [-1.0, 1.0]
    flow_out = [float(begins[level]) for level in levels]
    flow_out[levels[capacity]] -= begins.total()
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(arcs) + 1, len(levels) + len(size_rows)
    lp.col_cost_ = [0.0] * len(arcs) + [1.0]
    lp.col_lower_ = [0.0] * len(arcs) + [float(bound)]
    lp.col_upper_ = [float(len(best[1]) + begins.total())] * len(arcs) + [float(len(best[1]))]
    lp.row_lower_ = flow_out + [float(n) for n in counts.values()]
    lp.row_upper_ = flow_out + [highspy.kHighsInf] * len(counts)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    lp.a_matrix_.start_, lp.a_matrix_.index_, lp.a_matrix_.value_ = starts, rows, values
    lp.integrality_ = [highspy.HighsVarType.kInteger] * (len(arcs) + 1)
    flow = whole_optimum(lp)
    if flow[-1] >= len(best[1]):
        return best
    return _bins_of_flow(arcs, flow, counts, capacity, rooms)


def _arcs(counts: Counter[int], capacity: int, begins: set[int]) -> list[tuple[int, int, int]]:
    """Return (from, to, size) steps through the fill levels, largest items first; size 0 leaves room empty."""
    reached = {0} | begins
    arcs: set[tuple[int, int, int]] = set()
    for size in sorted(counts, reverse=True):
        front = set(reached)
        for _ in range(min(counts[size], capacity // size)):
            steps = {(at, at + size, size) for at in front if at + size <= capacity}
            front = {to for _, to, _ in steps}
            arcs |= steps
            reached |= front
    levels = sorted(reached | {capacity})
    empty = {(at, to, 0) for at, to in pairwise(levels)}
    return sorted(arcs | empty)


def _bins_of_flow(
    arcs: list[tuple[int, int, int]], flow: list[int], counts: Counter[int], capacity: int, rooms: Sequence[int]
) -> tuple[Bins, Bins]:
    """Follow the flow from its beginnings to full, bin after bin; what it covers too often is left out."""
    paths: dict[int, list[tuple[int, int]]] = {}
    for (at, to, size), n in zip(arcs, flow[:-1], strict=True):
        paths.setdefault(at, []).extend([(to, size)] * n)
    left = Counter(counts)

    def follow(level: int) -> list[int]:
        taken = []
        while level < capacity:
            level, size = paths[level].pop()
            if size and left[size]:
                left[size] -= 1
                taken.append(size)
        return taken

    in_rooms = [follow(capacity - room) for room in rooms]
    return in_rooms, [taken for taken in (follow(0) for _ in range(flow[-1])) if taken]
