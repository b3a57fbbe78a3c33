"""Dates counted back from planting out against worked examples of extension services, and common practice."""

from datetime import date, timedelta

import pytest

from app.core.calendar import as_date, as_day, days_of_weeks
from app.core.dates.frost import frost_dates
from app.core.plan import make_plan
from app.core.plants.season import Verdict, season_fit, start_on
from app.core.words import CountedFrom, Hardiness
from tests.factories import card, garden, sowing
from tests.published.tables import read_rows

KANSAS = read_rows("kansas_seeding_dates.csv")


def plan_for(example, rows, frost, plant_out_weeks):
    weeks = float(example["weeks"])
    crop = card(
        hardiness=Hardiness.HARDY, plant_out_weeks=plant_out_weeks, indoor_weeks_min=weeks, indoor_weeks_max=weeks
    )
    return make_plan(garden(rows, cards=(crop,), frost=frost))


@pytest.mark.parametrize("example", KANSAS, ids=lambda row: f"{row['crop']} {row['transplant_on'][:4]}")
def test_seed_is_sown_on_the_saturday_that_kansas_prints(example):
    transplant_on = date.fromisoformat(example["transplant_on"])
    frost = frost_dates("05-10", "12-01", season=transplant_on.year, southern=False)
    plan = plan_for(example, [sowing(plant_out=as_day(transplant_on))], frost, 0)
    assert as_date(plan.timeline.sow_on[0]) == date.fromisoformat(example["seeding_on"])


@pytest.mark.parametrize("example", KANSAS, ids=lambda row: f"{row['crop']} {row['transplant_on'][:4]}")
def test_counted_from_the_frost_the_day_is_the_same(example):
    transplant_on = date.fromisoformat(example["transplant_on"])
    last_frost = transplant_on + timedelta(weeks=2)
    frost = frost_dates(f"{last_frost:%m-%d}", "12-01", season=transplant_on.year, southern=False)
    plan = plan_for(example, [sowing()], frost, -2)
    assert as_date(plan.timeline.plant_out[0]) == transplant_on
    assert as_date(plan.timeline.sow_on[0]) == date.fromisoformat(example["seeding_on"])


def test_three_weeks_after_the_last_frost_of_denver_is_memorial_day():
    # C. Wilson, Colorado State University Extension, Front Range Food Gardener, 9 April 2010: last frost about
    # 10 May, many wait until 31 May with peppers, eggplants and squash.
    frost = frost_dates("05-10", "10-05", season=2010, southern=False)
    assert start_on(frost, Hardiness.TENDER, 3, 0.5) == date(2010, 5, 31)


def test_weeks_in_tenths_are_whole_days():
    # T. Beddes, When to Plant? That is the Question, Utah State University Extension, March 2021: hardy crops 45
    # to 60 days before the average last frost, -8.6 to -6.4 weeks in the tables of this project.
    assert (days_of_weeks(-8.6), days_of_weeks(-6.4)) == (-60, -45)


@pytest.mark.parametrize(("weeks", "days"), [(1.5, 11), (-1.5, -10), (0.5, 4), (-0.5, -3), (6, 42), (0, 0), (3.1, 22)])
def test_half_days_are_rounded_up(weeks, days):
    # By hand; 3.1 weeks are the 22 days of Horticultura Brasileira 21(3), 2003.
    assert days_of_weeks(weeks) == days


@pytest.mark.parametrize("frost_free_days", [85, 90, 95])
def test_a_crop_of_ninety_days_is_started_indoors_where_the_season_has_as_many(frost_free_days):
    # Common practice: with 85 to 95 frost-free days a crop of about 90 days from sowing to fruit gets a head start.
    first = date(2027, 6, 1) + timedelta(days=frost_free_days)
    frost = frost_dates("06-01", f"{first:%m-%d}", season=2027, southern=False)
    crop = card(
        plant_out_weeks=0,
        direct_sow_weeks=0,
        indoor_weeks_min=5,
        indoor_weeks_max=7,
        days_to_maturity=90,
        counted_from=CountedFrom.SEED,
        harvest_days=0,
    )
    fit = season_fit(crop, frost, risk=0.10, autumn_risk=0.50)
    assert frost.frost_free_days() == frost_free_days
    assert fit.verdict is Verdict.START_INDOORS


def test_the_same_crop_may_be_sown_outside_where_the_season_is_long():
    # Common practice: half a year without frost carries it from seed.
    frost = frost_dates("04-15", "10-15", season=2027, southern=False)
    crop = card(plant_out_weeks=0, direct_sow_weeks=0, days_to_maturity=90, counted_from=CountedFrom.SEED)
    assert season_fit(crop, frost, risk=0.10, autumn_risk=0.50).verdict is Verdict.EITHER_WAY


def test_the_tomato_of_the_method_page():
    # docs/method.md, sections 5 and 6: worked out there apart from the program.
    tomato = card(
        plant_out_weeks=0,
        direct_sow_weeks=0,
        indoor_weeks_min=5,
        indoor_weeks_max=7,
        days_to_maturity=55,
        pot_on_container=0,
        pot_on_after_days=14,
        days_to_emerge=8,
    )
    plan = make_plan(garden(cards=(tomato,)))
    fit = plan.fits[0]
    assert (fit.verdict, fit.days_indoors, fit.days_outdoors) == (Verdict.START_INDOORS, 9, -26)
    assert fit.chance_ripe == pytest.approx(0.86, abs=0.005)
    assert as_date(plan.timeline.plant_out[0]) == date(2027, 6, 19)
