"""The choices of a levelling lot by lot, with whole lots and whole trays."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.fixed import Fixed
from app.core.fitting.model import Frame, Model, begin, find_ways
from app.core.fitting.options import Options
from app.core.fitting.packings import add_packing_rows
from app.core.fitting.patterns import Patterns
from app.core.fitting.wishes import Wishes

Ints = NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class LotModel(Model):
    """A programme with a column for each way and number of plants of each lot; it says whether the lot takes it.

    Attributes:
        choices: The column of each choice. Shape (n_choices,).
        choice_wish: Whose it is, as an index into the wishes' lots. Shape (n_choices,).
        choice_option: Its option. Shape (n_choices,).
        choice_level: Its level. Shape (n_choices,).
        wish_rows: The row of each wish that counts its choices. Shape (n_wishes,).
    """

    choices: Ints
    choice_wish: Ints
    choice_option: Ints
    choice_level: Ints
    wish_rows: Ints


def build_lots(options: Options, wishes: Wishes, patterns: Patterns, fixed: Fixed) -> LotModel:
    """Return the programme of a levelling lot by lot.

    Args:
        options: What each sowing may get.
        wishes: The free lots, and the plants that each may have.
        patterns: When the trays of each group may stand.
        fixed: What is not free.
    """
    frame = begin(options, patterns, fixed, whole_trays=True)
    ways = find_ways(options, patterns)
    kind = options.kind[wishes.lot[wishes.level_wish]]
    first, end = (np.searchsorted(ways.kind, kind, side=side) for side in ("left", "right"))
    n_ways = end - first
    level = np.repeat(np.arange(len(kind)), n_ways)
    way = np.arange(len(level)) - np.repeat(np.cumsum(n_ways) - n_ways - first, n_ways)
    wish, plants, option = wishes.level_wish[level], wishes.level_plants[level], ways.option[way]
    programme, n_wishes = frame.programme, len(wishes.lot)
    choices = programme.add_columns(len(level), upper=1.0, whole=True)
    wish_rows = programme.add_rows([(wish, choices, 1.0)], n=n_wishes, upper=1.0)
    pattern = np.concatenate([ways.start[way], ways.pot[way]])
    need = np.concatenate([wishes.level_cells[level], wishes.level_pots[level]])
    there = pattern >= 0
    pattern, need = pattern[there], need[there]
    columns, owner, its_option, its_plants = (np.tile(some, 2)[there] for some in (choices, wish, option, plants))
    tray_rows = frame.hold_cells(pattern, columns, need)
    frame.only_in_used(pattern, owner, columns, np.ones(n_wishes, dtype=np.int64))
    frame.wait_for_nobody(pattern, its_option, columns, its_plants)
    _no_trays_unused(frame, pattern, owner, need)
    _add_packings(frame, pattern, columns, need)
    model = frame.with_goals(
        tray_rows,
        (wishes.lot[wish], choices, plants),
        (choices, plants * wishes.weight[wish]),
        (choices, plants * options.off[option]),
    )
    return LotModel(
        **vars(model),
        choices=choices,
        choice_wish=wish,
        choice_option=option,
        choice_level=level,
        wish_rows=wish_rows,
    )


def _no_trays_unused(frame: Frame, pattern: Ints, owner: Ints, need: Ints) -> None:
    """Have no trays in a pattern that is not used: whoever asks for more trays of a group means the one that is."""
    group, chosen = frame.patterns.group, np.flatnonzero(frame.is_used >= 0)
    capacity = frame.options.capacity[group]
    most = np.zeros((len(group), int(owner.max(initial=-1)) + 1), dtype=np.int64)
    np.maximum.at(most, (pattern, owner), -(-need // capacity[pattern]))
    # As many as if each lot had trays of its own.
    trays = most.sum(axis=1) + frame.fixed.trays[group]
    rows = np.arange(len(chosen))
    frame.programme.add_rows(
        [(rows, frame.trays[chosen], 1.0), (rows, frame.is_used[chosen], -trays[chosen])], n=len(chosen), upper=0.0
    )


def _add_packings(frame: Frame, pattern: Ints, columns: Ints, need: Ints) -> None:
    group = frame.patterns.group
    is_empty = frame.fixed.trays[group] == 0
    add_packing_rows(
        frame.programme,
        columns,
        pattern,
        need,
        frame.options.capacity[group],
        frame.trays,
        np.intersect1d(pattern, np.flatnonzero(is_empty)),
    )
