"""What is asked of every answer of a levelling."""

from dataclasses import replace

import pytest

from app.core.fitting.answer import Goal
from app.core.fitting.judge import faults_of, values_of
from app.core.fitting.levelling import level
from app.core.words import Place
from tests.core.fitting_by_hand import held_fast, is_indoors, is_too_late
from tests.factories import shelf

# Enough for gardens of this size on any machine; a levelling that takes longer is stopped, and seen by its gaps.
SECONDS = 300


def levelled(garden, **changes):
    """Return the answer for a garden, having asked what must hold of any."""
    heard = []
    asked = {"seconds": SECONDS, "report": heard.append, "is_stopped": lambda: False}
    answer = level(garden, **asked | changes)
    assert faults_of(garden, answer.choices) == []
    assert [reached.goal for reached in answer.reached] == list(Goal)
    assert {reached.goal: reached.value for reached in answer.reached} == pytest.approx(values_of(answer.after))
    for reached in answer.reached:
        is_largest_best = reached.goal in (Goal.SHARE, Goal.PLANTS)
        assert reached.bound >= reached.value - 1e-9 if is_largest_best else reached.bound <= reached.value + 1e-9
    return answer


def check_proven(answer):
    """Every goal is proven, and nothing was cut short."""
    assert [reached.bound for reached in answer.reached] == pytest.approx([reached.value for reached in answer.reached])
    assert not answer.is_stopped


def check_extra(garden, answer, fewest):
    """As few extra positions as can be, and with them every sowing has its place with all its plants."""
    extra = answer.extra
    assert extra.bound == sum(extra.positions) == fewest
    larger = with_more(garden, extra.positions)
    assert faults_of(larger, extra.choices) == []
    sowings, fast = extra.choices.made_in(garden).sowings, held_fast(garden)
    free = [lot for lot in range(len(sowings)) if is_indoors(garden, lot) and lot not in fast]
    free = [lot for lot in free if not is_too_late(garden, lot)]
    assert [sowings.placed[lot] for lot in free if sowings.placed[lot] not in (-1, sowings.plants[lot])] == []


def with_more(garden, positions):
    """Return a garden with more positions of each place, on a shelf that it has or on a new one."""
    shelves = list(garden.shelves)
    for place, more in zip(Place, positions, strict=True):
        there = [n for n, each in enumerate(shelves) if each.place is place]
        if there:
            shelves[there[0]] = replace(shelves[there[0]], positions=shelves[there[0]].positions + more)
        elif more:
            shelves.append(shelf(place, id=len(shelves) + 1, positions=more))
    return replace(garden, shelves=tuple(shelves))
