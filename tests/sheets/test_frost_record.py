"""The frost record against dates worked out by hand.

Last freezes on 1 to 20 May, day numbers 121 to 140: mean 130.5; their spread, with n - 1, is the root of
20 x 21 / 12 = 35, so 5.916. One in ten lies above 130.5 + 1.2816 x 5.916 = 138.08, so the first day with a chance of
at most 10 % is day 139, 19 May. In the years themselves it is the 18.9th of 20, at 138.9: 19 May too.
"""

from datetime import date

import pytest

from app.core.dates.frost import frost_table
from app.core.words import FrostLaw, FrostSource
from app.sheets.frost_record import make_frost_page
from tests.factories import AUTUMN, SPRING
from tests.freezes import SKEWED, STEADY, freezes_of

YEAR = {"season": 2027, "southern": False}
TABLE = frost_table(SPRING, AUTUMN, **YEAR)


def page_of(years=STEADY, *, source=FrostSource.TABLE, risks=(0.1, 0.5), frost=TABLE, **changes):
    """Return the page of a garden that goes by its table and has a record besides."""
    own = freezes_of(years)
    given = {"source": source, "law": FrostLaw.NORMAL, "risks": risks}
    return make_frost_page(frost, [own], own, **given | changes)


def dates_at(side, risk):
    """Return the dates of each law at a risk."""
    return next(line for line in side.lines if line.risk == risk).dates


def test_the_two_laws_of_a_record_stand_beside_the_garden_s_table():
    spring = page_of().spring
    assert spring.laws == ("published table", "record, normal law", "record, empirical law")
    assert [at.day for at in dates_at(spring, 0.1)] == [date(2027, 6, 13), date(2027, 5, 19), date(2027, 5, 19)]
    assert [at.is_chosen for at in dates_at(spring, 0.1)] == [True, False, False]


def test_a_risk_rarer_than_the_record_shows_gives_its_extreme_year_and_says_so():
    at_risk = dates_at(page_of(risks=(0.02, 0.5)).spring, 0.02)
    assert [at.is_extreme for at in at_risk] == [False, False, True]
    # 130.5 + 2.0537 x 5.916 = 142.65, so 23 May; the latest of the years is 20 May.
    assert [at.day for at in at_risk[1:]] == [date(2027, 5, 23), date(2027, 5, 20)]


def test_what_a_date_means_is_said():
    page = page_of()
    assert {line.risk: line.words for line in page.spring.lines}[0.1] == "1 spring in 10 freezes on 13 Jun or later."
    assert {line.risk: line.words for line in page.autumn.lines}[0.5] == "1 autumn in 2 freezes on 30 Aug or before."


def test_a_record_with_one_late_spring_is_skewed_in_spring_alone():
    page = page_of(SKEWED)
    # Mean 124, spread 13.416: 141.19, so day 142; the 18.9th of 20 years is day 121.
    assert page.skew == "by 21 days in spring"
    assert page_of(STEADY).skewed == ()


def test_freezes_that_come_too_rarely_and_a_place_without_a_safe_month_are_told_apart():
    rare = page_of([("05-01", None)] * 19 + [("05-01", "10-01")])
    assert [side.one for side in rare.rare] == ["autumn"]
    assert not rare.is_safe_nowhere
    assert dates_at(rare.autumn, 0.5)[1].day is None
    # A short season such as that of Redwater, Alberta (ECCC): 13 June and 5 July at 50 and 10 %, 30 August and 24 July.
    # At 1 % they lie 2.326 / 1.2816 times as far out: 22 x 1.815 days after 13 June is 23 July, 37 x 1.815 before
    # 30 August is 23 June.
    short = frost_table({90: "05-18", 50: "06-13", 10: "07-05"}, {10: "07-24", 50: "08-30", 90: "09-06"}, **YEAR)
    nowhere = page_of(frost=short, risks=(0.01, 0.01))
    assert nowhere.at_risk == (date(2027, 7, 23), date(2027, 6, 23))
    assert nowhere.is_safe_nowhere
    assert nowhere.rare == ()


def test_frost_free_days_are_counted_from_date_to_date_and_between():
    even = next(line for line in page_of().lengths if line.risk == 0.5)
    # 1 June to 30 August: 29 + 31 + 30 days.
    assert (even.from_to, even.between) == (90, 89)


def test_years_left_out_and_years_without_a_freeze_are_named():
    years = [*STEADY]
    years[2] = ("missing", "10-03")
    years[5] = (None, "10-06")
    station = page_of(years).station
    assert station.left_out == ("2003", "")
    assert station.without == ("2006", "")
    assert station.usable == (19, 20)
    said = {line.year: (line.last, line.first, line.days) for line in station.years}
    assert said[2003] == ("left out: 205 days missing", "3 Oct", None)  # 24 July back to 1 January: 205 days
    assert said[2006] == ("no freeze", "6 Oct", None)
    assert said[2001] == ("1 May", "1 Oct", 153)  # 30 + 30 + 31 + 31 + 30 + 1


@pytest.mark.parametrize(("count", "few", "refused"), [(20, False, False), (19, True, False), (9, True, True)])
def test_a_short_record_is_warned_of_and_a_very_short_one_has_no_dates(count, few, refused):
    page = page_of(STEADY[:count])
    assert (bool(page.station.few), page.station.is_refused) == (few, refused)
    assert len(page.spring.laws) == (1 if refused else 3)


def test_dates_that_come_a_day_later_each_year_move_ten_days_in_ten_years():
    trends = {(line.what, line.period): line for line in page_of().station.trends}
    last = trends["Last freeze of spring", "all years"]
    assert (last.slope, last.interval) == ("10 days later", "from 10 days later to 10 days later")
    assert "later" in last.verdict
    assert trends["Days from last to first", "all years"].slope == "no change"
    recent = trends["Last freeze of spring", "2006 – 2020"]
    assert (recent.years, recent.middle) == (15, "13 May")  # the middle of 6 to 20 May


def test_the_dots_of_a_chart_keep_the_order_of_their_days():
    chart = page_of().station.chart
    assert len(chart.spring) == len(chart.autumn) == 20
    heights = [dot.y for dot in chart.spring]
    assert heights == sorted(heights, reverse=True)  # later days stand higher
    assert max(dot.y for dot in chart.autumn) < min(heights)
    assert all(chart.left <= dot.x <= chart.right and chart.top <= dot.y <= chart.base for dot in chart.spring)


def test_the_curve_passes_through_the_garden_s_risk():
    chart = page_of().spring.chart
    mark = chart.risks[0]
    points = [tuple(map(float, point.split())) for point in chart.curves[-1].path[1:].split("L")]
    # By the table 13 June has a chance of 10 % exactly, so the mark lies on the curve.
    assert (mark.x, mark.y) in points


def test_the_table_of_a_curve_falls_in_spring_and_rises_in_autumn():
    page = page_of()
    for side, is_rising in ((page.spring, False), (page.autumn, True)):
        for law in range(len(side.laws)):
            chances = [line.chances[law] for line in side.chances]
            assert chances == sorted(chances, reverse=not is_rising)
            assert min(chances) < 0.05
            assert max(chances) > 0.95
