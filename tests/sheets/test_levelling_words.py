"""Why levelling changes a sowing, and what else would do, as it is said; weeks as on any calendar of ISO weeks."""

from datetime import date

import pytest

from app.core.calendar import as_day, week_number
from app.core.fitting.explain import Alternative, Change, FullWeeks, LeftOut, Why
from app.core.plan import make_plan
from app.core.words import HARDENING, LAMP
from app.sheets.levelling_words import alternative_words, left_out_words, stretches_words, why_words
from tests.factories import garden

# Weeks 19 to 21 and 23 of 2027 begin on 10, 17, 24 May and 7 June.
W19, W20, W21, W23 = (int(week_number(as_day(date(2027, *day)))) for day in ((5, 10), (5, 17), (5, 24), (6, 7)))
LAMPS = FullWeeks(place=LAMP, weeks=(W19, W20, W21), over=2)
HARD = FullWeeks(place=HARDENING, weeks=(W23,), over=0)
NBSP = "\u00a0"
SAT_AND_TUE = "sow Sat 15 May, plant out Tue 1 Jun"


def change(why, full=(), off=(0, 0)):
    return Change(sowing=0, day=(1, 1), light=(1, 1), off=off, wanted=6, placed=(6, 6), why=why, full=full)


def test_weeks_are_said_in_stretches():
    assert stretches_words((W19, W20, W21, W23)) == "10 May – 30 May (W19 – W21), 7 – 13 Jun (W23)"


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (
            change(Why.FULL, (LAMPS, HARD)),
            "lamps over-full 10 May – 30 May (W19 – W21); hardening over-full 7 – 13 Jun (W23)",
        ),
        (change(Why.ROOM, (HARD,)), "makes room for others: hardening full 7 – 13 Jun (W23)"),
        (change(Why.MORE), "there is room for more of it"),
        (change(Why.NEARER, off=(-9, 2)), "nearer to its best day: 2 days off it, not 9"),
        (change(Why.NEARER, off=(-9, 0)), "nearer to its best day: on it, not 9"),
        (change(Why.TRAYS), "shares trays, so that fewer stand"),
        (
            change(Why.TRAYS, (LAMPS,)),
            "shares trays, so that fewer stand, lamps over-full 10 May – 30 May (W19 – W21)",
        ),
        (change(Why.SAME), "stays as it is; only what is set for it by hand changes"),
    ],
)
def test_each_reason_is_said(given, words):
    assert why_words(given) == words


def left_out(*full):
    return LeftOut(sowing=0, wanted=6, placed=0, full=full, alternative=None)


def test_what_has_no_room_says_where_and_when():
    assert (
        left_out_words(left_out(LAMPS, HARD))
        == "lamps full 10 May – 30 May (W19 – W21); hardening full 7 – 13 Jun (W23)"
    )
    few = FullWeeks(place=LAMP, weeks=(W23,), over=-1)
    assert left_out_words(left_out(few)) == "lamps almost full 7 – 13 Jun (W23)"
    assert left_out_words(left_out()) == "there is room for it at its own dates"


# Saturdays 15 May and 3 July 2027; by the entered table half the springs freeze on 1 June or later, 1 in 10 on 13 June.
def at(weeks, plant_out, *, is_early):
    return Alternative(weeks=weeks, sow_on=as_day(date(2027, 5, 15)), plant_out=as_day(plant_out), is_early=is_early)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (None, "none: there is room for it in no other week in which it would still ripen"),
        (at(0, date(2027, 7, 3), is_early=False), "look again and give it more time"),
        (at(2, date(2027, 7, 3), is_early=False), "2 weeks later: sow Sat 15 May, plant out Sat 3 Jul"),
        (at(-1, date(2027, 7, 3), is_early=False), "1 week earlier: sow Sat 15 May, plant out Sat 3 Jul"),
        (
            at(-1, date(2027, 6, 1), is_early=True),
            f"1 week earlier: {SAT_AND_TUE}, when the chance of a freeze then or later is 50{NBSP}%",
        ),
    ],
)
def test_each_alternative_is_said(given, words):
    assert alternative_words(given, make_plan(garden())) == words
