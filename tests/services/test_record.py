"""Taking in a station's record: what it does to the garden and its plan, and what is refused."""

from datetime import date

import numpy as np
import pytest
from sqlalchemy import event, select

from app.core.dates.record import OtherHemisphereError, TooFewYearsError
from app.core.errors import NoFrostDateError
from app.core.words import FrostLaw, FrostSource, Side
from app.services.garden import FrostValues, change_frost
from app.services.plan import get_plan
from app.services.record import NoRecordError, record_summary, replace_record
from app.storage import Session
from app.storage.engine import reading
from app.storage.folder import FaultyFolderError
from app.storage.models import DailyTemperature
from app.storage.queries import record as queries
from app.storage.queries.garden import list_frost_points
from app.storage.queries.plan import NoGardenError, get_garden
from app.storage.queries.version import get_mark
from tests import rows
from tests.freezes import STEADY, rows_of
from tests.stations import ghcn_text_of, record_of, temperatures, text_of

POINTS = {Side.SPRING: rows.SPRING, Side.AUTUMN: rows.AUTUMN}
TEXT = text_of(rows_of(STEADY)).encode()


def frost_values(garden, **changes):
    return FrostValues(**{name: getattr(garden, name) for name in FrostValues.__dataclass_fields__} | changes)


@pytest.fixture
def garden(session):
    return rows.garden(session)


@pytest.fixture
def by_station(session, garden):
    """Return a garden that goes by the record of twenty years with last freezes from 1 to 20 May."""
    replace_record(session, TEXT)
    change_frost(session, frost_values(garden, frost_source=FrostSource.STATION), POINTS)
    session.commit()
    return garden


def test_there_must_be_a_garden(session):
    with pytest.raises(NoGardenError):
        replace_record(session, TEXT)


def test_a_record_is_stored_day_by_day_and_read_back_as_it_was(session, garden):
    days = [(date(2020, 2, 28), -1.25, None), (date(2020, 2, 29), None, 3.5), (date(2020, 3, 2), 0.1, 9.0)]
    assert record_summary(session) is None
    with pytest.raises(NoRecordError):
        queries.get_record(session)
    replace_record(session, text_of(days).encode())
    session.commit()
    found = session.execute(select(DailyTemperature.date, DailyTemperature.tmin_c, DailyTemperature.tmax_c)).all()
    assert found == days
    queries._Keeper.kept = None
    record, expected = queries.get_record(session), record_of(days)
    for name in ("day", "tmin_c", "tmax_c"):
        np.testing.assert_array_equal(getattr(record, name), getattr(expected, name))


def test_the_garden_and_its_plan_stay_as_they_are_until_the_station_is_chosen(session, garden):
    session.commit()
    before = get_plan(session).garden
    replace_record(session, TEXT)
    session.commit()
    after = get_plan(session).garden
    assert after.frost == before.frost
    assert (before.station, after.station) == (None, None)


@pytest.mark.parametrize(
    ("law", "spring"), [(FrostLaw.EMPIRICAL, date(2027, 5, 19)), (FrostLaw.NORMAL, date(2027, 5, 19))]
)
def test_a_garden_that_goes_by_its_station_takes_its_dates_and_keeps_the_table(session, by_station, law, spring):
    # Last freezes from 1 to 20 May. Empirical: 0.9 x 21 = 18.9. Normal: 10.5 + 1.28155 x 5.91608 = 18.08.
    change_frost(session, frost_values(by_station, frost_law=law), POINTS)
    session.commit()
    assert get_plan(session).garden.frost.spring_on(0.1) == date(2027, 5, 19)
    assert list_frost_points(session) == POINTS


def test_another_record_gives_other_dates_at_once_and_another_mark(session, by_station):
    before, mark = get_mark(session), by_station.record_mark
    later = [(last.replace("05-", "06-"), first) for last, first in STEADY]
    replace_record(session, text_of(rows_of(later)).encode())
    session.commit()
    assert get_mark(session) != before
    assert by_station.record_mark != mark
    assert get_plan(session).garden.frost.spring_on(0.1).month == 6


def test_the_same_record_has_the_same_mark_from_either_kind_of_file(session, garden):
    marks = set()
    for text in (text_of(rows_of(STEADY)), ghcn_text_of(rows_of(STEADY)), text_of(rows_of(STEADY)[::-1])):
        replace_record(session, text.encode())
        marks.add(garden.record_mark)
    assert len(marks) == 1


def test_a_record_that_is_not_committed_counts_for_its_own_session_alone(session, by_station):
    before = get_plan(session).garden.frost
    later = [(last.replace("05-", "06-"), first) for last, first in STEADY]
    replace_record(session, text_of(rows_of(later)).encode())
    assert get_plan(session).garden.frost != before
    session.rollback()
    assert get_plan(session).garden.frost == before


def test_the_days_are_read_once_for_all_changes_of_other_things(engine, session, by_station):
    queries._Keeper.kept = None
    asked = []
    event.listen(engine, "before_cursor_execute", lambda *args: asked.append(args[2]))
    grower = rows.grower(session)
    crop = rows.crop(session)
    for number in range(3):
        rows.sowing(session, grower, crop, name=f"S{number}")
        session.commit()
        with reading(), Session(engine) as other:
            assert get_garden(other).station.spring.n_usable == 20
    assert len([statement for statement in asked if "FROM daily_temperature" in statement]) == 1


def test_what_a_record_holds_is_summed_up(session, garden):
    years = [*STEADY[:12], (None, "10-01"), ("05-01", None), ("missing", "10-01"), ("05-01", "missing")]
    summary = replace_record(session, text_of(rows_of(years)).encode())
    assert (summary.first_on, summary.last_on) == (date(2001, 1, 1), date(2016, 12, 31))
    assert summary.missing == 212 + 153  # January to July 2015, August to December 2016
    assert (summary.spring.usable, summary.spring.incomplete, summary.spring.without_freeze) == (15, (2015,), (2013,))
    assert (summary.autumn.usable, summary.autumn.incomplete, summary.autumn.without_freeze) == (15, (2016,), (2014,))
    assert (summary.spring.is_refused, summary.spring.is_short) == (False, True)
    assert record_summary(session) == summary


def test_notes_of_the_reading_come_along(session, garden):
    rows_back = rows_of(STEADY)[::-1]
    assert "sorted" in replace_record(session, text_of(rows_back).encode()).notes[0]


def test_progress_is_told_up_to_the_last_day(session, garden):
    told = []
    replace_record(session, text_of(temperatures(1921, 2020)).encode(), tell=lambda *both: told.append(both))
    assert told[-1] == (36525, 36525)
    assert len(told) > 3
    assert told == sorted(told)


@pytest.mark.parametrize(
    ("data", "right"),
    [
        (b"", "header row is missing"),
        (b"date,tmin_c\n", "no temperatures below the header"),
        (b"date,tmin_c\n2020-01-01,\n", "no temperatures below the header"),
        (b"date,tmin_c\n2020-01-01,x\n", "give a number"),
        (text_of(temperatures(2019, 2020, southern=True)).encode(), "Correct the latitude"),
    ],
    ids=["empty file", "header alone", "days alone", "a word", "a southern station"],
)
def test_a_record_with_faults_is_refused_and_the_one_there_stays(session, garden, data, right):
    replace_record(session, TEXT)
    mark = garden.record_mark
    with pytest.raises(FaultyFolderError) as caught:
        replace_record(session, data, file="weather.csv")
    assert right in str(caught.value)
    assert caught.value.faults[0].file == "weather.csv"
    assert garden.record_mark == mark
    assert queries.get_record(session).day.size == 7305 - 1 + 1


def test_bytes_beyond_32_megabytes_are_refused_by_their_number(session, garden):
    with pytest.raises(FaultyFolderError, match="the file has 33 MB"):
        replace_record(session, bytes(33 * 1024 * 1024))


def test_one_year_is_kept_but_no_garden_can_go_by_it(session, garden):
    summary = replace_record(session, text_of(temperatures(2020, 2020)).encode())
    assert (summary.spring.usable, summary.spring.is_refused) == (1, True)
    with pytest.raises(TooFewYearsError, match="Enter a published table"):
        change_frost(session, frost_values(garden, frost_source=FrostSource.STATION), POINTS)


@pytest.mark.parametrize(
    ("years", "right"),
    [(STEADY[:9], "it takes 10"), ([(last, None) for last, _ in STEADY], "too rarely")],
    ids=["few years", "no freezes in autumn"],
)
def test_a_garden_that_goes_by_its_station_refuses_a_record_without_dates(session, by_station, years, right):
    with pytest.raises(FaultyFolderError, match=right):
        replace_record(session, text_of(rows_of(years)).encode())


@pytest.mark.parametrize(
    ("changes", "error"),
    [
        ({"threshold_c": -9.0}, NoFrostDateError),
        ({"risk": 0.7}, NoFrostDateError),
        ({"latitude": -47.1}, OtherHemisphereError),
        ({}, None),
    ],
    ids=["a colder threshold", "a bolder risk", "the other half of the Earth", "nothing"],
)
def test_settings_at_which_the_record_has_no_dates_are_refused(session, garden, changes, error):
    # Twenty years of which thirteen freeze in spring, at -3 C.
    years = [(last if number < 13 else None, first) for number, (last, first) in enumerate(STEADY)]
    waves = {day: (low, high) for day, low, high in temperatures(2001, 2020, warm=25.0, swing=6.0)}
    days = [(day, low if low < 0 else waves[day][0], None) for day, low, _ in rows_of(years)]
    replace_record(session, text_of(days).encode())
    values = frost_values(garden, frost_source=FrostSource.STATION, **changes)
    if error is None:
        change_frost(session, values, POINTS)
        return
    with pytest.raises(error):
        change_frost(session, values, POINTS)
    assert garden.frost_source is FrostSource.TABLE


def test_a_station_cannot_be_chosen_before_it_has_a_record(session, garden):
    with pytest.raises(NoRecordError):
        change_frost(session, frost_values(garden, frost_source=FrostSource.STATION), POINTS)


def test_a_record_changed_behind_its_mark_is_not_kept(session, garden):
    replace_record(session, TEXT)
    session.flush()
    session.connection().exec_driver_sql("DELETE FROM daily_temperature WHERE tmin_c > 0")
    queries._Keeper.kept = None
    assert queries.get_record(session).day.size == 40
    assert queries._Keeper.kept is None
