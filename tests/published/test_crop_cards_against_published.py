"""Weeks on the crop cards against the tables of the extension services that the cards name.

A card's `source` says for each figure which service was taken; what other services give stands in brackets.
Figures marked common practice or from memory have no table to be held against.
"""

import csv
import re
from math import inf

import pytest

from app.core.plants.card_rules import read_sources
from tests.published.tables import read_rows
from tests.rules.tree import ROOT

TABLES = {
    "indoor_weeks_min": "weeks_to_transplant.csv",
    "indoor_weeks_max": "weeks_to_transplant.csv",
    "plant_out_weeks": "weeks_from_last_frost.csv",
    "direct_sow_weeks": "weeks_from_last_frost.csv",
}
PUBLISHED = {name: read_rows(name) for name in sorted(set(TABLES.values()))}
SERVICES = sorted({row["source"] for rows in PUBLISHED.values() for row in rows}, key=len, reverse=True)
SERVICE = re.compile("|".join(map(re.escape, SERVICES)))
RANGE = re.compile(rf"({SERVICE.pattern}) (?:gives? )?(-?\d+(?:\.\d+)?)(?:-(-?\d+(?:\.\d+)?)| to (-?\d+(?:\.\d+)?))?\b")
# Cards whose crop stands under a wider or another name in the tables.
PUBLISHED_NAMES = {
    "bush bean": ("bean, snap",),
    "pole bean": ("bean, snap",),
    "mustard greens": ("mustard",),
    "sweet corn": ("corn, sweet",),
    "cherry tomato": ("tomato",),
    "head lettuce": ("lettuce",),
    "leaf lettuce": ("lettuce",),
    "hot pepper": ("pepper",),
    "sweet pepper": ("pepper",),
    "pumpkin": ("pumpkin", "squash and pumpkin"),
    "summer squash": ("squash, summer", "squash", "squash and pumpkin"),
    "zucchini": ("squash, summer", "squash", "squash and pumpkin"),
    "winter squash": ("squash, winter", "squash", "squash and pumpkin"),
}


def card_figures():
    """Return (crop, column, value, source) of every figure in weeks that names a service as taken."""
    with (ROOT / "seed_data" / "crops.csv").open(encoding="utf-8", newline="") as file:
        cards = list(csv.DictReader(file))
    return [
        (card["crop"], column, float(card[column]), read_sources(card["source"])[column])
        for card in cards
        for column in TABLES
        if card[column] and SERVICE.search(taken(read_sources(card["source"])[column]))
    ]


def taken(source):
    """Return the part of a source that was taken: not in brackets, not common practice, not from memory."""
    outside = re.sub(r"\([^)]*\)", "", source)
    return "" if outside.startswith(("common practice", "from memory")) else outside


def published(table, crop, service):
    """Return the least and the most weeks that a service prints for a crop, None where it prints none."""
    names = PUBLISHED_NAMES.get(crop.lower(), (crop.lower(),))
    rows = [row for row in PUBLISHED[table] if row["source"] == service and row["crop"] in names]
    if not rows:
        return None
    least = min(float(row["weeks_min"]) if row["weeks_min"] else -inf for row in rows)
    most = max(float(row["weeks_max"]) if row["weeks_max"] else inf for row in rows)
    return least, most


def margin(column, source):
    """Return how far a figure may lie outside, where its source says that it does. [weeks below, weeks above]"""
    if "rounded" in source:
        return 0.5, 0.5
    return (0, 1) if column == "indoor_weeks_max" and "a week more allowed" in source else (0, 0)


FIGURES = card_figures()


def test_most_cards_are_held_against_a_table():
    assert len(FIGURES) >= 90
    assert {column for _, column, _, _ in FIGURES} == set(TABLES)
    assert len({crop for crop, _, _, _ in FIGURES}) >= 40


@pytest.mark.parametrize(
    ("crop", "column", "value", "source"), FIGURES, ids=[f"{crop} {column}" for crop, column, _, _ in FIGURES]
)
def test_a_figure_lies_within_what_its_source_prints(crop, column, value, source):
    services = SERVICE.findall(taken(source))
    ranges = [published(TABLES[column], crop, service) for service in services]
    assert None not in ranges, f"{services} print no weeks for {crop}"
    below, above = margin(column, source)
    assert min(least for least, _ in ranges) - below <= value <= max(most for _, most in ranges) + above


def test_the_ranges_that_the_cards_quote_are_the_printed_ones():
    quotes = [
        (crop, TABLES[column], quote[1], float(quote[2]), float(quote[3] or quote[4] or quote[2]))
        for crop, column, _, source in FIGURES
        for quote in RANGE.finditer(source)
        if not source[quote.end() :].startswith((" or more", " or less", " months"))
    ]
    assert len(quotes) >= 60
    wrong = [quote for quote in quotes if published(quote[1], quote[0], quote[2]) != quote[3:]]
    assert wrong == []


def test_the_shortest_time_indoors_is_never_above_the_longest():
    for crop, column, value, _ in FIGURES:
        if column == "indoor_weeks_min":
            assert value <= next(
                most for name, other, most, _ in FIGURES if (name, other) == (crop, "indoor_weeks_max")
            )
