import csv
from pathlib import Path

import pytest

from app.core.plants.card_rules import card_faults, read_sources
from app.core.plants.cucurbits import is_cucurbit

CARDS = Path(__file__).resolve().parents[3] / "seed_data" / "crops.csv"


def card(**changes):
    """Return the figures of a sound card, of a crop that starts in a container."""
    return {
        "start_container": "72-cell tray",
        "plant_out_weeks": 1.0,
        "indoor_weeks_min": 6.0,
        "indoor_weeks_max": 8.0,
        "light": "lamp",
        "days_to_emerge": 6,
        "direct_sow_weeks": None,
        "pot_on_container": None,
        "pot_on_after_days": None,
        "transplanting": "easy",
    } | changes


OUTSIDE = {
    "start_container": None,
    "plant_out_weeks": None,
    "indoor_weeks_min": None,
    "indoor_weeks_max": None,
    "light": None,
    "days_to_emerge": None,
    "direct_sow_weeks": 2.0,
}


@pytest.mark.parametrize(
    "changes",
    [
        pytest.param({}, id="started indoors"),
        pytest.param({"indoor_weeks_min": 8.0}, id="one length of time indoors"),
        pytest.param({"pot_on_container": "9 cm pot", "pot_on_after_days": 20}, id="potted on"),
        pytest.param({"transplanting": "resents"}, id="resents and stays"),
        pytest.param(OUTSIDE, id="sown outside"),
    ],
)
def test_a_sound_card_has_no_faults(changes):
    assert card_faults(card(**changes)) == ()


@pytest.mark.parametrize(
    ("changes", "columns"),
    [
        ({"indoor_weeks_min": 9.0}, ["indoor_weeks_max"]),
        ({"light": None, "days_to_emerge": None}, ["light", "days_to_emerge"]),
        ({"transplanting": "resents", "pot_on_container": "pot", "pot_on_after_days": 20}, ["pot_on_container"]),
        ({"pot_on_container": "pot"}, ["pot_on_after_days"]),
        ({"pot_on_after_days": 20}, ["pot_on_container"]),
        (OUTSIDE | {"direct_sow_weeks": None}, ["direct_sow_weeks"]),
        (OUTSIDE | {"indoor_weeks_min": 1.0}, ["indoor_weeks_min"]),
        (OUTSIDE | {"pot_on_container": "pot", "pot_on_after_days": 20}, ["pot_on_container"]),
    ],
    ids=[
        "fewest above most",
        "light and emergence missing",
        "resents but potted on",
        "potted on, nobody knows when",
        "days to nowhere",
        "sown nowhere",
        "weeks indoors of a crop sown outside",
        "a crop sown outside, potted on",
    ],
)
def test_each_figure_that_does_not_go_with_the_others_is_named(changes, columns):
    assert [fault.column for fault in card_faults(card(**changes))] == columns


def test_sources_are_read_by_figure():
    text = "hardiness: Utah dates; indoor_weeks_min+indoor_weeks_max: Utah: 8 weeks, the later taken;; grown here"
    assert read_sources(text) == {
        "hardiness": "Utah dates",
        "indoor_weeks_min": "Utah: 8 weeks, the later taken",
        "indoor_weeks_max": "Utah: 8 weeks, the later taken",
        "": "grown here",
    }


@pytest.mark.parametrize("text", [None, "", " ; ", "hardiness:"])
def test_a_card_may_have_no_sources(text):
    assert read_sources(text) == {}


def test_a_figure_named_twice_keeps_both_sources():
    assert read_sources("light: one; light: two") == {"light": "one; two"}


# The family of each is from memory: Cucurbitaceae holds cucumber, melons, squashes, pumpkins and gourds.
def test_the_cucurbits_among_the_cards_are_known():
    with CARDS.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    found = {row["crop"] for row in rows if is_cucurbit(row["crop"], row["botanical"] or None)}
    words = ("cucumber", "squash", "zucchini", "pumpkin", "melon", "gourd")
    assert found == {row["crop"] for row in rows if any(word in row["crop"].lower() for word in words)}
    assert len(found) >= 5


@pytest.mark.parametrize(
    ("name", "botanical", "answer"),
    [
        ("Grandmother's pumpkin", None, True),
        ("Courgette", "", True),
        ("Pepino melon", "Solanum muricatum", False),
        ("Loofah", "luffa aegyptiaca", True),
        ("Tomato", None, False),
    ],
)
def test_the_genus_decides_before_the_name(name, botanical, answer):
    assert is_cucurbit(name, botanical) is answer
