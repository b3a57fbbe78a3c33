"""Seed lots in words, held against published test arithmetic, tables of binomial trials and plain counting."""

from dataclasses import replace
from datetime import date

import pytest
from scipy.stats import binom

from app.core.cards import SeedLotCard
from app.core.log.learning import Observed
from app.core.plan import make_plan
from app.core.words import Origin
from app.sheets.seed_lots import LotFacts, age_of, make_seed_lot_page
from app.storage.queries.seed_lots import SeedTestRow
from tests.conftest import TODAY
from tests.factories import card, garden, sowing

FACTS = LotFacts("Tomato", "Solanum lycopersicum", 0.9, Origin.BOUGHT, 2024, 4.0)
# Seeds laid out, seeds up, germination in percent: 85 of 100 is the worked example of the Philippine Rice Research
# Institute (PinoyRice, key check 1, "Conduct seed germination test"); ten seeds at 10 % each are common practice.
WORKED = [(100, 85, "85 %"), (10, 7, "70 %"), (10, 10, "100 %"), (25, 19, "76 %"), (40, 0, "0 %")]


def paper(tried, up, number=1):
    return SeedTestRow(id=number, date=date(2027, 3, 1), tried=tried, up=up, days=10, seeds_per_cell=1.0)


def page_of(*tests, stated=0.9, facts=FACTS, rows=None, **changes):
    observed = tuple(Observed(test.tried, test.up) for test in tests)
    made = garden(rows or [sowing(plants=20, germination=stated or 0)], cards=(card(seeds_per_cell=1, **changes),))
    lots = (SeedLotCard(id=7, name="Packet A", crop=0, stated=stated, tests=observed),)
    made = replace(made, lots=lots, sowings=replace(made.sowings, seed_lot=made.sowings.crop * 0))
    return make_seed_lot_page(make_plan(made), 7, facts, list(tests), TODAY)


@pytest.mark.parametrize(("tried", "up", "share"), WORKED)
def test_a_test_is_said_in_percent_as_the_published_example_does(tried, up, share):
    (line,) = page_of(paper(tried, up)).tests
    assert line.share.replace("\u00a0", " ") == share


def test_cells_as_stated_and_as_seen_are_the_fewest_by_the_binomial_law_of_scipy():
    page = page_of(paper(40, 20))
    (line,) = page.stands
    for cells, rate in ((line.stated, 0.9), (line.seen, (18 + 20) / (20 + 40))):  # by the Beta law
        chance = rate * 0.9  # of seed by the survival of seedlings
        assert binom.sf(line.plants - 1, cells, chance) >= 0.9 > binom.sf(line.plants - 1, cells - 1, chance)
    assert line.planned == line.seen > line.stated
    assert page.in_all == (line.stated, line.seen, line.planned)


def test_without_anything_seen_both_are_as_stated():
    page = page_of()
    assert (page.seen, dict(page.facts)["Seen here"]) == ("", "nothing yet")
    assert page.stands[0].stated == page.stands[0].seen == page.stands[0].planned


def test_what_was_seen_is_said_with_its_interval_and_how_many_seeds():
    page = page_of(paper(40, 20))
    # scipy's beta(38, 22).ppf([0.05, 0.95]): 0.529 and 0.732
    assert page.seen.replace("\u00a0", " ") == (
        "After 40 seeds that were watched, about 63 % come up: with a chance of 9 in 10 it is between 53 % and 73 %."
    )
    assert dict(page.facts)["Seeds watched"] == "40"


def test_a_lot_without_a_rate_says_what_it_counts_as():
    page = page_of(stated=None, facts=FACTS._replace(germination=None))
    assert dict(page.facts)["Stated"].replace("\u00a0", " ") == "not given, counts as 75 %"


@pytest.mark.parametrize(
    ("year", "keeps", "words", "is_past"),
    [
        (2027, 4.0, "of this year; such seed usually keeps 4 years", False),
        (2026, 1.0, "1 year old; such seed usually keeps 1 year", False),
        (2023, 4.0, "4 years old; such seed usually keeps 4 years", False),
        (2022, 4.0, "5 years old, older than the 4 years that such seed usually keeps", True),
        (2022, None, "5 years old", False),
        (2028, 2.0, "of this year; such seed usually keeps 2 years", False),
        (None, 4.0, "", False),
    ],
)
def test_the_age_of_seed_is_said_beside_how_long_it_keeps(year, keeps, words, is_past):
    age = age_of(year, keeps, TODAY)
    assert (age.words.replace("\u00a0", " "), age.is_past) == (words, is_past)


@pytest.mark.parametrize(
    ("crop", "origin", "doubtful"),
    [("Squash", Origin.SAVED, True), ("Squash", Origin.BOUGHT, False), ("Tomato", Origin.SAVED, False)],
)
def test_saved_cucurbits_are_in_doubt(crop, origin, doubtful):
    assert page_of(facts=FACTS._replace(crop=crop, botanical=None, origin=origin)).is_doubtful == doubtful


def test_crops_sown_outside_have_no_cells():
    page = page_of(start_container=None, direct_sow_weeks=0.0, plant_out_weeks=None)
    assert (page.stands, page.n_stands) == ((), 0)


def test_of_many_sowings_the_first_are_shown_and_all_are_summed():
    page = page_of(rows=[sowing(plants=n) for n in range(1, 31)])
    assert (len(page.stands), page.n_stands) == (20, 30)
    assert page.in_all[0] > sum(line.stated for line in page.stands)
