from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np

from app.core.calendar import as_day
from app.core.plan import make_plan
from app.core.words import LogKind, Place
from app.sheets.hand_out import HandOutFacts, hand_out_days, make_hand_out_sheet, next_hand_out_day
from app.sheets.logged import basis_words, logged_until
from app.sheets.pdf import Paper, Template, make_pdf
from tests.core.work.test_work import plan_on, sown
from tests.factories import card, container, garden, sowing
from tests.sheets.reading import squashed, text_of
from tests.sheets.trays_by_hand import HARDENS, cells, dealt, stay

TODAY = date(2027, 4, 10)
OUT = date(2027, 6, 19)  # worked out in test_weekly_sheet.py
MADE_AT = datetime.fromisoformat("2027-05-02 09:05").astimezone()


def growers(*names):
    one = garden().growers[0]
    return tuple(type(one)(id=number, name=name, plot=None) for number, name in enumerate(names, start=1))


def test_growers_stand_in_alphabetical_order_whatever_their_accents():
    names = ("Zora", "Émile", "Eva", "ana", "Ángel", "Örn")
    rows = [sowing(grower=number) for number in range(len(names))]
    sheet = make_hand_out_sheet(make_plan(garden(rows, growers=growers(*names))), OUT, HandOutFacts(today=TODAY))
    assert [grower.name for grower in sheet.growers] == ["ana", "Ángel", "Émile", "Eva", "Örn", "Zora"]


def test_a_growers_plants_are_listed_by_crop_and_added_up():
    rows = [sowing(crop=1, plants=4), sowing(plants=6, variety="Red"), sowing(plants=3, variety="Amber")]
    plan = make_plan(garden(rows, cards=(card(), card(id=2, name="Pepper"))))
    (grower,) = make_hand_out_sheet(plan, OUT, HandOutFacts(today=TODAY)).growers
    assert [(crop.crop, crop.variety, crop.plants) for crop in grower.crops] == [
        ("Pepper", "", 4),
        ("Tomato", "Amber", 3),
        ("Tomato", "Red", 6),
    ]
    assert grower.plants == 13


def test_plants_stand_in_the_container_they_were_potted_on_into():
    boxes = (container(), container(id=2, name="9 cm pot", cells_per_tray=18))
    cards = (card(pot_on_container=1, pot_on_after_days=14), card(id=2, name="Basil"))
    plan = make_plan(garden([sowing(), sowing(crop=1)], cards=cards, containers=boxes))
    (grower,) = make_hand_out_sheet(plan, OUT, HandOutFacts(today=TODAY)).growers
    assert [crop.container for crop in grower.crops] == ["72-cell tray", "9 cm pot"]


def test_nobody_is_listed_for_nothing():
    rows = [sowing(placed=0), sowing(crop=1)]
    outside = card(id=2, name="Carrot", start_container=None, direct_sow_weeks=0.0, light=None, heat=False)
    plan = make_plan(garden(rows, cards=(card(), outside)))
    assert hand_out_days(plan) == ()
    assert next_hand_out_day(plan, TODAY) is None
    sheet = make_hand_out_sheet(plan, OUT, HandOutFacts(today=TODAY))
    assert (sheet.growers, sheet.sums) == ((), "0 plants for 0 growers")


def test_the_next_day_is_the_first_from_today_on_and_at_last_the_last():
    plan = make_plan(garden([sowing(), sowing(plant_out=as_day(date(2027, 7, 3)))]))
    days = (OUT, date(2027, 7, 3))
    assert hand_out_days(plan) == days
    asked = (TODAY, OUT, date(2027, 6, 20), date(2027, 7, 4))
    assert [next_hand_out_day(plan, day) for day in asked] == [days[0], days[0], days[1], days[1]]


def test_plants_from_saved_cucurbit_seed_are_marked_with_a_caution():
    plan = make_plan(garden([sowing(), sowing(plants=2)]))
    plain = make_hand_out_sheet(plan, OUT, HandOutFacts(today=TODAY))
    marked = make_hand_out_sheet(plan, OUT, HandOutFacts(today=TODAY, saved_cucurbits={2}))
    assert plain.cautions == ()
    assert [crop.doubtful for crop in marked.growers[0].crops] == [False, True]
    assert "bitter" in marked.cautions[0].words


def test_the_demos_days_hand_out_every_plant_that_is_started_indoors_once(demo):
    plan = demo.plan
    total = 0
    for day in hand_out_days(plan):
        sheet = make_hand_out_sheet(plan, day, HandOutFacts(today=TODAY))
        assert sheet.plants == plan.plants[plan.timeline.plant_out == as_day(day)].sum()
        assert sheet.plants == sum(crop.plants for grower in sheet.growers for crop in grower.crops)
        total += sheet.plants
    assert total == plan.plants[plan.container >= 0].sum()


def test_the_demo_has_doubtful_plants_and_all_are_cucurbits(demo):
    assert demo.facts.saved_cucurbits
    sowings, cards = demo.plan.garden.sowings, demo.plan.garden.cards
    crops = {cards[sowings.crop[demo.plan.index_of[row]]].name for row in demo.facts.saved_cucurbits}
    # Members of the family among the demo's crops: common knowledge of the trade.
    assert crops <= {"Cucumber", "Muskmelon", "Pumpkin", "Summer squash", "Watermelon", "Winter squash", "Zucchini"}


def test_plants_stand_in_cells_of_a_tray_at_a_position():
    plan = make_plan(garden(dealt=dealt((0, 0, 9))))
    there = stay(Place.HARDENING, HARDENS, OUT, shelf="Cold frame", level=1, slot=4)
    say = HandOutFacts(today=TODAY, cells=cells(), stays=[there])
    assert make_hand_out_sheet(plan, OUT, say).growers[0].crops[0].trays == ("tray 1: A1–F1, D2–F2 (Cold frame, 1·4)",)
    waits = HandOutFacts(today=TODAY, cells=cells(), stays=[stay(Place.HARDENING, HARDENS, OUT, shelf=None)])
    assert make_hand_out_sheet(plan, OUT, waits).growers[0].crops[0].trays == ("tray 1: A1–F1, D2–F2",)
    assert make_hand_out_sheet(plan, OUT, HandOutFacts(today=TODAY)).growers[0].crops[0].trays == ()


def test_potted_on_plants_are_looked_for_in_their_pots_alone():
    boxes = (container(), container(id=2, name="9 cm pot", cells_per_tray=18))
    trays = dealt((0, 0, 9), (1, 0, 7), pots=[1])
    plan = make_plan(garden(cards=(card(pot_on_container=1, pot_on_after_days=14),), containers=boxes, dealt=trays))
    told = [*cells(), *cells([(1, 1), (1, 2)], tray=102)]
    (crop,) = make_hand_out_sheet(plan, OUT, HandOutFacts(today=TODAY, cells=told)).growers[0].crops
    assert crop.trays == ("tray 2: A1–A2",)


def test_every_plant_of_the_dealt_demo_is_in_some_tray(dealt_demo):
    plan = dealt_demo.plan
    for day in hand_out_days(plan):
        stays = dealt_demo.stays_between(day - timedelta(days=1), day)
        say = HandOutFacts(today=TODAY, cells=dealt_demo.cells, stays=stays)
        sheet = make_hand_out_sheet(plan, day, say)
        assert all(crop.trays for grower in sheet.growers for crop in grower.crops)
        text = text_of(make_pdf(Template.HAND_OUT, sheet, Paper.A4))
        assert all(squashed(tray) in text for grower in sheet.growers for crop in grower.crops for tray in crop.trays)


def test_what_was_not_collected_stands_on_the_sheet_of_the_next_day_and_what_was_does_not():
    came = (LogKind.UP, date(2027, 5, 7), 9)
    some = (LogKind.HANDED_OUT, OUT, 4)
    after = date(2027, 6, 21)
    plan = plan_on(after, sown(), came, some)
    sheet = make_hand_out_sheet(plan, date(2027, 6, 26), HandOutFacts(today=after))
    assert sheet.growers == ()
    (grower,) = sheet.waiting
    assert [(crop.plants, crop.collected, crop.due) for crop in grower.crops] == [(2, 4, "Sat 19 Jun")]
    assert squashed("Due before, not logged as collected") in text_of(make_pdf(Template.HAND_OUT, sheet, Paper.A4))
    own = make_hand_out_sheet(plan, OUT, HandOutFacts(today=after))
    assert [(crop.plants, crop.collected) for crop in own.growers[0].crops] == [(2, 4)]
    assert own.waiting == ()


def test_the_days_of_hand_out_stay_as_they_were_due_while_plants_wait():
    plan = plan_on(date(2027, 6, 22), sown(), (LogKind.UP, date(2027, 5, 7), 9))
    assert hand_out_days(plan) == (OUT,)


def test_a_sheet_says_how_far_the_log_goes():
    plan = plan_on(date(2027, 5, 20), sown())
    sheet = make_hand_out_sheet(plan, OUT, HandOutFacts(today=date(2027, 5, 20)))
    assert sheet.basis == "As logged until Sat 1 May 2027, the rest as planned on Thu 20 May 2027."
    timed = replace(plan.garden, log=replace(plan.garden.log, made_at=np.array([MADE_AT.timestamp()])))
    assert basis_words(TODAY, logged_until(make_plan(timed))).startswith(
        "As logged until Sun 2 May 2027, 09:05, the rest"
    )
    assert basis_words(TODAY, None) == "As planned on Sat 10 Apr 2027, nothing is logged yet."
    assert basis_words(TODAY, None, is_dealt=True).startswith("Trays as dealt, the rest as planned on Sat 10 Apr 2027")
