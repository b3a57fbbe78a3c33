"""The season fit in words, on crops whose days are counted by hand from the invented frost table of docs/method.md."""

from dataclasses import replace

import numpy as np
import pytest

from app.core.dates.record import Freezes, Half
from app.core.plan import make_plan
from app.core.plants.season import Verdict
from app.core.words import CountedFrom, Hardiness
from app.sheets.advice import advice_words, freezes_words
from app.sheets.season_page import crop_lines, make_season_page
from tests.factories import card, garden, sowing

OUTSIDE = dict.fromkeys(("plant_out_weeks", "indoor_weeks_min", "indoor_weeks_max", "start_container", "light"))


def said(**changes):
    """Return the advice on a crop that would go out on 13 June, of a garden with a spring risk of 10 %."""
    one = card(**{"plant_out_weeks": 0} | changes)
    return advice_words(make_plan(garden(cards=(one,))), one)


def plain(sentences):
    return [sentence.replace("\u00a0", " ") for sentence in sentences]


def test_a_crop_that_fits_has_no_advice():
    assert said() == ((), ())


def test_a_tender_crop_a_day_short_is_told_every_way_out():
    # 13 Jun + 65 + 14 = 31 Aug. By the normal law a freeze comes on 12 June or later in 12.0 % of springs.
    helps, fails = said(days_to_maturity=65)
    assert plain(helps) == [
        "A bolder spring risk of 13 %: about 1 spring in 8 freezes later. It is planted out from Sat 12 Jun.",
        "A quicker variety of at most 64 days from planting out, instead of 65.",
        "Planted out by Sat 12 Jun under cover: about 1 spring in 8 freezes then or later (12 %).",
        "Picking for 13 days, instead of 14.",
    ]
    assert plain(fails) == ["Longer indoors changes nothing: its days count from planting out."]


def test_weeks_indoors_are_set_against_the_longest_on_the_card():
    # As in tests/core/plants/test_advice.py: 9 weeks.
    changes = {"counted_from": CountedFrom.SEED, "days_to_maturity": 125}
    within = said(**changes, indoor_weeks_max=9)
    assert "9 weeks indoors at least, 3 weeks more than the 6 on the card; it may stay up to 9." in within.helps
    beyond = said(**changes, indoor_weeks_max=8)
    assert (
        "9 weeks indoors at least, 3 weeks more than the 6 on the card: "
        "longer than the 8 it should stay, so only with a larger container."
    ) in beyond.helps


def test_a_crop_sown_outside_is_spoken_of_as_sown():
    helps, fails = said(**OUTSIDE | {"direct_sow_weeks": 0, "counted_from": CountedFrom.SEED, "days_to_maturity": 65})
    assert plain(helps)[:2] == [
        "A bolder spring risk of 13 %: about 1 spring in 8 freezes later. It is sown from Sat 12 Jun.",
        "A quicker variety of at most 64 days from sowing, instead of 65.",
    ]
    assert "Sown by Sat 12 Jun under cover" in helps[2]
    assert fails == ()


def test_what_is_not_enough_is_said_too():
    # 1 Jun + 200 + 14 is 1 January; harvests end on 6 September.
    _, fails = said(hardiness=Hardiness.HALF_HARDY, days_to_maturity=200)
    assert "A bolder spring risk changes nothing: it does not wait for that risk." in fails
    assert "No shorter picking is enough." in fails
    assert "No spring risk is bold enough." in said(days_to_maturity=200).fails


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.001, "hardly any spring freezes"),
        (0.02, "1 spring in 50 freezes"),
        (0.03, "about 1 spring in 30 freezes"),
        (0.25, "1 spring in 4 freezes"),
        (0.26, "about 1 spring in 4 freezes"),
        (1 / 3, "1 spring in 3 freezes"),
        (0.7, "7 springs in 10 freeze"),
        (0.97, "about 29 springs in 30 freeze"),
        (0.999, "nearly every spring freezes"),
    ],
)
def test_a_chance_of_a_freeze_is_a_number_of_springs(chance, words):
    assert freezes_words(chance) == words


class TestPage:
    """The page of a garden with a tomato that fits, a pumpkin that is too long, and a pea without sowings."""

    PEA = card(**OUTSIDE | {"id": 7, "name": "Pea", "direct_sow_weeks": 0, "counted_from": CountedFrom.SEED})

    def plan(self, **changes):
        cards = (
            replace(self.PEA, hardiness=Hardiness.HARDY, days_to_maturity=60),
            card(id=8, name="Pumpkin", plant_out_weeks=0, days_to_maturity=70),
            card(id=9, name="Tomato", plant_out_weeks=0),
        )
        rows = [
            sowing(crop=1),
            *(sowing(crop=1, days_to_maturity=50, variety=name) for name in ("Round", "Small", "Round")),
            sowing(crop=1, days_to_maturity=75),
            sowing(crop=2, days_to_maturity=66, variety="Slow"),
        ]
        return make_plan(garden(rows, cards=cards, **changes))

    def names(self, **chosen):
        return [line.name for line in make_season_page(self.plan(), **chosen).lines]

    def test_every_crop_has_its_verdict_and_days_to_spare(self):
        found = {line.name: line.fit[:3] for line in crop_lines(self.plan())}
        assert found == {
            "Pea": (Verdict.SOW_OUTSIDE, "–", "30"),  # 1 Jun + 74 = 14 Aug; 30 Aug + 14 = 13 Sep
            "Pumpkin": (Verdict.TOO_LONG, "-6", "–"),
            "Tomato": (Verdict.START_INDOORS, "4", "–"),
        }

    def test_varieties_with_days_of_their_own_stand_beside_their_crop(self):
        _, pumpkin, tomato = crop_lines(self.plan())
        assert [(line.names, line.days, line.sowings, *line.fit[:2]) for line in pumpkin.varieties] == [
            ("Round and Small", "50 days from planting out", 3, Verdict.START_INDOORS, "14"),
            ("a variety without a name", "75 days from planting out", 1, Verdict.TOO_LONG, "-11"),
        ]
        (slow,) = tomato.varieties
        assert (slow.fit.verdict, slow.fit.indoors) == (Verdict.TOO_LONG, "-2")
        assert "A quicker variety of at most 64 days from planting out, instead of 66." in slow.fit.advice.helps
        assert (pumpkin.sowings, tomato.sowings) == (5, 1)

    def test_a_verdict_finds_crops_and_those_with_such_a_variety(self):
        assert self.names() == ["Pea", "Pumpkin", "Tomato"]
        assert self.names(verdict=Verdict.TOO_LONG) == ["Pumpkin", "Tomato"]
        assert self.names(verdict=Verdict.START_INDOORS) == ["Pumpkin", "Tomato"]
        assert self.names(verdict=Verdict.SOW_OUTSIDE) == ["Pea"]
        assert self.names(is_wanted=True) == ["Pumpkin", "Tomato"]
        assert self.names(verdict=Verdict.SOW_OUTSIDE, is_wanted=True) == []

    def test_the_facts_are_those_of_the_frost_table(self):
        facts = {name.replace("\u00a0", " "): value for name, value in make_season_page(self.plan()).facts}
        assert facts == {
            "Frost-free days, on average": "90",
            "Spring date at 10 %": "Sun 13 Jun",
            "Autumn date at 50 %": "Mon 30 Aug",
            "Too long here": "1 of 3 crops",
        }

    def test_it_says_where_no_month_is_safe(self):
        assert make_season_page(self.plan()).no_month == ""
        late = self.plan(autumn={10: "06-01", 50: "06-10", 90: "06-20"})
        assert make_season_page(late).no_month == (
            "The spring date, Sun 13 Jun, is not before the autumn date, Thu 10 Jun."
        )

    @pytest.mark.parametrize(
        ("n_years", "few"), [(25, ""), (15, " They are fewer than 20: take the chances as rough.")]
    )
    def test_chances_over_a_record_say_over_how_many_years(self, n_years, few):
        years = np.arange(n_years)
        half = Half(years=years, freeze=200 + 5 * years, freezes=years >= 0, missing=0 * years)
        plan = self.plan(station=Freezes(threshold_c=0.0, spring=half, autumn=half))
        page = make_season_page(plan)
        assert (
            page.chances
            == f"The chance that a crop ripens is counted over {n_years} years of the station’s record.{few}"
        )
        # The tomato is ripe on 26 August, day 238: the first eight years freeze earlier.
        assert page.lines[2].fit.chance == f"{round(100 * (n_years - 8) / n_years)}\u00a0%"
