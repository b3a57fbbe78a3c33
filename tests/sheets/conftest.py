"""The demo garden's plan, made once."""

from datetime import date
from typing import NamedTuple

import pytest
from sqlalchemy.orm import Session

from app.core.plan import Plan, make_plan
from app.core.words import Units
from app.services.folder import load_demo
from app.sheets.grower_sheet import SheetFacts
from app.storage.queries.plan import get_garden
from app.storage.queries.sheets import list_saved_cucurbits


class Demo(NamedTuple):
    plan: Plan
    facts: SheetFacts


@pytest.fixture(scope="session")
def demo(migrated):
    with Session(migrated("sqlite")) as session:
        load_demo(session, replace=True)
        plan = make_plan(get_garden(session))
        facts = SheetFacts(
            units=Units.METRIC,
            today=date(2027, 4, 10),
            saved_cucurbits=list_saved_cucurbits(session),
        )
        session.rollback()
    return Demo(plan, facts)
