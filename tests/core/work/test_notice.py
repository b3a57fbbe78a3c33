"""What a week means for each crop: by hand on the table of docs/method.md, and for every garden by days in turn.

The tender crop of tests/factories.py goes out on Sunday 13 June at the garden's risk, so on Saturday 19 June; sown six
to eight weeks before, from 24 April to 8 May. It is picked for 14 days, the season ends on 30 August.
"""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.calendar import as_day, monday_of_iso_week, week_number
from app.core.dates.emergence import EmergenceRow, Soil
from app.core.words import CountedFrom, Hardiness, Light, Place
from app.core.work.notice import Turn, notice_of
from tests.core import by_hand
from tests.core.gardens import Drawn, gardens
from tests.factories import card, garden, shelf, sowing, sowings

NOT_YET, NOW, LATE, PAST, TOO_LONG = Turn
FRIDAY, SATURDAY, SUNDAY, MONDAY = 4, 5, 6, 0
# Ripe 44 days after planting out: planted by 17 July, so sown by 5 June.
QUICK = {"days_to_maturity": 30}
NONE = dict.fromkeys(("start_container", "indoor_weeks_min", "indoor_weeks_max", "plant_out_weeks", "light"))
# Sown outside from 13 June; 40 days to maturity and cut in one go, so until 21 July.
BEAN = NONE | {
    "direct_sow_weeks": 0,
    "days_to_maturity": 40,
    "counted_from": CountedFrom.SEED,
    "harvest_days": 0,
}
SOUTH = {
    "southern": True,
    "spring": {90: "10-20", 50: "11-01", 10: "11-13"},
    "autumn": {10: "03-18", 50: "03-30", 90: "04-11"},
}


def week_of(text):
    return int(week_number(as_day(monday_of_iso_week(text))))


def notice(week, *cards, **changes):
    return notice_of(garden([], cards=cards or (card(),), **changes), week_of(week))


def indoors(week, *, places=None, **changes):
    only = {} if places is None else {"shelves": places}
    settings = {"settings": changes.pop("settings")} if "settings" in changes else {}
    (found,) = notice(week, card(**changes), **only, **settings)
    return found.indoors


def outdoors(week, **changes):
    (found,) = notice(week, card(**BEAN | changes))
    assert found.indoors is None
    return found.outdoors


def day(number):
    return date.fromordinal(number)


@pytest.mark.parametrize(
    ("week", "turn", "is_last"),
    [
        ("2026-W40", NOT_YET, False),
        ("2027-W15", NOT_YET, False),  # 12 to 18 April
        ("2027-W16", NOW, False),  # its last day but one is 24 April
        ("2027-W18", NOW, False),  # 3 to 9 May: 8 May is the last good day
        ("2027-W19", LATE, False),
        ("2027-W22", LATE, True),  # 31 May to 6 June
        ("2027-W23", PAST, False),
        ("2028-W01", PAST, False),
    ],
)
def test_a_crop_started_indoors_is_not_yet_due_then_due_late_and_past(week, turn, is_last):
    way = indoors(week, **QUICK)
    assert (way.turn, way.is_last_week) == (turn, is_last)
    assert [day(way.sow_from), day(way.sow_by)] == [date(2027, 4, 24), date(2027, 5, 8)]
    assert day(way.last_chance) == date(2027, 6, 5)


def test_a_window_that_the_last_chance_cuts_short_ends_with_it():
    # Ripe 74 days after planting out: sown by 6 May, a Thursday.
    assert [indoors(week).turn for week in ("2027-W17", "2027-W18", "2027-W19")] == [NOW, NOW, PAST]
    assert [indoors(week).is_last_week for week in ("2027-W17", "2027-W18", "2027-W19")] == [False, True, False]
    assert day(indoors("2027-W18").sow_by) == date(2027, 5, 6)


@pytest.mark.parametrize(
    ("hand_out", "first", "before", "last", "after"),
    [
        # Handed out on Sunday 13 June: from Sunday 18 April to Sunday 2 May.
        (SUNDAY, "2027-W15", "2027-W14", "2027-W17", "2027-W18"),
        # On Monday 14 June: from Monday 19 April to Monday 3 May.
        (MONDAY, "2027-W16", "2027-W15", "2027-W18", "2027-W19"),
    ],
)
def test_one_day_of_the_window_in_a_week_is_enough(hand_out, first, before, last, after):
    turns = [indoors(week, settings={"hand_out_weekday": hand_out}, **QUICK).turn for week in (before, first)]
    assert turns == [NOT_YET, NOW]
    turns = [indoors(week, settings={"hand_out_weekday": hand_out}, **QUICK).turn for week in (last, after)]
    assert turns == [NOW, LATE]


@pytest.mark.parametrize(
    ("days", "last", "after"),
    # Until Sunday 6 June, and until Monday the 7th.
    [(29, "2027-W22", "2027-W23"), (28, "2027-W23", "2027-W24")],
)
def test_a_last_chance_on_the_last_or_first_day_of_a_week_belongs_to_it(days, last, after):
    assert [indoors(week, days_to_maturity=days).turn for week in (last, after)] == [LATE, PAST]
    assert indoors(last, days_to_maturity=days).is_last_week
    assert not indoors("2027-W21", days_to_maturity=days).is_last_week


@pytest.mark.parametrize(
    ("week", "turn", "is_last"),
    [
        ("2027-W22", NOT_YET, False),
        ("2027-W23", NOW, False),  # 7 to 13 June
        ("2027-W28", NOW, False),
        ("2027-W29", NOW, True),  # 19 to 25 July
        ("2027-W30", PAST, False),
    ],
)
def test_a_crop_sown_outside_is_due_until_its_last_chance(week, turn, is_last):
    way = outdoors(week)
    assert (way.turn, way.is_last_week, day(way.sow_from), day(way.sow_by)) == (
        *(turn, is_last),
        *(date(2027, 6, 13), date(2027, 7, 21)),
    )


@pytest.mark.parametrize(
    ("week", "turn"),
    [
        ("2026-W37", NOT_YET),  # 7 to 13 September
        ("2026-W38", NOW),  # handed out on Saturday 14 November: from 19 September
        ("2026-W40", NOW),  # to 3 October, a Saturday
        ("2026-W41", LATE),
        ("2026-W49", LATE),  # harvest ends on 30 March: sown by 4 December
        ("2026-W50", PAST),
    ],
)
def test_south_of_the_equator_spring_comes_before_new_year(week, turn):
    (found,) = notice(week, card(), **SOUTH)
    assert found.indoors.turn is turn


def test_a_window_outside_goes_on_across_new_year():
    # 13 November 2026 to 18 February 2027; 2026 has 53 weeks.
    weeks = ("2026-W45", "2026-W46", "2026-W53", "2027-W01", "2027-W07", "2027-W08")
    turns = [notice(week, card(**BEAN), **SOUTH)[0].outdoors.turn for week in weeks]
    assert turns == [NOT_YET, NOW, NOW, NOW, NOW, PAST]


def test_a_window_indoors_goes_on_across_new_year():
    # Out on Saturday 6 March, 9 to 10 weeks indoors: from 26 December to 2 January.
    mild = {
        "spring": {90: "02-08", 50: "02-20", 10: "03-04"},
        "autumn": {10: "11-18", 50: "11-30", 90: "12-11"},
    }
    weeks = ("2026-W51", "2026-W52", "2026-W53", "2027-W01")
    crop = card(indoor_weeks_min=9, indoor_weeks_max=10)
    assert [notice(week, crop, **mild)[0].indoors.turn for week in weeks] == [NOT_YET, NOW, NOW, LATE]


def test_a_crop_that_is_too_long_here_is_so_in_every_week_and_says_by_how_much():
    # Planted out on 13 June and picked 74 + 10 days later, on 5 September: six days after 30 August.
    for week in ("2027-W10", "2027-W17", "2027-W40"):
        way = indoors(week, days_to_maturity=70)
        assert (way.turn, way.short_days, way.is_last_week, way.sow_on) == (TOO_LONG, 6, False, 0)
    # Sown outside on 13 June, ripe 80 days later on 1 September.
    assert (outdoors("2027-W25", days_to_maturity=80).turn, outdoors("2027-W25", days_to_maturity=80).short_days) == (
        TOO_LONG,
        2,
    )


def test_a_crop_whose_window_ends_before_it_begins_is_too_long_though_its_verdict_is_not():
    # Ripe from 13 June on 30 August, but handed out on the 19th: with no slack indoors it is six days short.
    way = indoors("2027-W17", days_to_maturity=64, indoor_weeks_max=6)
    assert (way.turn, way.short_days) == (TOO_LONG, 6)


def test_a_crop_grown_both_ways_has_an_answer_for_each():
    (found,) = notice("2027-W24", card(direct_sow_weeks=0, days_to_maturity=20))
    # Outside from 13 June; 20 days from transplanting are 62 from seed, and 14 of picking: until 15 June.
    assert (found.indoors.turn, found.outdoors.turn) == (LATE, NOW)
    assert (day(found.outdoors.sow_by), found.outdoors.is_last_week) == (date(2027, 6, 15), True)


@pytest.mark.parametrize(
    ("week", "weekday", "sown"),
    [
        ("2027-W17", SATURDAY, date(2027, 5, 1)),
        ("2027-W17", MONDAY, date(2027, 4, 26)),
        ("2027-W16", MONDAY, date(2027, 4, 24)),  # the window begins on the Saturday
        ("2027-W18", SUNDAY, date(2027, 5, 8)),  # and ends on the Saturday
        ("2027-W19", SUNDAY, date(2027, 5, 16)),
        ("2027-W22", SUNDAY, date(2027, 6, 5)),  # the last chance of all
    ],
)
def test_it_is_sown_on_the_sowing_day_of_the_week_as_far_as_the_window_goes(week, weekday, sown):
    way = indoors(week, settings={"sowing_weekday": weekday}, **QUICK)
    assert (day(way.sow_on), way.emerge_days) == (sown, 6)


def test_a_crop_stands_where_the_plan_puts_it():
    heat, lamp, window = (shelf(place) for place in (Place.HEAT, Place.LAMP, Place.WINDOW))
    for places, changes, first, light in (
        ((heat, lamp), {}, Place.HEAT, Place.LAMP),
        ((lamp,), {}, Place.LAMP, Place.LAMP),
        ((heat, window), {"light": Light.WINDOW, "heat": False}, Place.WINDOW, Place.WINDOW),
    ):
        way = indoors("2027-W17", places=places, **changes)
        assert (way.first_place, way.light_place) == (first, light)


@pytest.mark.parametrize(("bench", "soil"), [(5, Soil.TOO_COLD), (28, Soil.TOO_HOT), (20, None), (None, None)])
def test_a_bench_that_does_not_suit_is_named(bench, soil):
    row = EmergenceRow(entries=((5, 0), (10, 20), (20, 8), (30, 0)))
    places = (shelf(Place.HEAT, bench_temp_c=bench), shelf(Place.LAMP))
    assert indoors("2027-W17", places=places, emergence=row, germ_temp_c=20).soil is soil


def test_a_garden_without_crop_cards_has_an_empty_notice():
    assert notice_of(garden([], cards=()), week_of("2027-W17")) == ()


def test_what_growers_wish_for_changes_nothing():
    rows = [sowing(plants=500, risk=0.5, days_to_maturity=90, plant_out=as_day(date(2027, 5, 1)))]
    assert notice_of(garden(rows), week_of("2027-W17")) == notice("2027-W17")


def plain(drawn, crop, **changes):
    """Return a drawn garden with one plain sowing of one of its cards, changed where told."""
    cards = tuple(replace(one, **changes) if at == crop else one for at, one in enumerate(drawn.garden.cards))
    return replace(drawn, garden=replace(drawn.garden, cards=cards, sowings=sowings([sowing(crop=crop)])))


def expected(drawn: Drawn, monday):
    """Return turn, dates and missing days of a plain sowing, week day by week day, from the dates by hand."""
    dates, row = by_hand.dates_of(drawn, 0), by_hand.row_of(drawn.garden, 0)
    crop = drawn.garden.cards[row["crop"]]
    is_inside = crop.start_container is not None
    basis, weeks = (
        (CountedFrom.TRANSPLANT, crop.plant_out_weeks) if is_inside else (CountedFrom.SEED, crop.direct_sow_weeks)
    )
    end = drawn.autumn[drawn.garden.settings.autumn_risk] + timedelta(days=by_hand.GRACE[crop.hardiness])
    ripe = by_hand.start_of(drawn, row, weeks) + by_hand.maturity_of(crop, row, basis)
    short = max((ripe - end).days, (dates["sow_from"] - dates["last_chance"]).days, 0)
    days = [monday + timedelta(days=n) for n in range(7)]
    if short:
        turn = TOO_LONG
    elif any(dates["sow_from"] <= one <= dates["sow_by"] for one in days):
        turn = NOW
    elif all(one < dates["sow_from"] for one in days):
        turn = NOT_YET
    else:
        turn = LATE if any(one <= dates["last_chance"] for one in days) else PAST
    return turn, short, dates


@given(gardens(), st.integers(-30, 45))
def test_every_card_stands_once_on_each_side_with_the_dates_of_a_plain_sowing(drawn, weeks_on):
    monday = drawn.spring[0.5] + timedelta(days=7 * weeks_on - drawn.spring[0.5].weekday())
    found = notice_of(drawn.garden, int(week_number(as_day(monday))))
    assert [one.crop for one in found] == list(range(len(drawn.garden.cards)))
    for one, crop in zip(found, drawn.garden.cards, strict=True):
        assert (one.indoors is not None) == (crop.start_container is not None)
        assert (one.outdoors is not None) == (crop.direct_sow_weeks is not None)
        ways = [(one.indoors, plain(drawn, one.crop)), (one.outdoors, plain(drawn, one.crop, start_container=None))]
        for way, garden_of_one in ways:
            if way is None:
                continue
            turn, short, dates = expected(garden_of_one, monday)
            assert (way.turn, way.short_days) == (turn, short)
            assert [day(way.sow_from), day(way.sow_by), day(way.last_chance)] == [
                dates[name] for name in ("sow_from", "sow_by", "last_chance")
            ]
            last = turn in {NOW, LATE} and monday <= dates["last_chance"] < monday + timedelta(days=7)
            assert way.is_last_week == last
        if one.indoors is not None:
            _, _, dates = expected(plain(drawn, one.crop), monday)
            assert day(one.indoors.plant_out) == dates["plant_out"]
            assert one.indoors.emerge_days == (dates["emerges"] - dates["sow_on"]).days


def test_hardiness_moves_the_days_as_it_does_in_the_plan():
    # A hardy crop goes out by the average frost, 8 June, and lasts 14 days into autumn.
    way = indoors("2027-W16", hardiness=Hardiness.HARDY, **QUICK)
    assert (day(way.plant_out), day(way.sow_from)) == (date(2027, 6, 12), date(2027, 4, 17))
    assert day(way.last_chance) == date(2027, 6, 19)
