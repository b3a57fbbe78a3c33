"""The sowing sheet: by hand over one sowing, and every cell and seed of the demo counted."""

from collections import Counter
from dataclasses import replace
from datetime import date
from math import ceil

import numpy as np
import pytest

from app.core.calendar import as_day
from app.core.plan import make_plan
from app.core.words import CellState, Place, Units
from app.sheets.pdf import Paper, Template, make_pdf
from app.sheets.sowing_sheet import BenchFacts, fill_days, make_sowing_sheet, next_fill_day, not_dealt_words
from app.storage.queries.sheets import SeedRow
from tests.factories import card, container, garden, shelf, sowing
from tests.sheets.reading import beyond_margins, leaves, overlapping, pages, squashed, text_of
from tests.sheets.trays_by_hand import NINE, OUT, SOWN, cells, dealt, stay, usual_stays

TODAY = date(2027, 4, 10)
BOXES = (container(rows=6, columns=12), container(id=2, name="9 cm pot", cells_per_tray=18, cell_volume_ml=415.0))


def facts(**changes):
    fields = {"cells": cells(), "stays": usual_stays(), "seed": {}, "units": Units.METRIC, "today": TODAY}
    return BenchFacts(**fields | changes)


def plan_of(*parts, rows=None, filled=SOWN, pots=(), **changes):
    fields = {"containers": BOXES, "dealt": dealt(*(parts or [(0, 0, 9)]), filled=filled, pots=pots)}
    return make_plan(garden(rows, **fields | changes))


def sheet_of(plan=None, say=None, day=SOWN):
    return make_sowing_sheet(plan or plan_of(), day, say or facts())


def only_tray(sheet):
    (tray,) = sheet.sown
    return tray


def test_a_tray_says_what_goes_into_which_cells_and_where_it_goes():
    sheet = sheet_of(say=facts(seed={1: SeedRow("Packet A", is_doubtful=False)}))
    tray = only_tray(sheet)
    assert (tray.number, tray.container, tray.grid, tray.free) == (1, "72-cell tray", "6 rows of 12", "63 cells free")
    assert tray.goes == "heat: Heat bench, level 1, position 2"
    assert tray.cover == "Cover on, off when seedlings show: about Fri 7 May"
    (lot,) = tray.lots
    assert (lot.cells, lot.count, lot.crop, lot.seed_lot) == ("A1–F1, D2–F2", "9 cells", "Tomato", "Packet A")
    assert (lot.grower, lot.plot, lot.seeds) == ("Ines Moreau", "14", "2 a cell, 18 in all")
    assert not lot.done
    assert sheet.day == "Saturday 1 May 2027"
    assert sheet.sums == ("Sow 1 tray: 9 cells for 1 sowing of 1 grower.",)
    # 9 cells of 40 ml and a tenth more are 396 ml.
    assert (sheet.mix, sheet.boxes) == ("1\u00a0l", "1 × 72-cell tray")


def test_how_it_is_sown_stands_once_where_it_is_the_same_for_the_tray():
    tomato, pepper = card(germ_temp_c=25.0), card(id=2, name="Pepper", germ_temp_c=29.0)
    two = [(0, 0, 9), (0, 1, 9)]
    more = [*cells(), *cells([(row, 5) for row in range(1, 7)], sowing=2, crop="Pepper")]
    rows = [sowing(), sowing(crop=1)]
    alike = sheet_of(plan_of(*two, rows=rows, cards=(tomato, replace(pepper, germ_temp_c=25.0))), facts(cells=more))
    assert only_tray(alike).how == "6\u00a0mm deep, mix at 25\u00a0°C"
    assert [lot.how for lot in only_tray(alike).lots] == [(), ()]
    apart = sheet_of(plan_of(*two, rows=rows, cards=(tomato, pepper)), facts(cells=more))
    assert only_tray(apart).how == ""
    assert [lot.how[-1] for lot in only_tray(apart).lots] == ["mix at 25\u00a0°C", "mix at 29\u00a0°C"]


def test_depth_warmth_and_mix_are_said_in_the_gardens_units():
    plan = plan_of(cards=(card(germ_temp_c=25.0),))
    sheet = sheet_of(plan, facts(units=Units.US))
    assert only_tray(sheet).how == "1/4\u00a0in deep, mix at 77\u00a0°F"
    assert sheet.mix == "1\u00a0qt"


@pytest.mark.parametrize(
    ("depth", "needs_light", "said"),
    [
        (0.0, True, "Press in, do not cover with mix: needs light"),
        (None, True, "Press in, do not cover with mix: needs light"),
        (3.0, True, "Cover thinly, 3\u00a0mm at most: needs light"),
        (0.0, False, "On the surface"),
        (13.0, None, "13\u00a0mm deep"),
        (None, None, ""),
    ],
)
def test_seed_that_needs_light_is_covered_thinly_or_not_at_all(depth, needs_light, said):
    plan = plan_of(cards=(card(sow_depth_mm=depth, needs_light=needs_light),))
    assert only_tray(sheet_of(plan)).how == said


def test_a_tray_waits_or_has_no_place_where_that_is_so():
    waits = facts(stays=[stay(Place.LAMP, SOWN, OUT, shelf=None)])
    assert only_tray(sheet_of(say=waits)).goes == "lamps: waits for a position"
    assert only_tray(sheet_of(say=facts(stays=[]))).goes == "no place is known"


def test_what_is_sown_already_is_marked():
    sown = only_tray(sheet_of(say=facts(cells=cells(state=CellState.SOWN))))
    assert [lot.done for lot in sown.lots] == [True]
    half = [*cells(NINE[:5], state=CellState.SOWN), *cells(NINE[5:])]
    assert [lot.done for lot in only_tray(sheet_of(say=facts(cells=half))).lots] == [False]


def test_pots_stand_apart_with_the_cells_that_they_come_out_of():
    potted = card(pot_on_container=1, pot_on_after_days=14)
    day = date(2027, 5, 21)
    # Tray 1 was sown on another day; tray 2 holds the pots of this one.
    trays = dealt((0, 0, 9), (1, 0, 7), pots=[1])
    trays = replace(trays, filled=np.array([as_day(SOWN), as_day(day)]), container=np.array([0, 1]))
    plan = make_plan(garden(cards=(potted,), containers=BOXES, dealt=trays))
    in_pots = cells([(1, column) for column in range(1, 7)] + [(2, 6)], tray=102)
    say = facts(cells=[*cells(), *in_pots], stays=[stay(Place.LAMP, day, OUT, tray=102, number=2, shelf="Rack")])
    sheet = sheet_of(plan, say, day)
    assert sheet.sown == ()
    (tray,) = sheet.potted
    (lot,) = tray.lots
    assert (tray.number, tray.cover, tray.free) == (2, "", "11 pots free")
    assert (lot.cells, lot.count, lot.seeds) == ("A1–A6, B6", "7 pots", "")
    assert lot.how == ("out of tray 1, A1–F1, D2–F2",)
    assert sheet.sums == ("Pot on into 1 tray: 7 pots for 1 sowing of 1 grower.",)
    # 7 pots of 415 ml and a tenth more are 3.196 l.
    assert sheet.mix == "4\u00a0l"


def test_people_stand_in_alphabetical_order_with_their_trays():
    one = garden().growers[0]
    growers = tuple(type(one)(id=n, name=name, plot=None) for n, name in enumerate(("Zora", "Émile", "Eva"), start=1))
    rows = [sowing(grower=grower) for grower in (0, 1, 2, 1)]
    plan = plan_of((0, 0, 9), (0, 1, 9), (1, 2, 9), (2, 3, 9), rows=rows, growers=growers)
    told = [
        *cells(grower="Zora"),
        *cells([(1, 4)], sowing=2, grower="Émile", grower_id=2),
        *cells(tray=102, sowing=3, grower="Eva", grower_id=3),
        *cells(tray=103, sowing=4, grower="Émile", grower_id=2),
    ]
    sheet = sheet_of(plan, facts(cells=told))
    assert [(person.name, person.trays) for person in sheet.people] == [("Émile", "1, 3"), ("Eva", "2"), ("Zora", "1")]


def test_what_is_not_dealt_or_no_longer_as_it_was_dealt_is_said():
    assert not_dealt_words(plan_of(), SOWN) == ""
    undealt = make_plan(garden([sowing(plants=60)], containers=BOXES))
    assert not_dealt_words(undealt, SOWN) == "2 trays of this day are not dealt yet."
    assert not_dealt_words(undealt, date(2027, 5, 2)) == ""
    fewer = plan_of((0, 0, 5))
    assert not_dealt_words(fewer, SOWN) == "What is to be in 1 tray has changed since it was dealt."
    other_day = plan_of((0, 0, 9), filled=date(2027, 4, 24))
    for day in (SOWN, date(2027, 4, 24)):
        assert "has changed since it was dealt" in not_dealt_words(other_day, day)


def test_days_of_filling_are_those_of_the_plan_and_of_dealt_trays():
    plan = plan_of((0, 0, 9), filled=date(2027, 4, 24))
    assert fill_days(plan) == (date(2027, 4, 24), SOWN)
    asked = (TODAY, SOWN, date(2027, 5, 2))
    assert [next_fill_day(plan, day) for day in asked] == [date(2027, 4, 24), SOWN, SOWN]
    assert next_fill_day(make_plan(garden([])), TODAY) is None


def test_cautions_stand_where_the_risk_is():
    def heads(say, day=SOWN, plan=None):
        return [caution.head.split()[0] for caution in sheet_of(plan, say, day).cautions]

    assert heads(facts()) == ["dust", "treated", "electricity"]
    assert heads(facts(stays=[stay(Place.WINDOW, SOWN, OUT)])) == ["dust", "treated"]
    assert heads(facts(seed={1: SeedRow("Own", is_doubtful=True)}))[-1] == "plants"
    assert heads(facts(cells=[], stays=[])) == []


def test_every_cell_and_seed_of_the_demo_is_sown_once(dealt_demo):
    plan, seeds, potted = dealt_demo.plan, Counter(), Counter()
    index_of = {name: index for index, name in enumerate(plan.garden.sowings.names)}
    keys = {(cell.tray_id, cell.row, cell.column): cell for cell in dealt_demo.cells}
    assert len(keys) == len(dealt_demo.cells)
    for day in fill_days(plan):
        sheet = make_sowing_sheet(plan, day, dealt_demo.bench_facts(day))
        assert sheet.not_dealt == ""
        for tray in (*sheet.sown, *sheet.potted):
            for lot in tray.lots:
                count = int(lot.count.split()[0])
                lots = potted if not lot.seeds else seeds
                lots[day, lot.crop, lot.variety, lot.grower] += int(lot.seeds.split()[-3]) if lot.seeds else count
        used = sum(int(lot.count.split()[0]) for tray in (*sheet.sown, *sheet.potted) for lot in tray.lots)
        assert used == sum(
            cell.tray_id in set(dealt_demo.plan.garden.dealt.ids[plan.garden.dealt.filled == as_day(day)].tolist())
            for cell in dealt_demo.cells
        )
    wanted = Counter()
    sowings, cards, growers = plan.garden.sowings, plan.garden.cards, plan.garden.growers
    for index in index_of.values():
        if plan.cells[index]:
            key = (cards[sowings.crop[index]].name, sowings.varieties[index] or "", growers[sowings.grower[index]].name)
            wanted[(date.fromordinal(int(plan.timeline.sow_on[index])), *key)] += int(plan.seeds[index])
    assert seeds == wanted
    assert potted.total() == plan.pots.sum()


def test_mix_of_the_demo_is_that_of_its_cells(dealt_demo):
    day = date(2027, 5, 15)
    sheet = make_sowing_sheet(dealt_demo.plan, day, dealt_demo.bench_facts(day))
    volume = {box.name: box.cell_volume_ml for box in dealt_demo.plan.garden.containers}
    trays = [(tray, volume[tray.container]) for tray in (*sheet.sown, *sheet.potted)]
    assert sheet.sown
    assert sheet.potted
    ml = sum(int(lot.count.split()[0]) * each for tray, each in trays for lot in tray.lots)
    assert sheet.mix == f"{ceil(ml * 1.1 / 1000 - 1e-9)}\u00a0l"


@pytest.mark.parametrize("paper", list(Paper), ids=str)
@pytest.mark.parametrize("day", [date(2027, 4, 3), date(2027, 5, 15), date(2027, 5, 24)], ids=str)
def test_the_paper_holds_every_tray_cell_and_word(dealt_demo, day, paper):
    sheet = make_sowing_sheet(dealt_demo.plan, day, dealt_demo.bench_facts(day))
    pdf = make_pdf(Template.SOWING, sheet, paper)
    text = text_of(pdf)
    for tray in (*sheet.sown, *sheet.potted):
        assert squashed(f"{tray.number}{tray.container},{tray.grid}") in text
        assert squashed(tray.goes) in text
        assert squashed(tray.how + tray.cover) in text
        for lot in tray.lots:
            row = f"{lot.cells}{lot.count}{lot.crop}{lot.variety}"
            assert squashed(row) in text
            assert squashed(lot.grower) in text
            assert all(squashed(words) in text for words in (lot.seeds, *lot.how))
    for caution in sheet.cautions:
        assert squashed(caution.head + caution.words) in text
    for number, (leaf, page) in enumerate(zip(leaves(pdf), pages(pdf), strict=True), start=1):
        assert beyond_margins(leaf, 12) == []
        assert overlapping(leaf) == []
        assert f"page {number} of" in page


def test_words_are_large_enough_to_be_read_at_the_bench(dealt_demo):
    """Letters of 11 pt: their line boxes are higher than 10 pt, and those of a tray's number higher than 20 pt."""
    day = date(2027, 4, 10)
    sheet = make_sowing_sheet(dealt_demo.plan, day, dealt_demo.bench_facts(day))
    words = [word for leaf in leaves(make_pdf(Template.SOWING, sheet, Paper.A4)) for word in leaf.words]
    heights = {word.text: word.bottom - word.top for word in words}
    assert max(heights[str(tray.number)] for tray in sheet.sown) > 20
    assert min(heights[lot.crop.split()[0]] for tray in sheet.sown for lot in tray.lots) > 10


@pytest.mark.parametrize("name", ['#panic("x") *b* $x$ <l> @r', "W" * 200, "Ἀθηνᾶ Παπαδοπούλου"])
def test_what_people_typed_stays_text_and_is_not_cut(name):
    one = garden().growers[0]
    growers = (type(one)(id=1, name=name, plot=name[:40]),)
    plan = plan_of(growers=growers, cards=(card(name=name),), containers=(replace(BOXES[0], name=name), BOXES[1]))
    told = cells(grower=name, crop=name, variety=name)
    pdf = make_pdf(Template.SOWING, sheet_of(plan, facts(cells=told, seed={1: SeedRow(name, False)})), Paper.A4)
    assert text_of(pdf).count(squashed(name)) >= 5
    assert all(beyond_margins(leaf, 12) == [] and overlapping(leaf) == [] for leaf in leaves(pdf))


def test_a_day_without_trays_makes_a_sheet():
    sheet = sheet_of(make_plan(garden([])), facts(cells=[], stays=[]))
    assert (sheet.sown, sheet.potted, sheet.sums, sheet.mix, sheet.people) == ((), (), (), "", ())
    assert "Nodealttrayisfilledonthisday" in text_of(make_pdf(Template.SOWING, sheet, Paper.A4))


def test_nothing_of_a_heated_shelf_is_said_without_one():
    plan = plan_of(shelves=(shelf(Place.WINDOW),))
    assert sheet_of(plan, facts(stays=[stay(Place.WINDOW, SOWN, OUT, shelf="Sill")])).sown[0].goes.startswith("window")
