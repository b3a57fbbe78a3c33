"""Tests of seed on damp paper, from what is typed to the cells that are sown."""

from datetime import date

import pytest
from scipy.stats import beta

from app.core.calendar import as_day
from app.core.words import LogKind
from app.services.log import NewEntry, add_entries
from app.services.plan import get_plan
from app.services.seed_tests import (
    MoreUpThanTriedError,
    NotCountedYetError,
    SeedTestValues,
    add_seed_test,
    remove_seed_test,
)
from app.storage.errors import NotFoundError
from app.storage.models import Grower
from app.storage.queries.days import set_today
from app.storage.queries.seed_lots import list_seed_tests
from tests import rows
from tests.conftest import TODAY


@pytest.fixture
def lot(session):
    rows.garden(session)
    rows.shelf(session)
    tomato = rows.crop(session, box=rows.container(session), seeds_per_cell=1)
    lot = rows.seed_lot(session, tomato, germination=0.95)
    rows.sowing(session, rows.grower(session), tomato, seed_lot_id=lot.id, plants=20)
    return lot


def values(lot, **changes):
    fields = {"seed_lot_id": lot.id, "date": date(2027, 3, 20), "tried": 40, "up": 20, "days": 10}
    return SeedTestValues(**fields | changes)


def test_a_test_raises_the_cells_that_are_sown_and_without_it_they_are_as_before(session, lot):
    before = int(get_plan(session).cells[0])
    test = add_seed_test(session, values(lot), today=TODAY)
    after = int(get_plan(session).cells[0])
    # Beta(19 + 20, 1 + 20): about 0.65 in place of 0.95, so that about half as many cells again are needed.
    assert get_plan(session).germination[0] == pytest.approx(39 / 60, abs=1e-3)
    assert 1.35 * before < after < 1.65 * before
    remove_seed_test(session, test.id)
    assert int(get_plan(session).cells[0]) == before
    assert list_seed_tests(session, lot.id) == []


def test_tests_are_listed_the_latest_first(session, lot):
    for day in (10, 20, 15):
        add_seed_test(session, values(lot, date=date(2027, 3, day)), today=TODAY)
    assert [test.date.day for test in list_seed_tests(session, lot.id)] == [20, 15, 10]


def test_no_more_come_up_than_were_laid_out(session, lot):
    with pytest.raises(MoreUpThanTriedError):
        add_seed_test(session, values(lot, up=41), today=TODAY)


def test_nothing_is_counted_before_its_day(session, lot):
    begun = date.fromordinal(as_day(TODAY) - 9)
    with pytest.raises(NotCountedYetError) as refused:
        add_seed_test(session, values(lot, date=begun), today=TODAY)
    assert refused.value.counted_on == date.fromordinal(as_day(TODAY) + 1)
    assert add_seed_test(session, values(lot, date=begun, days=9), today=TODAY).days == 9


def test_a_test_is_of_a_lot_that_there_is(session, lot):
    with pytest.raises(NotFoundError):
        add_seed_test(session, values(lot, seed_lot_id=lot.id + 1), today=TODAY)
    with pytest.raises(NotFoundError):
        remove_seed_test(session, 999_999)


@pytest.mark.parametrize(("ago", "counts"), [(6, False), (7, True)])
def test_what_came_up_of_a_sowing_teaches_the_next_one_once_a_week_has_passed(session, lot, ago, counts):
    """By the Beta law of scipy, since the crop has one seed a cell: 19 + 20 up and 1 + 20 not, of 60."""
    before = get_plan(session)
    grower = session.get_one(Grower, before.garden.growers[0].id)
    sown = rows.sowing(session, grower, lot.crop, "S-0002", seed_lot_id=lot.id, plants=20)
    days = ((LogKind.SOWN, 14 + ago, 40), (LogKind.UP, ago, 20))
    entries = [
        NewEntry(sowing_id=sown.id, kind=kind, date=date.fromordinal(as_day(TODAY) - back), count=count)
        for kind, back, count in days
    ]
    add_entries(session, entries, today=TODAY, account_id=None)
    session.commit()
    set_today(session, TODAY)
    plan = get_plan(session)
    (seen,) = plan.seen_of_lots
    assert (seen is not None) == counts
    if counts:
        law = beta(39, 21)
        assert seen.mean == pytest.approx(law.mean(), abs=1e-3)
        assert (seen.low, seen.high) == pytest.approx(law.ppf([0.05, 0.95]), abs=2e-3)
        assert seen.n_seeds == 40
    assert (int(plan.cells[0]) > int(before.cells[0])) == counts
