"""Making it fit: accepting an answer, throwing it away, taking it back. The search itself is a double."""

from datetime import date

import pytest
from sqlalchemy import select, update

from app.core.words import CellState, LevellingState, Light
from app.services.deal import accept_deal, season_days
from app.services.filled import mark_filled
from app.services.levelling import (
    CannotTakeBackError,
    NoAnswerError,
    NothingChosenError,
    accept_levelling,
    find_answer,
    find_obstacles,
    list_changes,
    take_back_levelling,
    throw_levelling_away,
)
from app.services.plan import get_plan
from app.services.sowings import remove_sowing
from app.storage.models import Cell, Sowing, Tray
from app.storage.queries.version import get_mark
from tests.conftest import TODAY
from tests.services.levelling_steps import BEST, LATER, found, run, sowings


def test_accepting_all_writes_every_change_and_renews_the_mark(session, tomatoes, search):
    levelling, mark = run(session), get_mark(session)
    assert accept_levelling(session, levelling, today=TODAY) == 3
    session.commit()
    assert sowings(session) == [(LATER, None, 19), (LATER, None, None), (LATER, None, None)]
    assert get_mark(session) != mark
    row = found(session, levelling)
    assert (row.state, row.accepted, row.can_be_accepted) == (LevellingState.ACCEPTED, 3, False)
    assert find_answer(session, row) is None
    assert get_plan(session).timeline.sow_on[:3].tolist() == [LATER.toordinal()] * 3
    with pytest.raises(NoAnswerError):
        accept_levelling(session, levelling, today=TODAY)


def test_accepting_some_leaves_the_others_as_they_are(session, tomatoes, search):
    levelling = run(session)
    assert accept_levelling(session, levelling, {tomatoes.sowings[1], 999_999}, today=TODAY) == 1
    session.commit()
    assert sowings(session) == [(None, None, None), (LATER, None, None), (None, None, None)]
    assert [change.is_accepted for change in list_changes(session, levelling)] == [False, True, False]
    take_back_levelling(session, levelling, today=TODAY)
    assert sowings(session) == [(None, None, None)] * 3


def test_what_was_set_by_hand_is_put_back_as_it_was(session, tomatoes, search):
    session.execute(
        update(Sowing)
        .where(Sowing.id == tomatoes.sowings[0])
        .values(sow_on=date(2027, 4, 24), light=Light.WINDOW, placed=7)
    )
    session.commit()
    before = sowings(session)
    levelling = run(session)
    accept_levelling(session, levelling, today=TODAY)
    session.commit()
    assert sowings(session)[0] == (LATER, Light.WINDOW, 19)
    assert take_back_levelling(session, levelling, today=TODAY) == 3
    session.commit()
    assert sowings(session) == before
    assert found(session, levelling).state is LevellingState.TAKEN_BACK
    with pytest.raises(CannotTakeBackError):
        take_back_levelling(session, levelling, today=TODAY)


@pytest.mark.parametrize("chosen", [set(), {999_999}])
def test_accepting_none_of_its_changes_is_refused(session, tomatoes, search, chosen):
    levelling = run(session)
    with pytest.raises(NothingChosenError):
        accept_levelling(session, levelling, chosen, today=TODAY)
    session.rollback()
    assert found(session, levelling).can_be_accepted


def test_throwing_away_forgets_the_answer(session, tomatoes, search):
    levelling = run(session)
    throw_levelling_away(session, levelling, today=TODAY)
    session.commit()
    row = found(session, levelling)
    assert (row.state, row.has_answer, row.changes) == (LevellingState.THROWN_AWAY, False, 3)
    assert list_changes(session, levelling) == []
    assert find_answer(session, row) is None
    for refused in (accept_levelling, throw_levelling_away):
        with pytest.raises(NoAnswerError):
            refused(session, levelling, today=TODAY)


@pytest.mark.parametrize(
    "change",
    [
        {"sow_on": date(2027, 4, 24)},
        {"sow_on": None},
        {"light": Light.WINDOW},
        {"placed": 3},
        {"placed": 18, "plants": 18},
    ],
    ids=str,
)
def test_what_somebody_has_changed_since_is_not_taken_back(session, tomatoes, search, change):
    levelling = run(session)
    accept_levelling(session, levelling, today=TODAY)
    session.execute(update(Sowing).where(Sowing.id == tomatoes.sowings[0]).values(change))
    session.commit()
    before = sowings(session)
    obstacles = find_obstacles(session, levelling)
    assert [sowing.name for sowing in obstacles.changed] == ["S-1"]
    assert obstacles.sown == ()
    with pytest.raises(CannotTakeBackError):
        take_back_levelling(session, levelling, today=TODAY)
    session.rollback()
    assert sowings(session) == before


def test_a_day_set_before_is_not_put_back_for_a_crop_that_is_sown_outside_by_now(session, tomatoes, search):
    session.execute(update(Sowing).where(Sowing.id == tomatoes.sowings[0]).values(sow_on=date(2027, 4, 24)))
    session.commit()
    levelling = run(session)
    accept_levelling(session, levelling, today=TODAY)
    carrot = session.scalar(select(Sowing.crop_id).where(Sowing.name == "S-4"))
    session.execute(update(Sowing).where(Sowing.id == tomatoes.sowings[0]).values(crop_id=carrot))
    assert [sowing.name for sowing in find_obstacles(session, levelling).changed] == ["S-1"]


def test_once_any_of_it_is_sown_it_is_not_taken_back(session, tomatoes, search):
    levelling = run(session)
    accept_levelling(session, levelling, today=TODAY)
    session.commit()
    first, last = season_days(get_plan(session))
    accept_deal(session, first=first, last=last, today=TODAY)
    assert not find_obstacles(session, levelling)
    tray = session.scalar(select(Tray.number).order_by(Tray.number))
    mark_filled(session, [tray], LATER, today=LATER)
    session.commit()
    obstacles = find_obstacles(session, levelling)
    sown = set(session.scalars(select(Cell.sowing_id).where(Cell.state != CellState.EMPTY)))
    assert {sowing.id for sowing in obstacles.sown} == sown
    assert obstacles.changed == ()
    with pytest.raises(CannotTakeBackError) as refused:
        take_back_levelling(session, levelling, today=LATER)
    assert refused.value.obstacles == obstacles


def test_what_was_not_accepted_stands_in_nobody_s_way(session, tomatoes, search):
    levelling = run(session)
    accept_levelling(session, levelling, tomatoes.sowings[:1], today=TODAY)
    session.execute(update(Sowing).where(Sowing.id == tomatoes.sowings[2]).values(sow_on=BEST))
    session.commit()
    assert take_back_levelling(session, levelling, today=TODAY) == 1
    assert sowings(session) == [(None, None, None), (None, None, None), (BEST, None, None)]


def test_a_sowing_that_is_removed_takes_its_change_along_and_the_others_are_taken_back(session, tomatoes, search):
    levelling = run(session)
    accept_levelling(session, levelling, today=TODAY)
    session.commit()
    remove_sowing(session, tomatoes.sowings[1])
    session.commit()
    assert [change.sowing for change in list_changes(session, levelling)] == ["S-1", "S-3"]
    take_back_levelling(session, levelling, today=TODAY)
    session.commit()
    assert sowings(session)[:2] == [(None, None, None)] * 2


def test_answers_accepted_one_after_the_other_are_taken_back_the_last_one_first(session, tomatoes, search):
    first = run(session)
    accept_levelling(session, first, today=TODAY)
    session.execute(update(Sowing).values(placed=None))
    session.commit()
    second = run(session)
    accept_levelling(session, second, today=TODAY)
    session.commit()
    take_back_levelling(session, second, today=TODAY)
    with pytest.raises(CannotTakeBackError):  # the placed plants were set free in between, by hand
        take_back_levelling(session, first, today=TODAY)
    session.execute(update(Sowing).where(Sowing.id == tomatoes.sowings[0]).values(placed=19))
    take_back_levelling(session, first, today=TODAY)
    assert sowings(session) == [(None, None, None)] * 3
