"""Writing the log: all or nothing, corrections, cells that follow, several people at once, trays that follow."""

import random
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from threading import Barrier

import pytest
from sqlalchemy import func, select

from app.core.log.rules import LogRuleError, Rule
from app.core.words import Cause, CellState, LogKind, Place, Tick
from app.services.filled import mark_filled
from app.services.log import (
    AlreadyCorrectedError,
    NewEntry,
    OtherEntryError,
    OtherSeedError,
    add_entries,
    take_back,
    tick,
    untick,
)
from app.services.plan import get_plan
from app.services.removal import InUseError
from app.services.seed_lots import remove_seed_lot
from app.services.trays import NotInTrayError
from app.storage import Session
from app.storage.errors import NotFoundError
from app.storage.models import Cell, Crop, LogEntry, Sowing, Stay, Tray
from app.storage.queries.days import set_today
from app.storage.queries.log import get_entries, list_ticked
from tests import rows
from tests.dealing import clashes, dealt_garden
from tests.lengths import TIMES

DAY = date(2027, 4, 10)
END = date(2027, 8, 1)


@pytest.fixture
def garden(session):
    """Deal a season and return its sowings' ids, of tomato, tomato and pepper."""
    found = dealt_garden(session)
    return [sowing.id for sowing in found["sowings"]]


def write(session, sowing, kind, count, day=DAY, today=END, **more):
    entry = NewEntry(sowing_id=sowing, kind=kind, date=day, count=count, **more)
    return add_entries(session, [entry], today=today, account_id=None)[0]


def trays_of(session, sowing, *, potted_on=False):
    query = select(Tray.number).join(Cell, Cell.tray_id == Tray.id).where(Cell.sowing_id == sowing)
    return sorted(session.scalars(query.where(Tray.potted_on == potted_on).distinct()))


def states(session, sowing, number):
    query = select(Cell.state).join(Tray).where(Cell.sowing_id == sowing, Tray.number == number)
    return Counter(session.scalars(query))


def cells_of(session, sowing, number):
    query = select(Cell.row_number, Cell.column_number).join(Tray).where(Cell.sowing_id == sowing)
    return [tuple(row) for row in session.execute(query.where(Tray.number == number))]


def stays_of(session, number):
    session.expire_all()
    query = select(Stay).join(Tray).where(Tray.number == number).order_by(Stay.begin_on)
    return [(stay.place, stay.begin_on, stay.end_on) for stay in session.scalars(query)]


def n_entries(session):
    return session.scalar(select(func.count(LogEntry.id)))


def test_entries_are_written_all_or_none(session, garden):
    good = NewEntry(sowing_id=garden[0], kind=LogKind.SOWN, date=DAY, count=5)
    for bad, error in (
        (NewEntry(sowing_id=garden[0], kind=LogKind.UP, date=DAY, count=6), LogRuleError),
        (NewEntry(sowing_id=99_999, kind=LogKind.SOWN, date=DAY, count=5), NotFoundError),
        (NewEntry(sowing_id=garden[1], kind=LogKind.SOWN, date=DAY, count=5, tray=99_999), NotFoundError),
        (NewEntry(sowing_id=garden[0], kind=LogKind.UP, date=DAY, count=1, supersedes_id=99_999), NotFoundError),
    ):
        with pytest.raises(error):
            add_entries(session, [good, bad], today=END, account_id=None)
        session.rollback()
        assert n_entries(session) == 0
        assert {
            state for sowing in garden for n in trays_of(session, sowing) for state in states(session, sowing, n)
        } == {CellState.EMPTY}
    add_entries(session, [good], today=END, account_id=None)
    assert n_entries(session) == 1


def test_an_entry_of_a_tray_in_which_the_sowing_has_no_cells_is_refused(session, garden):
    other = trays_of(session, garden[2])[0]
    with pytest.raises(NotInTrayError):
        write(session, garden[0], LogKind.SOWN, 1, tray=other)
    own = trays_of(session, garden[0])[0]
    with pytest.raises(NotInTrayError):
        write(session, garden[0], LogKind.SOWN, 1, tray=own, cells=((99, 99),))


@pytest.mark.parametrize(
    ("kind", "count", "day", "rule"),
    [
        (LogKind.UP, 4, DAY, Rule.MORE_UP_THAN_SOWN),
        (LogKind.UP, 1, DAY - timedelta(1), Rule.BEFORE_SOWN),
        (LogKind.LOST, 4, DAY, Rule.MORE_LOST),
        (LogKind.HANDED_OUT, 7, DAY, Rule.MORE_LEFT),
        (LogKind.POTTED_ON, 7, DAY, Rule.MORE_POTTED_THAN_UP),
        (LogKind.UP, 1, END + timedelta(1), Rule.NOT_YET),
        (LogKind.SOWN, 1, date(2025, 12, 31), Rule.FAR_BEFORE),
        (LogKind.UP, 0, DAY, Rule.NOTHING_COUNTED),
    ],
)
def test_what_cannot_be_is_refused_and_what_just_can_is_not(session, garden, kind, count, day, rule):
    # Three cells of two seeds each, one plant a cell.
    write(session, garden[0], LogKind.SOWN, 3)
    with pytest.raises(LogRuleError) as caught:
        write(session, garden[0], kind, count, day)
    assert caught.value.rule is rule
    if rule in {Rule.MORE_UP_THAN_SOWN, Rule.MORE_LOST, Rule.MORE_LEFT, Rule.MORE_POTTED_THAN_UP}:
        write(session, garden[0], kind, count - 1, day)


def test_a_correction_replaces_and_both_stay(session, garden):
    first = write(session, garden[0], LogKind.SOWN, 3)
    second = write(session, garden[0], LogKind.SOWN, 4, supersedes_id=first.id)
    index = get_plan(session).index_of[garden[0]]
    assert get_plan(session).logged.sown[index] == 4
    assert [entry.count for entry in get_entries(session, garden[0])] == [3, 4]
    with pytest.raises(AlreadyCorrectedError):
        write(session, garden[0], LogKind.SOWN, 5, supersedes_id=first.id)
    with pytest.raises(OtherEntryError):
        write(session, garden[0], LogKind.LOST, 1, supersedes_id=second.id)
    with pytest.raises(OtherEntryError):
        write(session, garden[1], LogKind.SOWN, 1, supersedes_id=second.id)
    take_back(session, second.id, today=END, account_id=None)
    with pytest.raises(AlreadyCorrectedError):
        take_back(session, second.id, today=END, account_id=None)
    assert get_plan(session).logged.sown[index] == 0
    assert n_entries(session) == 3


def test_what_later_entries_need_is_not_taken_back(session, garden):
    sown = write(session, garden[0], LogKind.SOWN, 3)
    write(session, garden[0], LogKind.UP, 2)
    with pytest.raises(LogRuleError) as caught:
        take_back(session, sown.id, today=END, account_id=None)
    assert caught.value.rule is Rule.NOT_SOWN


def test_cells_follow_the_entries_and_go_back_with_them(session, garden):
    number = trays_of(session, garden[0])[0]
    places = cells_of(session, garden[0], number)
    sown = write(session, garden[0], LogKind.SOWN, len(places), tray=number)
    assert states(session, garden[0], number) == {CellState.SOWN: len(places)}
    up = write(session, garden[0], LogKind.UP, 0 + 2, DAY + timedelta(6), tray=number, cells=tuple(places[:2]))
    assert states(session, garden[0], number) == {CellState.UP: 2, CellState.SOWN: len(places) - 2}
    lost = write(
        session, garden[0], LogKind.LOST, 1, DAY + timedelta(7), tray=number, cells=(places[0],), cause=Cause.MICE
    )
    assert states(session, garden[0], number)[CellState.LOST] == 1
    for entry in (lost, up, sown):
        take_back(session, entry.id, today=END, account_id=None)
    assert states(session, garden[0], number) == {CellState.EMPTY: len(places)}


@pytest.mark.soak
@pytest.mark.parametrize("seed", range(4 * TIMES))
def test_cells_are_what_a_replay_of_the_entries_that_hold_gives(session, garden, seed):
    """The replay is written down apart from the program: what was sown fills cells, what is named changes them."""
    chance = random.Random(seed)
    sowing = garden[0]
    number = trays_of(session, sowing)[0]
    places = cells_of(session, sowing, number)
    made = []
    for step in range(12):
        kind = chance.choice([LogKind.SOWN, LogKind.UP, LogKind.LOST])
        some = tuple(sorted(chance.sample(places, chance.randint(1, len(places)))))
        corrects = chance.choice([None, None, *made]) if made else None
        with session.begin_nested() as step_taken:
            try:
                if corrects is not None and chance.random() < 0.5:
                    take_back(session, corrects.id, today=END, account_id=None)
                else:
                    day = DAY + timedelta(step)
                    made.append(write(session, sowing, kind, len(some), day, tray=number, cells=some))
            except (LogRuleError, AlreadyCorrectedError):
                step_taken.rollback()
    entries = get_entries(session, sowing)
    corrected = {entry.supersedes_id for entry in entries}
    holding = [entry for entry in entries if entry.id not in corrected and entry.count]
    wanted = dict.fromkeys(places, CellState.EMPTY)
    for kind, state in ((LogKind.SOWN, CellState.SOWN), (LogKind.UP, CellState.UP), (LogKind.LOST, CellState.LOST)):
        for entry in holding:
            for place in (entry.cells or "").split() if entry.kind is kind else ():
                at = tuple(map(int, place.split("-")))
                if kind is not LogKind.UP or wanted[at] is not CellState.EMPTY:
                    wanted[at] = state
    ups = [entry for entry in holding if entry.kind is LogKind.UP]
    lost = sum(entry.count for entry in holding if entry.kind is LogKind.LOST)
    if not ups and lost and lost >= sum(entry.count for entry in holding if entry.kind is LogKind.SOWN):
        wanted = {
            at: CellState.OUT if state in {CellState.SOWN, CellState.UP} else state for at, state in wanted.items()
        }
    plan = get_plan(session)
    if ups and plan.living[plan.index_of[sowing]] == 0:
        wanted = {
            at: CellState.OUT if state in {CellState.SOWN, CellState.UP} else state for at, state in wanted.items()
        }
    assert states(session, sowing, number) == Counter(wanted.values())


def test_a_task_is_ticked_off_once_and_can_be_taken_back(session, garden):
    for _ in range(2):
        tick(session, garden[0], Tick.LOOK, DAY, None)
    assert list_ticked(session) == [(garden[0], Tick.LOOK, DAY)]
    for _ in range(2):
        untick(session, garden[0], Tick.LOOK, DAY)
    assert list_ticked(session) == []
    with pytest.raises(NotFoundError):
        tick(session, 99_999, Tick.LOOK, DAY, None)


def together(engine, *tasks):
    start = Barrier(len(tasks))

    def run(task):
        start.wait()
        with Session(engine) as session:
            try:
                task(session)
                session.commit()
            except (LogRuleError, AlreadyCorrectedError) as error:
                session.rollback()
                return type(error).__name__
            return "written"

    with ThreadPoolExecutor(len(tasks)) as pool:
        return Counter(pool.map(run, tasks))


def test_two_who_log_the_same_tray_at_once_do_not_lose_more_than_there_is(session, garden, engine):
    write(session, garden[0], LogKind.SOWN, 5)
    write(session, garden[0], LogKind.UP, 5)
    session.commit()
    # Of two seeds a cell.
    tasks = [lambda own: write(own, garden[0], LogKind.LOST, 2, DAY + timedelta(1))] * 8
    assert together(engine, *tasks) == {"written": 5, "LogRuleError": 3}
    session.rollback()
    assert get_plan(session).living[get_plan(session).index_of[garden[0]]] == 0


def test_an_entry_that_two_correct_at_once_is_corrected_once(session, garden, engine):
    sown = write(session, garden[0], LogKind.SOWN, 5).id
    session.commit()
    tasks = [lambda own: write(own, garden[0], LogKind.SOWN, 4, supersedes_id=sown)] * 6
    assert together(engine, *tasks) == {"written": 1, "AlreadyCorrectedError": 5}
    names = session.scalars(select(LogEntry.name)).all()
    assert len(set(names)) == len(names) == 2


class TestTraysFollowTheLog:
    @pytest.fixture
    def tray(self, session, garden):
        """Sow the tomatoes' first tray on its day, and return its number and stays."""
        number = trays_of(session, garden[0])[0]
        before = stays_of(session, number)
        mark_filled(session, [number], before[0][1], today=before[0][1])
        session.commit()
        return number, stays_of(session, number)

    def up(self, session, number, day):
        for sowing in session.scalars(select(Cell.sowing_id).join(Tray).where(Tray.number == number).distinct()).all():
            if sowing is not None:
                write(session, sowing, LogKind.UP, 2, day, today=day, tray=number)

    def test_late_emergence_keeps_a_tray_in_heat_up_to_the_day_it_came_up(self, session, tray):
        number, ((first, begin, end), *_) = tray
        assert first is Place.HEAT
        late = end + timedelta(3)
        set_today(session, late)
        self.up(session, number, late)
        heat, lamp, *_ = stays_of(session, number)
        assert heat == (Place.HEAT, begin, late)
        assert lamp[:2] == (Place.LAMP, late)
        assert clashes(session) == []

    def test_early_emergence_lets_it_go_sooner(self, session, tray):
        number, ((_, begin, end), *_) = tray
        early = end - timedelta(2)
        set_today(session, early)
        self.up(session, number, early)
        heat, lamp, *_ = stays_of(session, number)
        assert (heat, lamp[:2]) == ((Place.HEAT, begin, early), (Place.LAMP, early))
        assert clashes(session) == []

    def test_it_leaves_when_nothing_of_it_is_left(self, session, garden, tray):
        number, (*_, (_, _, end)) = tray
        day = end - timedelta(4)
        set_today(session, day)
        for sowing in garden:
            sown = states(session, sowing, number)[CellState.SOWN]
            if sown:
                write(session, sowing, LogKind.LOST, sown, day, today=day, tray=number)
        assert stays_of(session, number)[-1][2] == day

    def test_it_keeps_its_position_only_until_the_next_tray_comes(self, session, tray):
        number, ((_, begin, end), *_) = tray
        here = session.scalars(select(Stay).join(Tray).where(Tray.number == number).order_by(Stay.begin_on)).first()
        other = Tray(number=900, container_id=1, sow_on=end, potted_on=False, pinned=False)
        other.container_id = session.scalars(select(Tray.container_id).where(Tray.number == number)).one()
        session.add(other)
        session.flush()
        for stay in session.scalars(
            select(Stay).where(
                Stay.shelf_id == here.shelf_id, Stay.level == here.level, Stay.slot == here.slot, Stay.begin_on >= end
            )
        ):
            session.delete(stay)
        session.flush()
        next_day = end + timedelta(1)
        session.add(
            Stay(
                tray_id=other.id, place=Place.HEAT, shelf_id=here.shelf_id, level=here.level, slot=here.slot,
                begin_on=next_day, end_on=next_day + timedelta(30), pinned=False,
            )
        )  # fmt: skip
        session.flush()
        late = end + timedelta(4)
        set_today(session, late)
        self.up(session, number, late)
        assert stays_of(session, number)[0] == (Place.HEAT, begin, next_day)
        assert clashes(session) == []


def test_seed_that_an_entry_names_stays_through_a_correction_and_cannot_be_removed(session, garden):
    crop = session.get(Sowing, garden[0]).crop_id
    lot = rows.seed_lot(session, session.get(Crop, crop), "Jar 3", germination=0.8)
    sown = write(session, garden[0], LogKind.SOWN, 12, seed_lot_id=lot.id)
    again = write(session, garden[0], LogKind.SOWN, 10, supersedes_id=sown.id)
    assert again.seed_lot_id == lot.id
    write(session, garden[0], LogKind.UP, 4, DAY + timedelta(days=8))
    set_today(session, END)
    plan = get_plan(session)
    seen, card = plan.seen_of_lots[-1], plan.garden.cards[int(plan.garden.sowings.crop[plan.index_of[garden[0]]])]
    assert seen.n_seeds == 10 * card.seeds_per_cell
    with pytest.raises(InUseError):
        remove_seed_lot(session, lot.id)


def test_seed_of_another_crop_is_refused(session, garden):
    other = session.get(Sowing, garden[2]).crop_id
    lot = rows.seed_lot(session, session.get(Crop, other), "Jar 3", germination=0.8)
    with pytest.raises(OtherSeedError) as refused:
        write(session, garden[0], LogKind.SOWN, 12, seed_lot_id=lot.id)
    assert refused.value.crop == session.get(Crop, other).name
