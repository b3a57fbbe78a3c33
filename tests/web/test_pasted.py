"""Frost tables as people paste them. The dates are those of Lebanon, New Hampshire, and of Brandon, Manitoba, as NOAA
NCEI and ECCC print them (tests/published/frost_dates_by_risk.csv); the layouts are common practice."""

import pytest

from app.core.words import Side, Units
from app.web.forms.pasted import read_pasted
from app.web.forms.typed import Habits

METRIC, US = (Habits(units=units, season=2027) for units in (Units.METRIC, Units.US))
LEBANON = {
    Side.SPRING: {90: "04-27", 50: "05-09", 10: "05-24"},
    Side.AUTUMN: {90: "10-19", 50: "10-06", 10: "09-23"},
}


@pytest.mark.parametrize(
    ("habits", "text"),
    [
        (METRIC, "90 27 Apr 19 Oct\n50 9 May 6 Oct\n10 24 May 23 Sep"),
        (METRIC, "10 % May 24 Sep 23\n\n50 % May 9 Oct 6\n90 % Apr 27 Oct 19"),
        (METRIC, "Chance\tSpring\tAutumn\n10\t24-May\t23-Sep\n50\t9-May\t6-Oct\n90\t27-Apr\t19-Oct"),
        (US, "10,5/24,9/23\n50,05/09,10/06\n90,4/27,10/19"),
        (METRIC, "10;24/5;23/9\n50;9/5;6/10\n90;27/4;19/10"),
        (METRIC, "0.1 ; 24.5. ; 23.9.\n0,5 ; 9.5. ; 6.10.\n0.9 ; 27.4. ; 19.10."),
        (METRIC, "10 50 90\n24 May 9 May 27 Apr\n23 Sep 6 Oct 19 Oct"),
        (METRIC, "Chance 10 % 50 % 90 %\nFirst in fall Sep 23, Oct 6, Oct 19\nLast in spring May 24, May 9, Apr 27"),
    ],
    ids=["rows", "month first", "cells", "US", "semicolons", "shares", "two lines", "named lines"],
)
def test_a_table_is_read_however_it_is_laid_out(habits, text):
    table = read_pasted(text, habits)
    assert table.faults == ()
    assert table.points() == LEBANON


def test_two_blocks_of_a_service_are_told_apart_by_their_words():
    table = read_pasted(
        "Probability of last temperature in spring of 0 °C or lower on or after: 10% 25% 33% 50% 66% 75% 90%\n"
        "Date Jun 7 Jun 1 May 28 May 22 May 15 May 12 May 5\n"
        "Probability of first temperature in fall of 0 °C or lower on or before: 10% 25% 33% 50% 66% 75% 90%\n"
        "Date Aug 29 Sep 5 Sep 9 Sep 14 Sep 17 Sep 20 Sep 24",
        METRIC,
    )
    assert table.faults == ()
    assert [line.chance for line in table.lines] == [90, 75, 66, 50, 33, 25, 10]
    assert (table.lines[3].spring, table.lines[3].autumn) == ("05-22", "09-14")


def test_an_empty_cell_is_no_date():
    table = read_pasted("10\t\t23 Sep\n50\t9 May\t–", METRIC)
    assert [tuple(line) for line in table.lines] == [(50, "05-09", None), (10, None, "09-23")]


@pytest.mark.parametrize(
    ("text", "right"),
    [
        ("10 24 May", "the spring date, the autumn date"),
        ("10 24 Mai 23 Sep", "the spring date, the autumn date"),
        ("24 May 23 Sep", "the spring date, the autumn date"),
        ("10 24 May 23 Sep 99", "the spring date, the autumn date"),
        ("10 31 Sep 1 Oct", "There is no day 31 in September"),
        ("100 24 May 23 Sep", "A chance from 1 to 99"),
        ("10 24 May 23 Sep\n10 25 May 24 Sep", "Each chance once"),
        ("10 50 90\n24 May 9 May", "A date for each of the 3 chances above; this line has 2"),
        ("0 50 100\n24 May 9 May 27 Apr", "Chances from 1 to 99"),
        ("10 50\n24 May 9 May\n23 Sep 6 Oct\n1 Jan 2 Jan", "One line of dates for spring and one for autumn"),
    ],
)
def test_a_line_that_is_not_understood_is_said_with_what_would_be_right(text, right):
    table = read_pasted(text, METRIC)
    assert table.faults
    assert right in table.faults[0].right
    assert table.faults[0].line in range(1, 5)
