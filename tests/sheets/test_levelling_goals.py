"""The goals of levelling in words; the sentences are read by people, so they are written out here."""

import pytest

from app.core.fitting.answer import Goal, Reached
from app.sheets.levelling_goals import Placed, gap_words, goal_lines

PLANTS = Placed(placed=6980, wished=7060)


def said(goal, value, bound, plants=None):
    (line,) = goal_lines([Reached(goal=goal, value=value, bound=bound)], plants)
    return line.words.replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("value", "bound", "words"),
    [
        (0.94, 0.95, "The grower who gets least gets 94 % of the plants wished for; no plan can give more than 95 %."),
        (0.94, 0.94, "The grower who gets least gets 94 % of the plants wished for; no plan can give more."),
        (
            0.9412,
            0.9414,
            (
                "The grower who gets least gets 94.1 % of the plants wished for; "
                "no plan can give more than a little above 94.1 %."
            ),
        ),
        (1.0, 1.0, "Every grower gets all the plants wished for."),
    ],
)
def test_the_smallest_share_is_said_with_what_no_plan_can_beat(value, bound, words):
    assert said(Goal.SHARE, value, bound) == words


@pytest.mark.parametrize(
    ("plants", "bound", "words"),
    [
        (PLANTS, 14150.4, "6 980 of 7 060 plants find room. Counted by priority: 14 120; {} more than 14 150."),
        (PLANTS, 14120.0, "6 980 of 7 060 plants find room. Counted by priority: 14 120; {} more."),
        (None, 14120.0, "Counted by priority: 14 120; {} more."),
        (Placed(placed=7060, wished=7060), 14120.0, "Every plant wished for finds room."),
    ],
)
def test_plants_that_find_room_are_counted(plants, bound, words):
    assert said(Goal.PLANTS, 14120.0, bound, plants) == words.format("no plan as fair has")


def test_days_are_those_of_all_plants_and_of_one_on_average():
    # 27 920 plant-days over 6 980 plants.
    words = "27 920 plant-days from the best day, 4 for a plant on average; no such plan has fewer than 27 900."
    assert said(Goal.DAYS, 27920.0, 27900.0, PLANTS) == words
    assert said(Goal.DAYS, 1.0, 1.0) == "1 plant-day from the best day; no such plan has fewer."
    assert said(Goal.DAYS, 0.0, 0.0, PLANTS) == "Every plant is sown on its best day."


def test_trays_are_counted():
    assert said(Goal.TRAYS, 158.0, 155.2) == "158 trays; no such plan takes fewer than 155."
    assert said(Goal.TRAYS, 1.0, 1.0) == "1 tray; no such plan takes fewer."


@pytest.mark.parametrize(
    ("gap", "words"),
    [(0.0, "none, proven best"), (1e-9, "none, proven best"), (0.0002, "under 0.1 %"), (0.0123, "1.2 %")],
)
def test_a_gap_that_is_not_proven_away_is_not_said_to_be_none(gap, words):
    assert gap_words(gap).replace("\u00a0", " ") == words
