"""The dates of one sowing, counted back from planting out; by hand on the table of docs/method.md."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.calendar import NO_DAY, as_date, as_day
from app.core.dates.emergence import EmergenceRow
from app.core.dates.timeline import nearest_weekday
from app.core.plan import make_plan
from app.core.words import CountedFrom, Hardiness, Place
from tests.factories import card, garden, shelf, sowing

SATURDAY = 5
# Tomato of Harrington & Minges 1954 between 10 and 35 degrees: 8 days at 22 (7.06), 6 at 25.
TOMATO = EmergenceRow(entries=((5, 0), (10, 43), (15, 14), (20, 8), (25, 6), (30, 6), (35, 9), (40, 0)))


def tomato(**changes):
    """Return the tomato of docs/method.md, section 6."""
    fields = {
        "plant_out_weeks": 0,
        "indoor_weeks_min": 5,
        "indoor_weeks_max": 7,
        "days_to_maturity": 55,
        "germ_temp_c": 25,
        "emergence": TOMATO,
        "pot_on_container": 0,
        "pot_on_after_days": 14,
    }
    return card(**fields | changes)


def dates(*, bench=22, row=None, **changes):
    shelves = (shelf(Place.HEAT, bench_temp_c=bench), shelf(Place.LAMP), shelf(Place.HARDENING))
    times = make_plan(garden([row or sowing()], cards=(tomato(**changes),), shelves=shelves)).timeline
    return {name: as_date(getattr(times, name)[0]) for name in times.__dataclass_fields__}


def test_the_example_of_the_method_page():
    assert dates() == {
        "plant_out": date(2027, 6, 19),
        "last_chance": date(2027, 5, 16),
        "sow_from": date(2027, 4, 29),
        "sow_by": date(2027, 5, 13),
        "sow_best": date(2027, 5, 6),
        "sow_on": date(2027, 5, 8),
        "emerges": date(2027, 5, 16),
        "thin": date(2027, 5, 23),
        "pot_on": date(2027, 5, 30),
        "harden": date(2027, 6, 12),
    }


@pytest.mark.parametrize(
    ("bench", "emerge", "delay"),
    [(22, 8, 2), (25, 6, 0), (30, 6, 0), (20, 8, 2), (15, 14, 8), (35, 9, 3), (None, 6, 0)],
)
def test_a_bench_moves_emergence_and_the_time_indoors(bench, emerge, delay):
    times = dates(bench=bench)
    assert (times["emerges"] - times["sow_on"]).days == emerge
    assert times["sow_from"] == date(2027, 6, 19) - timedelta(days=49 + delay)
    assert times["last_chance"] == date(2027, 6, 22) - timedelta(days=35 + delay)


def test_a_bench_warmer_than_the_card_gains_days():
    times = dates(bench=25, germ_temp_c=15)
    assert (times["emerges"] - times["sow_on"]).days == 6
    assert times["sow_from"] == date(2027, 6, 19) - timedelta(days=49 - 8)


def test_the_coldest_bench_of_the_first_place_counts():
    shelves = (
        shelf(Place.HEAT, bench_temp_c=30),
        shelf(Place.HEAT, bench_temp_c=15),
        shelf(Place.HEAT),
        shelf(Place.LAMP, bench_temp_c=10),
    )
    times = make_plan(garden(cards=(tomato(),), shelves=shelves)).timeline
    assert times.emerges[0] - times.sow_on[0] == 14


@pytest.mark.parametrize("changes", [{"emergence": None}, {"germ_temp_c": None}, {"germ_temp_c": 3}])
def test_without_a_figure_for_the_card_its_own_days_hold_on_any_bench(changes):
    times = dates(bench=15, days_to_emerge=9, **changes)
    assert (times["emerges"] - times["sow_on"]).days == 9
    assert times["sow_from"] == date(2027, 6, 19) - timedelta(days=49)


@given(st.integers(700_000, 740_000), st.integers(-20, 20), st.integers(0, 40), st.integers(0, 6))
def test_the_nearest_sowing_day_is_that_of_a_search_over_the_window(first, offset, length, weekday):
    best, last = first + offset, first + length
    days = [day for day in range(first, last + 1) if date.fromordinal(day).weekday() == weekday]
    expected = min(days, key=lambda day: (abs(day - best), day), default=best)
    if not first <= best <= last:
        return  # the middle of a window lies in it
    assert nearest_weekday(np.array([best]), np.array([first]), np.array([last]), weekday)[0] == expected


def test_an_exact_tie_goes_to_the_earlier_day():
    # Weekdays are seven apart, so two are never as near; a window cut short decides between them.
    wednesday = as_day(date(2027, 5, 5))
    found = [
        nearest_weekday(*(np.array([day]) for day in (wednesday, first, last)), SATURDAY)[0] - wednesday
        for first, last in ((wednesday - 4, wednesday + 3), (wednesday - 4, wednesday + 2), (wednesday, wednesday + 2))
    ]
    assert found == [3, -4, 0]


def test_a_window_without_a_sowing_day_is_sown_on_its_best_day():
    # Two days wide around Tuesday.
    times = dates(bench=25, indoor_weeks_min=5, indoor_weeks_max=5, pot_on_container=None)
    assert times["sow_from"] == times["sow_by"] == times["sow_best"] == date(2027, 5, 15)
    times = dates(bench=25, row=sowing(plant_out=as_day(date(2027, 6, 15))), indoor_weeks_max=5)
    assert times["sow_on"] == date(2027, 5, 11) == times["sow_best"]


def test_the_middle_of_an_odd_window_goes_to_the_earlier_side():
    times = dates(bench=25, indoor_weeks_max=5.5)
    assert (times["sow_by"] - times["sow_from"]).days == 4
    times = dates(bench=25, indoor_weeks_max=6)
    assert (times["sow_by"] - times["sow_from"]).days == 7
    assert (times["sow_best"] - times["sow_from"]).days == 3


def test_a_last_chance_within_the_window_brings_it_forward():
    # Six days longer: the last chance is 10 May, in the window of 29 April to 13 May.
    times = dates(days_to_maturity=61)
    assert times["last_chance"] == times["sow_by"] == date(2027, 5, 10)
    assert times["sow_best"] == date(2027, 5, 6)
    times = dates(days_to_maturity=70)
    assert times["sow_by"] == times["sow_best"] == times["last_chance"] == date(2027, 5, 1) == times["sow_on"]


def test_a_sowing_that_is_too_long_keeps_its_dates():
    times = dates(days_to_maturity=75)
    assert times["last_chance"] == date(2027, 4, 26)
    assert (times["sow_from"], times["sow_by"]) == (date(2027, 4, 29), date(2027, 5, 13))


def test_days_of_the_variety_go_before_those_of_the_card():
    assert dates(row=sowing(days_to_maturity=61))["last_chance"] == date(2027, 5, 10)
    # Counted from seed as the card counts: 96 less the 35 days indoors.
    own = sowing(days_to_maturity=96)
    assert dates(row=own, days_to_maturity=200, counted_from=CountedFrom.SEED)["last_chance"] == date(2027, 5, 10)


def test_potting_on_that_would_not_come_before_hardening_is_left_out():
    assert dates(pot_on_after_days=26)["pot_on"] == date(2027, 6, 11)
    assert dates(pot_on_after_days=27)["pot_on"] is None


def test_hardening_waits_for_emergence():
    late = sowing(sow_on=as_day(date(2027, 6, 8)))
    times = dates(row=late)
    assert times["emerges"] == times["harden"] == date(2027, 6, 16)
    assert times["pot_on"] is None


def test_only_cells_with_more_seeds_than_plants_are_thinned():
    assert dates(seeds_per_cell=3, plants_per_cell=2)["thin"] == date(2027, 5, 23)
    assert dates(seeds_per_cell=2, plants_per_cell=2)["thin"] is None


def test_the_growers_own_date_is_kept():
    own = date(2027, 6, 2)
    times = dates(row=sowing(plant_out=as_day(own)))
    assert times["plant_out"] == own
    assert times["sow_by"] == own - timedelta(days=37)


def test_a_set_sowing_day_is_kept_and_moves_what_follows():
    day = date(2027, 5, 1)
    times = dates(row=sowing(sow_on=as_day(day)))
    assert (times["sow_on"], times["emerges"], times["pot_on"]) == (day, day + timedelta(8), day + timedelta(22))
    assert (times["sow_best"], times["plant_out"]) == (date(2027, 5, 6), date(2027, 6, 19))


@pytest.mark.parametrize(
    ("risk", "plant_out"), [(0.9, date(2027, 6, 5)), (0.10, date(2027, 6, 19)), (0.0, date(2027, 6, 19))]
)
def test_a_bolder_sowing_goes_out_earlier(risk, plant_out):
    # 1 June at 90 and 50 %, since a tender crop never goes out before the average; 13 June at the garden's 10 %.
    assert dates(row=sowing(risk=risk))["plant_out"] == plant_out


def test_a_hand_out_day_on_the_first_day_outside_is_taken():
    # 1 June 2027 is a Tuesday.
    hardy = card(hardiness=Hardiness.HARDY, plant_out_weeks=0)
    for weekday, day in ((1, date(2027, 6, 1)), (0, date(2027, 6, 7)), (2, date(2027, 6, 2))):
        plan = make_plan(garden(cards=(hardy,), settings={"hand_out_weekday": weekday}))
        assert as_date(plan.timeline.plant_out[0]) == day


def test_a_crop_sown_outside_has_a_window_and_nothing_else():
    none = dict.fromkeys(("plant_out_weeks", "indoor_weeks_min", "indoor_weeks_max", "start_container", "light"))
    beans = card(**none, direct_sow_weeks=0, days_to_maturity=55, counted_from=CountedFrom.SEED)
    times = make_plan(garden([sowing(plant_out=as_day(date(2027, 6, 2)))], cards=(beans,))).timeline
    assert as_date(times.sow_from[0]) == as_date(times.sow_best[0]) == date(2027, 6, 13)
    assert as_date(times.sow_by[0]) == as_date(times.last_chance[0]) == date(2027, 8, 30) - timedelta(days=69)
    others = ("sow_on", "emerges", "thin", "pot_on", "harden", "plant_out")
    assert [int(getattr(times, name)[0]) for name in others] == [NO_DAY] * 6


def test_a_window_runs_on_across_new_year():
    # South, invented: last frost on 5 December; six weeks before that, and eight indoors, is 29 August.
    leek = card(
        hardiness=Hardiness.HARDY,
        plant_out_weeks=4,
        indoor_weeks_min=6,
        indoor_weeks_max=8,
        days_to_maturity=40,
        harvest_days=0,
    )
    frost = {"spring": {90: "11-25", 50: "12-05", 10: "12-15"}, "autumn": {10: "03-20", 50: "04-01", 90: "04-12"}}
    times = make_plan(garden(cards=(leek,), season=2027, southern=True, **frost)).timeline
    assert as_date(times.plant_out[0]) == date(2027, 1, 2)
    assert as_date(times.sow_from[0]) == date(2026, 11, 7)
    assert as_date(times.sow_on[0]) == date(2026, 11, 14)
    assert as_date(times.last_chance[0]) == date(2027, 4, 15) - timedelta(days=40 + 42)
