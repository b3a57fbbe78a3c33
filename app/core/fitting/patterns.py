"""From when to when the trays of a group may stand, by who is let into it."""

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY
from app.core.fitting.options import Options
from app.core.words import HARDENING, Place

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Patterns:
    """The patterns of all groups: how early a group comes and how late it moves, and who keeps to that.

    Attributes:
        group: The group of each pattern, rising. Shape (n_patterns,).
        stay_pattern: The pattern of each stay. Shape (n_stays,).
        stay_place: Index of its place. Shape (n_stays,).
        stay_begin: Its first day. Shape (n_stays,). [day number]
        stay_end: The day after its last. Shape (n_stays,). [day number]
        lets_in: For each pattern the options that keep to it, as indices.
        makes: For each pattern sets of options, of each of which one at least must be there to make it: those that
            come first, emerge last, leave last and are planted out last. Sets that hold something fixed are left out.
    """

    group: Ints
    stay_pattern: Ints
    stay_place: Ints
    stay_begin: Ints
    stay_end: Ints
    lets_in: tuple[frozenset[int], ...]
    makes: tuple[tuple[frozenset[int], ...], ...]


# First day, last emergence, last leaving and last planting out of a member of a group. [day number]
_Dates = tuple[int, int, int, int]


def find_patterns(options: Options) -> Patterns:
    """Return the patterns of the groups in which options may be together.

    Who is in a group decides when it comes and when it moves, for it moves as one: a pattern is the earliest
    coming, the slowest emergence, leaving and planting out of some members. Only patterns that some members reach
    exactly are listed, and only those that let in whoever is not free.
    """
    members: list[list[tuple[int, _Dates]]] = [[] for _ in range(options.n_groups)]
    for group_of, table in zip((options.start_group, options.pot_group), member_dates(options), strict=True):
        for option in np.flatnonzero(group_of >= 0).tolist():
            begin, up, leaves, out = (int(day) for day in table[option])
            members[int(group_of[option])].append((option, (begin, up, leaves, out)))
    fixed_kinds = np.ones(len(options.first) - 1, dtype=bool)
    fixed_kinds[options.kind[options.is_free]] = False
    fixed = np.repeat(fixed_kinds, np.diff(options.first))
    has_hardening = any(shelf.place is Place.HARDENING for shelf in options.plan.garden.shelves)
    its_group: list[int] = []
    stays: list[tuple[int, int, int, int]] = []
    lets_in: list[frozenset[int]] = []
    makes: list[tuple[frozenset[int], ...]] = []
    for group, inside in enumerate(members):
        for dates, allowed in _patterns_of(inside, fixed):
            number = len(its_group)
            its_group.append(group)
            lets_in.append(allowed)
            makes.append(_makers(inside, allowed, dates, fixed))
            example = next(iter(allowed))
            stays += [
                (number, place, begin, end)
                for place, begin, end in stays_of(int(options.first_place[example]), int(options.light[example]), dates)
                if end > begin and (place != HARDENING or has_hardening)
            ]
    columns = np.array(stays, dtype=np.int64).reshape(-1, 4)
    return Patterns(
        group=np.array(its_group, dtype=np.int64),
        stay_pattern=columns[:, 0],
        stay_place=columns[:, 1],
        stay_begin=columns[:, 2],
        stay_end=columns[:, 3],
        lets_in=tuple(lets_in),
        makes=tuple(makes),
    )


def _patterns_of(inside: list[tuple[int, _Dates]], fixed: Flags) -> list[tuple[_Dates, frozenset[int]]]:
    distinct = [sorted({dates[which] for _, dates in inside}) for which in range(4)]
    found = []
    for begin, *ends in product(*distinct):
        allowed = [
            (option, dates)
            for option, dates in inside
            if dates[0] >= begin and all(day <= end for day, end in zip(dates[1:], ends, strict=True))
        ]
        if not allowed or sum(fixed[option] for option, _ in allowed) < sum(fixed[option] for option, _ in inside):
            continue
        reached = (min(dates[0] for _, dates in allowed), *(max(dates[i] for _, dates in allowed) for i in (1, 2, 3)))
        if reached == (begin, *ends):
            found.append(((begin, ends[0], ends[1], ends[2]), frozenset(option for option, _ in allowed)))
    return found


def _makers(
    inside: list[tuple[int, _Dates]], allowed: frozenset[int], dates: _Dates, fixed: Flags
) -> tuple[frozenset[int], ...]:
    """Return the options that have each of a pattern's days."""
    sets = {
        frozenset(option for option, days in inside if option in allowed and days[which] == dates[which])
        for which in range(4)
    }
    needed = [one for one in sets if one != allowed and not any(fixed[option] for option in one)]
    return tuple(sorted(needed, key=sorted))


def stays_of(first_place: int, light_place: int, dates: _Dates) -> list[tuple[int, int, int]]:
    """Return the place, first day and day after the last of each stay of a group; it may be of no day."""
    begin, up, leaves, out = dates
    if up <= begin:
        first_place, up = light_place, begin
    return [(first_place, begin, up), (light_place, up, leaves), (HARDENING, leaves, out)]


def member_dates(options: Options) -> tuple[Ints, Ints]:
    """Return the day on which each option comes into its trays, and those on which they may move on for its sake.

    These are its emergence, leaving and planting out; 0 where there is nothing to wait for. The trays come on the
    first of their members' days and move on the last.

    Returns:
        For trays of cells and for those of pots. Each of shape (n_options, 4). [day number]
    """
    times = options.times
    is_potted = times.pot_on != NO_DAY
    leaves = np.where(is_potted, times.pot_on, times.harden)
    up = np.where(options.first_place == options.light, 0, times.emerges)
    # What is sown in one tray goes on together, though some of it may be potted on and some not by what became of it.
    has_potted = np.zeros(options.n_groups + 1, dtype=bool)
    has_potted[options.start_group[is_potted]] = True
    out = np.where(is_potted | has_potted[options.start_group], 0, times.plant_out)
    none = np.zeros_like(up)
    return (
        np.column_stack([times.sow_on, up, leaves, out]),
        np.column_stack([times.pot_on, none, times.harden, times.plant_out]),
    )
