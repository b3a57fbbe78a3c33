"""Positions and trays the slow way: a search over all ways, day by day, in plain Python.

Written from the rules of docs/method.md, sections 8 and 9. It shares no code with the program.
"""

from collections import Counter


def clash(one, other):
    """Return whether two stretches of days, (first, day after the last), share a day."""
    return max(one[0], other[0]) < min(one[1], other[1])


def overlap_by_day(spans):
    """Return the largest number of stretches on one day, counted day by day."""
    days = Counter(day for begin, end in spans for day in range(begin, end))
    return max(days.values(), default=0)


def granted(spans, wishes, n_positions):
    """Return the wishes in the order of their first day that clash with no earlier one; None for the others."""
    found = [None] * len(spans)
    for stay in sorted(range(len(spans)), key=lambda stay: spans[stay][0]):
        wish = wishes[stay]
        there = [other for other in range(len(spans)) if found[other] == wish]
        if wish is not None and wish < n_positions and not any(clash(spans[stay], spans[other]) for other in there):
            found[stay] = wish
    return found


def fewest_positions(spans, pins, n_positions):
    """Return (waiting, positions used) of the best of all ways; `pins` fix stays to positions, None leaves them free.

    Positions without a pin are all alike, so that only the first fresh one is tried.
    """
    best = (len(spans) + 1, 0)
    at = list(pins)
    free = sorted((stay for stay, pin in enumerate(pins) if pin is None), key=lambda stay: spans[stay])
    pinned = {pin for pin in pins if pin is not None}

    def place(left, waiting):
        nonlocal best
        if waiting > best[0]:
            return
        used = {position for position in at if position is not None} | pinned
        if not left:
            best = min(best, (waiting, len(used)))
            return
        stay = left[0]
        fresh = [position for position in range(n_positions) if position not in used][:1]
        for position in [*sorted(used), *fresh]:
            if not any(at[other] == position and clash(spans[stay], spans[other]) for other in range(len(spans))):
                at[stay] = position
                place(left[1:], waiting)
                at[stay] = None
        place(left[1:], waiting + 1)

    place(free, 0)
    return best


def fewest_new_trays(sizes, capacity, rooms):
    """Return the smallest number of new trays beside those that have some room; no lot is split."""
    best = len(sizes)

    def place(left, room, new):
        nonlocal best
        if new >= best:
            return
        if not left:
            best = new
            return
        for free in {free for free in room if free >= left[0]}:
            after = list(room)
            after[after.index(free)] -= left[0]
            place(left[1:], after, new)
        place(left[1:], [*room, capacity - left[0]], new + 1)

    place(sorted(sizes, reverse=True), list(rooms), 0)
    return best


def is_one_piece(cells):
    """Return whether cells, (row, column), hang together by their sides."""
    left = set(cells)
    reached = [left.pop()] if left else []
    while reached:
        row, column = reached.pop()
        beside = {(row + 1, column), (row - 1, column), (row, column + 1), (row, column - 1)} & left
        left -= beside
        reached += beside
    return not left
