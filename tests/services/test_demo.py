"""The demo garden as it is shown: dealt, and sown as far as its day."""

import re

import pytest
from sqlalchemy import text

from app.core.calendar import NO_DAY
from app.services.deal import propose_deal, season_days
from app.services.demo import DEMO_DAY, set_up_demo
from app.services.folder import NotEmptyError, dump_folder
from app.services.plan import get_plan
from app.storage.queries.days import set_today
from app.storage.queries.log import list_entries
from app.storage.queries.rounds import list_rounds
from tests.dealing import clashes, filled_cells
from tests.kept_gardens import kept
from tests.rules.tree import ROOT

SPARES = ("offers", "requests", "gifts")


@pytest.fixture
def demo(session):
    kept(session, set_up_demo)
    set_today(session, DEMO_DAY)
    return session


def test_the_makefile_shows_it_on_its_own_day():
    makefile = (ROOT / "Makefile").read_text()
    assert re.findall(r"--today (\S+)", makefile) == [DEMO_DAY.isoformat()]


def test_what_lies_before_its_day_is_sown_and_nothing_else(demo):
    query = text(
        "SELECT sow_on, state, count(*) FROM cell JOIN tray ON tray_id = id WHERE sowing_id IS NOT NULL GROUP BY 1, 2"
    )
    states = {(str(day) < DEMO_DAY.isoformat(), state) for day, state, _ in demo.connection().execute(query)}
    assert states == {(True, "sown"), (True, "up"), (True, "lost"), (False, "empty")}


def test_its_season_has_come_as_far_as_its_day(demo):
    """Most is up that should be, some of it late, some not yet seen; a few plants are lost, seed was tested."""
    plan, day = get_plan(demo), DEMO_DAY.toordinal()
    is_due = (plan.progress.sown_on != NO_DAY) & (plan.due.emerges < day)
    up_on = plan.progress.up_on
    assert 0.6 < (up_on[is_due] != NO_DAY).mean() < 1
    assert (up_on[is_due] > plan.progress.sown_on[is_due]).sum() == (up_on[is_due] != NO_DAY).sum()
    assert (plan.timeline.emerges[is_due & (up_on == NO_DAY)] >= day).all()
    assert plan.logged.lost.sum() == 6
    assert not plan.is_too_late.any()
    assert sum(len(lot.tests) for lot in plan.garden.lots) == 2
    assert {row.done_on is not None for row in list_rounds(demo) if row.day < DEMO_DAY} == {True}
    assert {row.done_on for row in list_rounds(demo) if row.day >= DEMO_DAY} == {None}
    assert max(entry.date for entry in list_entries(demo)) < DEMO_DAY


def test_it_has_trays_that_are_sown_and_one_position_for_each(demo):
    assert filled_cells(demo)
    assert clashes(demo) == []


def test_dealing_it_anew_on_its_day_changes_nothing(demo):
    first, last = season_days(get_plan(demo))
    deal = propose_deal(demo, first=first, last=last, today=DEMO_DAY).deal
    assert (deal.stored >= 0).all()
    assert not deal.is_changed.any()
    assert not len(deal.emptied)


def test_it_is_the_same_every_time(demo, tmp_path):
    dump_folder(demo, tmp_path / "one")
    set_up_demo(demo, replace=True)
    dump_folder(demo, tmp_path / "two")
    one, two = ({path.name: path.read_bytes() for path in (tmp_path / name).iterdir()} for name in ("one", "two"))
    # Numbers of spare plants are never given twice.
    assert {name for name in one if one[name] != two[name]} <= {f"spare_{what}.csv" for what in SPARES}
    assert [one[f"spare_{what}.csv"].count(b"\n") for what in SPARES] == [4, 4, 2]
    assert [two[f"spare_{what}.csv"].count(b"\n") for what in SPARES] == [4, 4, 2]
    assert len(one["stays.csv"].splitlines()) > 300


def test_a_garden_that_is_there_stays(demo):
    with pytest.raises(NotEmptyError):
        set_up_demo(demo)
