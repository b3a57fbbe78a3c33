"""The checker finds a right story right, and each wrong one wrong."""

import re
from dataclasses import replace

import pytest

from tests.reliability.checker import Found, Operation, Result, Story, Told, judge

BEFORE = {1: {"name": "Ines"}}


def ended(action, key, sent_at, ended_at, result=Result.OK):
    return Operation(action, key, sent_at, ended_at, result)


def added(row, subject, name):
    return Told(row, subject, "added", {"name": (None, name)})


def changed(row, subject, before, after):
    return Told(row, subject, "changed", {"plot": (before, after)})


def removed(row, subject, **values):
    return Told(row, subject, "removed", {column: (value, None) for column, value in values.items()})


OPERATIONS = [
    ended("added", "Bo", 0, 1),
    ended("added", "Cai", 2, 3),
    ended("changed", "p1", 4, 5),
    ended("changed", "p2", 6, 7),
    ended("removed", "Cai", 8, 9),
    ended("added", "Dov", 10, 11, Result.FAIL),
    ended("added", "Eli", 12, None, Result.UNKNOWN),
    ended("added", "Fay", 13, None, Result.UNKNOWN),
]
FOUND = Found(
    before=BEFORE,
    after={1: {"name": "Ines", "plot": "p2"}, 2: {"name": "Bo", "plot": None}, 4: {"name": "Fay"}},
    told=[
        added(10, 2, "Bo"),
        added(11, 3, "Cai"),
        changed(12, 1, None, "p1"),
        changed(13, 1, "p1", "p2"),
        removed(14, 3, name="Cai"),
        added(15, 4, "Fay"),
    ],
    sums=[("cells", 3, 3)],
)


def test_a_right_story_is_right():
    assert judge(OPERATIONS, FOUND) == []


def test_nothing_asked_for_and_nothing_there_is_right():
    assert judge([], Found(before=BEFORE, after=BEFORE, told=[])) == []


def without_told(row):
    return replace(FOUND, told=[told for told in FOUND.told if told.id != row])


def with_told(*told):
    return replace(FOUND, told=[*FOUND.told, *told])


WRONG = {
    "what was answered as saved is gone, and its history": (
        OPERATIONS,
        Found(before=BEFORE, after={1: {"name": "Ines", "plot": "p2"}, 4: {"name": "Fay"}}, told=FOUND.told[1:]),
        "lost: .*'Bo'",
    ),
    "the row is gone and its history is not": (
        OPERATIONS,
        replace(FOUND, after={row: values for row, values in FOUND.after.items() if row != 2}),
        "row 2 is None",
    ),
    "the history is gone and its row is not": (OPERATIONS, without_told(10), "lost: .*'Bo'"),
    "a change is lost that another has written over": (OPERATIONS, without_told(12), "lost: .*'p1'"),
    "a change was written over without being told": (
        OPERATIONS,
        replace(FOUND, after=FOUND.after | {1: {"name": "Ines", "plot": "p1"}}),
        "row 1 is",
    ),
    "a removal is undone": (OPERATIONS, replace(FOUND, after=FOUND.after | {3: {"name": "Cai"}}), "row 3 is"),
    "a removal has no history": (OPERATIONS, without_told(14), "lost: .*'Cai'"),
    "what was refused is there": (
        OPERATIONS,
        replace(with_told(added(16, 5, "Dov")), after=FOUND.after | {5: {"name": "Dov"}}),
        "'Dov'.* was refused and is there",
    ),
    "what got no answer is there twice": (
        OPERATIONS,
        replace(with_told(added(16, 5, "Fay")), after=FOUND.after | {5: {"name": "Fay"}}),
        "'Fay'.* is there 2 times",
    ),
    "what was saved acted twice": (
        OPERATIONS,
        replace(with_told(added(16, 5, "Bo")), after=FOUND.after | {5: {"name": "Bo"}}),
        "'Bo'.* is there 2 times",
    ),
    "something is there that nobody asked for": (
        OPERATIONS,
        replace(with_told(added(16, 5, "Gil")), after=FOUND.after | {5: {"name": "Gil"}}),
        "nobody asked for .*'Gil'",
    ),
    "half of a row is there": (
        OPERATIONS,
        replace(FOUND, after=FOUND.after | {2: {"name": None}}),
        "row 2 is {}",
    ),
    "a column changed by itself": (
        OPERATIONS,
        replace(FOUND, after=FOUND.after | {2: {"name": "Bo", "contact": "x"}}),
        "row 2 is",
    ),
    "the history skips a value": (
        OPERATIONS,
        replace(FOUND, told=[changed(13, 1, "p0", "p2") if told.id == 13 else told for told in FOUND.told]),
        "plot was 'p1', told as 'p0'",
    ),
    "an id is given to two": (
        OPERATIONS,
        replace(FOUND, told=[added(11, 2, "Cai") if told.id == 11 else told for told in FOUND.told]),
        "row 2 is added and was there",
    ),
    "the later one is told first": (
        OPERATIONS,
        replace(
            FOUND,
            told=[replace(told, id={10: 11, 11: 10}.get(told.id, told.id)) for told in FOUND.told],
        ),
        "Cai was sent after Bo was answered, and is told before it",
    ),
    "sums differ": (OPERATIONS, replace(FOUND, sums=[("cells", 3, 2)]), "cells: 3 is not 2"),
    "a key is of two operations": ([*OPERATIONS, ended("added", "Bo", 20, 21)], FOUND, "asked for 2 times"),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_story_is_found(name):
    operations, found, words = WRONG[name]
    faults = judge(operations, found)
    assert any(re.search(words, fault) for fault in faults), faults


def test_a_story_notes_what_got_no_answer_as_unknown():
    story = Story()
    with pytest.raises(ConnectionError), story.asked("added", "Bo"):
        raise ConnectionError
    with story.asked("added", "Cai") as operation:
        operation.end(Result.OK)
    assert [operation.result for operation in story.operations] == [Result.UNKNOWN, Result.OK]
    assert story.count(Result.OK) == 1
