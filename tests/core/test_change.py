"""What another risk moves, counted on a calendar: see tests/factories.py for the garden."""

from dataclasses import replace
from datetime import date

from app.core.change import compare_plans
from app.core.plan import make_plan
from tests import factories


def plans_at(garden, risk):
    """Return the plans of a garden at its own risk and at another."""
    return make_plan(garden), make_plan(replace(garden, settings=replace(garden.settings, risk=risk)))


def test_a_plan_differs_in_nothing_from_itself():
    plan = make_plan(factories.garden([factories.sowing()]))
    change = compare_plans(plan, plan)
    assert (change.moved, change.least_days, change.most_days) == (0, 0, 0)
    assert not any(crop.is_one for crop in change.crops)


def test_a_bolder_risk_brings_a_tender_crop_forward():
    # Last frosts: 13 June at 10 %, 1 June at 50 %. A week after the average is 8 June. From 13 June the next Saturday
    # is the 19th, from 8 June the 12th. Six to eight weeks before those: best on 1 May, and on 24 April.
    change = compare_plans(*plans_at(factories.garden([factories.sowing()]), 0.5))
    (crop,) = change.crops
    assert [span.first for span in crop.sown] == [date(2027, 5, 1), date(2027, 4, 24)]
    assert [span.last for span in crop.planted_out] == [date(2027, 6, 19), date(2027, 6, 12)]
    assert (change.moved, change.least_days, change.most_days) == (1, -7, -7)


def test_a_day_set_by_hand_stays():
    set_on = date(2027, 5, 8).toordinal()
    change = compare_plans(*plans_at(factories.garden([factories.sowing(sow_on=set_on)]), 0.5))
    assert (change.moved, change.held) == (0, 1)


def test_over_full_weeks_are_counted_before_and_after():
    garden = factories.garden([factories.sowing(plants=500)])
    change = compare_plans(*plans_at(garden, 0.5))
    ledgers = [plan.ledger for plan in plans_at(garden, 0.5)]
    by_hand = [
        tuple(sum(1 for row in ledger.needed if row[place] > ledger.positions[place]) for ledger in ledgers)
        for place in range(4)
    ]
    assert list(change.over_weeks) == by_hand
    assert any(now for now, _ in by_hand)
