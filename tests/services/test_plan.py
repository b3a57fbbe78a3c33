"""The plan is made from the rows as they stand, and made again only when they change."""

from datetime import date

import pytest
from sqlalchemy import event, update

from app.core.calendar import as_day
from app.services import plan as plan_service
from app.services.folder import load_demo
from app.services.plan import get_plan
from app.storage import Session
from app.storage.engine import reading
from app.storage.models import Garden, Grower, Sowing
from app.storage.queries.plan import NoGardenError, get_garden
from tests.kept_gardens import kept


@pytest.fixture
def demo(engine):
    """Return a database that holds the demo garden."""
    with Session(engine) as session:
        kept(session, load_demo)
        session.commit()
    return engine


@pytest.fixture
def made(monkeypatch):
    """Return a list that grows by one whenever a plan is made."""
    calls = []

    def spy(garden):
        calls.append(garden)
        return make(garden)

    make = plan_service.make_plan
    monkeypatch.setattr(plan_service, "make_plan", spy)
    monkeypatch.setattr(plan_service._Keeper, "kept", None)
    return calls


def test_no_plan_without_a_garden(session):
    with pytest.raises(NoGardenError):
        get_plan(session)


def test_a_garden_is_read_in_nine_queries(demo):
    statements = []
    event.listen(demo, "before_cursor_execute", lambda *args: statements.append(args[2]))
    with reading(), Session(demo) as session:
        get_garden(session)
    read = [statement for statement in statements if statement.lstrip().startswith("SELECT")]
    assert len(read) == 9


def test_the_same_data_gives_the_same_plan_without_making_it_again(demo, made):
    plans = []
    for _ in range(3):
        with reading(), Session(demo) as session:
            plans.append(get_plan(session))
    assert len(made) == 1
    assert plans[0] is plans[1] is plans[2]


def test_a_change_by_another_connection_makes_a_new_plan(demo, made):
    with reading(), Session(demo) as session:
        before = get_plan(session)
    with Session(demo) as other:
        other.execute(update(Garden).values(risk=0.5))
        other.commit()
    with reading(), Session(demo) as session:
        after = get_plan(session)
    assert len(made) == 2
    assert (after.start <= before.start).all()
    assert (after.start < before.start).any()


def test_a_change_not_yet_committed_counts_for_its_own_session_alone(demo):
    with Session(demo) as session:
        growers = len(get_plan(session).garden.growers)
        session.add(Grower(name="Ada Quill"))
        assert len(get_plan(session).garden.growers) == growers + 1
        session.rollback()
        assert len(get_plan(session).garden.growers) == growers


def test_columns_come_out_as_they_were_written(demo):
    with Session(demo) as session:
        sowing = session.query(Sowing).order_by(Sowing.id).first()
        sowing.plant_out, sowing.sow_on, sowing.risk, sowing.light = date(2028, 2, 29), date(2027, 4, 3), 0.25, "window"
        sowing.placed, sowing.priority, sowing.days_to_maturity = 0, 3, 77
        session.commit()
        read = get_garden(session).sowings
    assert read.names[0] == "S001"
    assert (read.plant_out[0], read.sow_on[0]) == (as_day(date(2028, 2, 29)), as_day(date(2027, 4, 3)))
    assert (read.risk[0], read.light[0], read.placed[0], read.priority[0], read.days_to_maturity[0]) == (
        0.25,
        2,
        0,
        3,
        77,
    )


def test_indices_name_the_grower_and_crop_of_each_sowing(demo):
    with Session(demo) as session:
        garden = get_garden(session)
        for index, sowing in enumerate(session.query(Sowing).order_by(Sowing.id)):
            assert garden.growers[garden.sowings.grower[index]].name == sowing.grower.name
            assert garden.cards[garden.sowings.crop[index]].name == sowing.crop.name


class TestDemoGarden:
    """What the demo garden is to show; its place, people and weather are invented."""

    @pytest.fixture
    def plan(self, demo):
        with Session(demo) as session:
            return get_plan(session)

    def test_has_ninety_frost_free_days(self, plan):
        assert plan.garden.frost.frost_free_days() == 90

    def test_has_sixty_growers_and_the_garden_itself(self, plan):
        assert len(plan.garden.growers) == 61
        assert len(plan.garden.sowings) == 500

    def test_lamps_are_over_full_in_three_or_four_weeks_and_nothing_else_is(self, plan):
        over = plan.ledger.free < 0
        assert 3 <= over[:, 1].sum() <= 4
        assert not over[:, [0, 2, 3]].any()

    def test_most_crops_fit_and_a_few_are_too_long_here(self, plan):
        too_long = sum(fit.verdict == "too long here" for fit in plan.fits)
        assert 2 <= too_long <= len(plan.fits) // 5
