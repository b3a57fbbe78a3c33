"""Which stay takes which position: nothing is shuffled about, and as few positions are used as can be.

Without pins the fewest positions are the largest number of stays on one day, and a walk through the stays
by their first day reaches it. With pins the gaps between pinned stays may not suit the others; where
the walk then uses more than a bound, an integer programme decides.
"""

from bisect import bisect_left, insort
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import Days
from app.core.space.gaps import fewest_in_gaps

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

WAITS = -1
ALWAYS = 10**9  # later than any day


@dataclass(frozen=True, kw_only=True)
class Assignment:
    """Positions of the stays of one place.

    Attributes:
        position: Index of the position of each stay; -1 where it waits, because all are taken. Shape (n_stays,).
        overlap: The largest number of stays on one day. [1]
        used: Positions that are used at all. [1]
        waiting: Stays that wait. [1]
        is_fewest: Whether it is proven that fewer waiting, or as many on fewer positions, will not do.
    """

    position: Ints
    overlap: int
    used: int
    waiting: int
    is_fewest: bool

    @property
    def score(self) -> tuple[int, int]:
        """What is to be small, in order."""
        return self.waiting, self.used


def assign_positions(
    begin: Days, end: Days, n_positions: int, *, pinned: Ints, wished: Ints, owner: Ints
) -> Assignment:
    """Return positions for the stays of one place: the fewest waiting, on the fewest positions that the pins allow.

    Where it costs nothing, stays keep the positions that they had, and those of one owner are neighbours.

    Args:
        begin: First day of each stay. Shape (n_stays,). [day number]
        end: The day after the last. Shape (n_stays,). [day number]
        n_positions: Positions of the place. [1]
        pinned: Index of the position that a stay keeps, -1 for none. Shape (n_stays,).
        wished: Index of the position that it had, -1 for none. Shape (n_stays,).
        owner: Whose tray it is. Shape (n_stays,).

    Source:
        Largest overlap: J. Kleinberg, E. Tardos, Algorithm Design, 2005, section 4.1. The fewest waiting: U. Faigle,
        W. M. Nawijn, Discrete Applied Mathematics 58, 1995 (citation from memory).
    """
    firm = without_clashes(begin, end, np.full(len(begin), WAITS), pinned, n_positions)
    kept = without_clashes(begin, end, firm, wished, n_positions)
    overlap = largest_overlap(begin, end)
    bound = _bound(begin, end, n_positions, firm, overlap)
    best = _walk(begin, end, n_positions, kept, owner, overlap)
    if best.score > bound and (kept != firm).any():
        best = min(best, _walk(begin, end, n_positions, firm, owner, overlap), key=lambda found: found.score)
    if best.score > bound and (firm >= 0).any():
        solved, is_proven = _solve(begin, end, n_positions, firm, owner, overlap)
        best = min(best, solved, key=lambda found: found.score)
        bound = best.score if is_proven else bound
    return Assignment(
        position=best.position,
        overlap=overlap,
        used=best.used,
        waiting=best.waiting,
        is_fewest=best.score <= bound,
    )


def largest_overlap(begin: Days, end: Days) -> int:
    """Return the largest number of stays on one day. [1]"""
    if not len(begin):
        return 0
    days, change = np.concatenate([end, begin]), np.repeat([-1, 1], len(begin))
    # On a day on which one leaves and another comes, the one leaves first.
    return int(change[np.lexsort((change, days))].cumsum().max())


def without_clashes(begin: Days, end: Days, firm: Ints, wished: Ints, n_positions: int) -> Ints:
    """Return `firm` with all wishes granted that clash neither with it nor with an earlier wish. Shape (n_stays,)."""
    found = firm.copy()
    taken: dict[int, list[tuple[int, int]]] = {}
    for stay in np.flatnonzero(firm >= 0).tolist():
        insort(taken.setdefault(int(firm[stay]), []), (int(begin[stay]), int(end[stay])))
    open_wishes = np.flatnonzero((firm < 0) & (wished >= 0) & (wished < n_positions))
    for stay in open_wishes[np.argsort(begin[open_wishes], kind="stable")].tolist():
        there = taken.setdefault(int(wished[stay]), [])
        first, last = int(begin[stay]), int(end[stay])
        at = bisect_left(there, (first, last))
        if (at == 0 or there[at - 1][1] <= first) and (at == len(there) or there[at][0] >= last):
            there.insert(at, (first, last))
            found[stay] = wished[stay]
    return found


def _bound(begin: Days, end: Days, n_positions: int, firm: Ints, overlap: int) -> tuple[int, int]:
    """Return a score that cannot be beaten."""
    on_pins = len(np.unique(firm[firm >= 0]))
    if overlap <= n_positions:
        return 0, max(overlap, on_pins)
    nobody = np.full(len(begin), WAITS)
    relaxed = _walk(begin, end, n_positions, nobody, nobody, overlap)
    # Were a position left over on the fullest day, one more could stand there.
    return relaxed.waiting, n_positions


def _made(position: Ints, overlap: int) -> Assignment:
    used = len(np.unique(position[position >= 0]))
    return Assignment(position=position, overlap=overlap, used=used, waiting=int((position < 0).sum()), is_fewest=False)


def _walk(begin: Days, end: Days, n_positions: int, fixed: Ints, owner: Ints, overlap: int) -> Assignment:
    """Go through the stays by their first day; each takes a free position that is open already, or else opens one.

    Where none is left, of all that could stand there the one that would stand longest waits.
    """
    walk = _Walk(begin, end, n_positions, fixed)
    position = fixed.copy()
    for stay in np.lexsort((fixed < 0, owner, begin)).tolist():
        if fixed[stay] >= 0:
            walk.at[int(owner[stay])] = int(fixed[stay])
        else:
            walk.take(stay, int(owner[stay]), position)
    return _made(position, overlap)


class _Walk:
    """Which positions are free on the day that the walk has reached."""

    def __init__(self, begin: Days, end: Days, n_positions: int, fixed: Ints) -> None:
        self.begin, self.end = begin.tolist(), end.tolist()
        order = np.argsort(begin, kind="stable")
        self.fixed: dict[int, list[int]] = {}  # stays that are fixed to each position, the latest first
        for stay in order[fixed[order] >= 0][::-1].tolist():
            self.fixed.setdefault(int(fixed[stay]), []).append(stay)
        self.unopened = [position for position in range(n_positions) if position not in self.fixed][::-1]
        self.free = sorted(self.fixed)
        self.ends: list[tuple[int, int, int]] = []  # when a position is free again, which, and who is there
        self.at: dict[int, int] = {}  # the last position of each owner

    def take(self, stay: int, owner: int, position: Ints) -> None:
        begin, end = self.begin[stay], self.end[stay]
        while self.ends and self.ends[0][0] <= begin:
            insort(self.free, heappop(self.ends)[1])
        found = self._choose(begin, end, self.at.get(owner, 0))
        if found is None and self.unopened:
            found = self.unopened.pop()
        if found is None:
            found = self._make_room(stay, position)
        if found is not None:
            self.at[owner] = position[stay] = found
            heappush(self.ends, (end, found, stay))

    def _choose(self, begin: int, end: int, near: int) -> int | None:
        """Take out the free position nearest to another; before a fixed stay, the one with the least room to spare."""
        if not self.fixed:
            at = bisect_left(self.free, near)
            beside = [index for index in (at, at - 1) if 0 <= index < len(self.free)]
            if not beside:
                return None
            return self.free.pop(min(beside, key=lambda index: abs(self.free[index] - near)))
        fits = [
            (room, abs(position - near), index)
            for index, position in enumerate(self.free)
            if (room := self._room(position, begin)) >= end
        ]
        return self.free.pop(min(fits)[2]) if fits else None

    def _room(self, position: int, begin: int) -> int:
        """Return the day on which a fixed stay comes to a free position; `begin` where one stands there now."""
        coming = self.fixed.get(position, [])
        while coming and self.end[coming[-1]] <= begin:
            coming.pop()
        return max(begin, self.begin[coming[-1]]) if coming else ALWAYS

    def _make_room(self, stay: int, position: Ints) -> int | None:
        """Let the one wait that stands longest, if it leaves its position to a shorter stay."""
        if not self.ends:
            return None
        last = max(self.ends)
        end, found, other = last
        if end <= self.end[stay] or self._room(found, self.begin[stay]) < self.end[stay]:
            return None
        self.ends.remove(last)
        self.ends.sort()
        position[other] = WAITS
        return found


def _solve(begin: Days, end: Days, n_positions: int, firm: Ints, owner: Ints, overlap: int) -> tuple[Assignment, bool]:
    """Let an integer programme say who goes into which kind of gap, and put them there; and whether it is proven."""
    free = np.flatnonzero(firm < 0)
    gaps = _gaps(begin, end, firm)
    kinds, kind_of = np.unique(np.column_stack([begin[free], end[free]]), axis=0, return_inverse=True)
    gap_kinds = sorted(set(gaps))
    solution = fewest_in_gaps(
        [(int(first), int(last)) for first, last in kinds],
        np.bincount(kind_of.ravel(), minlength=len(kinds)).tolist(),
        [(first, last) for first, last in gap_kinds],
        [len(gaps[kind]) for kind in gap_kinds],
        n_positions - len(np.unique(firm[firm >= 0])),
    )
    position = firm.copy()
    stays_of = {kind: free[kind_of.ravel() == kind].tolist() for kind in range(len(kinds))}
    for (gap, kind), count in sorted(solution.in_gaps.items()):
        for _ in range(count):
            position[stays_of[kind].pop()] = _IN_GAP - gap
    for number, span in enumerate(gap_kinds):
        _settle(begin, end, np.flatnonzero(position == _IN_GAP - number), gaps[span], owner, position)
    for kind, count in enumerate(solution.waiting):
        del stays_of[kind][:count]
    fresh = [place for place in range(n_positions) if place not in set(firm.tolist())]
    rest = np.array(sorted(stay for stays in stays_of.values() for stay in stays), dtype=np.int64)
    _settle(begin, end, rest, fresh, owner, position)
    return _made(position, overlap), solution.is_proven


_IN_GAP = -2  # and below: in which kind of gap a stay is to stand


def _settle(begin: Days, end: Days, stays: Ints, places: list[int], owner: Ints, position: Ints) -> None:
    """Put stays that overlap no more than there are places onto these places."""
    nobody = np.full(len(stays), WAITS)
    found = _walk(begin[stays], end[stays], len(places), nobody, owner[stays], 0).position
    position[stays] = [WAITS if at < 0 else places[at] for at in found.tolist()]


def _gaps(begin: Days, end: Days, firm: Ints) -> dict[tuple[int, int], list[int]]:
    """Return the positions that have a gap of the same first and last day between pinned stays."""
    found: dict[tuple[int, int], list[int]] = {}
    for position in np.unique(firm[firm >= 0]).tolist():
        there = np.flatnonzero(firm == position)
        spans = sorted(zip(begin[there].tolist(), end[there].tolist(), strict=True))
        for (_, last), (first, _) in pairwise([(0, 0), *spans, (ALWAYS, ALWAYS)]):
            if first > last:
                found.setdefault((last, first), []).append(position)
    return found
