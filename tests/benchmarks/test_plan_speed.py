"""From rows to ledger: held against the driver's bare fetch and a plain Python difference list."""

import math

import numpy as np
import pytest

from app.core.plan import make_plan
from app.core.space import sharing
from app.core.space.ledger import count_trays
from app.storage import Session
from app.storage.engine import make_engine, reading
from app.storage.queries.plan import SOWINGS, get_garden
from app.storage.schema import upgrade
from tests.benchmarks.gardens import fill
from tests.benchmarks.timing import ratio, report, seconds

SOWING_COUNT = 50_000


@pytest.fixture(scope="module")
def engines(tmp_path_factory):
    """Return databases with 5,000 and with 50,000 sowings."""
    made = {}
    for n in (5_000, SOWING_COUNT):
        made[n] = make_engine(f"sqlite:///{tmp_path_factory.mktemp('speed') / 'garden.sqlite3'}")
        upgrade(made[n])
        fill(made[n], n)
    yield made
    for engine in made.values():
        engine.dispose()


def difference_list(place, begin, end, trays, first_day, n_days):
    """Count in plain Python, one change at the first day and one after the last of each stay."""
    change = [[0] * (n_days + 1) for _ in range(4)]
    for p, b, e, n in zip(place, begin, end, trays, strict=True):
        change[p][b - first_day] += n
        change[p][e - first_day] -= n
    needed = []
    for row in change:
        standing, days = 0, []
        for step in row:
            standing += step
            days.append(standing)
        needed.append([max(days[week : week + 7]) for week in range(0, n_days, 7)])
    return needed


def test_ledger_over_arrays_is_ten_times_faster_than_a_difference_list():
    draw = np.random.default_rng(1)
    first_day = 740_048  # a Monday
    place = draw.integers(0, 4, SOWING_COUNT)
    begin = first_day + draw.integers(0, 120, SOWING_COUNT)
    end = begin + draw.integers(1, 60, SOWING_COUNT)
    trays = draw.integers(1, 4, SOWING_COUNT)
    end[0], begin[0] = first_day + 182, first_day
    columns = [column.tolist() for column in (place, begin, end, trays)]
    positions = np.full(4, 1000)
    expected = difference_list(*columns, first_day, 182)
    assert count_trays(place, begin, end, trays, positions).needed.T.tolist() == expected

    times_faster = 1 / ratio(
        lambda: count_trays(place, begin, end, trays, positions),
        lambda: difference_list(*columns, first_day, 182),
        calls=20,
    )
    report("ledger, times faster than a difference list", times_faster, "at least 10")
    assert times_faster >= 10


def rows_to_ledger(engine, *, cold):
    if cold:
        sharing._fill.cache_clear()
    with reading(), Session(engine) as session:
        return make_plan(get_garden(session)).ledger


def bare_fetch(engine):
    statement = str(SOWINGS.compile(engine, compile_kwargs={"literal_binds": True}))
    with reading(), Session(engine) as session:
        cursor = session.connection().connection.driver_connection.execute(statement)
        return cursor.fetchall()


@pytest.mark.parametrize("cold", [True, False], ids=["nothing kept", "groups kept"])
def test_rows_become_a_ledger_within_five_bare_fetches(engines, cold):
    engine = engines[SOWING_COUNT]
    assert len(bare_fetch(engine)) == SOWING_COUNT
    found = ratio(lambda: rows_to_ledger(engine, cold=cold), lambda: bare_fetch(engine))
    report("rows to ledger over the driver's fetch", found, 5)
    assert found <= 5


def test_ten_times_the_sowings_cost_at_most_ten_to_the_1_2(engines):
    times = {
        n: min(seconds(lambda engine=engine: rows_to_ledger(engine, cold=True)) for _ in range(5))
        for n, engine in engines.items()
    }
    exponent = math.log10(times[SOWING_COUNT] / times[5_000])
    report("exponent of growth from 5,000 to 50,000 sowings", exponent, 1.2)
    assert exponent <= 1.2
