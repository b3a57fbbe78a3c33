"""The log in words."""

from datetime import date

import pytest

from app.core.log.rules import Rule
from app.core.words import Cause, LogKind
from app.sheets.log_words import (
    KIND_WORDS,
    NOUNS,
    QUESTIONS,
    entry_words,
    is_of_day,
    rule_words,
    said_words,
    where_words,
)
from app.storage.queries.log import EntryRow

DAY = date(2027, 4, 10)


def entry(**changes):
    """Return an entry as a row; names are invented."""
    values = dict.fromkeys(EntryRow._fields) | {
        "id": 1, "name": "E-1", "sowing_id": 1, "kind": LogKind.UP, "date": DAY, "number": 5, "made_at": 0.0,
        "sowing": "S-0001", "crop": "Tomato", "whose": "Ada Brandt",
    }  # fmt: skip
    return EntryRow(**values | changes)


@pytest.mark.parametrize("rule", Rule)
def test_every_rule_says_what_would_be_right(rule):
    words = rule_words(rule, DAY.toordinal() if is_of_day(rule) else 17)
    assert words.endswith(".")
    if is_of_day(rule):
        assert "Saturday 10 April 2027" in words
    elif rule not in {Rule.NOT_SOWN, Rule.NOTHING_COUNTED}:
        assert "17" in words


def test_every_kind_has_its_words():
    assert set(KIND_WORDS) == set(NOUNS) == set(QUESTIONS) == set(LogKind)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "5 cells up"),
        ({"kind": LogKind.SOWN, "seeds": 10}, "5 cells sown, 10 seeds"),
        ({"kind": LogKind.LOST, "number": 1, "cause": Cause.MICE}, "1 plant lost, by mice"),
        ({"kind": LogKind.LOST, "cause": Cause.UNKNOWN}, "5 plants lost, nobody knows why"),
        ({"number": 0}, "Up: taken back"),
    ],
)
def test_an_entry_says_what_was_done(changes, words):
    assert entry_words(entry(**changes)) == words


def test_an_entry_of_cells_names_them():
    assert where_words(entry(tray=3, cells="1-1 1-2")) == "tray 3, A1–A2"
    assert where_words(entry(tray=3)) == "tray 3"
    assert where_words(entry()) == ""


def test_whoever_logs_is_told_what_was_written_down():
    said = said_words(LogKind.SOWN, 1, DAY, "tray 3")
    assert said == "Logged: tray 3, sown, 1 cell, Sat 10 Apr"
