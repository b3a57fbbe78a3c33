"""Supplies in words and as files: the example of six tomatoes on paper, both units, and every row accounted for."""

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.plan import make_plan
from app.core.words import Place, Units
from app.language import speaking
from app.sheets.supplies import kwh_words, make_supplies_page, order_rows, season_of, week_rows
from app.storage.queries.supplies import SownLot
from tests.factories import card, container, garden, shelf, sowing

POT = container(id=2, name="9 cm pot", cells_per_tray=18, cell_volume_ml=400.0)
LAMP = shelf(
    Place.LAMP, id=7, name="Rack", watts=480.0, hours_per_day=16.0, pan_depth_mm=20.0, width_cm=122.0, depth_cm=61.0
)
# Two levels of 122 x 61 cm, 20 mm deep: 29.768 litres, which last 6.7 days.


def season(rows=None, lots=None, **changes):
    """Return the season of six tomatoes, dated in tests/core/needs/test_supplies.py, or of other sowings."""
    fields = {"cards": (tomato(),), "containers": (container(), POT), "shelves": (LAMP, shelf(Place.HARDENING))}
    return season_of(make_plan(garden([sowing()] if rows is None else rows, **fields | changes)), lots or {})


def tomato(**changes):
    return card(**{"pot_on_container": 1, "pot_on_after_days": 21, "seeds_per_gram": 300.0} | changes)


def said(value):
    return str(value).replace("\u00a0", " ")


def test_one_order_of_six_tomatoes():
    page = make_supplies_page(season(), Units.METRIC)
    assert [tuple(map(said, line)) for line in page.order] == [
        ("72-cell tray", "1 tray", "in 26 Apr – 2 May, 9 cells", "filled 1 time, 9 cells"),
        ("9 cm pot", "1 tray", "in 24 – 30 May, 7 cells", "filled 1 time, 7 cells"),
        ("Covers", "1 cover", "in 26 Apr – 2 May", "1 tray covered"),
        # 9 x 40 and 7 x 400 ml, and a tenth more: 3.476 l.
        ("Potting mix", "4 l", "3.1 l in 24 – 30 May", "3.5 l"),
        ("Labels", "2 labels", "1 label in 26 Apr – 2 May", "2 labels"),
        ("Stakes", "1 stake", "1 stake in 24 – 30 May", "1 stake"),
    ]
    # 42 days of 7.68 kWh.
    assert said(page.kwh) == "322.6 kWh"
    assert dict(page.facts)["Seeds"] == "18"


def test_the_same_in_us_units():
    page = make_supplies_page(season(), Units.US)
    mix = {line.what: said(line.order) for line in page.order}["Potting mix"]
    assert mix == "4 qt"  # 3.476 l are 3.67 quarts of 0.946 l
    assert said(page.seeds[0].total.weight) == "0.003 oz"  # 18 / 300 g are 0.0021 ounces
    (pan,) = page.pans
    assert said(pan.holds) == "7.9 gal"  # 29.768 l of 3.785
    weeks = {line.monday.isoformat(): line for line in page.weeks}
    assert said(weeks["2027-04-26"].mix) == "13.39 fl oz"  # 396 ml
    assert said(weeks["2027-04-26"].kwh) == "15.4 kWh"


def test_the_pans_of_a_rack_are_filled_until_the_trays_go():
    (pan,) = make_supplies_page(season(), Units.METRIC).pans
    # 42 days of 3 mm are 126 mm: six pans of 20 mm and a part of a seventh.
    assert (said(pan.holds), pan.lasts, pan.fills, said(pan.water)) == ("29.8 l", "6.7", 7, "208.4 l")
    assert pan.weeks == ("26 Apr – 13 Jun (W17 – W23)",)


def test_a_lamp_without_hours_is_counted_nowhere_and_named():
    lamp = shelf(Place.LAMP, watts=480.0)
    page = make_supplies_page(season(shelves=(lamp,)), Units.METRIC)
    (line,) = page.power
    assert (line.hours, line.kwh, page.unknown, said(page.kwh)) == ("not given", "not given", 1, "0 kWh")


def test_a_heated_bench_without_hours_says_so():
    bench, lamp = shelf(Place.HEAT, watts=200.0), shelf(Place.LAMP)
    page = make_supplies_page(season(shelves=(bench, lamp)), Units.METRIC)
    heat, _ = page.power
    # From 1 to 6 May, 6 days of 4.8 kWh.
    assert (heat.watts, heat.hours, heat.days, said(heat.kwh)) == ("200 W", "24 h, none given", 6, "28.8 kWh")
    assert page.unknown == 1


def test_seeds_stand_by_variety_and_lot_below_the_crop():
    rows = [sowing(variety="Little Amber"), sowing(), sowing(variety="Little Amber"), sowing()]
    lots = {3: SownLot(31, "L03", "Little Amber"), 4: SownLot(32, "L04", "Tin Kettle")}
    (crop,) = make_supplies_page(season(rows, lots), Units.METRIC).seeds
    assert [(line.variety, line.lot, line.lot_id, line.sowings, line.seeds) for line in crop.lines] == [
        ("", "", None, 1, 18),
        ("Little Amber", "", None, 1, 18),
        ("Little Amber", "L03", 31, 1, 18),
        ("Tin Kettle", "L04", 32, 1, 18),  # the variety of the lot, where the sowing names none
    ]
    assert (crop.total.sowings, crop.total.seeds, said(crop.total.weight)) == (4, 72, "0.24 g")


def test_seed_that_growers_bring_is_listed_but_not_ordered():
    rows = [sowing(), sowing(plants=6), sowing()]
    garden_of_three = make_plan(garden(rows, cards=(tomato(),), containers=(container(), POT), shelves=(LAMP,)))
    taken = season_of(garden_of_three, {2: SownLot(31, "L03", None)}, frozenset({2}))
    page = make_supplies_page(taken, Units.METRIC)
    (crop,) = page.seeds
    assert [(line.lot, line.sowings, line.seeds, line.is_brought) for line in crop.lines] == [
        ("", 2, 36, False),
        ("L03", 1, 18, True),
    ]
    assert (crop.total.sowings, crop.total.seeds) == (2, 36)
    facts = dict(page.facts)
    assert (facts["Seeds"], facts["of them brought by growers"]) == ("54", "18")
    order = [row for row in order_rows(taken).rows if row[0].startswith("seed")]
    assert [(row[0], row[4], row[6], row[8]) for row in order] == [
        ("seed", 36, 0.12, 36),
        ("seed of growers", 0, 0, 18),
    ]


def test_a_crop_sown_outside_is_marked_and_weighed_where_its_card_tells():
    outside = card(start_container=None, direct_sow_weeks=0.0, plant_out_weeks=None, seeds_per_cell=1)
    page = make_supplies_page(season([sowing(plants=300)], cards=(outside,)), Units.METRIC)
    (crop,) = page.seeds
    assert (crop.is_outside, crop.total.seeds, crop.total.weight) == (True, 400, "")
    assert page.order == ()
    assert not page.has_weights
    assert [line.seeds for line in page.weeks] == ["400"]


def test_a_garden_without_sowings_has_an_empty_page_and_files():
    empty = season([])
    page = make_supplies_page(empty, Units.METRIC)
    assert (page.order, page.seeds, page.weeks, page.unknown) == ((), (), (), 0)
    assert week_rows(empty).rows == []
    assert {row[4] for row in order_rows(empty).rows} == {0}


def test_the_order_as_a_file():
    table = order_rows(season(lots={1: SownLot(3, "L01", None)}))
    rows = [dict(zip(table.columns, row, strict=True)) for row in table.rows]
    assert [(row["item"], row["order"], row["unit"], row["fullest_week"], row["season"]) for row in rows] == [
        ("72-cell tray", 1, "trays", "2027-W17", 1),
        ("72-cell tray", 9, "cells", "2027-W17", 9),
        ("9 cm pot", 1, "trays", "2027-W21", 1),
        ("9 cm pot", 7, "cells", "2027-W21", 7),
        ("covers", 1, "covers", "2027-W17", 1),
        ("potting mix", 3.476, "litres", "2027-W21", 3.476),
        ("tray labels", 2, "labels", "2027-W17", 2),
        ("stakes", 1, "stakes", "2027-W21", 1),
        ("lamps and benches", 322.56, "kWh", "2027-W18", 322.56),
        ("wick pans", 208.376, "litres", "2027-W17", 208.376),
        ("Tomato", 18, "seeds", None, 18),
    ]
    assert (rows[-1]["seed_lot"], rows[-1]["grams"]) == ("L01", 0.06)


@given(st.lists(st.tuples(st.integers(1, 90), st.sampled_from(("", "A", "B")), st.booleans()), max_size=8))
def test_page_and_files_account_for_every_seed_sowing_and_tray(drawn):
    rows = [sowing(plants=plants, variety=variety or None) for plants, variety, _ in drawn]
    lots = {n: SownLot(9, "L09", "A") for n, (_, _, has_lot) in enumerate(drawn, start=1) if has_lot}
    taken = season(rows, lots)
    page, order, weeks = make_supplies_page(taken, Units.METRIC), order_rows(taken), week_rows(taken)
    seeds = int(taken.plan.seeds.sum())
    of_kind = Counter()
    for row in order.rows:
        of_kind[row[0], row[5]] += row[4]
    assert of_kind["seed", "seeds"] == sum(row[1] for row in weeks.rows) == seeds
    assert sum(line.seeds for crop in page.seeds for line in crop.lines) == seeds
    assert sum(line.sowings for crop in page.seeds for line in crop.lines) == len(drawn)
    assert sum(row[2] for row in weeks.rows) == len(taken.plan.trays.group)
    assert sum(row[4] for row in weeks.rows) == pytest.approx(of_kind["mix", "litres"], abs=0.01)
    assert sum(row[6] for row in weeks.rows) == pytest.approx(of_kind["power", "kWh"], abs=0.01)


@pytest.mark.parametrize(("kwh", "words"), [(322.56, "322.6 kWh"), (0, "0 kWh"), (2438.0, "2 438 kWh")])
def test_energy_is_said_to_a_tenth(kwh, words):
    assert said(kwh_words(kwh)) == words


def test_whole_energy_has_no_decimals_in_any_language():
    with speaking("fr"):
        assert [kwh_words(53.04), kwh_words(53.8)] == ["53\u00a0kWh", "53,8\u00a0kWh"]
