"""Some growers who stand for all: the shelves hold what comes of it, and it says no more than is true."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from app.core.fitting import baskets, levelling, market
from app.core.fitting.answer import Goal
from app.core.fitting.judge import faults_of
from app.core.fitting.options import find_options
from app.core.fitting.sample import take_sample
from app.core.fitting.wishes import stand_of
from app.core.plan import make_plan
from tests.core.fitting_gardens import MIDDLE, numbered
from tests.lengths import TIMES

MANY = replace(MIDDLE, sowings=(60, 120), plants=12, growers=12)


@pytest.mark.parametrize("growers", [1, 3, 12, 50])
def test_a_sample_has_whole_growers_who_stand_for_all(growers):
    for number in range(10):
        options = find_options(make_plan(numbered(number, MANY)))
        stand = stand_of(options.plan, options.lot)
        sample = take_sample(options, stand, growers)
        of_lot = options.plan.garden.sowings.grower
        owners = set(of_lot[options.lot[options.is_free]].tolist())
        taken = set(of_lot[sample.options.lot[sample.options.is_free]].tolist())
        assert len(taken) == min(growers, len(owners))
        lots = np.flatnonzero(
            np.isin(of_lot[options.lot], sorted(taken)) | ~np.isin(of_lot[options.lot], sorted(owners))
        )
        assert (sample.options.lot == options.lot[lots]).all()
        assert (sample.stand.row == stand.row[lots]).all()
        free = sample.options.is_free
        assert (sample.times[~free] == 1).all()
        assert sample.times[free].tolist() == pytest.approx([len(owners) / len(taken)] * int(free.sum()))


@pytest.fixture
def as_if_many(monkeypatch):
    """Have gardens of some sowings levelled as those of very many are."""
    monkeypatch.setattr(levelling, "MOST_CHOICES", 0)
    monkeypatch.setattr(levelling, "LEAST_BY_GROWERS", 2)
    monkeypatch.setattr(levelling, "MOST_WITHOUT_SAMPLE", 2)
    monkeypatch.setattr(levelling, "GROWERS_IN_SAMPLE", 5)
    monkeypatch.setattr(market, "MANY", 2)
    monkeypatch.setattr(baskets, "WORTHS_IN_PART", 30)


def levelled(garden):
    answer = levelling.level(garden, seconds=2, report=lambda _: None, is_stopped=lambda: False)
    return {reached.goal: reached for reached in answer.reached}, answer


@cache
def lot_by_lot(number):
    """Return what a garden comes to where each lot is looked at by itself."""
    return levelled(numbered(number, MANY))[0]


@pytest.mark.parametrize("number", range(12 * TIMES))
def test_gardens_levelled_as_those_of_very_many_sowings_fit_and_no_bound_says_too_much(number, request):
    garden, proven = numbered(number, MANY), lot_by_lot(number)
    request.getfixturevalue("as_if_many")
    found, answer = levelled(garden)
    assert not faults_of(garden, answer.choices)
    for goal in (Goal.SHARE, Goal.PLANTS):
        assert found[goal].value <= found[goal].bound + 1e-9
    for goal in (Goal.DAYS, Goal.TRAYS):
        assert found[goal].value >= found[goal].bound - 1e-9
    assert found[Goal.SHARE].bound >= proven[Goal.SHARE].value - 1e-9


def test_prices_of_a_sample_lead_to_answers_nearly_as_good(monkeypatch):
    """By the plants that are placed, beside answers for which each lot is looked at by itself."""
    made = []
    deal = levelling.deal_by_growers

    def watched(*args, **named):
        dealt = deal(*args, **named)
        made.append(named["sample"] is not None and dealt is not None)
        return dealt

    monkeypatch.setattr(levelling, "deal_by_growers", watched)
    near, of_sample = [], []
    for number in range(11):
        proven = lot_by_lot(number)
        with monkeypatch.context() as patch:
            patch.setattr(levelling, "MOST_CHOICES", 0)
            patch.setattr(levelling, "MOST_WITHOUT_SAMPLE", 2)
            patch.setattr(levelling, "GROWERS_IN_SAMPLE", 6)
            patch.setattr(levelling, "LEAST_BY_GROWERS", 2)
            patch.setattr(market, "MANY", 2)
            made.clear()
            found, _ = levelled(numbered(number, MANY))
        near.append(found[Goal.PLANTS].value / max(1.0, proven[Goal.PLANTS].value))
        of_sample.append(any(made))
    # In few gardens as small as these there is room for what is found for half of their growers.
    assert sum(of_sample) >= 3
    assert np.median(near) >= 0.9
    assert min(part for part, is_made in zip(near, of_sample, strict=True) if is_made) >= 0.9
