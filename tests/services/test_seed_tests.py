"""Tests of seed on damp paper, from what is typed to the cells that are sown."""

from datetime import date

import pytest

from app.core.calendar import as_day
from app.services.plan import get_plan
from app.services.seed_tests import (
    MoreUpThanTriedError,
    NotCountedYetError,
    SeedTestValues,
    add_seed_test,
    remove_seed_test,
)
from app.storage.errors import NotFoundError
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
