"""An over-full garden and an answer made by hand, for tests of the pages that make a plan fit.

Of tests/web/dealt.py: the tomatoes of three growers take a tray each from 1 May on; here two trays can stand under
lamps. The answer leaves out those of Tomas Keel and sows Ada Brandt's a week later, so that two trays are left: hers is
on heat from Saturday 8 May and under lamps from Friday 14 May, Ines Moreau's as before from 1 and 7 May.
"""

import time
from dataclasses import replace
from datetime import date

from app.core.fitting.answer import Answer, Choices, Extra, Goal, Phase, Reached
from app.core.words import LevellingState
from app.services.levelling import fail_levelling, start_levelling, with_extra
from app.services.plan import get_plan
from app.storage.levelling import store_answer, store_beat
from tests.conftest import TODAY
from tests.web.dealt import tomatoes

LATER = date(2027, 5, 8)
REACHED = (
    Reached(goal=Goal.SHARE, value=0.94, bound=0.95),
    Reached(goal=Goal.PLANTS, value=160.0, bound=160.0),
    Reached(goal=Goal.DAYS, value=280.0, bound=270.0),
    Reached(goal=Goal.TRAYS, value=2.0, bound=2.0),
)


def over_full(session):
    """Add the garden."""
    return tomatoes(session, lamps=2, dealt=False)


def started(session, *, extra=None):
    """Start a levelling as a page does, without the process that would run it; return its id."""
    run = start_levelling(session, seconds=30, today=TODAY, extra=extra)
    session.commit()
    return run


def running(session):
    """Start a levelling that has reached something; return its id."""
    run = started(session)
    store_beat(session, run, now=time.time(), progress=(Phase.PLANTS, REACHED[:2]))
    session.commit()
    return run


def failed(session, fault=None):
    """Start a levelling that fails; return its id."""
    run = started(session)
    fail_levelling(session, run, fault)
    session.commit()
    return run


def by_hand(garden, *, leave_out=True):
    """Return the choices of the answer by hand; without `leave_out`, Tomas Keel's are not left out."""
    sowings = garden.sowings
    sow_on, placed = sowings.sow_on.copy(), sowings.placed.copy()
    sow_on[sowings.names.index("S-A")] = LATER.toordinal()
    if leave_out:
        placed[sowings.names.index("S-T")] = 0
    return Choices(sow_on=sow_on, light=sowings.light, placed=placed)


def found(session, choices=None, *, extra=None, is_stopped=False, leave_out=True, stuck=()):
    """Start a levelling that gives an answer; return its id.

    Args:
        session: It is committed.
        choices: What it answers; by default what is answered by hand.
        extra: A shelf that it takes to be there.
        is_stopped: Whether it was stopped, before all was worked out.
        leave_out: Whether Tomas Keel's are left out.
        stuck: What does not fit by itself.
    """
    run = started(session, extra=extra)
    garden = with_extra(get_plan(session).garden, extra)
    choices = choices or by_hand(garden, leave_out=leave_out)
    needed = Extra(positions=(0, 1, 0, 0), bound=1, choices=replace(choices, placed=garden.sowings.placed))
    answer = Answer(
        garden=garden,
        choices=choices,
        reached=REACHED,
        extra=None if is_stopped else needed,
        stuck=stuck,
        is_stopped=is_stopped,
    )
    state = LevellingState.STOPPED if is_stopped else LevellingState.FINISHED
    store_answer(session, run, answer, today=TODAY, now=time.time(), state=state)
    session.commit()
    return run
