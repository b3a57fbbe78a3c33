"""Making it fit in mid-season, by the real search: the ledgers of its answer are those of the plan of the day.

Of tests/web/dealt.py: the tomatoes of three growers take a tray each from Saturday 1 May on, here with room for two
under lamps. By Tuesday 4 May only Ada Brandt's are written down as sown; the others wait for Saturday 8 May.
"""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from sqlalchemy import update

from app.core.plan import make_plan
from app.core.words import LAMP, LogKind
from app.services.levelling import accept_levelling, find_answer
from app.services.log import NewEntry, add_entries
from app.services.plan import get_plan
from app.storage.models import Crop
from app.storage.queries.days import set_today
from tests.services.levelling_steps import found, run
from tests.web.dealt import tomatoes

SOWN, TODAY, NEXT = date(2027, 5, 1), date(2027, 5, 4), date(2027, 5, 8)


@pytest.fixture
def begun(session):
    """Add the garden as it is on the day, and return the id of the sowing that is sown."""
    sowings = tomatoes(session, lamps=2, dealt=False).sowings
    session.execute(update(Crop).values(days_to_maturity=40))  # the others still ripen, sown a week later
    session.commit()
    cells = int(get_plan(session).cells[0])
    set_today(session, TODAY)
    entry = NewEntry(sowing_id=sowings[0], kind=LogKind.SOWN, date=SOWN, count=cells)
    add_entries(session, [entry], today=TODAY, account_id=None)
    session.commit()
    return sowings[0]


def same(one, other):
    return one.first_week == other.first_week and np.array_equal(one.needed, other.needed)


def test_ledgers_before_and_after_are_those_of_the_plan_of_the_day(session, begun):
    levelling = run(session, today=TODAY)
    answer = find_answer(session, found(session, levelling, TODAY))
    now = get_plan(session).ledger
    assert (now.free < 0).any()
    assert same(answer.before.ledger, now)
    assert not same(make_plan(replace(answer.garden, today=0)).ledger, now)
    assert not (answer.after.ledger.free < 0).any()
    assert accept_levelling(session, levelling, today=TODAY)
    session.commit()
    assert same(get_plan(session).ledger, answer.after.ledger)
    assert get_plan(session).timeline.sow_on[:3].tolist() == [SOWN.toordinal(), *[NEXT.toordinal()] * 2]


def test_on_a_later_day_an_answer_is_reckoned_with_what_waits_by_then(session, begun):
    levelling = run(session, today=TODAY)
    first = find_answer(session, found(session, levelling, TODAY))
    assert find_answer(session, found(session, levelling, TODAY)) is first
    # Nothing has come up by the day after it was due, so what is sown is potted on or hardened later.
    set_today(session, NEXT)
    later = find_answer(session, found(session, levelling, NEXT))
    assert later.garden.today == NEXT.toordinal()
    assert same(later.before.ledger, get_plan(session).ledger)
    lamps = [int(np.flatnonzero(answer.after.stays.place == LAMP).size) for answer in (first, later)]
    assert lamps[0] == lamps[1]
    begins = [int(answer.after.stays.begin[answer.after.stays.place == LAMP].min()) for answer in (first, later)]
    assert begins[0] < begins[1] == NEXT.toordinal()
