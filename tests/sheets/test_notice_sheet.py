"""The board notice: every crop in its list, the words beside it, and the one page it prints on."""

import re
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from app.core.dates.record import Freezes, Half
from app.core.words import CountedFrom, FrostSource, Hardiness, Light, Place, Units
from app.sheets.notice import NoticeFacts, make_board_notice
from app.sheets.pdf import Paper, Template, make_pdf
from tests.factories import card, container, garden, shelf
from tests.sheets.apart import make_pdf_apart
from tests.sheets.reading import beyond_margins, leaves, overlapping, pages, squashed, text_of
from tests.sheets.test_pdf_of_sheets import HOSTILE, MARGIN_MM, SIZES

TODAY = date(2027, 4, 10)
BUSY = date(2027, 5, 17)
FIRST = date(2027, 1, 4)
SEASON = [FIRST + timedelta(weeks=n) for n in range(36)]
# A tender crop out on 19 June; six to eight weeks indoors are 24 April to 8 May, see test_notice.py of the core.
QUICK = {"days_to_maturity": 30}
BEAN = dict.fromkeys(("start_container", "indoor_weeks_min", "indoor_weeks_max", "plant_out_weeks", "light")) | {
    "id": 2,
    "name": "Bean",
    "direct_sow_weeks": 0,
    "days_to_maturity": 40,
    "counted_from": CountedFrom.SEED,
    "harvest_days": 0,
}


def facts(**changes):
    fields = {
        "units": Units.METRIC,
        "today": TODAY,
        "cucurbits": frozenset(),
        "frost_source": FrostSource.TABLE,
    }
    return NoticeFacts(**fields | changes)


def notice(monday, *cards, say=None, **changes):
    return make_board_notice(garden([], cards=cards or (card(**QUICK),), **changes), monday, say or facts())


def start(monday, *, say=None, settings=None, **changes):
    (line,) = notice(monday, card(**QUICK | changes), say=say, settings=settings or {}).starts
    return line


def reasons(sheet):
    """Return the lists of what is not for the week: crops with the day of their group and their own words."""
    return {
        reason.head: [(group.day, line.crop, line.words) for group in reason.groups for line in group.crops]
        for reason in sheet.others
    }


def sides(sheet):
    """Return the names on each side, as often as they stand there."""
    listed = reasons(sheet)

    def names(*heads):
        return [crop for head in heads for _, crop, _ in listed.get(head, [])]

    both = names("Too long here")
    inside = [line.crop for line in (*sheet.starts, *sheet.late)]
    inside += names("Not yet: start indoors from", "Past its last chance indoors", "Too long indoors: sow outside")
    outside = [line.crop for line in sheet.outside]
    outside += names("Not yet: sow outside from", "Past its last chance outside", "Too long outside: start indoors")
    return inside, outside, both


@pytest.fixture(scope="module")
def demo_notice(demo):
    def make(monday, units=Units.METRIC):
        say = facts(units=units, cucurbits=frozenset({1}))
        return make_board_notice(demo.plan.garden, monday, say)

    return make


def test_a_crop_to_start_now_is_told_with_all_that_sowing_it_takes():
    # Sown on Saturday 1 May, up 6 days later.
    line = start(date(2027, 4, 26))
    told = (line.crop, line.container, line.seeds, line.depth, line.place)
    assert told == ("Tomato", "72-cell tray", "2", "6\u00a0mm", "heat, then lamp")
    assert (line.cover_days, line.cover_off, line.sow_by) == ("6 days", "Fri 7 May", "Sat 8 May")
    assert (line.sown, line.sow_from, line.is_last, line.note) == ("", "", False, "")


def test_a_window_that_begins_in_the_week_says_from_when():
    assert start(date(2027, 4, 19)).sow_from == "Sat 24 Apr"
    monday = start(date(2027, 4, 19), settings={"sowing_weekday": 0})
    assert (monday.sown, monday.cover_off) == ("Sat 24 Apr", "Fri 30 Apr")


def test_the_last_week_says_so():
    line = start(date(2027, 5, 3), days_to_maturity=60)
    assert (line.is_last, line.sow_by) == (True, "Thu 6 May")


def test_depth_is_said_in_the_units_of_the_garden():
    week = date(2027, 4, 26)
    assert start(week, say=facts(units=Units.US)).depth == "1/4\u00a0in"
    assert start(week, say=facts(units=Units.US), sow_depth_mm=38.1).depth == "1\u00a01/2\u00a0in"
    assert start(week, sow_depth_mm=0.0).depth == "surface"
    assert start(week, sow_depth_mm=None).depth == ""


def test_a_crop_stands_where_there_is_room_of_its_kind():
    shelves = (shelf(Place.LAMP), shelf(Place.WINDOW))
    crop = card(**QUICK, light=Light.WINDOW)
    assert notice(date(2027, 4, 26), crop, shelves=shelves).starts[0].place == "window"


def test_each_crop_moves_through_the_lists_with_the_weeks():
    crops = (card(**QUICK), card(**BEAN))
    spring, late, summer, after = (date(2027, 4, 5), date(2027, 5, 31), date(2027, 7, 19), date(2027, 8, 2))
    assert reasons(notice(spring, *crops)) == {
        "Not yet: start indoors from": [("24 Apr", "Tomato", "")],
        "Not yet: sow outside from": [("13 Jun", "Bean", "")],
    }
    assert [(line.crop, line.words, line.is_last) for line in notice(late, *crops).late] == [("Tomato", "5 Jun", True)]
    assert [(line.crop, line.words, line.is_last) for line in notice(summer, *crops).outside] == [
        ("Bean", "13 Jun – 21 Jul", True)
    ]
    assert reasons(notice(after, *crops)) == {
        "Past its last chance indoors": [("", "Tomato", "")],
        "Past its last chance outside": [("", "Bean", "")],
    }


def test_crops_that_are_not_due_stand_by_their_first_day():
    crops = [card(id=n, name=f"Crop {n}", indoor_weeks_max=9 if n == 3 else 8, **QUICK) for n in (1, 2, 3)]
    assert reasons(notice(FIRST, *crops)) == {
        "Not yet: start indoors from": [
            *(("17 Apr", "Crop 3", ""), ("24 Apr", "Crop 1", ""), ("24 Apr", "Crop 2", "")),
        ]
    }


def test_too_long_is_said_of_every_way_or_of_one_with_the_way_that_is_left():
    # As in test_notice.py of the core: six days, and from seed outside 42 more.
    crops = (
        card(days_to_maturity=70),
        card(id=2, name="Pepper", days_to_maturity=70, direct_sow_weeks=0),
        card(id=3, name="Kale", days_to_maturity=30, direct_sow_weeks=0),
        # Out on 8 June and picked by 20 September, a week after the season of hardy crops; sown on 30 March it fits.
        card(id=4, name="Parsnip", days_to_maturity=90, direct_sow_weeks=-9, hardiness=Hardiness.HARDY),
    )
    assert reasons(notice(FIRST, *crops)) == {
        "Not yet: start indoors from": [("24 Apr", "Kale", "")],
        "Not yet: sow outside from": [("30 Mar", "Parsnip", "")],
        "Too long indoors: sow outside": [("", "Parsnip", "7 days")],
        "Too long here": [("", "Tomato", "6 days"), ("", "Pepper", "6 days")],
        "Too long outside: start indoors": [("", "Kale", "8 days")],
    }


def test_crops_are_planted_out_in_the_week_of_their_hand_out_day():
    weeks = [date(2027, 6, 7), date(2027, 6, 14), date(2027, 6, 21)]
    assert [[line.crop for line in notice(week).planted] for week in weeks] == [[], ["Tomato"], []]
    assert notice(weeks[1]).planted_on == "Sat 19 Jun"
    assert notice(weeks[1], card(days_to_maturity=70)).planted == ()


def test_days_of_another_year_carry_it():
    sheet = notice(date(2026, 10, 5))
    assert reasons(sheet) == {"Not yet: start indoors from": [("24 Apr 2027", "Tomato", "")]}
    assert (sheet.week, sheet.number, sheet.iso, sheet.season) == ("5 – 11 Oct", "W41", "2026-W41", 2027)


@pytest.mark.parametrize(
    ("source", "words"),
    [(FrostSource.TABLE, "published table"), (FrostSource.DATES, "an average last and first frost")],
)
def test_the_frost_line_says_where_its_dates_come_from_and_what_they_risk(source, words):
    frost = notice(FIRST, say=facts(frost_source=source)).frost
    assert words in frost
    # docs/method.md, section 2: 13 June at 10 %, 30 August at 50 %.
    assert "A freeze on 13 Jun or later comes in 1 spring in 10; tender crops wait for that day." in frost
    assert "A freeze by 30 Aug comes in 1 autumn in 2." in frost


def test_a_stations_record_is_named_with_its_years():
    years = np.arange(1996, 2026)
    half = Half(years=years, freeze=years % 20, freezes=years > 0, missing=np.where(years < 1999, 10, 0))
    station = Freezes(threshold_c=0.0, spring=half, autumn=half)
    sheet = notice(FIRST, station=station, say=facts(frost_source=FrostSource.STATION))
    # Three of thirty years miss ten days.
    assert sheet.frost.startswith("Frost dates: 27 years of a weather station’s record. A freeze on 13 Jun")


def test_where_springs_freeze_too_rarely_for_the_risk_no_date_is_made_up():
    frost = garden().frost
    rare = replace(frost, spring=replace(frost.spring, share=0.6))
    said = notice(FIRST, frost=rare, settings={"risk": 0.7}).frost
    assert "Freezes come in too few springs here for a date at the garden’s risk. A freeze by 30 Aug" in said


def test_cautions_stand_where_their_risk_is():
    def heads(monday, **say):
        return [caution.head.split()[0] for caution in notice(monday, say=facts(**say)).cautions]

    cucurbit = {"cucurbits": frozenset({1})}
    assert heads(FIRST, **cucurbit) == ["dates"]
    assert heads(date(2027, 4, 26)) == ["dates", "dust"]
    assert heads(date(2027, 4, 26), **cucurbit) == ["dates", "dust", "plants"]
    assert heads(date(2027, 6, 14), **cucurbit) == ["dates", "plants"]


@pytest.mark.parametrize("monday", SEASON[::3], ids=str)
def test_every_crop_card_stands_exactly_once_on_each_side(demo, demo_notice, monday):
    inside, outside, both = sides(demo_notice(monday))
    cards = demo.plan.garden.cards
    assert len(both) == len(set(both))
    # What is too long in every way it is grown stands in one list for all of them.
    assert sorted(inside) == sorted({one.name for one in cards if one.is_started_indoors} - set(both))
    assert sorted(outside) == sorted({one.name for one in cards if one.direct_sow_weeks is not None} - set(both))


def test_a_crop_has_the_dates_of_a_grower_who_set_none(demo, demo_notice):
    garden, times = demo.plan.garden, demo.plan.timeline
    rows, checked = garden.sowings, 0
    for index in range(len(rows)):
        own = (rows.plant_out, rows.sow_on, rows.risk, rows.days_to_maturity)
        if any(values[index] for values in own) or rows.light[index] >= 0 or not times.sow_on[index]:
            continue
        monday = date.fromordinal(int(times.sow_on[index]))
        monday -= timedelta(days=monday.weekday())
        name = garden.cards[rows.crop[index]].name
        for line in demo_notice(monday).starts if checked < 40 else ():
            if line.crop == name and not line.sown:  # the plan takes the sowing day of the week, as the notice does
                assert line.cover_off.endswith(f"{date.fromordinal(int(times.emerges[index])):%-d %b}")
                assert line.sow_by.endswith(f"{date.fromordinal(int(times.sow_by[index])):%-d %b}")
                checked += 1
    assert checked == 40


@pytest.mark.parametrize("paper", list(Paper), ids=str)
def test_the_demo_gardens_notice_is_one_page_in_every_week_and_can_be_read_from_a_metre(demo_notice, paper):
    units = Units.US if paper is Paper.LETTER else Units.METRIC
    for monday in SEASON:
        sheet = demo_notice(monday, units)
        (leaf,) = leaves(make_pdf(Template.NOTICE, sheet, paper))
        assert (leaf.width, leaf.height) == pytest.approx(SIZES[paper], abs=0.1)
        assert beyond_margins(leaf, MARGIN_MM) == []
        assert overlapping(leaf) == []
        # Chosen: what is to be done now is set in 9.5 points or more, 1.8 mm for the small letters.
        # A line of Noto Sans is 1.362 of its size; the first word of a bar is set 1.15 times as large.
        bar = next(word for word in leaf.words if word.text == "Start")
        assert (bar.bottom - bar.top) / 1.362 / 1.15 > 9.4


def test_the_page_holds_every_crop_and_day(demo_notice):
    for monday in (BUSY, date(2027, 4, 12), date(2027, 6, 14)):
        sheet = demo_notice(monday)
        text = text_of(make_pdf(Template.NOTICE, sheet, Paper.A4))
        assert squashed(f"What to sow, {sheet.week} 2027 ({sheet.number})") in text
        for line in sheet.starts:
            how = f"{line.crop}{line.container}{line.seeds}{line.depth}{line.place}"
            cover = f"{line.cover_days}:{line.cover_off}{f'if sown {line.sown}' if line.sown else ''}"
            sow = f"last chance{line.sow_by}" if line.is_last else f"by{line.sow_by}"
            assert squashed(how + cover + (f"from{line.sow_from}" if line.sow_from else "") + sow) in text
        for line in sheet.late:
            assert squashed(f"{line.crop}{'last chance' if line.is_last else ''}{line.words}") in text
        for line in sheet.outside:
            assert squashed(f"{line.crop}{line.words}{'last chance' if line.is_last else ''}") in text
        assert squashed(", ".join(line.crop for line in sheet.planted)) in text
        for reason in sheet.others:
            listed = [
                f"{group.day}{', '.join(f'{line.crop}{line.words}' for line in group.crops)}" for group in reason.groups
            ]
            assert squashed("·".join(listed)) in text
            assert squashed(reason.head) in text
        assert squashed(sheet.frost) in text
        assert all(squashed(f"Caution: {caution.head}{caution.words}") in text for caution in sheet.cautions)
        assert squashed("Printed Sat 10 Apr 2027") in text


def test_very_many_crops_run_over_with_their_heads_repeated():
    crops = [card(id=n, name=f"Tomato{n:03d}", **QUICK) for n in range(1, 101)]
    crops += [card(**BEAN | {"id": n, "name": f"Bean{n:03d}"}) for n in range(101, 401)]
    text = make_pdf_apart(Template.NOTICE, notice(date(2027, 4, 26), *crops), Paper.A4)
    first, second, *_ = pages(text)
    assert "Start indoors now" in first
    assert "Start indoors now" in second
    assert "Seeds" in second
    outside = pages(make_pdf_apart(Template.NOTICE, notice(date(2027, 6, 14), *crops, *crops), Paper.A4))
    assert len(outside) > 2
    assert all("Sow outside now" in page for page in outside[:2])
    found = text_of(text)
    assert all(squashed(crop.name) in found for crop in crops)
    for leaf in leaves(text):
        assert beyond_margins(leaf, MARGIN_MM) == []
        assert overlapping(leaf) == []


@pytest.mark.parametrize("paper", list(Paper), ids=str)
@pytest.mark.parametrize("monday", [date(2027, 4, 26), date(2027, 6, 14), FIRST], ids=str)
def test_names_stay_names_and_are_not_cut(monday, paper):
    crops = [card(id=n, name=name, **QUICK) for n, name in enumerate(HOSTILE, start=1)]
    crops += [card(**BEAN | {"id": 20 + n, "name": name}) for n, name in enumerate(HOSTILE)]
    boxes = (container(name=HOSTILE[5]),)
    pdf = make_pdf(Template.NOTICE, notice(monday, *crops, containers=boxes, settings={"name": HOSTILE[1]}), paper)
    text = text_of(pdf)
    for name in HOSTILE:
        assert squashed(re.sub(r"[\x00\x7f]", "", name)) in text
    for leaf in leaves(pdf):
        assert beyond_margins(leaf, MARGIN_MM) == []
        assert overlapping(leaf) == []


def test_a_garden_without_crops_has_a_notice():
    sheet = make_board_notice(replace(garden([]), cards=()), BUSY, facts())
    assert (sheet.starts, sheet.outside, sheet.planted, sheet.others) == ((), (), (), ())
    assert text_of(make_pdf(Template.NOTICE, sheet, Paper.A4)).count("Nothingthisweek.") == 3
