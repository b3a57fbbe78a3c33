"""The choices of a levelling as a programme: columns, rows and goals."""

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise, product
from math import ceil

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.fixed import Fixed
from app.core.fitting.options import Options
from app.core.fitting.packings import add_packing_rows
from app.core.fitting.patterns import Patterns
from app.core.fitting.programme import INFINITE, Open, Programme
from app.core.fitting.wishes import Wishes
from app.core.words import PLACES

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Model:
    """The programme of a levelling.

    A choice is a class of lots, an option and a level; its column says how many lots of the class choose so.

    Attributes:
        programme: Its columns and rows.
        choice_class: The class of each choice. Shape (n_choices,).
        choice_option: Its option. Shape (n_choices,).
        choice_level: Its level. Shape (n_choices,).
        choices: The column of each choice. Shape (n_choices,).
        trays: The column of each pattern's trays. Shape (n_patterns,).
        is_used: The column that says whether a pattern is; -1 where its group has but one. Shape (n_patterns,).
        tray_rows: The row of each pattern in which its trays hold its cells. Shape (n_patterns,).
        share: The column of the smallest share.
        share_rows: The rows of growers: their plants are no fewer than that share of those wanted. Shape (n_asking,).
        wanted: Plants wanted by each of these growers. Shape (n_asking,). [1]
        placed: Plants of theirs that are not free. Shape (n_asking,). [1]
        granted: The columns of the plants that a grower has of a class of several growers' lots. Shape (n_granted,).
        granted_grower: The grower of each. Shape (n_granted,).
        granted_class: The class of each. Shape (n_granted,).
        extra: The columns of extra positions of each place. Shape (4,).
        all_placed: The rows that count the lots of each class. Shape (n_classes,).
        plants_row: The row of placed plants, by weight.
        days_row: The row of plant-days away from the best day.
        weights: Cost of each column in placed plants, by weight. Shape (n_columns,).
        days: Cost of each column in plant-days.
        tray_costs: Cost of each column in trays.
    """

    programme: Programme
    choice_class: Ints
    choice_option: Ints
    choice_level: Ints
    choices: Ints
    trays: Ints
    is_used: Ints
    tray_rows: Ints
    share: int
    share_rows: Ints
    wanted: Ints
    placed: Ints
    granted: Ints
    granted_grower: Ints
    granted_class: Ints
    extra: Ints
    class_rows: Ints
    plants_row: int
    days_row: int
    weights: Floats
    days: Floats
    tray_costs: Floats


def build_model(
    options: Options, wishes: Wishes, patterns: Patterns, fixed: Fixed, *, whole_lots: bool, whole_trays: bool
) -> Model:
    """Return the programme of a levelling.

    Args:
        options: What each sowing may get.
        wishes: The classes of free lots.
        patterns: When the trays of each group may stand.
        fixed: What is not free.
        whole_lots: Whether a lot makes one choice; else it may be shared between several.
        whole_trays: Whether trays are whole.
    """
    programme = Programme()
    made = _choices(options, wishes, patterns)
    plants, its_class = wishes.level_plants[made.level], wishes.level_class[made.level]
    choices = programme.add_columns(len(plants), upper=wishes.count[its_class].astype(np.float64), whole=whole_lots)
    class_rows = programme.add_rows([(its_class, choices, 1.0)], n=len(wishes.kind), upper=wishes.count)
    trays = programme.add_columns(len(patterns.group), whole=whole_trays)
    share = int(programme.add_columns(1, upper=1.0)[0])
    extra = programme.add_columns(len(PLACES), upper=0.0, whole=whole_trays)
    granted, asking = _add_shares(programme, options, wishes, fixed, (its_class, choices, plants), share)
    is_used, tray_rows = _add_groups(programme, options, wishes, patterns, fixed, (made, choices), trays)
    if whole_lots:
        _add_packings(programme, options, wishes, patterns, fixed, (made, choices), trays)
    _add_positions(programme, patterns, fixed, trays, extra)
    costs = np.zeros((3, programme.n_columns))
    costs[0, choices] = plants * wishes.weight[its_class]
    costs[1, choices] = plants * options.off[made.option]
    costs[2, trays] = 1
    used = [np.flatnonzero(cost) for cost in costs]
    rows = [
        int(programme.add_rows([(np.zeros(len(at), dtype=np.int64), at, cost[at])], n=1)[0])
        for at, cost in zip(used[:2], costs, strict=False)
    ]
    return Model(
        programme=programme,
        choice_class=its_class,
        choice_option=made.option,
        choice_level=made.level,
        choices=choices,
        trays=trays,
        is_used=is_used,
        tray_rows=tray_rows,
        share=share,
        **asking,
        granted=granted[0],
        granted_grower=granted[1],
        granted_class=granted[2],
        extra=extra,
        class_rows=class_rows,
        plants_row=rows[0],
        days_row=rows[1],
        weights=costs[0],
        days=costs[1],
        tray_costs=costs[2],
    )


@dataclass(frozen=True)
class _Choices:
    """Level and option of each choice, and the patterns of its trays of cells and of pots; -1 for no pots."""

    level: Ints
    option: Ints
    start_pattern: Ints
    pot_pattern: Ints


def _choices(options: Options, wishes: Wishes, patterns: Patterns) -> _Choices:
    """List each level in each option of its kind, and in each pattern that lets the option in.

    Which pattern's trays a lot is in is a choice of its own: so the lots in a pattern that is used by half are at
    most half of all, and the programme without whole numbers says little less than with them.
    """
    of_group: list[list[int]] = [[] for _ in range(options.n_groups)]
    for pattern, group in enumerate(patterns.group.tolist()):
        of_group[group].append(pattern)
    ways: list[list[tuple[int, int, int]]] = []
    for option, (start, pot) in enumerate(zip(options.start_group.tolist(), options.pot_group.tolist(), strict=True)):
        starts = [] if start < 0 else [pattern for pattern in of_group[start] if option in patterns.lets_in[pattern]]
        pots = [-1] if pot < 0 else [pattern for pattern in of_group[pot] if option in patterns.lets_in[pattern]]
        ways.append([(option, one, other) for one, other in product(starts, pots)])
    of_kind = [
        np.array([way for its_ways in ways[begin:end] for way in its_ways], dtype=np.int64).reshape(-1, 3)
        for begin, end in pairwise(options.first.tolist())
    ]
    kind = wishes.kind[wishes.level_class]
    level = np.repeat(np.arange(len(kind)), np.array([len(rows) for rows in of_kind], dtype=np.int64)[kind])
    table = np.concatenate([np.zeros((0, 3), dtype=np.int64), *(of_kind[one] for one in kind.tolist())])
    return _Choices(level, table[:, 0], table[:, 1], table[:, 2])


def _add_shares(
    programme: Programme,
    options: Options,
    wishes: Wishes,
    fixed: Fixed,
    choices: tuple[Ints, Ints, Ints],
    share: int,
) -> tuple[tuple[Ints, Ints, Ints], dict[str, Ints]]:
    """Each grower's placed plants are at least the smallest share of those wanted.

    Returns:
        Columns of plants granted, and the grower and class of each; and what the model says of growers who ask.
    """
    sowings = options.plan.garden.sowings
    grower = sowings.grower[options.lot]
    wanted = np.bincount(grower, sowings.plants[options.lot], minlength=len(fixed.placed))
    its_class, columns, plants = choices
    free = np.flatnonzero(options.is_free)
    # Each grower and class once, with the number of lots.
    pair, lots = np.unique(grower[free] * len(wishes.kind) + wishes.of_lot[free], return_counts=True)
    pair_grower, pair_class = np.divmod(pair, max(1, len(wishes.kind)))
    growers_of = np.bincount(pair_class, minlength=len(wishes.kind))
    only_grower = np.zeros(len(wishes.kind), dtype=np.int64)
    only_grower[pair_class] = pair_grower
    asking = np.flatnonzero(wanted > 0)
    row_of = np.full(len(wanted), -1)
    row_of[asking] = np.arange(len(asking))
    is_alone = growers_of[its_class] == 1
    entries: list[tuple[Ints, Ints, Floats | Ints | float]] = [
        (row_of[only_grower[its_class[is_alone]]], columns[is_alone], plants[is_alone]),
        (np.arange(len(asking)), np.full(len(asking), share), -wanted[asking]),
    ]
    several = growers_of[pair_class] > 1
    granted = programme.add_columns(
        int(several.sum()), upper=(lots * wishes.plants[pair_class])[several].astype(np.float64)
    )
    entries.append((row_of[pair_grower[several]], granted, 1.0))
    shared = np.flatnonzero(growers_of > 1)
    link = np.full(len(wishes.kind), -1)
    link[shared] = np.arange(len(shared))
    programme.add_rows(
        [
            (link[its_class[~is_alone]], columns[~is_alone], plants[~is_alone]),
            (link[pair_class[several]], granted, -1.0),
        ],
        n=len(shared),
        lower=0.0,
        upper=0.0,
    )
    rows = programme.add_rows(entries, n=len(asking), lower=-fixed.placed[asking])
    of_growers = {"share_rows": rows, "wanted": wanted[asking].astype(np.int64), "placed": fixed.placed[asking]}
    return (granted, pair_grower[several], pair_class[several]), of_growers


def _add_groups(
    programme: Programme,
    options: Options,
    wishes: Wishes,
    patterns: Patterns,
    fixed: Fixed,
    choices: tuple[_Choices, Ints],
    trays: Ints,
) -> tuple[Ints, Ints]:
    """The cells in a pattern fit its trays; where a group has several patterns, one at most is used."""
    made, columns = choices
    n_patterns, group = len(patterns.group), patterns.group
    pattern = np.concatenate([made.start_pattern, made.pot_pattern])
    need = np.concatenate([wishes.level_cells[made.level], wishes.level_pots[made.level]])
    counts = pattern >= 0
    pattern, need = pattern[counts], need[counts]
    column = np.tile(columns, 2)[counts]
    its_class = np.tile(wishes.level_class[made.level], 2)[counts]
    its_option = np.tile(made.option, 2)[counts]
    has_choice = np.bincount(group, minlength=options.n_groups)[group] > 1
    is_used = np.full(n_patterns, -1, dtype=np.int64)
    is_used[has_choice] = programme.add_columns(int(has_choice.sum()), upper=1.0, whole=True)
    chosen = np.flatnonzero(has_choice)
    all_patterns = np.arange(n_patterns)
    tray_rows, _ = (
        programme.add_rows(
            [*entries, (chosen, is_used[chosen], -least[group[chosen]])],
            n=n_patterns,
            lower=np.where(has_choice, 0, least[group]),
        )
        for entries, least in (
            ([(pattern, column, -need), (all_patterns, trays, options.capacity[group])], fixed.cells),
            ([(all_patterns, trays, 1.0)], fixed.trays),
        )
    )
    _, row = np.unique(group[chosen], return_inverse=True)
    there = np.unique(group[chosen])
    programme.add_rows([(row, is_used[chosen], 1.0)], n=len(there), lower=np.minimum(fixed.trays[there], 1), upper=1.0)
    # No more lots of a class than there are, and none in a pattern that is not used.
    inside = has_choice[pattern]
    pair, row = np.unique(pattern[inside] * max(1, len(wishes.kind)) + its_class[inside], return_inverse=True)
    pair_pattern, pair_class = np.divmod(pair, max(1, len(wishes.kind)))
    programme.add_rows(
        [(row.ravel(), column[inside], 1.0), (np.arange(len(pair)), is_used[pair_pattern], -wishes.count[pair_class])],
        n=len(pair),
        upper=0.0,
    )
    plants = np.tile(wishes.level_plants[made.level], 2)[counts]
    _add_makers(programme, patterns, (pattern, its_option, plants, column), is_used)
    return is_used, tray_rows


def _add_makers(
    programme: Programme, patterns: Patterns, choices: tuple[Ints, Ints, Ints, Ints], is_used: Ints
) -> None:
    """Nobody waits for lots that are not there, even where that would suit: of those who make it so a plant is there.

    Args:
        programme: Gets a row for each set of options that make a pattern.
        patterns: All patterns.
        choices: Pattern, option, plants and column of each choice.
        is_used: The column that says whether a pattern is used.
    """
    pattern, option, plants, column = choices
    sets = [(one, makes) for one in np.flatnonzero(is_used >= 0).tolist() for makes in patterns.makes[one]]
    there = [np.flatnonzero((pattern == one) & np.isin(option, list(makes))) for one, makes in sets]
    row = np.repeat(np.arange(len(sets)), [len(some) for some in there])
    at = np.concatenate([np.zeros(0, dtype=np.int64), *there])
    used = is_used[np.array([one for one, _ in sets], dtype=np.int64)]
    programme.add_rows([(row, column[at], plants[at]), (np.arange(len(sets)), used, -1.0)], n=len(sets), lower=0.0)


def _add_packings(
    programme: Programme,
    options: Options,
    wishes: Wishes,
    patterns: Patterns,
    fixed: Fixed,
    choices: tuple[_Choices, Ints],
    trays: Ints,
) -> None:
    made, columns = choices
    capacity, is_empty = options.capacity[patterns.group], fixed.trays[patterns.group] == 0
    for pattern, need in ((made.start_pattern, wishes.level_cells), (made.pot_pattern, wishes.level_pots)):
        inside = pattern >= 0
        add_packing_rows(
            programme,
            columns[inside],
            pattern[inside],
            need[made.level[inside]],
            capacity,
            trays,
            np.intersect1d(pattern[inside], np.flatnonzero(is_empty)),
        )


def _add_positions(programme: Programme, patterns: Patterns, fixed: Fixed, trays: Ints, extra: Ints) -> None:
    """On no day do more trays stand in a place than it has positions."""
    for place in range(len(PLACES)):
        mine = patterns.stay_place == place
        pattern, begin, end = patterns.stay_pattern[mine], patterns.stay_begin[mine], patterns.stay_end[mine]
        standing: dict[bytes, tuple[Ints, int]] = {}
        days = np.unique(np.concatenate([begin, end]) if fixed.varies else begin)
        for day, following in pairwise([*days.tolist(), int(end.max(initial=0))]):
            there = np.unique(pattern[(begin <= day) & (day < end)])
            fewest = fixed.fewest_positions(place, day, max(day + 1, following))
            # Where the same patterns stand on several days, the day with the fewest positions decides.
            if len(there) and standing.get(there.tobytes(), (there, fewest + 1))[1] > fewest:
                standing[there.tobytes()] = (there, fewest)
        if not standing:
            continue
        sets = list(standing.values())
        row = np.repeat(np.arange(len(sets)), [len(there) for there, _ in sets])
        programme.add_rows(
            [
                (row, trays[np.concatenate([there for there, _ in sets])], 1.0),
                (np.arange(len(sets)), np.full(len(sets), extra[place]), -1.0),
            ],
            n=len(sets),
            upper=np.array([fewest for _, fewest in sets]),
        )


def hold_share(programme: Open, model: Model, share: Fraction) -> None:
    """Have every grower get no smaller share: of each grower's plants a whole number, which says more."""
    programme.bound_columns(np.array([model.share]), np.zeros(1), np.zeros(1))
    for row, wanted, placed in zip(
        model.share_rows.tolist(), model.wanted.tolist(), model.placed.tolist(), strict=True
    ):
        programme.bound_row(row, ceil(share * wanted) - placed, INFINITE)


def ask_for_share(programme: Open, model: Model, least: float) -> None:
    """Have the column of the smallest share say what it is, and be no smaller than `least`."""
    programme.bound_columns(np.array([model.share]), np.array([max(0.0, least)]), np.ones(1))
    for row, placed in zip(model.share_rows.tolist(), model.placed.tolist(), strict=True):
        programme.bound_row(row, -placed, INFINITE)
