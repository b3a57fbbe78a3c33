"""Whether a season carries a crop: the four verdicts, conversions of days to maturity, the chance to ripen.

Everything is by hand on the invented frost table of docs/method.md: 50 % on 1 June and 30 August, 12 days to 10 %.
"""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from app.core.dates.record import Half
from app.core.errors import NoFrostDateError
from app.core.plants.season import (
    GRACE_DAYS,
    Verdict,
    days_from_seed,
    days_from_transplant,
    season_end,
    season_fit,
    start_on,
)
from app.core.words import CountedFrom, Hardiness
from tests.factories import card, garden

FROST = garden().frost
SPREAD_DAYS = 12 / norm.ppf(0.9)


def fit_of(**changes):
    return season_fit(card(**changes), FROST, risk=0.10, autumn_risk=0.50)


def outdoors(**changes):
    """Return the changes that make a crop card one that is sown outside."""
    none = dict.fromkeys(("plant_out_weeks", "indoor_weeks_min", "indoor_weeks_max", "start_container", "light"))
    return {"direct_sow_weeks": 0.0, "counted_from": CountedFrom.SEED} | none | changes


@pytest.mark.parametrize(
    ("changes", "verdict", "indoors", "outside"),
    [
        # 13 Jun + 60 + 14 = 26 Aug, 4 days before 30 Aug; outside 42 days later still.
        ({"plant_out_weeks": 0, "direct_sow_weeks": 0}, Verdict.START_INDOORS, 4, -38),
        ({"plant_out_weeks": 0}, Verdict.START_INDOORS, 4, None),
        ({"plant_out_weeks": 0, "direct_sow_weeks": 0, "days_to_maturity": 20}, Verdict.EITHER_WAY, 44, 2),
        ({"plant_out_weeks": 0, "days_to_maturity": 65}, Verdict.TOO_LONG, -1, None),
        ({"plant_out_weeks": 0, "days_to_maturity": 64}, Verdict.START_INDOORS, 0, None),
        (outdoors(days_to_maturity=64), Verdict.SOW_OUTSIDE, None, 0),
        (outdoors(days_to_maturity=65), Verdict.TOO_LONG, None, -1),
    ],
)
def test_a_verdict_follows_from_the_days_to_spare(changes, verdict, indoors, outside):
    fit = fit_of(**changes)
    assert (fit.verdict, fit.days_indoors, fit.days_outdoors) == (verdict, indoors, outside)


def test_what_fits_the_bed_alone_is_sown_outside():
    # Chosen in docs/method.md, section 5: it is sown twelve weeks before it could be set out, so only the bed fits.
    fit = fit_of(
        hardiness=Hardiness.HARDY,
        plant_out_weeks=6,
        direct_sow_weeks=-6,
        indoor_weeks_min=1,
        days_to_maturity=60,
        counted_from=CountedFrom.SEED,
    )
    assert fit.days_outdoors > 0 > fit.days_indoors
    assert fit.verdict is Verdict.SOW_OUTSIDE


@pytest.mark.parametrize(
    ("hardiness", "grace"),
    [
        (Hardiness.VERY_HARDY, 28),
        (Hardiness.HARDY, 14),
        (Hardiness.HALF_HARDY, 7),
        (Hardiness.TENDER, 0),
        (Hardiness.VERY_TENDER, -7),
    ],
)
def test_hardy_crops_stand_on_after_the_first_freeze(hardiness, grace):
    # docs/method.md, section 5; 18 August is the date at 10 %.
    assert GRACE_DAYS[hardiness] == grace
    assert (season_end(FROST, hardiness, 0.10) - date(2027, 8, 18)).days == grace


@pytest.mark.parametrize(
    ("hardiness", "weeks", "start"),
    [
        (Hardiness.VERY_HARDY, -4, date(2027, 5, 4)),
        (Hardiness.HARDY, -1.5, date(2027, 5, 22)),
        (Hardiness.HALF_HARDY, 0, date(2027, 6, 1)),
        (Hardiness.TENDER, 0, date(2027, 6, 13)),
        (Hardiness.VERY_TENDER, 1, date(2027, 6, 13)),
        (Hardiness.TENDER, 2, date(2027, 6, 15)),
    ],
)
def test_only_tender_crops_wait_for_the_risk(hardiness, weeks, start):
    assert start_on(FROST, hardiness, weeks, 0.10) == start


def test_days_counted_from_planting_out_gain_the_shortest_time_indoors_from_seed():
    # Common practice. 6.5 weeks are 46 days.
    tomato = card(indoor_weeks_min=6.5, days_to_maturity=60, counted_from=CountedFrom.TRANSPLANT)
    assert (days_from_transplant(tomato), days_from_seed(tomato)) == (60, 106)


def test_days_counted_from_seed_lose_the_shortest_time_indoors_from_planting_out():
    onion = card(indoor_weeks_min=9, days_to_maturity=120, counted_from=CountedFrom.SEED)
    assert (days_from_transplant(onion), days_from_seed(onion)) == (57, 120)


def test_without_a_time_indoors_both_counts_are_one():
    radish = card(**outdoors(days_to_maturity=28, counted_from=CountedFrom.TRANSPLANT))
    assert (days_from_transplant(radish), days_from_seed(radish)) == (28, 28)


@pytest.mark.parametrize("hardiness", list(Hardiness))
def test_the_chance_to_ripen_is_that_of_no_freeze_before_the_last_picking(hardiness):
    # The normal law of scipy. R is the end of picking less the grace; a freeze on or before the day before R spoils it.
    fit = fit_of(hardiness=hardiness, plant_out_weeks=2)
    start = 166  # 15 June, after both the average and the 10 % date
    ripe = start + 60 + 14 - GRACE_DAYS[hardiness]
    assert fit.chance_ripe == pytest.approx(1 - norm.cdf((ripe - 1 - 242) / SPREAD_DAYS), abs=1e-9)


def test_the_chance_to_ripen_of_a_crop_sown_outside_is_counted_from_its_sowing():
    fit = fit_of(**outdoors(days_to_maturity=60, harvest_days=0))
    assert fit.chance_ripe == pytest.approx(1 - norm.cdf((164 + 60 - 1 - 242) / SPREAD_DAYS), abs=1e-9)


def test_with_a_record_the_chance_to_ripen_is_counted_over_its_years():
    # 13 Jun + 60 + 14 = 26 Aug, day 238: years of a first freeze on that day or later ripen, and the one without.
    # The year with ten missing days does not count.
    years = np.arange(2001, 2013)
    freeze = np.array([236, 237, 238, 239, 250, 260, 270, 365, 380, 0, 200, 237])
    autumn = Half(years=years, freeze=freeze, freezes=freeze > 0, missing=np.where(years == 2011, 10, 9))
    tomato = card(plant_out_weeks=0)
    fit = season_fit(tomato, FROST, risk=0.10, autumn_risk=0.50, autumn=autumn)
    assert fit.chance_ripe == pytest.approx(8 / 11)
    hardy = season_fit(
        replace(tomato, hardiness=Hardiness.HALF_HARDY), FROST, risk=0.10, autumn_risk=0.5, autumn=autumn
    )
    assert hardy.chance_ripe == 1  # 12 days earlier, and a week of grace


def test_where_freezes_come_too_rarely_for_the_risk_there_is_nothing_to_wait_for():
    spring = replace(FROST.spring, share=0.6)
    rare = replace(FROST, spring=spring)
    for risk in (0.6, 0.9):
        with pytest.raises(NoFrostDateError):
            rare.spring_on(risk)
        assert start_on(rare, Hardiness.TENDER, 1, risk) == rare.spring_on(0.5) + timedelta(days=7)


def test_a_day_of_ones_own_takes_the_place_of_the_first_day_outside():
    squash = card(direct_sow_weeks=0, plant_out_weeks=0)
    fit = season_fit(squash, FROST, risk=0.10, autumn_risk=0.50, outside_on=date(2027, 6, 1))
    assert (fit.days_indoors, fit.days_outdoors) == (16, -38)
    bean = card(**outdoors(days_to_maturity=60))
    assert season_fit(bean, FROST, risk=0.10, autumn_risk=0.50, outside_on=date(2027, 6, 1)).days_outdoors == 16


@given(st.integers(20, 120), st.integers(0, 30))
def test_a_longer_crop_never_has_more_days_to_spare_nor_a_better_chance(days, harvest):
    one = fit_of(direct_sow_weeks=0, days_to_maturity=days, harvest_days=harvest)
    longer = fit_of(direct_sow_weeks=0, days_to_maturity=days + 1, harvest_days=harvest)
    assert longer.days_indoors == one.days_indoors - 1
    assert longer.days_outdoors == one.days_outdoors - 1
    assert longer.chance_ripe < one.chance_ripe


@given(st.floats(0.02, 0.98), st.floats(0.02, 0.98))
def test_a_bolder_garden_never_has_fewer_days(one, other):
    safe, bold = sorted((one, other))
    tomato = card(plant_out_weeks=0)
    fits = [season_fit(tomato, FROST, risk=risk, autumn_risk=risk).days_indoors for risk in (safe, bold)]
    assert fits[0] <= fits[1]
