"""Sowings that are late or have failed, and what can still be done, against a calendar.

The tomato of test_work.py: to be sown on Saturday 1 May 2027, up in 6 days, and 60 days to maturity from planting
out. It ripens if it is harvested until 30 August: less 60 days, 14 of picking and 6 weeks indoors, its last chance
is 6 May; with 50 days to maturity it is 16 May.
"""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from scipy.stats import binom

from app.core.calendar import as_day
from app.core.plan import make_plan
from app.core.words import LogKind
from app.core.work.failing import Trouble, remedies_of, troubles_of
from tests.core.work.test_work import OUT, SOW, UP, log_of, sown
from tests.factories import card, garden, sowing

QUICK = {"days_to_maturity": 50}


def failing(today, *entries, cards=None, rows=None, **changes):
    made = garden(rows or [sowing()], cards=cards or (card(**QUICK | changes),))
    plan = make_plan(replace(made, log=log_of(*entries), today=as_day(today)))
    return remedies_of(plan, troubles_of(plan))


def only(*args, **kwargs):
    (found,) = failing(*args, **kwargs)
    return found


def test_before_its_day_nothing_is_wrong():
    assert failing(SOW) == []


def test_a_sowing_that_missed_its_day_is_late_until_its_last_chance():
    found = only(date(2027, 5, 3))
    assert (found.amiss.trouble, found.amiss.missing) == (Trouble.LATE, 0)
    assert (found.amiss.since, found.again_on) == (as_day(SOW), as_day(date(2027, 5, 8)))
    assert found.last_chance == as_day(date(2027, 5, 16))


def test_after_its_last_sowing_day_it_is_too_late_and_a_quicker_variety_is_named():
    # The Saturday after 16 May is 22 May, 6 days past the last chance: 50 less 6.
    found = only(date(2027, 5, 17))
    assert (found.amiss.trouble, found.amiss.missing, found.again_on) == (Trouble.TOO_LATE, 6, 0)
    assert found.variety_days == 44


def test_no_variety_ripens_in_much_less_than_the_usual_days():
    # Saturday 19 June is 34 days past 16 May: it would have 16 days.
    assert only(date(2027, 6, 19)).variety_days == 0


@pytest.mark.parametrize(
    ("emerge", "failed"),
    [(3, date(2027, 5, 7)), (6, date(2027, 5, 13)), (7, date(2027, 5, 15)), (14, date(2027, 5, 22))],
)
def test_nothing_up_is_failed_at_twice_the_days_or_a_week_past_the_day_foreseen(emerge, failed):
    before = date.fromordinal(failed.toordinal() - 1)
    changes = {"days_to_emerge": emerge, "days_to_maturity": 40}
    assert failing(before, sown(), **changes) == []
    found = only(failed, sown(), **changes)
    assert (found.amiss.trouble, found.amiss.missing, found.amiss.since) == (Trouble.NOTHING_UP, 6, as_day(failed))


def test_what_failed_can_be_sown_again_on_the_next_sowing_day_with_cells_by_the_stand_rule():
    found = only(date(2027, 5, 13), sown())
    assert found.again_on == as_day(date(2027, 5, 15))
    # 75 % germination, two seeds a cell, 90 % survive: the least cells that give 6 plants in 9 of 10 cases.
    chance = (1 - 0.25**2) * 0.90
    assert found.again_cells == next(n for n in range(6, 100) if binom.sf(5, n, chance) >= 0.90)


def test_where_no_sowing_day_is_left_the_last_chance_itself_is_taken():
    # Last chance with 49 days: 17 May, a Monday; on Sunday 16 May the next Saturday is past it.
    assert only(date(2027, 5, 16), sown(), days_to_maturity=49).again_on == as_day(date(2027, 5, 17))
    assert only(date(2027, 5, 18), sown(), days_to_maturity=49).again_on == 0


def test_too_few_up_is_short_of_what_is_missing():
    came = (LogKind.UP, UP, 4)
    assert failing(date(2027, 5, 10), sown(), came) == []  # more may come up
    found = only(date(2027, 5, 13), sown(), came)
    assert (found.amiss.trouble, found.amiss.missing) == (Trouble.TOO_FEW, 2)


def test_enough_up_is_well_and_losses_below_what_was_wanted_are_not():
    came = (LogKind.UP, UP, 9)
    assert failing(date(2027, 5, 13), sown(), came) == []
    assert failing(date(2027, 5, 20), sown(), came, (LogKind.LOST, date(2027, 5, 20), 3)) == []
    found = only(date(2027, 5, 20), sown(), came, (LogKind.LOST, date(2027, 5, 20), 4))
    assert (found.amiss.trouble, found.amiss.missing) == (Trouble.TOO_FEW, 1)


def test_cells_that_were_all_given_up_have_failed_at_once():
    found = only(date(2027, 5, 8), sown(), (LogKind.LOST, date(2027, 5, 8), 11))
    assert (found.amiss.trouble, found.amiss.missing) == (Trouble.NOTHING_UP, 6)


def test_plants_that_were_collected_are_not_missing():
    came = (LogKind.UP, UP, 6)
    assert failing(OUT, sown(), came, (LogKind.HANDED_OUT, OUT, 6)) == []
    # Without a word on what came up, who collected plants has them.
    assert failing(OUT, sown(), (LogKind.HANDED_OUT, OUT, 6)) == []


def test_after_the_season_nothing_is_flagged():
    assert failing(date(2027, 10, 1), sown()) == []


def test_cards_that_still_ripen_stand_in_the_place_of_one_that_does_not():
    tomato = card(**QUICK)
    outside = {
        "plant_out_weeks": None, "indoor_weeks_min": None, "indoor_weeks_max": None, "start_container": None,
        "light": None, "direct_sow_weeks": 0.0, "counted_from": "seed", "hardiness": "hardy",
    }  # fmt: skip
    radish = card(id=2, name="Radish", days_to_maturity=25, harvest_days=7, **outside)
    slow = card(id=3, name="Parsnip", days_to_maturity=120, **outside)
    beet = card(id=4, name="Beet", days_to_maturity=49, **outside)
    found = only(date(2027, 6, 19), cards=(tomato, radish, slow, beet))
    assert [(one.card, one.days, one.is_outside) for one in found.cards] == [(1, 25, True), (3, 49, True)]
    # Hardy: good to 13 September; less 25 days and 7 of picking is 12 August.
    assert found.cards[0].last_sowing == as_day(date(2027, 8, 12))


def test_another_sowing_of_the_same_crop_that_is_still_to_come_is_named():
    rows = [sowing(), sowing(sow_on=as_day(date(2027, 5, 15)))]
    found = failing(date(2027, 5, 13), sown(), rows=rows)
    assert [(one.amiss.sowing, one.others) for one in found] == [(0, (1,))]


def test_some_sowings_alone_can_be_asked_for():
    made = replace(garden([sowing(), sowing()], cards=(card(**QUICK),)), today=as_day(date(2027, 5, 3)), log=log_of())
    plan = make_plan(made)
    first, second = troubles_of(plan)
    assert troubles_of(plan, sowings=np.array([0])) == [first]
    assert troubles_of(plan, sowings=np.array([1])) == [second]
    assert troubles_of(plan, sowings=np.array([], dtype=np.int64)) == []


def test_the_worst_comes_first():
    made = garden([sowing(), sowing()], cards=(card(**QUICK),))
    log = replace(log_of(sown()), sowing=np.array([1]))
    plan = make_plan(replace(made, log=log, today=as_day(date(2027, 5, 13))))
    assert [(one.sowing, one.trouble) for one in troubles_of(plan)] == [(1, Trouble.NOTHING_UP), (0, Trouble.LATE)]
