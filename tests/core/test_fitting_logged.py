"""Levelling gardens of which something is written down: that stays as it is, and the rest fits beside it."""

from dataclasses import replace

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from app.core.calendar import NO_DAY
from app.core.fitting.judge import faults_of
from app.core.log.entries import LOST, SOWN, UP, Log
from app.core.plan import make_plan
from tests.core.fitting_checks import check_proven, levelled
from tests.core.fitting_gardens import Case, numbered
from tests.lengths import TIMES


def logged(case, fates, delay):
    """Return the case a little later, with a log of some sowings: sown, up, all lost, or not sown."""
    plan = make_plan(case.garden)
    rows, indoors = [], np.flatnonzero(plan.cells > 0).tolist()
    today = int(plan.timeline.sow_on[indoors].min()) + delay

    def add(sowing, kind, day, count):
        rows.append((len(rows) + 1, sowing, kind, day, count, 0, 0, 0))

    for sowing, fate in zip(indoors, fates, strict=False):
        on, cells = int(plan.timeline.sow_on[sowing]) + fate % 5, int(plan.cells[sowing])
        if fate < 8 or on > today:
            continue
        add(sowing, SOWN, on, cells)
        up_on = on + 1 + fate % 9
        if fate >= 12 and up_on <= today:
            add(sowing, UP, up_on, max(1, cells - fate % 3))
        elif fate >= 11:
            add(sowing, LOST, today, cells)
    table = np.array(rows, dtype=np.int64).reshape(-1, 8)
    names = ("ids", "sowing", "kind", "day", "count", "seeds", "tray", "supersedes")
    log = Log(**dict(zip(names, table.T, strict=True)))
    return Case(replace(case.garden, log=log), today)


@settings(max_examples=60 * TIMES)
@given(
    number=st.integers(0, 9_999),
    fates=st.lists(st.integers(0, 20), min_size=6, max_size=6),
    delay=st.integers(0, 40),
)
def test_what_is_written_down_stays_and_the_judge_agrees(number, fates, delay):
    first = numbered(number)
    assume((make_plan(first.garden).cells > 0).any())
    case = logged(first, fates, delay)
    answer = levelled(case)
    check_proven(answer)
    before, after = make_plan(case.garden), answer.after
    assert not faults_of(case.garden, answer.choices, today=case.today)
    written = np.unique(case.garden.log.sowing[case.garden.log.holds])
    for name in ("sown_on", "up_on", "over_on"):
        assert (getattr(before.progress, name) == getattr(after.progress, name)).all()
    for name in ("sow_on", "emerges", "pot_on", "harden", "plant_out"):
        assert (getattr(before.timeline, name)[written] == getattr(after.timeline, name)[written]).all()
    for name in ("cells", "light_place", "plants"):
        assert (getattr(before, name)[written] == getattr(after, name)[written]).all()
    # Nothing that waits is sown in the past, unless it was to be left where it is.
    moved = after.timeline.sow_on != before.timeline.sow_on
    season_ends = before.timeline.plant_out[before.light_place >= 0].max()
    assert (after.timeline.sow_on[moved] >= case.today).all() or season_ends < case.today
    assert (before.progress.sown_on[written] != NO_DAY).all()
