"""Care rounds: on which days somebody waters and airs, and how the days are shared out fairly."""

from collections.abc import Collection
from dataclasses import dataclass
from math import floor

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import DAYS_IN_WEEK
from app.core.cards import ShelfCard
from app.core.needs.shelf_use import days_to_next_fill, used_by_day
from app.core.plan import Plan

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

NOBODY = -1
# What differs by less is equal.
TOLERANCE = 1e-9


@dataclass(frozen=True, kw_only=True)
class Shelves:
    """Shelves through the days of a season.

    Attributes:
        first: The first day. [day number]
        used: Whether trays stand there, for each shelf and day. Shape (n_shelves, n_days).
        lasts: Days from one watering of each shelf to the next, at most. Shape (n_shelves,). [d]
    """

    first: int
    used: Flags
    lasts: Ints


def shelves_to_water(plan: Plan, *, by_hand_days: int) -> Shelves:
    """Return when which shelf has to be watered.

    Args:
        plan: The plan.
        by_hand_days: How long a shelf without wick pans can wait. [d, 1 or more]

    Source:
        docs/method.md, section 11: a pan lasts until it is dry, counted in whole days.
    """
    first_week, found = used_by_day(plan)
    n_days = len(found[0][1]) if found else 0
    return Shelves(
        first=first_week * DAYS_IN_WEEK + 1,
        used=np.array([used for _, used in found], dtype=np.bool_).reshape(len(found), n_days),
        lasts=np.array([days_between(shelf, by_hand_days) for shelf, _ in found], dtype=np.int64),
    )


def days_between(shelf: ShelfCard, by_hand_days: int) -> int:
    """Return how many days may lie between two waterings of a shelf.

    Args:
        shelf: The shelf.
        by_hand_days: The same for one without wick pans. [d, 1 or more]

    Returns:
        Whole days, 1 at least. [d]
    """
    if not shelf.pan_depth_mm:
        return by_hand_days
    return max(1, floor(days_to_next_fill(shelf.pan_depth_mm) + TOLERANCE))


def days_of_rounds(
    shelves: Shelves, is_coming: Flags, *, start: int, last: int | None = None, fixed: Collection[int] = ()
) -> list[int]:
    """Return the fewest days, from `start` on, on which rounds keep every shelf watered.

    A round waters every shelf on which trays stand. One is needed on the day on which trays come to an empty shelf,
    and before a shelf has gone for longer than it lasts; then it falls on the last day in time on which anybody can
    come, or where nobody can, on the last day in time.

    Args:
        shelves: When which shelf has trays, and how long it lasts.
        is_coming: Whether anybody can come on each day. Shape (n_days,).
        start: The first day that is wanted, an index into the days.
        last: Day of the last round before it, an index; None where there is none.
        fixed: Days that have a round whatever happens, indices; only new ones are returned.

    Returns:
        The days, ascending. Indices into the days.

    Source:
        Covering the latest gap first is optimal for points in intervals; the rule itself is chosen here.
    """
    found: list[int] = []
    at = last
    kept = sorted(day for day in fixed if day >= start)
    while True:
        due = _next_due(shelves, at, start)
        later = [day for day in kept if at is None or day > at]
        if due is None:
            return found
        by, is_arrival = due
        if later and later[0] <= by:
            at = later[0]
            continue
        earliest = start if at is None else max(start, at + 1)
        in_time = np.flatnonzero(is_coming[earliest : by + 1])
        at = by if is_arrival or not len(in_time) else earliest + int(in_time[-1])
        found.append(at)


def _next_due(shelves: Shelves, at: int | None, start: int) -> tuple[int, bool] | None:
    """Return by which day a round is due after one at `at`, and whether it is due on this very day."""
    begin = start if at is None else at + 1
    n_days = shelves.used.shape[1]
    soonest: tuple[int, bool] | None = None
    for used, lasts in zip(shelves.used, shelves.lasts.tolist(), strict=True):
        ahead = np.flatnonzero(used[begin:])
        if not len(ahead):
            continue
        first = begin + int(ahead[0])
        if at is not None and used[at] and first == at + 1:
            ends = np.flatnonzero(~used[at:])
            end = at + int(ends[0]) if len(ends) else n_days
            by, is_arrival = at + lasts, False
            if by >= end:  # empty by then; what comes after that comes anew
                again = np.flatnonzero(used[end:])
                if not len(again):
                    continue
                by, is_arrival = end + int(again[0]), True
        else:
            by, is_arrival = first, True
        if by < start:
            by, is_arrival = start, True  # overdue already
        if soonest is None or by < soonest[0]:
            soonest = by, is_arrival
        elif by == soonest[0]:
            soonest = by, is_arrival or soonest[1]
    return soonest


def tray_days(plan: Plan) -> Floats:
    """Return the tray-days of each grower: days of trays on shelves, each tray shared by the cells in use.

    Args:
        plan: The plan.

    Returns:
        In the order of the garden's growers; their sum is that of all trays. Shape (n_growers,). [tray d]
    """
    trays, stays = plan.trays, plan.stays
    n_groups = int(trays.group.max(initial=-1)) + 1
    days_of, in_tray, found = np.zeros(n_groups), np.zeros(len(trays.group)), np.zeros(len(plan.garden.growers))
    np.add.at(days_of, stays.group, stays.end - stays.begin)
    np.add.at(in_tray, trays.part_tray, trays.part_cells)
    share = trays.part_cells / in_tray[trays.part_tray] * days_of[trays.group[trays.part_tray]]
    np.add.at(found, plan.garden.sowings.grower[trays.part_lot], share)
    return found


def quotas_of(weights: Floats, rounds: int) -> Floats:
    """Return what each would do of so many rounds by their weight, equal parts where nobody has any.

    Args:
        weights: What the rounds are shared out by. Shape (n_members,). [any]
        rounds: Rounds in all. [1]

    Returns:
        Parts of rounds, not whole. Shape (n_members,). [1]
    """
    total = float(weights.sum())
    if total > 0:
        parts: Floats = weights * (rounds / total)
        return parts
    return np.full(len(weights), rounds / max(1, len(weights)))


def share_rounds(weights: Floats, can: Flags, *, done: Ints, before: Ints) -> Ints:
    """Return who does which round: the counts come as near to the quotas as the days allow.

    The sum over members of (rounds - quota)² is the smallest there is. Where everybody can come on every day that is
    the largest-remainder rule: nobody is a whole round from their quota. Whoever has a round keeps it unless that
    makes it less fair; the others are taken in turn, whoever is furthest behind first.

    Args:
        weights: What the rounds are shared out by, 0 or more. Shape (n_members,). [any]
        can: Whether each member can come on each day. Shape (n_days, n_members).
        done: Rounds that each has already, of the same season. Shape (n_members,). [1]
        before: Index of the member who has each round so far, -1 for nobody. Shape (n_days,).

    Returns:
        Index of the member for each day, -1 where nobody can come. Shape (n_days,). Indices.

    Source:
        Separable convex cost on a bipartite flow: optimal where no chain of exchanges lowers it (Ahuja, Magnanti &
        Orlin, Network Flows, 1993, chapter 14; from memory).
    """
    n_days, n_members = can.shape
    owner = np.full(n_days, NOBODY)
    if not n_members:
        return owner
    is_kept = (before != NOBODY) & can[np.arange(n_days), before]
    owner[is_kept] = before[is_kept]
    total = int(done.sum()) + int(can.any(axis=1).sum())
    quotas = quotas_of(weights, total)
    count, last = done.astype(np.float64), np.full(n_members, -n_days)
    for day in range(n_days):
        if owner[day] == NOBODY and can[day].any():
            # By this day each should have so much of their quota.
            behind = quotas * ((count.sum() + 1) / total) - count
            free = np.flatnonzero(can[day])
            owner[day] = free[np.lexsort((free, last[free], -np.round(behind[free], 9)))[0]]
        if owner[day] != NOBODY:
            count[owner[day]] += 1
            last[owner[day]] = day
    _even_out(owner, can, count - quotas)
    return owner


def _even_out(owner: Ints, can: Flags, over: Floats) -> None:
    """Hand rounds on, along chains of members, from whoever is over their quota to whoever is under it by more."""
    while True:
        for giver in np.argsort(-over, kind="stable").tolist():
            if over[giver] - over.min() <= 1 + TOLERANCE:
                return
            chain = _chain_down(owner, can, over, giver)
            if chain:
                break
        else:
            return
        for day, taker in chain:
            over[owner[day]] -= 1
            over[taker] += 1
            owner[day] = taker


def _chain_down(owner: Ints, can: Flags, over: Floats, giver: int) -> list[tuple[int, int]]:
    """Return the rounds to hand on, as (day, taker), so that it is fairer; the chain is as short as it can be."""
    came_from: dict[int, int] = {giver: giver}
    waiting = [giver]
    for member in waiting:
        takes = can[owner == member].any(axis=0)
        for other in np.flatnonzero(takes).tolist():
            if other not in came_from:
                came_from[other] = member
                waiting.append(other)
    taker = min(waiting, key=lambda member: (over[member], waiting.index(member)))
    if over[giver] - over[taker] <= 1 + TOLERANCE:
        return []
    chain: list[tuple[int, int]] = []
    while taker != giver:
        member = came_from[taker]
        chain.append((_day_to_give(owner, can, member, taker), taker))
        taker = member
    return chain


def _day_to_give(owner: Ints, can: Flags, member: int, taker: int) -> int:
    """Return the round to hand on that lies furthest from the taker's own ones, the last such."""
    days = np.flatnonzero((owner == member) & can[:, taker])
    own = np.flatnonzero(owner == taker)
    if not len(own):
        return int(days[-1])
    apart = np.abs(days[:, None] - own[None, :]).min(axis=1)
    return int(days[np.flatnonzero(apart == apart.max())[-1]])
