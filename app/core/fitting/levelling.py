"""Levelling: the plan of a garden made to fit its places."""

from fractions import Fraction
from functools import partial
from typing import NamedTuple

import numpy as np

from app.core.cards import Garden
from app.core.fitting.answer import Answer, Goal, IsStopped, Phase, Reached, Report
from app.core.fitting.baskets import work_with
from app.core.fitting.by_growers import FINEST, HOPES, deal_by_growers
from app.core.fitting.clock import Clock
from app.core.fitting.exact import Exact, tighter
from app.core.fitting.extra import fewest_extra
from app.core.fitting.filling import Filling
from app.core.fitting.fixed import Fixed, find_fixed
from app.core.fitting.flows import FlowModel, build_flows
from app.core.fitting.greedy import take_turns
from app.core.fitting.judge import faults_of
from app.core.fitting.lots import build_lots
from app.core.fitting.market import Settled, setting_of
from app.core.fitting.options import Options, find_options
from app.core.fitting.patterns import Patterns, find_patterns
from app.core.fitting.picked import Picked, Values, choices_of, values_of
from app.core.fitting.rough import ROOMS, Rough
from app.core.fitting.sample import Sample, take_sample
from app.core.fitting.whole import HALF, NONE, come_nearer, fill_up, lift, put_all, whole_lots
from app.core.fitting.whole_plants import find_whole_plants
from app.core.fitting.whole_trays import find_whole_trays
from app.core.fitting.wishes import Stand, gather_wishes, stand_of
from app.core.plan import make_plan

# Up to so many choices each lot is looked at by itself.
MOST_CHOICES = 15_000
# Up to so many the solver finds its way among the lots alone, and the first turn is enough to begin with.
FEW = 1_500
# With fewer lots each of them is soon looked at by itself.
LEAST_BY_GROWERS = 100
# With more of them, prices are found for some growers first.
MOST_WITHOUT_SAMPLE = 10_000
GROWERS_IN_SAMPLE = 500
# Growers are not asked for baskets again and again if it takes more work than this, where much of what is wanted has no
# room; those of a sample are asked more often than the others. [comparisons]
MOST_WORK = 100_000_000
MOST_WORK_BY_SAMPLE = 1_000_000_000
# So much smaller than whole plants allow is the smallest share that is asked for [fraction]: trays are whole, too.
OF_WHOLE_TRAYS = 0.004
# There is one try alone where prices come from a sample, so it is a share that is reached. [fraction]
OF_SAMPLE = 0.009
# So much less than is hoped for is within reach. [fraction]
LEAST_HOPED = Fraction(1, 50)
# So near to its bound a goal is proven. [fraction]
PROVEN = 1e-9
# What of the time goes to the answer; the rest to what it would take for everything to fit.
FOR_THE_ANSWER = 0.85
# Another answer is looked for if so many times as long is left as the last one took: bounds take their time, too.
ENOUGH_FOR_ANOTHER = 1.5
# Growers with the smallest shares are given what room is left, whatever time is. [s]
FOR_THE_LAST_S = 1.5
# What of the rest goes to serving in turns, which soon has an answer.
FOR_TURNS = 0.1
# What of all goes to answers by growers where each lot is looked at by itself afterwards.
FOR_GROWERS = 0.4


class UnfitError(Exception):
    """An answer does not keep the rules; it is not shown."""


class _Question(NamedTuple):
    """What all parts of a levelling look at."""

    options: Options
    stand: Stand
    patterns: Patterns
    fixed: Fixed
    clock: Clock
    model: FlowModel
    sample: Sample | None

    @property
    def n_free(self) -> int:
        """How many lots are free. [1]"""
        return int(self.options.is_free.sum())


class _Found(NamedTuple):
    """An answer, what it comes to, and what positions are worth if it was made grower by grower."""

    picked: Picked
    values: Values
    settled: Settled | None


def level(garden: Garden, *, seconds: float, report: Report, is_stopped: IsStopped) -> Answer:
    """Return a plan that fits, as good as can be found in a time.

    Args:
        garden: The garden; what is sown or in pinned trays stays as it is, and nothing is moved to a day before the
            one that it takes for today.
        seconds: When to stop looking. [s]
        report: Is told how far it is.
        is_stopped: Asked now and again; once it says yes, the best so far is the answer.

    Raises:
        UnfitError: The answer does not keep the rules, by the count of code that knows nothing of the search.

    Source:
        The order of the goals is chosen here (docs/method.md).
    """
    clock = Clock(seconds * FOR_THE_ANSWER, report, is_stopped)
    clock.enter(Phase.DATES)
    options = find_options(make_plan(garden))
    stand = stand_of(options.plan, options.lot)
    patterns, fixed = find_patterns(options), find_fixed(options)
    is_many = int(options.is_free.sum()) > MOST_WITHOUT_SAMPLE
    question = _Question(
        options,
        stand,
        patterns,
        fixed,
        clock,
        model=build_flows(options, stand, patterns, fixed),
        sample=take_sample(options, stand, GROWERS_IN_SAMPLE) if is_many else None,
    )
    picked, values, bounds = _answer(question)
    clock.seconds = seconds
    clock.enter(Phase.EXTRA)
    extra = fewest_extra(options, stand, patterns, fixed, clock, most_choices=MOST_CHOICES)
    clock.enter(Phase.CHECK)
    choices = choices_of(options, picked)
    faults = faults_of(garden, choices)
    if faults:
        raise UnfitError(str(faults[0]))
    reached = tuple(Reached(goal=goal, value=values.of(goal), bound=bounds[goal]) for goal in Goal)
    return Answer(
        garden=garden,
        choices=choices,
        reached=reached,
        extra=extra,
        stuck=question.fixed.stuck,
        is_stopped=sum(extra.positions) > extra.bound or any(one.gap > PROVEN for one in reached),
    )


def _answer(question: _Question) -> tuple[Picked, Values, dict[Goal, float]]:
    """Return the best answer found, what it comes to, and what no answer can beat for each goal."""
    options, stand, patterns, fixed, clock, _, _ = question
    wishes = gather_wishes(options, stand, parts=True) if options.n_choices <= MOST_CHOICES else None
    model = None if wishes is None else build_lots(options, wishes, patterns, fixed)
    is_small = model is not None and len(model.choices) <= MOST_CHOICES
    kept = (1 - FOR_GROWERS) * clock.left if is_small else 0.0
    rough, found = _made_whole(question, kept)
    if is_small or not found:
        shelves = partial(Filling, options, stand, fixed)
        is_few = model is not None and len(model.choices) <= FEW
        in_turns = take_turns(shelves, clock, 0.0 if is_few else clock.left * FOR_TURNS)
        found.append(_Found(in_turns, values_of(options, in_turns), None))
    best, values, settled = max(found, key=lambda one: one.values.rank)
    exactly: dict[Goal, float] = {}
    if is_small and wishes is not None and model is not None and clock.left:
        is_many = len(model.choices) > FEW
        by_kinds = build_flows(options, stand, patterns, fixed, whole_trays=True) if is_many else None
        exact = Exact(options, wishes, stand, patterns, fixed, model, clock, best, rough.by_shares, by_kinds)
        best, values, exactly = exact.improve()
    elif clock.left:
        _tell(clock, values, {Goal.SHARE: rough.by_shares})
    bounds = rough.bounds(
        values,
        find_whole_plants(options, stand, patterns, fixed, question.model, values.share),
        find_whole_trays(options, stand, patterns, rough.model),
        settled,
    )
    for goal, bound in exactly.items():
        bounds[goal] = tighter(goal, bounds[goal], bound)
    _tell(clock, values, bounds)
    return best, values, bounds


def _tell(clock: Clock, values: Values, bounds: dict[Goal, float]) -> None:
    """Say how far an answer reaches the goals of which there are bounds."""
    clock.set(Reached(goal=goal, value=values.of(goal), bound=bounds[goal]) for goal in Goal if goal in bounds)


def _made_whole(question: _Question, kept: float) -> tuple[Rough, list[_Found]]:
    """Return answers of whole lots near to the best shares of them, as many as there is time for.

    Args:
        question: What is looked at.
        kept: What is left for what comes after them. [s]

    Returns:
        The programme of kinds, for bounds, and the answers.
    """
    options, stand, patterns, fixed, clock, model, sample = question
    if sample is not None:
        of_sample = build_flows(sample.options, sample.stand, patterns, fixed, times=sample.times)
        rough = Rough(of_sample, patterns, fixed, clock, is_sample=True)
        found = _by_growers(question, rough, kept)
        if found:
            return rough, found
    rough = Rough(model, patterns, fixed, clock)
    found = []
    if sample is None and question.n_free >= LEAST_BY_GROWERS:
        found = _by_growers(question, rough, kept)
    for room in () if found else ROOMS:
        begin = clock.left
        shares = rough.near_best(room)
        if shares is None:
            break
        filling = Filling(options, stand, fixed)
        put_all(filling, *whole_lots(options, stand, model, shares))
        found.append(_filled_up(filling, clock, None))
        if clock.left <= ENOUGH_FOR_ANOTHER * (begin - clock.left):
            break
    return rough, found


def _by_growers(question: _Question, rough: Rough, kept: float) -> list[_Found]:
    """Return answers made grower by grower; some seconds are kept for what comes after them."""
    options, stand, patterns, fixed, clock, model, sample = question
    found: list[_Found] = []
    shares = rough.near_best(ROOMS[0])
    if shares is None:
        return found
    chosen = rough.model.is_used
    is_used = (chosen < 0) | (shares[chosen] > HALF)
    in_use = (shares[rough.model.trays] > NONE).astype(np.float64)
    hoped = Fraction(rough.hoped_share()).limit_denominator(FINEST)
    if work_with(options, fixed, hoped * (1 - LEAST_HOPED)) > (MOST_WORK if sample is None else MOST_WORK_BY_SAMPLE):
        return found
    within_reach = find_whole_plants(options, stand, patterns, fixed, model, hoped * (1 - LEAST_HOPED))
    most = rough.most_whole_share(within_reach, hoped * (1 - LEAST_HOPED))
    most *= 1 - (OF_WHOLE_TRAYS if sample is None else OF_SAMPLE)
    deal = partial(deal_by_growers, options, stand, patterns, fixed, clock, sample=sample)
    for hope in HOPES:
        begin = clock.left
        setting = setting_of(options, patterns, is_used, hope.room * in_use)
        dealt = deal(setting=setting, share=min(most, float(hoped) * (1 - hope.less)))
        if dealt is not None:
            filling = Filling(options, stand, fixed)
            if not filling.load(dealt.option, dealt.plants):
                filling = Filling(options, stand, fixed)
                put_all(filling, dealt.option, dealt.plants)
            found.append(_filled_up(filling, clock, dealt.settled))
        left = clock.left - kept
        if left <= ENOUGH_FOR_ANOTHER * (begin - clock.left):
            break
    return found


def _filled_up(filling: Filling, clock: Clock, settled: Settled | None) -> _Found:
    """Return what comes of lots on the shelves once all room is given away."""
    clock = clock.with_at_least(FOR_THE_LAST_S)
    fill_up(filling, clock)
    lift(filling, clock)
    fill_up(filling, clock)
    come_nearer(filling, clock)
    picked = Picked(filling.option, filling.plants)
    return _Found(picked, values_of(filling.options, picked), settled)
