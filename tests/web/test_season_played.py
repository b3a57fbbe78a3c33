"""A season played through day by day: sown late, nothing up, dies, potted on, handed out, forgotten; no page fails."""

import random
from collections import Counter
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from sqlalchemy import delete, select

from app.core.calendar import NO_DAY, week_number
from app.core.dealing.placing import stays_of_trays
from app.core.log.rules import LogRuleError
from app.core.space.dealt import NOT_DEALT
from app.core.words import PLACES, Cause, CellState, LogKind
from app.core.work.expected import chance_up
from app.services.deal import accept_deal, season_days
from app.services.filled import mark_filled
from app.services.folder import load_demo
from app.services.log import NewEntry, add_entries
from app.services.plan import get_plan
from app.storage.models import Cell, Sowing, Stay, Tray
from app.storage.queries.days import set_today
from tests.dealing import clashes
from tests.lengths import SOAK, every

FIRST, LAST = date(2027, 2, 15), date(2027, 6, 30)
STEP = every(20)  # days between those on which the pages are opened
FORGOTTEN = 10  # one tray of so many is never filled
PAGES = (
    "ledger", "week", "moves", "trays", "sowings", "shelves", "log", "rounds", "seed_lots", "review", "sheets", "deal",
    "light", "supplies", "notice", "spares", "growers", "wishes", "season", "feeds",
)  # fmt: skip


def begin_season(session):
    """Load the demo garden, of which some sowings are taken, and deal it for the season."""
    load_demo(session)
    sowings = session.scalars(select(Sowing.id).order_by(Sowing.id)).all()
    session.execute(delete(Sowing).where(Sowing.id.not_in(sowings[:: every(10)])))
    set_today(session, FIRST)
    accept_deal(session, first=season_days(get_plan(session))[0], last=LAST, today=FIRST)


class Gardeners:
    """What some sixty people do with five hundred sowings, and what they forget; the same for each number."""

    def __init__(self, session, number):
        self.session, self.chance = session, random.Random(number)
        self.never = set()
        self.kinds = Counter()

    def a_day(self, day):
        self.fill(day)
        plan, entries = get_plan(self.session), []
        for index, sowing in enumerate(plan.garden.sowings.ids.tolist()):
            if plan.progress.sown_on[index] != NO_DAY and plan.progress.over_on[index] == NO_DAY:
                entries += self.fate(plan, index, sowing, day)
        add_entries(self.session, entries, today=day, account_id=None)
        self.kinds += Counter(entry.kind for entry in entries)

    def fill(self, day):
        """Sow most of what is due, and pot on what can be."""
        query = select(Tray.number, Tray.potted_on).join(Cell).where(Tray.sow_on <= day)
        query = query.where(Cell.sowing_id.is_not(None), Cell.state == CellState.EMPTY).distinct()
        for number, is_potted_on in self.session.execute(query.order_by(Tray.number)).all():
            if number % FORGOTTEN and self.chance.random() < 0.6:
                with self.session.begin_nested() as step:
                    try:
                        mark_filled(self.session, [number], day, today=day)
                        self.kinds[LogKind.POTTED_ON if is_potted_on else LogKind.SOWN] += 1
                    except LogRuleError:  # too few came up for so many pots
                        step.rollback()

    def fate(self, plan, index, sowing, day):
        now, chance = day.toordinal(), self.chance.random()
        sown, living = int(plan.logged.sown[index]), int(plan.living[index])
        is_up = plan.progress.up_on[index] != NO_DAY

        def entry(kind, count, **more):
            return [NewEntry(sowing_id=sowing, kind=kind, date=day, count=count, **more)]

        if not is_up and plan.progress.potted_on[index] == NO_DAY:
            if sowing in self.never or chance < 0.004:
                self.never.add(sowing)
                if now > plan.due.emerges[index] + 20 and sown:
                    return entry(LogKind.LOST, sown, cause=Cause.UNKNOWN)
            elif now >= plan.due.emerges[index] - 2 and chance < 0.3:
                up = sum(self.chance.random() < chance_up(plan, index) for _ in range(sown))
                return entry(LogKind.UP, up) if up else []
        elif living and chance < 0.01:
            return entry(LogKind.LOST, self.chance.randint(1, living), cause=self.chance.choice(list(Cause)))
        elif living and now >= plan.due.plant_out[index] and chance < 0.5:
            return entry(LogKind.HANDED_OUT, self.chance.choice([living, max(1, living // 2)]))
        return []


def by_day(rows):
    """Return how many trays stand in each place on each day; stays are (place, begin, end)."""
    return Counter((place, day) for place, begin, end in rows for day in range(begin, end))


def stored_by_day(session):
    query = select(Stay.place, Stay.begin_on, Stay.end_on)
    return by_day((place, begin.toordinal(), end.toordinal()) for place, begin, end in session.execute(query))


def planned_by_day(plan):
    _, place, begin, end = stays_of_trays(plan)
    return by_day(zip((PLACES[at] for at in place.tolist()), begin.tolist(), end.tolist(), strict=True))


def check_ledger(session, plan, today):
    """Hold the ledger against trays counted one by one, and these against where trays are stored to stand."""
    planned, ledger = planned_by_day(plan), plan.ledger
    for row, week in enumerate(ledger.weeks):
        monday = next(day for day in range(week * 7 - 7, week * 7 + 14) if week_number(np.array([day]))[0] == week)
        counted = [max(planned[place, monday + more] for more in range(7)) for place in PLACES]
        assert counted == ledger.needed[row].tolist(), week
    stored = stored_by_day(session)
    # What is over stays as it was; the plan may tell of it otherwise.
    assert {at: n for at, n in stored.items() if at[1] > today} == {at: n for at, n in planned.items() if at[1] > today}


def check_begun_trays(session, plan, day):
    """Hold where each begun tray is stored to stand today against where the plan has it, dealt anew or not."""
    numbers, is_filled = plan.garden.dealt.number, plan.garden.dealt.is_filled
    begun, planned = set(numbers[is_filled].tolist()), {}
    for tray, place, begin, end in zip(*(column.tolist() for column in stays_of_trays(plan)), strict=True):
        stored = int(plan.trays.stored[tray])
        if stored != NOT_DEALT and begin <= day.toordinal() < end and int(numbers[stored]) in begun:
            planned[int(numbers[stored])] = PLACES[place]
    stays = select(Tray.number, Stay.place).join(Tray, Stay.tray_id == Tray.id)
    there = session.execute(stays.where(Stay.begin_on <= day, Stay.end_on > day)).all()
    assert {number: place for number, place in there if number in begun} == planned


@pytest.mark.soak
def test_no_page_fails_on_any_day_and_the_ledger_counts_the_trays_that_stand_there(app, client, session):
    begin_season(session)
    session.commit()
    people, too_late = Gardeners(session, 7), 0
    for number in range((LAST - FIRST).days + 1):
        day = FIRST + timedelta(number)
        set_today(session, day)
        people.a_day(day)
        check_begun_trays(session, get_plan(session), day)
        if number % STEP == 0:
            days = season_days(get_plan(session))
            accept_deal(session, first=days[0], last=days[1], today=day)
            check_ledger(session, get_plan(session), day.toordinal())
            too_late = max(too_late, int(get_plan(session).is_too_late.sum()))
        session.commit()
        if number % STEP == 0:
            assert clashes(session) == []
            app.config["SETTINGS"] = replace(app.config["SETTINGS"], today=day)
            for page in PAGES:
                with app.test_request_context():
                    address = app.url_for(f"{page}.index")
                answer = client.get(address)
                assert answer.status_code == 200, (day, address)
    assert set(people.kinds) >= {LogKind.SOWN, LogKind.UP, LogKind.POTTED_ON, LogKind.LOST, LogKind.HANDED_OUT}
    plan = get_plan(session)
    assert too_late > 0
    assert (plan.progress.over_on != NO_DAY).any()


@pytest.mark.soak
@pytest.mark.skipif(not SOAK, reason="the same with other fates")
@pytest.mark.parametrize("number", range(3))
def test_other_fates_break_no_rule_either(session, number):
    begin_season(session)
    people = Gardeners(session, number)
    for more in range((LAST - FIRST).days + 1):
        day = FIRST + timedelta(more)
        set_today(session, day)
        people.a_day(day)
        check_begun_trays(session, get_plan(session), day)
    assert clashes(session) == []
