"""The demo garden's plan, made once: as it is loaded, and with its trays dealt."""

from datetime import date
from typing import NamedTuple

import pytest
from sqlalchemy.orm import Session

from app.core.plan import Plan, make_plan
from app.core.words import Units
from app.services.demo import DEMO_DAY, set_up_demo
from app.services.folder import load_demo
from app.sheets.grower_sheet import SheetFacts
from app.sheets.sowing_sheet import BenchFacts, trays_of_day
from app.storage.queries.days import set_today
from app.storage.queries.plan import get_garden
from app.storage.queries.sheets import list_cells_of_sowings, list_saved_cucurbits, list_seed
from app.storage.queries.trays import CellRow, StayRow, list_stays
from tests.kept_gardens import kept


class Demo(NamedTuple):
    plan: Plan
    facts: SheetFacts


@pytest.fixture(scope="session")
def demo(migrated):
    with Session(migrated("sqlite")) as session:
        kept(session, load_demo)
        plan = make_plan(get_garden(session))
        facts = SheetFacts(
            units=Units.METRIC,
            today=date(2027, 4, 10),
            saved_cucurbits=list_saved_cucurbits(session),
        )
        session.rollback()
    return Demo(plan, facts)


class DealtDemo(NamedTuple):
    plan: Plan
    facts: SheetFacts
    cells: list[CellRow]
    stays: list[StayRow]
    seed: dict

    def bench_facts(self, day, units=Units.METRIC):
        """Return what the sowing sheet of a day is made from beside the plan."""
        found = trays_of_day(self.plan, day)
        return BenchFacts(
            cells=[cell for cell in self.cells if cell.sowing_id in found.sowings],
            stays=[stay for stay in self.stays if stay.tray_id in found.trays],
            seed={row: seed for row, seed in self.seed.items() if row in found.sowings},
            units=units,
            today=date(2027, 4, 10),
        )

    def stays_between(self, first, end):
        """Return the stays that share a day with [first, end)."""
        return [stay for stay in self.stays if stay.begin_on < end and stay.end_on > first]


@pytest.fixture(scope="session")
def dealt_demo(migrated):
    with Session(migrated("sqlite")) as session:
        kept(session, set_up_demo)
        set_today(session, DEMO_DAY)
        plan = make_plan(get_garden(session))
        sowings = plan.garden.sowings.ids.tolist()
        found = DealtDemo(
            plan=plan,
            facts=SheetFacts(
                units=Units.METRIC, today=date(2027, 4, 10), saved_cucurbits=list_saved_cucurbits(session)
            ),
            cells=list_cells_of_sowings(session, sowings),
            stays=list_stays(session, plan.garden.dealt.ids.tolist()),
            seed=list_seed(session, sowings),
        )
        session.rollback()
    return found
