"""A wish in words, by the dates of the method's example: counted on a calendar in tests/core/test_plan.py."""

from dataclasses import replace
from datetime import date

import pytest

from app.core.calendar import as_day
from app.core.plan import make_plan
from app.core.wish import with_sowing
from app.core.words import Place
from app.services.sowings import Preview
from app.sheets.wish import make_wish_page
from tests.factories import card, garden, shelf, sowing


def page_of(*, brings_seed=False, today=None, plants=6, positions=8, **changes):
    before = garden([], cards=(card(**changes),), shelves=(shelf(Place.LAMP, positions=positions),))
    before = replace(before, today=0 if today is None else as_day(today))
    after, index = with_sowing(before, {"name": "", "seed_lot": -1} | sowing(plants=plants))
    preview = Preview(sowing=index, before=make_plan(before), after=make_plan(after))
    return make_wish_page(preview, brings_seed=brings_seed)


def said(page):
    return {name: words.replace("\u00a0", " ") for name, words in page.lines}


def test_a_wish_is_said_with_its_dates_cells_and_seed():
    page = page_of(days_to_maturity=40)
    assert said(page) == {
        "Sow on": "Sat 1 May",
        "Sow by": "Sat 8 May, from Sat 24 Apr",
        "Plants handed out": "Sat 19 Jun",
        # Out by 7 July at the latest, 54 days before 30 August, and six weeks indoors before.
        "Last chance to sow": "Wed 26 May",
        "Cells": "9 cells (72-cell tray)",
        "Seed": "18 seeds, of the garden; 75 % are reckoned to come up",
    }
    assert (page.takes_room, page.effects, page.warnings) == (True, (), ())


def test_who_brings_the_seed_is_said():
    assert "which its grower brings" in said(page_of(brings_seed=True))["Seed"]


def test_a_place_that_it_makes_over_full_is_named():
    (effect,) = page_of(plants=200, positions=1).effects
    assert (effect.place, effect.is_better) == ("Lamps", False)
    assert effect.words.startswith("newly over-full")


@pytest.mark.parametrize(("day", "is_too_late"), [(date(2027, 5, 22), False), (date(2027, 6, 5), True)])
def test_a_wish_that_comes_too_late_says_so_and_takes_no_room(day, is_too_late):
    page = page_of(days_to_maturity=40, today=day)
    assert any("too late to sow" in words for words in page.warnings) == is_too_late
    assert page.takes_room != is_too_late
    assert ("Sow on" in said(page), "Cells" in said(page)) == (not is_too_late, not is_too_late)


def test_a_crop_sown_outside_has_neither_cells_nor_room():
    page = page_of(start_container=None, direct_sow_weeks=0.0, plant_out_weeks=None, seeds_per_cell=1)
    assert said(page)["Sow"].startswith("outside, at the plot, ")
    assert "Cells" not in said(page)
    assert not page.takes_room
