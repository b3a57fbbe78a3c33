"""What would make a crop fit: each answer makes it fit when the season is fitted again, and one unit less does not.

By hand on the invented frost table of docs/method.md: 50 % on 1 June and 30 August, 12 days to 10 %.
"""

import math
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from app.core.plants.advice import advise
from app.core.plants.season import Verdict, season_fit
from app.core.words import CountedFrom, Hardiness
from tests.core.gardens import gardens
from tests.factories import card, garden

FROST = garden().frost
SPREAD_DAYS = 12 / norm.ppf(0.9)
ONE_DAY = timedelta(days=1)
HALF_A_WEEK = 0.5
OUTSIDE = dict.fromkeys(("plant_out_weeks", "indoor_weeks_min", "indoor_weeks_max", "start_container", "light"))


def advice_on(**changes):
    return advise(card(**{"plant_out_weeks": 0} | changes), FROST, risk=0.10, autumn_risk=0.50)


def spring_on(risk):
    """Return the spring date at a risk by scipy, as a day number of 2027: 152 is 1 June."""
    return math.ceil(152 + SPREAD_DAYS * norm.ppf(1 - risk) - 1e-9)


def test_a_crop_that_fits_needs_no_advice():
    assert advice_on(days_to_maturity=64) is None


def test_a_tender_crop_a_day_short_is_helped_by_a_day_of_any_kind():
    # 13 Jun + 65 + 14 = 31 Aug, a day after 30 Aug. It has to go out by 12 June, day 163.
    advice = advice_on(days_to_maturity=65)
    assert spring_on(advice.risk) <= 163 < spring_on(advice.risk - 0.01)
    assert (advice.variety_days, advice.harvest_days, advice.outside_on) == (64, 13, date(2027, 6, 12))
    assert advice.frost_chance == pytest.approx(1 - norm.cdf((163 - 152) / SPREAD_DAYS), abs=1e-9)
    assert advice.indoor_weeks is None  # its days count from planting out


def test_the_spring_risk_helps_no_crop_that_does_not_wait_for_it():
    # 1 Jun + 100 + 14 = 23 Sep against 30 Aug + 7.
    advice = advice_on(hardiness=Hardiness.HALF_HARDY, days_to_maturity=100)
    assert advice.risk is None
    assert (advice.variety_days, advice.outside_on) == (83, date(2027, 5, 15))


def test_no_risk_is_enough_before_the_average_last_frost():
    # At any risk above 50 % it still waits for 1 June: 1 Jun + 77 + 14 = 31 Aug. At 50 % and 76 days it fits.
    assert advice_on(days_to_maturity=77).risk is None
    assert advice_on(days_to_maturity=76).risk == 0.50


def test_days_counted_from_seed_are_spared_by_weeks_indoors():
    # 6 weeks indoors leave 125 - 42 = 83 days: 13 Jun + 83 + 14 = 18 Sep, 19 days too late.
    # 8.5 weeks are 60 days, 18 more, which is a day too few; 9 weeks are 63, 21 more.
    assert advice_on(counted_from=CountedFrom.SEED, days_to_maturity=125).indoor_weeks == 9


def test_picking_is_cut_to_nothing_at_most():
    assert advice_on(days_to_maturity=78).harvest_days == 0
    assert advice_on(days_to_maturity=79).harvest_days is None
    assert advice_on(days_to_maturity=79, harvest_days=0).harvest_days is None


def test_a_crop_sown_outside_is_sown_earlier():
    # 13 Jun + 80 + 14 = 15 Sep, 16 days late.
    advice = advice_on(**OUTSIDE | {"direct_sow_weeks": 0, "counted_from": CountedFrom.SEED, "days_to_maturity": 80})
    assert (advice.outside_on, advice.indoor_weeks) == (date(2027, 5, 28), None)


def test_a_season_without_a_month_may_leave_nothing_that_helps():
    short = garden(spring={90: "07-10", 50: "07-20", 10: "07-30"}, autumn={10: "07-20", 50: "08-01", 90: "08-10"})
    very_tender = card(hardiness=Hardiness.VERY_TENDER, plant_out_weeks=8)
    advice = advise(very_tender, short.frost, risk=0.10, autumn_risk=0.50)
    assert (advice.risk, advice.variety_days, advice.harvest_days) == (None, None, None)


@st.composite
def long_crops(draw):
    """Return a garden and one of its cards, with days to maturity and picking time that may be long."""
    drawn = draw(gardens(most_sowings=1))
    one = draw(st.sampled_from(drawn.garden.cards))
    return drawn.garden, replace(
        one,
        days_to_maturity=one.days_to_maturity + draw(st.integers(0, 150)),
        harvest_days=draw(st.sampled_from((0, 14, 60))),
    )


@given(long_crops())
def test_advice_makes_a_crop_fit_and_one_unit_less_does_not(drawn):
    there, long = drawn
    settings = there.settings
    advice = advise(long, there.frost, risk=settings.risk, autumn_risk=settings.autumn_risk)

    def fits(one=long, risk=settings.risk, **changes):
        fit = season_fit(one, there.frost, risk=risk, autumn_risk=settings.autumn_risk, **changes)
        return fit.verdict is not Verdict.TOO_LONG

    if advice is None:
        assert fits()
        return
    assert not fits()
    risk = round((advice.risk or 1) * 100)
    assert risk == 100 or fits(risk=risk / 100)
    assert risk == 1 or not fits(risk=(risk - 1) / 100)
    days = advice.variety_days or 0
    assert days == 0 or fits(replace(long, days_to_maturity=days))
    assert not fits(replace(long, days_to_maturity=days + 1))
    picking = -1 if advice.harvest_days is None else advice.harvest_days
    assert picking == -1 or fits(replace(long, harvest_days=picking))
    assert not fits(replace(long, harvest_days=picking + 1))
    assert fits(outside_on=advice.outside_on)
    assert not fits(outside_on=advice.outside_on + ONE_DAY)
    if advice.indoor_weeks is not None:
        assert fits(replace(long, indoor_weeks_min=advice.indoor_weeks))
        assert not fits(replace(long, indoor_weeks_min=advice.indoor_weeks - HALF_A_WEEK))
    elif long.is_started_indoors:
        assert not any(fits(replace(long, indoor_weeks_min=long.indoor_weeks_min + n / 7)) for n in range(28))
