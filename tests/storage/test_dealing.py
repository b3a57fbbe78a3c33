"""Deals in the database: histories of deals, changes and handiwork, and that only what differs is written."""

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import event

from app.core.log.rules import LogRuleError
from app.core.words import CellState
from app.services import filled, positions, trays
from app.services.deal import accept_deal, propose_deal
from app.services.plan import get_plan
from app.storage import Session
from app.storage.errors import NotFoundError
from app.storage.models import Cell, Sowing, Stay, Tray
from tests import rows
from tests.dealing import (
    TODAY,
    cells_of_sowings,
    clashes,
    deal_season,
    everything,
    filled_cells,
    garden_to_deal,
    stays_of,
)
from tests.lengths import TIMES

# What the pages answer to with a sentence.
REFUSED = (
    positions.NoSuchPositionError,
    positions.PositionTakenError,
    positions.WaitsError,
    trays.CannotShareError,
    trays.NoRoomError,
    trays.NotInTrayError,
    filled.NotYetError,
    trays.NumberTakenError,
    trays.SownError,
    LogRuleError,
    NotFoundError,
)
NUMBER = st.integers(0, 11)
WISHES = st.lists(st.tuples(st.integers(0, 2), st.integers(0, 2), st.integers(1, 60)), min_size=1, max_size=6)


def of(session, model, number):
    """Return one row of a table, or raise NotFoundError where there is none."""
    found = session.query(model).order_by(model.id).all()
    if not found:
        raise NotFoundError(model.__tablename__, number)
    return found[number % len(found)]


def tray_number(session, a):
    return of(session, Tray, a).number


def lot_in(session, a):
    """Return the sowing of some cell of a tray."""
    tray = of(session, Tray, a)
    cell = session.query(Cell).where(Cell.tray_id == tray.id, Cell.sowing_id.is_not(None)).first()
    if cell is None:
        raise NotFoundError("cell", a)
    return trays.Lot(number=tray.number, sowing_id=cell.sowing_id)


def add(session, a, b, _):
    sowing = of(session, Sowing, a)
    name = f"S-{1 + session.query(Sowing).order_by(Sowing.id.desc()).first().id:04d}"
    rows.sowing(session, sowing.grower, sowing.crop, name, plants=1 + 7 * b)


def plants(session, a, b, _):
    of(session, Sowing, a).plants = 1 + 5 * b
    session.flush()


def move(session, a, b, today):
    stay = of(session, Stay, a)
    shelves = [shelf for shelf in get_plan(session).garden.shelves if shelf.place is stay.place]
    shelf = shelves[b % len(shelves)]
    target = positions.Target(shelf_id=shelf.id, level=1 + b % shelf.levels, slot=1 + b // 4)
    positions.move_tray(session, stay.id, target, today=today, exchange=b % 2 == 1)


def exchange(session, a, b, _):
    one, other = lot_in(session, a), lot_in(session, b)
    trays.exchange_sowings(session, one, other.number, other.sowing_id if (a + b) % 2 else None)


def sown(session, a, b, today):
    filled.mark_filled(session, [tray_number(session, a)], today - timedelta(days=b % 3), today=today)


def not_sown(session, a, _b, today):
    filled.unmark_filled(session, tray_number(session, a), today=today)


def pin_tray(session, a, b, _):
    trays.pin_tray(session, tray_number(session, a), pinned=b < 8)


def pin_stay(session, a, b, _):
    positions.pin_stay(session, of(session, Stay, a).id, pinned=b < 8)


def empty_tray(session, a, _b, today):
    box = of(session, Tray, a).container_id
    trays.start_empty_tray(session, 100 + a, box, today)


def remove(session, a, _b, _today):
    trays.remove_tray(session, tray_number(session, a))


def season(session, _a, _b, today):
    deal_season(session, today=today)


def some_days(session, a, b, today):
    first = date(2027, 3, 20) + timedelta(days=7 * a)
    accept_deal(session, first=first, last=first + timedelta(days=5 * b), today=today)


CHANGES = (add, plants)
BY_HAND = (move, exchange, sown, not_sown, pin_tray, pin_stay, empty_tray, remove)
DEALS = (season, some_days)
STEP = st.one_of(*(st.tuples(st.sampled_from(kind), NUMBER, NUMBER) for kind in (DEALS, CHANGES, BY_HAND)))


def check_season(session, today):
    """Every sowing has its cells once; nothing is in two places; what is sown is as it was."""
    before = filled_cells(session)
    deal_season(session, today=today)
    plan, there = get_plan(session), cells_of_sowings(session)
    for index, sowing in enumerate(plan.garden.sowings.ids.tolist()):
        assert (there[sowing, False], there[sowing, True]) == (plan.cells[index], plan.pots[index])
    assert not clashes(session)
    assert filled_cells(session) == before


@given(wishes=WISHES, history=st.lists(STEP, min_size=3, max_size=12))
@settings(max_examples=40 * TIMES, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_after_any_history_the_database_holds_each_sowing_once_and_a_second_deal_writes_nothing(
    engine, wishes, history
):
    with Session(engine) as session:
        garden_to_deal(session, wishes)
        deal_season(session)
        today = date(2027, 4, 20)
        for what, a, b in history:
            before = filled_cells(session)
            try:
                with session.begin_nested():
                    what(session, a, b, today)
            except REFUSED:
                assert filled_cells(session) == before
            today += timedelta(days=4)
            assert not clashes(session)
            assert what not in DEALS or filled_cells(session) == before
        check_season(session, today)
        stored = everything(session)
        deal_season(session, today=today)
        assert everything(session) == stored
        session.rollback()


@pytest.fixture
def written(session):
    """Return the statements that change rows, as they are sent."""
    found = []

    def note(_connection, _cursor, statement, *_):
        if not statement.lstrip().startswith(("SELECT", "SAVEPOINT", "RELEASE", "BEGIN", "ROLLBACK")):
            found.append(" ".join(statement.split()[:3]))

    event.listen(session.get_bind(), "before_cursor_execute", note)
    yield found
    event.remove(session.get_bind(), "before_cursor_execute", note)


def test_a_second_deal_renews_the_mark_is_noted_and_writes_nothing_else(session, written):
    garden_to_deal(session)
    deal_season(session)
    assert {"INSERT INTO tray", "INSERT INTO cell", "INSERT INTO stay"} <= {" ".join(s.split()[:3]) for s in written}
    written.clear()
    deal_season(session)
    assert sorted(written) == ["INSERT INTO history", "UPDATE data_version SET"]


def test_only_the_trays_that_change_are_written(session):
    made = garden_to_deal(session)
    deal_season(session)
    before = everything(session)
    made["sowings"][2].plants = 12  # a crop with trays of its own, of which one more cell or two are needed
    session.flush()
    deal_season(session)
    after = everything(session)
    cabbage = {tray for tray, *_, sowing, _ in after["cell"] if sowing == made["sowings"][2].id}
    assert len(cabbage) == 1
    assert before["tray"] == after["tray"]
    assert before["stay"] == after["stay"]
    assert {row for row in after["cell"] if row[0] not in cabbage} == {
        row for row in before["cell"] if row[0] not in cabbage
    }
    assert before["cell"] != after["cell"]


def test_a_tray_that_nobody_needs_any_more_is_emptied_and_keeps_its_number(session):
    made = garden_to_deal(session)
    deal_season(session)
    before = session.query(Tray).count()
    gone = {row[0] for row in everything(session)["cell"] if row[3] == made["sowings"][2].id}
    made["sowings"][2].placed = 0
    session.flush()
    deal_season(session)
    session.expire_all()
    assert session.query(Tray).count() == before
    assert not {tray for tray, *_ in stays_of(session)} & gone
    cells = [cell for cell in everything(session)["cell"] if cell[0] in gone]
    assert {(sowing, state) for *_, sowing, state in cells} == {(None, CellState.EMPTY)}
    # The next tray has a number of its own.
    made["sowings"][2].placed = None
    session.flush()
    numbers = {tray.number for tray in session.query(Tray)}
    deal_season(session)
    assert {tray.number for tray in session.query(Tray)} == numbers | {max(numbers) + 1}


def test_a_tray_follows_its_sowings_to_another_day(session):
    made = garden_to_deal(session, [(0, 2, 10)])
    deal_season(session)
    (tray,) = session.query(Tray)
    day = tray.sow_on + timedelta(days=7)
    made["sowings"][0].sow_on = day
    session.flush()
    deal_season(session)
    (again,) = session.query(Tray)
    assert (again.number, again.sow_on) == (1, day)
    assert min(begin for _, _, begin, _ in stays_of(session)) == str(day)


def test_a_proposal_writes_nothing_and_is_what_is_stored(session, written):
    garden_to_deal(session)
    session.flush()
    written.clear()
    days = {"first": date(2027, 3, 1), "last": date(2027, 8, 1), "today": TODAY}
    shown = propose_deal(session, **days)
    assert written == []
    stored = accept_deal(session, **days)
    assert shown.deal.number.tolist() == stored.deal.number.tolist()
    assert shown.deal.stay_position == stored.deal.stay_position
    assert [tray.number for tray in session.query(Tray).order_by(Tray.number)] == shown.deal.number.tolist()
