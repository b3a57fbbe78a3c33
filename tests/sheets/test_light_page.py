"""Light in words and as a picture."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.plan import make_plan
from app.core.words import WINDOW, Light, Place
from app.sheets.light_page import CHART_HEIGHT, CHART_WIDTH, hours_words, make_light_page, need_of
from tests.factories import card, container, garden, shelf, sowing

RACK = shelf(Place.LAMP, id=4, name="Rack", ppfd=200.0, hours_per_day=16.0)


def light_of(rows=None, **changes):
    return make_light_page(make_plan(garden([sowing()] if rows is None else rows, **changes)))


# 12 mol at 200 umol take 12e6 / (200 x 3600) = 16.67 h, at 250 umol 13.33 h; at 100 umol 33 h.
@pytest.mark.parametrize(
    ("target", "ppfd", "hours", "words", "fits"),
    [
        (12, 200, 16, "16.7 h, 0.7 h too few", False),
        (12, 250, 16, "13.4 h, enough", True),
        (12, 200, 24, "16.7 h, enough", True),
        (11.52, 200, 16, "16 h, enough", True),  # to the hour
        (11.53, 200, 16, "16.1 h, 0.1 h too few", False),  # by less than a minute, and still too few
        (17.28, 200, 24, "24 h, enough", True),
        (12, 100, 16, "too weak: more than 24 h", False),
        (12, 0, 16, "too weak: more than 24 h", False),
        (0, 0, 0, "0 h, enough", True),
        (12, 200, None, "16.7 h, hours not given", None),
        (12, None, 16, "light not given", None),
        (None, 200, 16, "–", None),
    ],
)
def test_hours_are_said_in_tenths_rounded_up_and_held_against_the_lamp(target, ppfd, hours, words, fits):
    assert need_of(target, ppfd, hours) == (words, fits)


@pytest.mark.parametrize(
    ("hours", "words"), [(13.866, "13 h 52 min"), (24, "24 h 00 min"), (0, "0 h 00 min"), (11.9999, "12 h 00 min")]
)
def test_a_day_is_said_to_the_minute(hours, words):
    assert hours_words(hours) == words


def test_shelves_with_the_same_light_and_hours_share_a_column():
    shelves = (RACK, replace(RACK, id=5, name="Attic"), replace(RACK, id=6, name="Bay", hours_per_day=None))
    page = light_of(cards=(card(heat=False, dli_target=12.0),), shelves=shelves)
    assert [(one.names, one.gives) for one in page.settings] == [
        ("Attic and Rack", "200 µmol/m²/s, 16 h a day"),
        ("Bay", "200 µmol/m²/s, hours not given"),
    ]
    # 200 for 16 h are 11.52, the example of docs/method.md.
    assert [line[1:] for line in page.lamps] == [
        ("Attic", "200", "16", "11.5", "0 of 1 crop"),
        ("Bay", "200", "not given", "not given", "–"),
        ("Rack", "200", "16", "11.5", "0 of 1 crop"),
    ]
    (crop,) = page.crops
    assert [need.words for need in crop.needs] == ["16.7 h, 0.7 h too few", "16.7 h, hours not given"]
    # Under lamps from the sowing day, 1 May, to 11 June.
    assert crop.weeks == ("26 Apr – 13 Jun (W17 – W23)",)


def test_crops_that_never_stand_under_lamps_are_not_listed():
    page = light_of(cards=(card(light=Light.WINDOW),))
    assert page.crops == ()
    assert dict(page.facts)["Under lamps"] == "0 crops"


def test_a_crop_without_a_target_says_so_and_counts_for_no_shelf():
    page = light_of(cards=(card(heat=False),), shelves=(RACK,))
    assert page.crops[0].target == "none on its card"
    assert page.lamps[0].enough == "–"


def test_a_lamp_crop_planned_for_a_window_is_listed():
    page = light_of([sowing(), sowing(light=WINDOW, variety="Little Amber")])
    assert page.misplaced == ((2, "S002", "Tomato", "Little Amber", 1, "Ines Moreau"),)
    assert dict(page.facts)["Lamp crops at a window"] == "1 sowing"


def test_the_days_are_those_of_the_thursday_of_each_week_in_use():
    # 20 degrees south on 3 September 2020, a Thursday and day 247 of its leap year; FAO-56 prints 11.7 h for day 246.
    changes = {"season": 2021, "southern": True, "settings": {"latitude_deg": -20.0}}
    frosts = {
        "spring": {90: "10-20", 50: "11-01", 10: "11-13"},
        "autumn": {10: "03-18", 50: "03-30", 90: "04-11"},
    }
    sown = sowing(sow_on=date(2020, 8, 31).toordinal(), plant_out=date(2020, 11, 14).toordinal())
    page = light_of([sown], cards=(card(heat=False, light=Light.WINDOW),), **changes, **frosts)
    first = page.days[0]
    assert (first.monday, first.trays) == (date(2020, 8, 31), 1)
    assert first.hours == pytest.approx(11.7, abs=0.05)
    assert float(first.energy) == pytest.approx(32.2, abs=0.2)  # as printed for the day before
    assert dict(page.facts)["Latitude"] == "20° south"


@pytest.mark.parametrize(("southern", "first"), [(False, date(2026, 12, 28)), (True, date(2026, 6, 29))])
def test_without_trays_the_whole_growing_year_is_shown(southern, first):
    frosts = {
        True: {"spring": {50: "10-01"}, "autumn": {50: "04-01"}},
        False: {"spring": {50: "06-01"}, "autumn": {50: "08-30"}},
    }[southern]
    frosts = {
        side: dates | {10: month_day_later(dates, 12 if side == "spring" else -12)} for side, dates in frosts.items()
    }
    page = light_of([], southern=southern, **frosts)
    assert (len(page.days), page.days[0].monday) == (52, first)
    assert {day.trays for day in page.days} == {0}


def month_day_later(dates, days):
    day = date.fromordinal(date.fromisoformat(f"2027-{dates[50]}").toordinal() + days)
    return f"{day:%m-%d}"


@given(st.floats(-90, 90), st.booleans())
@settings(max_examples=80, deadline=None)
def test_the_curve_lies_inside_the_picture_at_every_latitude(latitude, has_trays):
    page = light_of([sowing()] if has_trays else [], settings={"latitude_deg": latitude})
    points = [tuple(map(float, point.split(","))) for point in page.chart.points.split()]
    assert len(points) == len(page.days)
    assert all(0 <= x <= CHART_WIDTH and 0 <= y <= CHART_HEIGHT for x, y in points)
    assert all(0 <= y <= CHART_HEIGHT for y, _ in page.chart.hours)
    assert 2 <= len(page.chart.hours) <= 8
    # On the scale of the lines that are drawn.
    (low_y, low), (high_y, high) = ((y, int(words.split()[0])) for y, words in page.chart.hours[:2])
    for (_, y), day in zip(points, page.days, strict=True):
        assert y == pytest.approx(low_y + (day.hours - low) * (high_y - low_y) / (high - low), abs=0.2)


def test_the_picture_is_said_in_words():
    page = light_of(containers=(container(),))
    assert page.chart.words.startswith(f"The day at the window: {page.days[0].length} in the week of Mon 26 Apr, ")
    assert page.chart.words.endswith("The table has every week.")
