"""What it would take: the fewest more positions with which everything fits."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from app.core.fitting.answer import Extra
from app.core.fitting.branching import least_with_patterns
from app.core.fitting.clock import Clock
from app.core.fitting.exact import Exact
from app.core.fitting.fixed import Fixed
from app.core.fitting.flows import FlowModel, build_flows
from app.core.fitting.lots import build_lots
from app.core.fitting.model import Model, fill_trays
from app.core.fitting.options import Options
from app.core.fitting.patterns import Patterns
from app.core.fitting.picked import Picked, choices_of, plan_of
from app.core.fitting.programme import INFINITE, Open
from app.core.fitting.rough import GOOD_ENOUGH, GOOD_START, ROOMS, filled_part
from app.core.fitting.whole import whole_lots
from app.core.fitting.wishes import Stand, gather_wishes

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


class _Found(NamedTuple):
    """An answer, and how many positions each place lacks for it."""

    picked: Picked
    more: tuple[int, ...]

    @classmethod
    def of(cls, options: Options, picked: Picked) -> "_Found":
        """Return an answer with what it lacks."""
        return cls(picked, more_of(options, picked))

    def or_less(self, options: Options, picked: Picked) -> "_Found":
        """Return another answer if it lacks less, and this one if not."""
        other = self.of(options, picked)
        return other if sum(other.more) < sum(self.more) else self


def fewest_extra(
    options: Options, stand: Stand, patterns: Patterns, fixed: Fixed, clock: Clock, *, most_choices: int
) -> Extra:
    """Return the fewest more positions with which every sowing stands in its window with all its plants.

    Args:
        options: What each sowing may get.
        stand: The cells and pots of any number of plants of the lots.
        patterns: When the trays of each group may stand.
        fixed: What is not free.
        clock: When to stop.
        most_choices: Up to so many choices each lot is looked at by itself. [1]
    """
    # Here what is fixed must fit too.
    strict = replace(fixed, use=np.zeros_like(fixed.use))
    best = _Found.of(options, as_it_is(options))
    model = build_flows(options, stand, patterns, strict)
    programme = model.programme.open(whole=False)
    programme.bound_columns(model.part_columns, model.parts.plants, model.parts.plants)
    cost = _ask_for_extra(programme, model)
    chosen = model.is_used >= 0
    least = least_with_patterns(programme, cost, model.is_used[chosen], patterns.group[chosen], clock, gap=GOOD_ENOUGH)
    bound = int(np.ceil(max(0.0, least.bound) - 1e-4)) if np.isfinite(least.bound) else 0
    if least.values is not None:
        fill_trays(programme, model, filled_part(model, least.values, ROOMS[0].in_trays))
        roomy = least_with_patterns(
            programme, cost, model.is_used[chosen], patterns.group[chosen], clock, gap=GOOD_START
        )
        for values in (least.values, roomy.values):
            if values is not None:
                best = best.or_less(options, _rounded(options, stand, model, values, best.picked))
    if sum(best.more) > bound and options.n_choices <= most_choices and clock.left:
        wishes = gather_wishes(options, stand, parts=False)
        lots = build_lots(options, wishes, patterns, strict)
        if len(lots.choices) <= most_choices:
            exact = Exact(options, wishes, stand, patterns, strict, lots, clock, best.picked, 1.0, None)
            programme = lots.programme.open(whole=True)
            for row in lots.wish_rows.tolist():
                programme.bound_row(row, 1.0, 1.0)
            solved = exact.solve(programme, _ask_for_extra(programme, lots), None, clock.left)
            if np.isfinite(solved.bound):  # it is not, if it was stopped before it had one
                bound = max(bound, int(np.ceil(solved.bound - 1e-4)))
            if solved.values is not None:
                best = best.or_less(options, exact.picked(solved.values))
    return Extra(positions=best.more, bound=min(bound, sum(best.more)), choices=choices_of(options, best.picked))


def _rounded(options: Options, stand: Stand, model: FlowModel, values: Floats, fixed: Picked) -> Picked:
    """Return whole lots near to shares of them; what is not free as in another answer."""
    option, plants = whole_lots(options, stand, model, values)
    return Picked(np.where(options.is_free, option, fixed.option), np.where(options.is_free, plants, fixed.plants))


def as_it_is(options: Options) -> Picked:
    """Return the plan as it is with all plants of each lot, in the option nearest to what it has."""
    plan, kind = options.plan, options.kind
    option = options.first[kind].copy()
    plants = np.where(options.is_free, plan.garden.sowings.plants[options.lot], plan.plants[options.lot])
    day, light = plan.timeline.sow_on[options.lot], plan.light_place[options.lot]
    for lot, its_kind in enumerate(kind.tolist()):
        for one in range(int(options.first[its_kind]), int(options.first[its_kind + 1])):
            if options.day[one] == day[lot] and options.light[one] == light[lot]:
                option[lot] = one
    return Picked(option, plants)


def more_of(options: Options, picked: Picked) -> tuple[int, ...]:
    """Return how many positions each place lacks for an answer. Shape (4,). [1]"""
    ledger = plan_of(options, picked).ledger
    lacking = -ledger.free.min(axis=0, initial=0)
    return tuple(int(number) for number in lacking)


def _ask_for_extra(programme: Open, model: Model) -> Floats:
    """Let positions be added, and return what they cost."""
    n = len(model.extra)
    programme.bound_columns(model.extra, np.zeros(n), np.full(n, INFINITE))
    cost = np.zeros_like(model.weights)
    cost[model.extra] = 1.0
    return cost
