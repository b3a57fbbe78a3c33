"""Making it fit: starting, running, stopping, and what it leaves alone. The search itself is a double."""

from datetime import timedelta
from threading import Event, Thread

import numpy as np
import pytest
from sqlalchemy import func, select, update

from app.core.fitting.answer import Phase
from app.core.words import LevellingState, Place
from app.services.folder import load_demo
from app.services.levelling import (
    BROKE_OFF,
    AlreadyRunningError,
    ExtraShelf,
    ExtraShelfError,
    NoAnswerError,
    StaleLevellingError,
    accept_levelling,
    count_levellings,
    end_silent_levellings,
    find_answer,
    find_latest_levelling,
    get_levelling,
    list_changes,
    list_levellings,
    start_levelling,
    stop_levelling,
    throw_levelling_away,
)
from app.services.levelling_run import run_levelling
from app.services.plan import get_plan
from app.storage import Session
from app.storage.errors import NotFoundError
from app.storage.models import Levelling, LevellingChange, Sowing
from app.storage.queries.plan import NoGardenError
from app.storage.queries.version import get_mark
from tests import levelling as double
from tests import rows
from tests.conftest import TODAY
from tests.services.levelling_steps import BEST, LATER, Running, address, found, run, sowings, start, wait_until


def test_a_levelling_that_came_to_its_end_has_its_answer(session, tomatoes, search):
    levelling = run(session)
    row = found(session, levelling)
    assert row.state is LevellingState.FINISHED
    assert (row.seconds, row.today, row.extra, row.fault) == (10, TODAY, None, None)
    assert row.reached == double.REACHED
    assert row.gap == pytest.approx(0.5 / 2)  # |0.5 - 0.75| / max(1, 0.5)
    assert (row.has_answer, row.is_open, row.is_stale, row.can_be_accepted) == (True, True, False, True)
    assert (row.changes, row.accepted) == (3, 0)
    assert 0 <= row.elapsed < 20
    assert row.started_at.utcoffset() is not None
    answer = find_answer(session, row)
    whole = get_plan(session).garden
    assert answer.garden is whole
    expected = double.a_week_later(whole, seconds=1, report=lambda _: None, is_stopped=lambda: False)
    for name in ("sow_on", "light", "placed"):
        assert np.array_equal(getattr(answer.choices, name), getattr(expected.choices, name))
        assert np.array_equal(getattr(answer.extra.choices, name), getattr(expected.extra.choices, name))
    assert (answer.reached, answer.stuck, answer.is_stopped) == (expected.reached, expected.stuck, False)
    assert (answer.extra.positions, answer.extra.bound) == ((0, 3, 0, 1), 4)
    assert find_answer(session, row) is answer


def test_its_changes_say_what_was_and_what_will_be(session, tomatoes, search):
    changes = list_changes(session, run(session))
    assert [change.sowing_id for change in changes] == tomatoes.sowings
    assert {(change.crop, change.grower) for change in changes} == {("Tomato", "Ines Moreau")}
    for change in changes:
        assert (change.sow_on_before, change.sow_on_after) == (None, LATER)
        assert (change.day_before, change.day_after) == (BEST, LATER)
        assert (change.place_before, change.place_after) == (Place.LAMP, Place.LAMP)
        assert (change.wanted, change.plants_before, change.is_accepted) == (20, 20, False)
    assert [change.plants_after for change in changes] == [19, 20, 20]
    assert [change.placed_after for change in changes] == [19, None, None]


def test_a_levelling_changes_nothing_by_itself_and_leaves_the_mark(session, tomatoes, search):
    before, mark = sowings(session), get_mark(session)
    levelling = run(session)
    session.rollback()
    stop_levelling(session, levelling)
    session.commit()
    end_silent_levellings(session)
    session.commit()
    throw_levelling_away(session, levelling, today=TODAY)
    session.commit()
    assert (sowings(session), get_mark(session)) == (before, mark)


@pytest.mark.parametrize("when", ["while it runs", "afterwards"])
def test_an_answer_for_another_garden_is_stale_and_refused(session, tomatoes, search, when):
    search(double.until_stopped)
    running = Running(session)
    wait_until(session, running.id, lambda row: row.reached)
    change = update(Sowing).where(Sowing.id == tomatoes.sowings[2]).values(plants=21)
    if when == "while it runs":
        session.execute(change)
        session.commit()
        assert found(session, running.id).is_stale
        session.rollback()
    running.stop.set()
    running.end()
    if when == "afterwards":
        assert found(session, running.id).can_be_accepted
        session.execute(change)
        session.commit()
    row = found(session, running.id)
    assert (row.is_open, row.is_stale, row.can_be_accepted) == (True, True, False)
    assert find_answer(session, row) is None
    with pytest.raises(StaleLevellingError):
        accept_levelling(session, running.id, today=TODAY)
    session.rollback()
    assert sowings(session) == [(None, None, None)] * 3
    throw_levelling_away(session, running.id, today=TODAY)


def test_a_change_before_it_has_read_the_garden_does_not_make_it_stale(session, tomatoes, search):
    levelling = start(session)
    session.execute(update(Sowing).where(Sowing.id == tomatoes.sowings[2]).values(plants=21))
    session.commit()
    run_levelling(address(session), levelling, Event())
    assert found(session, levelling).can_be_accepted
    assert accept_levelling(session, levelling, today=TODAY) == 3


def test_an_answer_that_sows_on_a_day_that_has_passed_is_stale(session, tomatoes, search):
    levelling = run(session)
    assert not found(session, levelling, LATER).is_stale
    assert found(session, levelling, LATER + timedelta(1)).is_stale
    with pytest.raises(StaleLevellingError):
        accept_levelling(session, levelling, today=LATER + timedelta(1))


def test_a_levelling_that_is_stopped_keeps_its_best(session, tomatoes, search):
    search(double.until_stopped)
    running = Running(session)
    row = wait_until(session, running.id, lambda row: row.reached)
    assert (row.state, row.phase, row.reached) == (LevellingState.RUNNING, Phase.PLANTS, double.REACHED[:1])
    assert (row.has_answer, row.is_stopping, row.ended_at) == (False, False, None)
    stop_levelling(session, running.id)
    assert found(session, running.id).is_stopping
    session.commit()
    running.end()
    row = found(session, running.id)
    assert (row.state, row.has_answer, row.can_be_accepted) == (LevellingState.STOPPED, True, True)
    assert find_answer(session, row).is_stopped
    assert accept_levelling(session, running.id, today=TODAY) == 3


def test_one_runs_at_a_time(session, tomatoes, search):
    search(double.until_stopped)
    running = Running(session)
    wait_until(session, running.id, lambda row: row.reached)
    with pytest.raises(AlreadyRunningError, match="already"):
        start_levelling(session, seconds=10, today=TODAY)
    session.rollback()
    running.stop.set()
    running.end()
    search(double.a_week_later)
    second = run(session)
    assert [row.id for row in list_levellings(session, today=TODAY)] == [second, running.id]
    assert count_levellings(session) == 2
    assert find_latest_levelling(session, today=TODAY).id == second


def test_of_many_who_start_one_at_once_one_does(engine, session, tomatoes):
    outcomes = []

    def begin():
        with Session(engine) as own:
            try:
                outcomes.append(start_levelling(own, seconds=10, today=TODAY))
                own.commit()
            except AlreadyRunningError:
                outcomes.append(None)

    session.rollback()
    threads = [Thread(target=begin) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert outcomes.count(None) == 5


def test_one_that_gives_no_sign_of_life_counts_as_stopped_and_another_may_start(session, tomatoes, search):
    dead = start(session)
    assert found(session, dead).is_running
    session.execute(update(Levelling).values(started_at=Levelling.started_at - 60, beat_at=Levelling.beat_at - 50))
    session.commit()
    row = found(session, dead)
    assert (row.state, row.has_answer, row.is_open) == (LevellingState.STOPPED, False, False)
    assert row.elapsed == pytest.approx(10, abs=1)
    session.rollback()
    alive = run(session)
    assert found(session, alive).state is LevellingState.FINISHED
    assert session.get(Levelling, dead).state is LevellingState.STOPPED
    with pytest.raises(NoAnswerError):
        accept_levelling(session, dead, today=TODAY)


def test_starting_the_server_marks_what_is_dead_and_nothing_else(session, tomatoes):
    levelling = start(session)
    end_silent_levellings(session)
    session.commit()
    assert session.get(Levelling, levelling).state is LevellingState.RUNNING
    session.execute(update(Levelling).values(beat_at=Levelling.beat_at - 50))
    session.commit()
    end_silent_levellings(session)
    session.commit()
    assert session.get(Levelling, levelling).state is LevellingState.STOPPED


def test_one_that_was_taken_for_dead_stops_and_keeps_its_best(session, tomatoes, search):
    search(double.until_stopped)
    running = Running(session)
    wait_until(session, running.id, lambda row: row.reached)
    session.execute(update(Levelling).values(state=LevellingState.STOPPED, ended_at=1.0))
    session.commit()
    running.end()
    row = found(session, running.id)
    assert (row.state, row.has_answer) == (LevellingState.STOPPED, True)


def test_one_that_breaks_off_has_failed(session, tomatoes, search, caplog):
    search(double.breaks_off)
    row = found(session, run(session))
    assert (row.state, row.has_answer, row.fault) == (LevellingState.FAILED, False, BROKE_OFF)
    assert "ZeroDivisionError" in caplog.text
    with pytest.raises(NoAnswerError):
        throw_levelling_away(session, row.id, today=TODAY)


def test_a_garden_that_no_plan_can_be_made_of_says_why(session, tomatoes, search):
    rows.get_garden(session).frost_source = "station"
    rows.get_garden(session).record_mark = "a record without days"
    session.commit()
    row = found(session, run(session))
    assert row.state is LevellingState.FAILED
    assert "years" in row.fault


def test_without_a_garden_there_is_nothing_to_start(session):
    with pytest.raises(NoGardenError):
        start_levelling(session, seconds=10, today=TODAY)


def test_without_a_levelling_there_is_nothing(session):
    assert (list_levellings(session, today=TODAY), find_latest_levelling(session, today=TODAY)) == ([], None)
    for number in (0, 1, -1, 2**31, 2**70):
        with pytest.raises(NotFoundError):
            get_levelling(session, number, today=TODAY)


def test_a_shelf_more_is_looked_at_and_never_accepted(session, tomatoes, search):
    shelf = ExtraShelf(place=Place.WINDOW, positions=5)
    row = found(session, run(session, extra=shelf))
    assert (row.extra, row.is_open, row.can_be_accepted) == (shelf, True, False)
    answer = find_answer(session, row)
    assert answer.before.ledger.positions.tolist() == [0, 4, 5, 4]
    assert get_plan(session).ledger.positions.tolist() == [0, 4, 0, 4]
    with pytest.raises(ExtraShelfError):
        accept_levelling(session, row.id, today=TODAY)


def test_another_garden_leaves_no_levelling_of_this_one_and_what_runs_ends(session, tomatoes, search):
    search(double.until_stopped)
    running = Running(session)
    wait_until(session, running.id, lambda row: row.reached)
    load_demo(session, replace=True)
    session.commit()
    running.end()
    assert session.scalar(select(func.count(Levelling.id))) == 0
    assert session.scalar(select(func.count(LevellingChange.sowing_id))) == 0
    session.rollback()
    assert start(session) > running.id


def test_somebody_else_may_write_while_it_runs_and_ends(session, tomatoes, search):
    search(double.until_stopped)
    running = Running(session)
    wait_until(session, running.id, lambda row: row.reached)
    session.execute(update(Sowing).where(Sowing.id == tomatoes.sowings[0]).values(variety="Aria"))  # not committed
    running.stop.set()
    Event().wait(0.3)
    session.rollback()
    running.end()
    assert found(session, running.id).can_be_accepted
